"""The tables, once, for both databases.

A table of records takes its columns from the record class (:mod:`oiltrend.store.codec`) and
adds the same few of its own: id, version for the optimistic lock, where it came from, who
changed it last, and when it was removed. Every constraint has a name, because a migration can
only change what it can name. Tables are STRICT on SQLite; text is compared by code point on
both databases, so that both sort alike.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlalchemy.types import REAL, TypeEngine

from oiltrend import records as r
from oiltrend.store.codec import fields_of

__all__ = ["APPLICATION_ID", "META", "RECORD_TABLES", "SAMPLE_COLUMNS", "SCHEMA", "TABLES",
           "WATCH_COLUMNS", "WATCH_SORTS"]

# Number of this schema: that of the last step in oiltrend/store/migrations/versions.
SCHEMA = 1

# Own mark in the header of a SQLite file: the letters OilT.
APPLICATION_ID = 0x4F696C54

META = MetaData(naming_convention={
    "pk": "pk_%(table_name)s", "fk": "fk_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s", "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s"})

WHOLE = BigInteger().with_variant(Integer(), "sqlite")
NUMBER: TypeEngine[Any] = Double().with_variant(REAL(), "sqlite")
WORDS = Text().with_variant(Text(collation="C"), "postgresql")
BYTES = LargeBinary()

_TYPES: dict[str, TypeEngine[Any]] = {
    "text": WORDS, "number": NUMBER, "whole": WHOLE, "flag": WHOLE, "date": WORDS, "json": WORDS,
    "words": WORDS, "bytes": BYTES}


def _column(name: str, kind: str, *, optional: bool = False) -> Column[Any]:
    return Column(name, _TYPES[kind], nullable=optional)


def _id(name: str = "id") -> Column[Any]:
    # Ids are handed out by the write gateway, one after the other without a gap.
    return Column(name, WHOLE, primary_key=True, autoincrement=False)


def _points(name: str, target: str, *, optional: bool = False) -> Column[Any]:
    # A renamed engine, family or car takes what points to it along.
    kind = WHOLE if target.endswith(".id") else WORDS
    return Column(name, kind, ForeignKey(target, onupdate="CASCADE"), nullable=optional)


def _table(name: str, *items: Column[Any] | CheckConstraint | UniqueConstraint | Index) -> Table:
    return Table(name, META, *items, sqlite_strict=True)


def _record_table(name: str, record: type, *, key: str = "", parents: dict[str, str] | None = None,
                  more: tuple[Column[Any], ...] = (), indexed: tuple[str, ...] = ()) -> Table:
    columns: list[Column[Any]] = []
    for field, kind, optional in fields_of(record):
        if field in (parents or {}):
            columns.append(_points(field, (parents or {})[field]))
        elif kind == "readings":
            columns += [_column("panel_values", "bytes"), _column("panel_qualifiers", "bytes"),
                        _column("raw", "text")]
        elif kind != "rows":
            columns.append(_column(field, kind, optional=optional))
    return _table(
        name, _id(), *more, *columns, _column("rev", "whole"),
        _points("import_id", "import.id", optional=True), _column("changed_at", "text"),
        _column("changed_by", "text"), _column("removed_at", "text", optional=True),
        *((UniqueConstraint(key),) if key else ()), CheckConstraint("rev >= 1", name="rev"),
        *(Index(None, column) for column in indexed), Index(None, "import_id"))


def _finding_columns() -> list[Column[Any]]:
    return [_column(field, kind, optional=optional)
            for field, kind, optional in fields_of(r.ShellFinding)]


# Tables of records, in an order in which a table stands behind those it points to.
_TO_ENGINE = {"engine": "engine.engine"}
RECORD_TABLES: dict[type, Table] = {
    r.Family: _record_table("family", r.Family, key="family"),
    r.Car: _record_table("car", r.Car, key="car"),
    r.Lab: _record_table("lab", r.Lab, key="lab"),
    r.OilProduct: _record_table("oil_product", r.OilProduct, key="oil_product"),
    r.Mapping: _record_table("mapping", r.Mapping, key="name"),
    r.NewOil: _record_table("new_oil", r.NewOil, indexed=("oil_product",)),
    r.Ownership: _record_table("ownership", r.Ownership, parents={"car": "car.car"},
                               indexed=("car",)),
    r.Engine: _record_table("engine", r.Engine, key="engine",
                            parents={"family": "family.family"}, indexed=("family",)),
    r.EngineStay: _record_table("engine_stay", r.EngineStay,
                                parents={**_TO_ENGINE, "car": "car.car"},
                                indexed=("engine", "car")),
    r.Event: _record_table("event", r.Event, parents=_TO_ENGINE, indexed=("engine",)),
    r.Teardown: _record_table("teardown", r.Teardown, parents=_TO_ENGINE, indexed=("engine",)),
    r.Action: _record_table("action", r.Action, parents=_TO_ENGINE, indexed=("engine",)),
    # One row per shell ever fitted; which is the present one follows from when they went in.
    r.Slot: _record_table("slot", r.Slot, indexed=("engine",),
                          more=(_points("engine", "engine.engine"),)),
}

_table("shell_finding", _id(), _points("teardown_id", "teardown.id"), *_finding_columns(),
       Index(None, "teardown_id"))

_table("import", _id(), _column("file", "text"), _column("sha256", "text"),
       _column("kind", "text"), _column("counts", "json"), _column("options", "json"),
       _column("mapping", "text"), _column("made_at", "text"), _column("made_by", "text"),
       _column("state", "text"), _column("undone_at", "text", optional=True),
       _column("undone_by", "text", optional=True),
       CheckConstraint("state IN ('done', 'undone')", name="state"),
       Index("uq_import_sha256_kind", "sha256", "kind", unique=True,
             sqlite_where=text("state = 'done'"), postgresql_where=text("state = 'done'")))

_table("import_reject", _id(), _points("import_id", "import.id"), _column("line", "whole"),
       _column("column", "text"), _column("raw", "text"), _column("reason", "text"),
       _column("hint", "text"), Index(None, "import_id"))

_table("import_held", _id(), _points("import_id", "import.id"), _column("line", "whole"),
       _column("engine_text", "text"), _column("raw", "text"),
       _column("released_at", "text", optional=True), Index(None, "import_id"))

# What a sample says, beside its packed readings: name and kind, in the order of SampleTable.
SAMPLE_COLUMNS: tuple[tuple[str, str], ...] = (
    ("engine", "text"), ("sample_date", "date"), ("meter", "number"), ("meter_unit", "whole"),
    ("oil_distance", "number"), ("oil_changed", "whole"), ("top_up_l", "number"),
    ("level_at_sampling", "whole"), ("refill_l", "number"), ("oil_product", "text"),
    ("refill_product", "text"), ("lab", "text"), ("method", "text"), ("sample_id", "text"),
    ("note", "text"), ("filter_finding", "whole"), ("hot_oil_pressure_bar", "number"),
    ("noise", "whole"), ("glitter", "whole"), ("awaited", "whole"), ("panel_values", "bytes"),
    ("panel_qualifiers", "bytes"), ("raw", "text"), ("methods", "text"), ("line", "whole"))


def _sample_columns() -> list[Column[Any]]:
    said = [_points(name, "engine.engine") if name == "engine"
            else _column(name, kind, optional=kind in ("date", "number"))
            for name, kind in SAMPLE_COLUMNS]
    return [*said, _column("content_hash", "bytes"), _column("rev", "whole"),
            _column("doubt_answer", "text"), _points("import_id", "import.id", optional=True),
            _points("filled_by", "import.id", optional=True), _column("changed_at", "text"),
            _column("changed_by", "text"), _column("voided_at", "text", optional=True)]


_PACKED_ALIKE = "length(panel_values) = 8 * length(panel_qualifiers)"
_ANSWERS = "doubt_answer IN ('', 'confirmed', 'set_aside')"
_table("sample", _id(), *_sample_columns(), Index(None, "engine"), Index(None, "import_id"),
       Index("ix_sample_filled_by", "filled_by",
             sqlite_where=text("filled_by IS NOT NULL"),
             postgresql_where=text("filled_by IS NOT NULL")),
       Index("ix_sample_awaited", "engine", sqlite_where=text("awaited = 1"),
             postgresql_where=text("awaited = 1")),
       CheckConstraint(_PACKED_ALIKE, name="packed_alike"),
       CheckConstraint(_ANSWERS, name="answer"), CheckConstraint("rev >= 1", name="rev"),
       CheckConstraint("sample_date IS NULL OR length(sample_date) = 10", name="date"))

# Every version of a sample that is no longer the present one, whole.
_table("sample_version", _id("version_id"), _points("id", "sample.id"), *_sample_columns(),
       _column("replaced_at", "text"), _column("replaced_by", "text"), _column("why", "text"),
       Index(None, "id", "rev"))

# Which position of a packed row is which measurand.
_table("panel", _id("position"), _column("symbol", "text"), UniqueConstraint("symbol"))

_table("limit_version", _id(), _column("made_at", "text"), _column("made_by", "text"),
       _column("note", "text"), _column("state", "text"),
       _points("import_id", "import.id", optional=True),
       _points("follows", "limit_version.id", optional=True),
       CheckConstraint("state IN ('current', 'trial', 'past')", name="state"),
       Index("uq_limit_version_current", "state", unique=True,
             sqlite_where=text("state = 'current'"), postgresql_where=text("state = 'current'")))

_table("limit", _id(), _points("version", "limit_version.id"),
       *(_column(name, kind) for name, kind, _ in fields_of(r.Limit)),
       UniqueConstraint("version", "family", "measurand", "quantity", "level", "operator"))

# Verdicts as they were issued; nothing here is ever changed.
_table("verdict", _id(), _points("engine", "engine.engine"), _column("as_of", "date"),
       _column("made_at", "text"), _column("level", "text"), _column("data", "text"),
       _column("reason_code", "text"), _column("reason_codes", "words"),
       _column("document", "text"), _column("limits_version", "whole", optional=True),
       _column("context_id", "whole", optional=True), Index(None, "engine"))

# The present verdict of every engine, one narrow row each; documents stand apart so that a page
# of the list reads little. Unknown dates are '' and unknown numbers -1 here, because the two
# databases sort NULL to opposite ends.
WATCH_COLUMNS: tuple[tuple[str, str], ...] = (
    ("engine", "text"), ("family", "text"), ("car", "text"), ("owner", "text"),
    ("level", "text"), ("level_rank", "whole"), ("data", "text"), ("data_rank", "whole"),
    ("as_of", "text"), ("chance", "number"), ("size", "number"), ("reason_codes", "words"),
    ("reason_text", "text"), ("measurand", "text"), ("trend_word", "text"),
    ("last_sample_date", "text"), ("last_meter", "number"), ("meter_unit", "text"),
    ("awaiting", "whole"), ("awaited_since", "text"), ("next_by_meter", "number"),
    ("next_by_date", "text"), ("samples", "whole"), ("context_id", "whole"),
    ("limits_version", "whole"), ("search", "text"))
# Most pressing first is "level"; the rest are single columns.
WATCH_SORTS = ("engine", "family", "car", "owner", "level", "chance", "size", "last_sample_date",
               "last_meter", "next_by_date", "next_by_meter", "samples")


def _watch() -> Table:
    columns = [_points("engine", "engine.engine") if name == "engine" else _column(name, kind)
               for name, kind in WATCH_COLUMNS]
    columns[0].primary_key = True
    table = _table("watch", *columns)
    pressing = (table.c.level_rank.desc(), table.c.chance.desc(), table.c.size.desc(),
                table.c.engine)
    Index("ix_watch_pressing", *pressing)
    Index("ix_watch_family_pressing", table.c.family, *pressing)
    for name in WATCH_SORTS:
        if name not in ("engine", "level"):
            Index(f"ix_watch_{name}", table.c[name], table.c.engine)
    return table


_watch()
_table("watch_document", Column("engine", WORDS, ForeignKey("engine.engine", onupdate="CASCADE"),
                                primary_key=True), _column("document", "text"))

_table("context", _id(), _column("kind", "text"), _column("made_at", "text"),
       _column("document", "text"), Index(None, "kind"))

_table("setting", Column("name", WORDS, primary_key=True), _column("value", "json"))

# Who did what; append only, by triggers. Old and new are JSON.
_table("audit", _id("seq"), _column("at", "text"), _column("who", "text"), _column("role", "text"),
       _column("object", "text"), _column("object_id", "whole", optional=True),
       _column("field", "text"), _column("old", "json"), _column("new", "json"),
       _column("why", "text"), Index(None, "object", "object_id"))

# Two numbers that grow with every write, so that a reader sees at once that something changed.
_table("counter", Column("name", WORDS, primary_key=True), _column("value", "whole"))

TABLES: dict[str, Table] = dict(META.tables)
