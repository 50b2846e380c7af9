"""The first schema.

Frozen: what a released version of the program has written must be read for ever, so later
changes are later migrations. Columns are written as ``name:type``, type t text, n number,
w whole number, b bytes; then ``?`` may be unknown, ``!`` primary key, ``>`` points to.
"""

from __future__ import annotations

from typing import Any

from alembic import op
from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Double,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import REAL, TypeEngine

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0001"
down_revision = None

_TYPES: dict[str, TypeEngine[Any]] = {
    "t": Text().with_variant(Text(collation="C"), "postgresql"),
    "n": Double().with_variant(REAL(), "sqlite"),
    "w": BigInteger().with_variant(Integer(), "sqlite"),
    "b": LargeBinary()}

_COLUMNS = {
    "audit": "seq:w! at:t who:t role:t object:t object_id:w? field:t old:t new:t why:t",
    "context": "id:w! kind:t made_at:t document:t",
    "counter": "name:t! value:w",
    "import": """
        id:w! file:t sha256:t kind:t counts:t options:t mapping:t made_at:t made_by:t state:t
        undone_at:t? undone_by:t?
        """,
    "panel": "position:w! symbol:t",
    "setting": "name:t! value:t",
    "car": """
        id:w! car:t note:t rev:w import_id:w?>import.id changed_at:t changed_by:t removed_at:t?
        """,
    "family": """
        id:w! family:t rods:w? crankpins:t pin_mm:n? shell_width_mm:n? mains:w? main_pin_mm:n?
        main_width_mm:n? main_overlay:t main_lining:t oil_fill_l:n? residue_fraction:n?
        density_kg_l:n? overlay:t overlay_um:n? lining:t layer_structure:t clearance_min_mm:n?
        clearance_max_mm:n? note:t rev:w import_id:w?>import.id changed_at:t changed_by:t
        removed_at:t?
        """,
    "import_held": "id:w! import_id:w>import.id line:w engine_text:t raw:t released_at:t?",
    "import_reject": "id:w! import_id:w>import.id line:w column:t raw:t reason:t hint:t",
    "lab": """
        id:w! lab:t date_order:t decimal:t method:t note:t rev:w import_id:w?>import.id
        changed_at:t changed_by:t removed_at:t?
        """,
    "limit_version": """
        id:w! made_at:t made_by:t note:t state:t import_id:w?>import.id
        follows:w?>limit_version.id
        """,
    "mapping": """
        id:w! name:t columns:t engines:t units:t lab:t date_order:t decimal:t meter:t engine:t
        rev:w import_id:w?>import.id changed_at:t changed_by:t removed_at:t?
        """,
    "new_oil": """
        id:w! oil_product:t panel_values:b panel_qualifiers:b raw:t batch:t lab:t method:t
        sample_date:t? rev:w import_id:w?>import.id changed_at:t changed_by:t removed_at:t?
        """,
    "oil_product": """
        id:w! oil_product:t grade:t note:t rev:w import_id:w?>import.id changed_at:t changed_by:t
        removed_at:t?
        """,
    "engine": """
        id:w! engine:t family:t>family.family meter_unit:t built:t oil_fill_l:n? shell_material:t
        set_fitted_meter:n? car:t owner:t note:t rev:w import_id:w?>import.id changed_at:t
        changed_by:t removed_at:t?
        """,
    "limit": """
        id:w! version:w>limit_version.id family:t measurand:t quantity:t level:t operator:t
        value:n source:t valid_from:t
        """,
    "ownership": """
        id:w! car:t>car.car owner:t from_date:t? to_date:t? rev:w import_id:w?>import.id
        changed_at:t changed_by:t removed_at:t?
        """,
    "action": """
        id:w! engine:t>engine.engine action:t on:t note:t rev:w import_id:w?>import.id
        changed_at:t changed_by:t removed_at:t?
        """,
    "engine_stay": """
        id:w! engine:t>engine.engine car:t>car.car from_date:t? from_meter:n? to_date:t?
        to_meter:n? rev:w import_id:w?>import.id changed_at:t changed_by:t removed_at:t?
        """,
    "event": """
        id:w! engine:t>engine.engine event:t date:t? meter:n? litres:n? oil_product:t car:t
        new_meter:n? note:t rev:w import_id:w?>import.id changed_at:t changed_by:t removed_at:t?
        """,
    "sample": """
        id:w! engine:t>engine.engine sample_date:t? meter:n? meter_unit:w oil_distance:n?
        oil_changed:w top_up_l:n? level_at_sampling:w refill_l:n? oil_product:t refill_product:t
        lab:t method:t sample_id:t note:t filter_finding:w hot_oil_pressure_bar:n? noise:w
        glitter:w awaited:w panel_values:b panel_qualifiers:b raw:t methods:t line:w
        content_hash:b rev:w doubt_answer:t import_id:w?>import.id filled_by:w?>import.id
        changed_at:t changed_by:t voided_at:t?
        """,
    "slot": """
        id:w! engine:t>engine.engine kind:t number:w half:t material:t fitted_meter:n?
        fitted_date:t? condition:t clearance_mm:n? rev:w import_id:w?>import.id changed_at:t
        changed_by:t removed_at:t?
        """,
    "teardown": """
        id:w! engine:t>engine.engine teardown_date:t meter:n? reason:t oil_verdict_seen:w?
        oil_changed:w? refill_l:n? refill_product:t filter_finding:t note:t rev:w
        import_id:w?>import.id changed_at:t changed_by:t removed_at:t?
        """,
    "verdict": """
        id:w! engine:t>engine.engine as_of:t made_at:t level:t data:t reason_code:t reason_codes:t
        document:t limits_version:w? context_id:w?
        """,
    "watch": """
        engine:t!>engine.engine family:t car:t owner:t level:t level_rank:w data:t data_rank:w
        as_of:t chance:n size:n reason_codes:t reason_text:t measurand:t trend_word:t
        last_sample_date:t last_meter:n meter_unit:t awaiting:w awaited_since:t next_by_meter:n
        next_by_date:t samples:w context_id:w limits_version:w search:t
        """,
    "watch_document": "engine:t!>engine.engine document:t",
    "sample_version": """
        version_id:w! id:w>sample.id engine:t>engine.engine sample_date:t? meter:n? meter_unit:w
        oil_distance:n? oil_changed:w top_up_l:n? level_at_sampling:w refill_l:n? oil_product:t
        refill_product:t lab:t method:t sample_id:t note:t filter_finding:w
        hot_oil_pressure_bar:n? noise:w glitter:w awaited:w panel_values:b panel_qualifiers:b
        raw:t methods:t line:w content_hash:b rev:w doubt_answer:t import_id:w?>import.id
        filled_by:w?>import.id changed_at:t changed_by:t voided_at:t? replaced_at:t replaced_by:t
        why:t
        """,
    "shell_finding": """
        id:w! teardown_id:w>teardown.id kind:t number:w half:t wear_stage:w? not_scorable:w
        failed:t layer_pct:n? back_pct:n? wall_crown_mm:n? wall_end_mm:n? wall_new_mm:n?
        clearance_mm:n? journal_mm:n? journal_surface:t damage:t material:t action:t
        new_material:t new_clearance_mm:n? note:t line:w
        """,
}
_UNIQUE = (
    ("panel", "symbol"),
    ("car", "car"),
    ("family", "family"),
    ("lab", "lab"),
    ("mapping", "name"),
    ("oil_product", "oil_product"),
    ("engine", "engine"),
    ("limit", "version family measurand quantity level operator"),
)
_CHECKS = (
    ("import", "state", "state IN ('done', 'undone')"),
    ("limit_version", "state", "state IN ('current', 'trial', 'past')"),
    ("sample", "answer", "doubt_answer IN ('', 'confirmed', 'set_aside')"),
    ("sample", "date", "sample_date IS NULL OR length(sample_date) = 10"),
    ("sample", "packed_alike", "length(panel_values) = 8 * length(panel_qualifiers)"),
)
_INDEXES = (
    "ix_audit_object_object_id on audit: object, object_id",
    "ix_context_kind on context: kind",
    "uq_import_sha256_kind unique on import: sha256, kind where state = 'done'",
    "ix_car_import_id on car: import_id",
    "ix_family_import_id on family: import_id",
    "ix_import_held_import_id on import_held: import_id",
    "ix_import_reject_import_id on import_reject: import_id",
    "ix_lab_import_id on lab: import_id",
    "uq_limit_version_current unique on limit_version: state where state = 'current'",
    "ix_mapping_import_id on mapping: import_id",
    "ix_new_oil_import_id on new_oil: import_id",
    "ix_new_oil_oil_product on new_oil: oil_product",
    "ix_oil_product_import_id on oil_product: import_id",
    "ix_engine_family on engine: family",
    "ix_engine_import_id on engine: import_id",
    "ix_ownership_car on ownership: car",
    "ix_ownership_import_id on ownership: import_id",
    "ix_action_engine on action: engine",
    "ix_action_import_id on action: import_id",
    "ix_engine_stay_car on engine_stay: car",
    "ix_engine_stay_engine on engine_stay: engine",
    "ix_engine_stay_import_id on engine_stay: import_id",
    "ix_event_engine on event: engine",
    "ix_event_import_id on event: import_id",
    "ix_sample_awaited on sample: engine where awaited = 1",
    "ix_sample_engine on sample: engine",
    "ix_sample_filled_by on sample: filled_by where filled_by IS NOT NULL",
    "ix_sample_import_id on sample: import_id",
    "ix_slot_engine on slot: engine",
    "ix_slot_import_id on slot: import_id",
    "ix_teardown_engine on teardown: engine",
    "ix_teardown_import_id on teardown: import_id",
    "ix_verdict_engine on verdict: engine",
    "ix_watch_car on watch: car, engine",
    "ix_watch_chance on watch: chance, engine",
    "ix_watch_family on watch: family, engine",
    "ix_watch_family_pressing on watch: family, level_rank DESC, chance DESC, size DESC, engine",
    "ix_watch_last_meter on watch: last_meter, engine",
    "ix_watch_last_sample_date on watch: last_sample_date, engine",
    "ix_watch_next_by_date on watch: next_by_date, engine",
    "ix_watch_next_by_meter on watch: next_by_meter, engine",
    "ix_watch_owner on watch: owner, engine",
    "ix_watch_pressing on watch: level_rank DESC, chance DESC, size DESC, engine",
    "ix_watch_samples on watch: samples, engine",
    "ix_watch_size on watch: size, engine",
    "ix_sample_version_id_rev on sample_version: id, rev",
    "ix_shell_finding_teardown_id on shell_finding: teardown_id",
)

# What was issued and what was said stays: no update, no delete. An engine that is renamed may
# take its rows along, so the name of the engine is not among the guarded columns.
_APPEND_ONLY = {
    "audit": "seq, at, who, role, object, object_id, field, old, new, why",
    "verdict": "id, as_of, made_at, level, data, reason_code, reason_codes, document",
    "sample_version": "version_id, id, rev, panel_values, panel_qualifiers, raw, replaced_at",
}


def upgrade() -> None:
    """Make all tables, their guards and their first rows."""
    tables = MetaData()
    for name, spec in _COLUMNS.items():
        Table(name, tables, *_columns(name, spec), *_constraints(name, spec), sqlite_strict=True)
    tables.create_all(op.get_bind(), checkfirst=False)
    for index in _INDEXES:
        head, _, rest = index.partition(": ")
        columns, _, where = rest.partition(" where ")
        name, table = head.split(" on ")
        unique = "UNIQUE " if name.endswith(" unique") else ""
        op.execute(f"CREATE {unique}INDEX {name.removesuffix(' unique')} ON {table} ({columns})"
                   + (f" WHERE {where}" if where else ""))
    for name, columns in _APPEND_ONLY.items():
        _guard(name, columns)
    op.execute("INSERT INTO counter (name, value) VALUES ('data', 0), ('watch', 0)")


def _columns(table: str, spec: str) -> list[Column[Any]]:
    made: list[Column[Any]] = []
    for word in spec.split():
        name, _, kind = word.partition(":")
        made.append(Column(name, _TYPES[kind[0]], nullable="?" in kind, autoincrement=False))
    return made


def _constraints(table: str, spec: str) -> list[PrimaryKeyConstraint | ForeignKeyConstraint
                                                | UniqueConstraint | CheckConstraint]:
    words = [word.partition(":") for word in spec.split()]
    key = [name for name, _, kind in words if "!" in kind]
    made: list[PrimaryKeyConstraint | ForeignKeyConstraint | UniqueConstraint
               | CheckConstraint] = [PrimaryKeyConstraint(*key, name=f"pk_{table}")]
    made += [ForeignKeyConstraint([name], [kind.partition(">")[2]], name=f"fk_{table}_{name}",
                                  onupdate="CASCADE") for name, _, kind in words if ">" in kind]
    made += [UniqueConstraint(*columns.split(), name=f"uq_{table}_{columns.replace(' ', '_')}")
             for owner, columns in _UNIQUE if owner == table]
    made += [CheckConstraint(rule, name=f"ck_{table}_{name}")
             for owner, name, rule in _CHECKS if owner == table]
    if any(name == "rev" for name, _, _ in words) and table != "sample_version":
        made.append(CheckConstraint("rev >= 1", name=f"ck_{table}_rev"))
    return made


def _guard(table: str, columns: str) -> None:
    words = f"{table}: rows are only ever added"
    if op.get_bind().dialect.name == "sqlite":
        for name, when in (("update", f"UPDATE OF {columns}"), ("delete", "DELETE")):
            op.execute(f"CREATE TRIGGER {table}_no_{name} BEFORE {when} ON {table} "
                       f"BEGIN SELECT RAISE(ABORT, '{words}'); END")
        return
    op.execute(f"CREATE FUNCTION {table}_append_only() RETURNS trigger LANGUAGE plpgsql AS "
               f"$$ BEGIN RAISE EXCEPTION '{words}'; END $$")
    for name, when in (("update", f"UPDATE OF {columns}"), ("delete", "DELETE"),
                       ("truncate", "TRUNCATE")):
        op.execute(f"CREATE TRIGGER {table}_no_{name} BEFORE {when} ON {table} "
                   f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_append_only()")
