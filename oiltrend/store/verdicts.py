"""Verdicts: the list of all engines as they stand, and the log of what was said when."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, delete, func, select
from sqlalchemy.dialects import sqlite

from oiltrend.errors import NotThere, StoreError
from oiltrend.store.base import Reads, Writes, as_json, chunks
from oiltrend.store.schema import TABLES, WATCH_COLUMNS, WATCH_SORTS

__all__ = ["LoggedVerdict", "VerdictReads", "VerdictWrites", "WatchRow"]

# In order of pressure; the place in the tuple is the rank by which the list is sorted.
_LEVELS = ("", "no_alarm", "alert", "alarm")
_DATA = ("enough", "little", "out_of_date")
# Unknown in the list: the two databases sort NULL to opposite ends.
_UNKNOWN_DATE, _UNKNOWN_NUMBER = "", -1


@dataclass(frozen=True, slots=True)
class WatchRow:
    """One engine in the list. ``level`` is "" while there is none yet; ``chance`` 0 to 1.

    ``reason_codes`` are all reasons, the main one first; ``reason_text`` is the main one in
    words. ``context_id`` and ``limits_version`` say what the verdict rests on.
    """

    engine: str
    family: str
    level: str
    data: str
    as_of: date
    car: str = ""
    owner: str = ""
    chance: float | None = None
    size: float = 0.0
    reason_codes: tuple[str, ...] = ()
    reason_text: str = ""
    measurand: str = ""
    trend_word: str = ""
    last_sample_date: date | None = None
    last_meter: float | None = None
    meter_unit: str = "km"
    awaiting: bool = False
    awaited_since: date | None = None
    next_by_meter: float | None = None
    next_by_date: date | None = None
    samples: int = 0
    context_id: int | None = None
    limits_version: int | None = None


@dataclass(frozen=True, slots=True)
class LoggedVerdict:
    """A verdict as it was issued; ``document`` is the whole of it as JSON text."""

    id: int
    engine: str
    as_of: date
    made_at: datetime
    level: str
    data: str
    reason_codes: tuple[str, ...]
    document: str
    limits_version: int | None
    context_id: int | None


# A fleet has thousands of rows: what each field is kept as is looked up once.
_KINDS = {field.name: dict(WATCH_COLUMNS)[field.name] for field in fields(WatchRow)}


class VerdictReads(Reads):
    """Questions about verdicts."""

    def watch_rows(self, *, search: str = "", family: str = "", level: str = "", sort: str = "",
                   descending: bool = False, offset: int = 0,
                   limit: int = 50) -> tuple[list[WatchRow], int]:
        """Fetch a part of the list of engines.

        Parameters
        ----------
        search : str [-]
            Part of an engine, car, owner or family, in any case; "" for all.
        family, level : str [-]
            Only these; "" for all.
        sort : str [-]
            A column of the list; "" or "level" for most pressing first.
        descending : bool [-]
            The other way round.
        offset, limit : int [-]
            Which part.

        Returns
        -------
        tuple [-]
            The rows, and how many there are in all.

        Raises
        ------
        StoreError
            A column that the list cannot be sorted by.
        """
        if sort and sort not in WATCH_SORTS:
            raise StoreError(f"list: must be sorted by one of its columns, found '{sort}'",
                             hint="use one of " + ", ".join(WATCH_SORTS))
        table = TABLES["watch"]
        rules: list[ColumnElement[bool]] = []
        if search:
            rules.append(table.c.search.contains(search.casefold(), autoescape=True))
        if family:
            rules.append(table.c.family == family)
        if level:
            rules.append(table.c.level_rank == _rank(_LEVELS, level, "level"))
        order = _order(sort, descending)
        with self._reading() as connection:
            rows = connection.execute(select(table).where(*rules).order_by(*order)
                                      .offset(offset).limit(limit)).mappings().all()
            total = connection.execute(
                select(func.count()).select_from(table).where(*rules)).scalar_one()
        return [_watch_row(row) for row in rows], total

    def watch_document(self, engine: str) -> str:
        """Fetch the present verdict of an engine, whole.

        Parameters
        ----------
        engine : str [-]
            Engine.

        Returns
        -------
        str [-]
            JSON text.

        Raises
        ------
        NotThere
            The engine was not assessed yet.
        """
        table = TABLES["watch_document"]
        with self._reading() as connection:
            found = connection.execute(
                select(table.c.document).where(table.c.engine == engine)).scalar_one_or_none()
        if found is None:
            raise NotThere(f"verdict: must be of an engine that was assessed, found '{engine}'",
                           hint="assess the engine first")
        return str(found)

    def verdict_log(self, engine: str) -> list[LoggedVerdict]:
        """Fetch what was said about an engine, and when.

        Parameters
        ----------
        engine : str [-]
            Engine.

        Returns
        -------
        list of LoggedVerdict [-]
            Newest first.
        """
        table = TABLES["verdict"]
        with self._reading() as connection:
            rows = connection.execute(select(table).where(table.c.engine == engine)
                                      .order_by(table.c.id.desc())).mappings().all()
        return [LoggedVerdict(
            row["id"], engine, date.fromisoformat(row["as_of"]),
            datetime.fromisoformat(row["made_at"]), row["level"], row["data"],
            tuple(json.loads(row["reason_codes"])), row["document"], row["limits_version"],
            row["context_id"]) for row in rows]


class VerdictWrites(VerdictReads, Writes):
    """Writing verdicts."""

    def put_verdicts(self, rows: Sequence[WatchRow], document: Callable[[str], str]) -> int:
        """Put new verdicts in the list, and in the log where they say something else.

        Parameters
        ----------
        rows : sequence of WatchRow [-]
            One row for the list per engine. The log takes a verdict when level, data or the
            reasons differ from the last one.
        document : callable [-]
            Gives the whole verdict of an engine as JSON text; asked only where it is kept.

        Returns
        -------
        int [-]
            How many went to the log.

        Raises
        ------
        NotThere
            An engine that is not there.
        StoreError
            A level or data state that does not exist.
        """
        self._require("engine", [row.engine for row in rows])
        before = _standing(self._connection, [row.engine for row in rows])
        changed: list[dict[str, Any]] = []
        logged: list[dict[str, Any]] = []
        documents = []
        said = ("level", "data", "reason_codes")
        for row in rows:
            stored, old = _stored(row), before.get(row.engine)
            if stored == old:
                continue
            text = document(row.engine)
            changed.append(stored)
            documents.append({"engine": row.engine, "document": text})
            if old is None or any(stored[name] != old[name] for name in said):
                logged.append(self._log_row(row, text))
        self._upsert("watch", changed)
        self._upsert("watch_document", documents)
        self._insert("verdict", logged)
        self._watch_changed = self._watch_changed or bool(rows)
        return len(logged)

    def drop_verdicts(self, engines: Sequence[str]) -> None:
        """Take engines off the list, for instance when all their samples were voided.

        Parameters
        ----------
        engines : sequence of str [-]
            Engines; the log keeps what was said.
        """
        for name in ("watch", "watch_document"):
            table = TABLES[name]
            for part in chunks(list(engines)):
                self._connection.execute(delete(table).where(table.c.engine.in_(part)))
        self._watch_changed = self._watch_changed or bool(engines)

    def _log_row(self, row: WatchRow, document: str) -> dict[str, Any]:
        return {"engine": row.engine, "as_of": row.as_of.isoformat(), "made_at": self._at,
                "level": row.level, "data": row.data,
                "reason_code": row.reason_codes[0] if row.reason_codes else "",
                "reason_codes": as_json(row.reason_codes), "document": document,
                "limits_version": row.limits_version, "context_id": row.context_id}

    def _upsert(self, name: str, rows: Sequence[dict[str, Any]]) -> None:
        table = TABLES[name]
        statement: Any = sqlite.insert(table)
        if self._connection.dialect.name == "postgresql":
            # Here, because most stores never need it and it takes long to load.
            from sqlalchemy.dialects import postgresql
            statement = postgresql.insert(table)
        statement = statement.on_conflict_do_update(
            index_elements=[table.c.engine],
            set_={column.name: statement.excluded[column.name]
                  for column in table.columns if column.name != "engine"})
        for part in chunks(rows):
            self._connection.execute(statement, list(part))


def _order(sort: str, descending: bool) -> list[ColumnElement[Any]]:
    table = TABLES["watch"]
    if sort in ("", "level"):
        # Most pressing first is the plain direction here.
        down = [table.c.level_rank, table.c.chance, table.c.size]
        return ([*(column.asc() for column in down), table.c.engine.desc()] if descending
                else [*(column.desc() for column in down), table.c.engine.asc()])
    columns = [table.c[sort]] if sort == "engine" else [table.c[sort], table.c.engine]
    return [column.desc() if descending else column.asc() for column in columns]


def _standing(connection: Connection, engines: Sequence[str]) -> dict[str, dict[str, Any]]:
    table = TABLES["watch"]
    found: dict[str, dict[str, Any]] = {}
    for part in chunks(list(engines)):
        for row in connection.execute(
                select(table).where(table.c.engine.in_(part))).mappings():
            found[row["engine"]] = dict(row)
    return found


def _rank(words: tuple[str, ...], word: str, what: str) -> int:
    if word not in words:
        shown = ", ".join(f"'{known}'" for known in words)
        raise StoreError(f"{what}: must be one of {shown}, found '{word}'", hint="use one of them")
    return words.index(word)


def _stored(row: WatchRow) -> dict[str, Any]:
    stored: dict[str, Any] = {
        "level_rank": _rank(_LEVELS, row.level, "level"),
        "data_rank": _rank(_DATA, row.data, "data"),
        "search": "\n".join((row.engine, row.car, row.owner, row.family)).casefold()}
    for name, kind in _KINDS.items():
        value = getattr(row, name)
        if isinstance(value, date):
            value = value.isoformat()
        elif isinstance(value, tuple):
            value = as_json(value)
        elif value is None:
            value = _UNKNOWN_DATE if kind == "text" else _UNKNOWN_NUMBER
        elif kind == "number":
            value = float(value)
        elif kind == "whole":
            value = int(value)
        stored[name] = value
    return stored


_DATES = ("last_sample_date", "awaited_since", "next_by_date")
_NUMBERS = ("chance", "last_meter", "next_by_meter", "context_id", "limits_version")


def _watch_row(row: Any) -> WatchRow:
    values = {field.name: row[field.name] for field in fields(WatchRow)}
    for name in _DATES:
        values[name] = date.fromisoformat(values[name]) if values[name] else None
    for name in _NUMBERS:
        values[name] = None if values[name] == _UNKNOWN_NUMBER else values[name]
    values["as_of"] = date.fromisoformat(values["as_of"])
    values["awaiting"] = bool(values["awaiting"])
    values["reason_codes"] = tuple(json.loads(values["reason_codes"]))
    return WatchRow(**values)
