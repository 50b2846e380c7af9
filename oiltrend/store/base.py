"""What every part of the store stands on: how one asks, and how one writes.

The parts are written once and used twice. A :class:`~oiltrend.store.store.Store` asks each
question on a connection of its own; a write asks inside its transaction, and so sees what it
has already done and what nobody else can change meanwhile.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, func, insert, select

from oiltrend.errors import NotThere
from oiltrend.records import Caller
from oiltrend.store.schema import TABLES

__all__ = ["Reads", "Writes", "as_json", "chunks", "now_text", "raw_rows"]

T = TypeVar("T")

# Values per statement; below the least limit of either database.
_MANY = 10_000


def now_text() -> str:
    """Tell the time as the store writes it: ISO, UTC.

    Returns
    -------
    str [-]
        For instance ``2025-03-01T14:02:03.123456+00:00``.
    """
    return datetime.now(UTC).isoformat(timespec="microseconds")


def as_json(value: object) -> str:
    """Write a value as JSON, the way the audit and the JSON columns hold it.

    Parameters
    ----------
    value : object [-]
        Anything that JSON knows.

    Returns
    -------
    str [-]
        Keys sorted, text as it is.

    Examples
    --------
    >>> as_json({"b": None, "a": "µ"})
    '{"a": "µ", "b": null}'
    """
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False)


def chunks(items: Sequence[T]) -> Iterable[Sequence[T]]:
    """Cut a list into pieces that one statement can carry.

    Parameters
    ----------
    items : sequence [-]
        Any length.

    Yields
    ------
    sequence [-]
        At most 10,000 items each.
    """
    for start in range(0, len(items), _MANY):
        yield items[start:start + _MANY]


def raw_rows(connection: Connection, question: Select[Any]) -> list[tuple[Any, ...]]:
    """Ask for many rows, past everything that would handle each of them.

    Parameters
    ----------
    connection : Connection [-]
        To the database.
    question : Select [-]
        What is asked.

    Returns
    -------
    list of tuple [-]
        As the driver gives them.
    """
    rows: list[tuple[Any, ...]] = list(connection.execute(question).cursor.fetchall())
    return rows


class Reads:
    """The questions of one part of the store."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError


class Writes(Reads):
    """The changes of one part of the store, made inside one transaction.

    Parameters
    ----------
    connection : Connection [-]
        In the transaction, with the lock of all writers taken.
    caller : Caller [-]
        Who writes.
    why : str [-]
        Reason, for the audit.
    """

    def __init__(self, connection: Connection, *, caller: Caller, why: str) -> None:
        self._connection = connection
        self._caller = caller
        self._why = why
        self._at = now_text()
        self._audit: list[dict[str, Any]] = []
        self._next: dict[str, int] = {}
        self._watch_changed = False

    def _new_ids(self, table: Table, count: int) -> range:
        # All writers hold one lock, so the numbers follow each other without a gap.
        if table.name not in self._next:
            (key,) = table.primary_key.columns
            last = self._connection.execute(select(func.max(key))).scalar()
            self._next[table.name] = (last or 0) + 1
        first = self._next[table.name]
        self._next[table.name] = first + count
        return range(first, first + count)

    def _insert(self, name: str, rows: Sequence[dict[str, Any]]) -> list[int]:
        table = TABLES[name]
        (key,) = table.primary_key.columns
        ids = self._new_ids(table, len(rows))
        numbered = [{key.name: number, **row} for number, row in zip(ids, rows, strict=True)]
        for part in chunks(numbered):
            self._connection.execute(insert(table), list(part))
        return list(ids)

    def _note(self, object_: str, object_id: int | None, *, field: str = "", old: object = None,
              new: object = None) -> None:
        """Keep one change for the audit, which is written with the commit."""
        self._audit.append({
            "at": self._at, "who": self._caller.name, "role": self._caller.role,
            "object": object_, "object_id": object_id, "field": field, "old": as_json(old),
            "new": as_json(new), "why": self._why})

    def _require(self, name: str, values: Iterable[str]) -> None:
        """Refuse names of families, cars or engines that the store does not have."""
        table = TABLES[name]
        wanted = sorted(set(values))
        found: set[str] = set()
        for part in chunks(wanted):
            found.update(row[0] for row in raw_rows(self._connection, select(table.c[name]).where(
                table.c[name].in_(part), table.c.removed_at.is_(None))))
        missing = [value for value in wanted if value not in found]
        if missing:
            shown = ", ".join(f"'{value}'" for value in missing[:5])
            raise NotThere(f"{name}: must be one that the store has, found {shown}"
                           + (f" and {len(missing) - 5} more" if len(missing) > 5 else ""),
                           hint=f"add the {name} first")
