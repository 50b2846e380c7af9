"""Records of few things: families, cars, engines, events, teardowns and the like.

One way out for all of them; :mod:`oiltrend.store.recordwrites` is the one way in.
"""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Generic, TypeVar

from sqlalchemy import ColumnElement, Connection, Table, select

from oiltrend.errors import NotThere, StoreError
from oiltrend.records import ShellFinding, Teardown
from oiltrend.store.base import Reads, chunks
from oiltrend.store.codec import columns_of, from_row
from oiltrend.store.schema import RECORD_TABLES, TABLES

__all__ = ["NAMED_BY", "PACKED", "RecordReads", "Row", "Stored", "findings_of", "table_of"]

R = TypeVar("R")
Row = AnyMapping[str, Any]

# The column that holds a record's own name, by table.
NAMED_BY = {"family": "family", "car": "car", "lab": "lab", "oil_product": "oil_product",
         "mapping": "name", "engine": "engine"}
PACKED = {"panel_values", "panel_qualifiers"}


@dataclass(frozen=True, slots=True)
class Stored(Generic[R]):
    """A record as it is kept: its number, its version, and who changed it last."""

    id: int
    rev: int
    record: R
    changed_at: datetime
    changed_by: str
    import_id: int | None


def table_of(kind: type[Any]) -> Table:
    """Find the table of a kind of record.

    Parameters
    ----------
    kind : type [-]
        Record class.

    Returns
    -------
    Table [-]
        Where its records are kept.

    Raises
    ------
    StoreError
        The store keeps no such records.
    """
    table = RECORD_TABLES.get(kind)
    if table is None:
        words = ", ".join(known.__name__ for known in RECORD_TABLES)
        raise StoreError(f"store: must be a kind of record it keeps, found {kind.__name__}",
                         hint=f"use one of {words}")
    return table


class RecordReads(Reads):
    """Questions about records."""

    def get(self, kind: type[R], key: int | str) -> Stored[R]:
        """Fetch one record by its number or its name.

        Parameters
        ----------
        kind : type [-]
            Record class.
        key : int or str [-]
            The store's number, or the name of a family, engine, car, lab, product or mapping.

        Returns
        -------
        Stored [-]
            The record with its version.

        Raises
        ------
        NotThere
            No such record.
        """
        table = table_of(kind)
        column = table.c.id if isinstance(key, int) else table.c[self._key(table)]
        with self._reading() as connection:
            found = self._load(connection, kind, column == key)
        if not found:
            raise NotThere(f"{table.name}: must be one that the store has, found '{key}'",
                           hint="see the list for what is there")
        return found[0]

    def all(self, kind: type[R]) -> list[Stored[R]]:
        """Fetch all records of a kind, in the order of their names.

        Parameters
        ----------
        kind : type [-]
            Record class.

        Returns
        -------
        list of Stored [-]
            Without removed ones.
        """
        return self.find(kind, {})

    def find(self, kind: type[R], where: AnyMapping[str, Any]) -> list[Stored[R]]:
        """Fetch the records of a kind whose fields have the given values.

        Parameters
        ----------
        kind : type [-]
            Record class.
        where : mapping [-]
            Field to value, or to a list of values of which one must be met.

        Returns
        -------
        list of Stored [-]
            In the order of their names, else of engine or car, then of entry.

        Raises
        ------
        StoreError
            A field that the kind does not have.
        """
        table = table_of(kind)
        rules: list[ColumnElement[bool]] = []
        for name, value in where.items():
            if name not in table.c or name in PACKED:
                raise StoreError(f"{table.name}: must be asked by one of its fields, found "
                                 f"'{name}'", hint="use one of " + ", ".join(columns_of(kind)))
            if isinstance(value, list | tuple | set | frozenset):
                rules.append(table.c[name].in_([_plain(item) for item in value]))
            else:
                plain = _plain(value)
                rules.append(table.c[name].is_(None) if plain is None
                             else table.c[name] == plain)
        with self._reading() as connection:
            return self._load(connection, kind, *rules)

    @staticmethod
    def _key(table: Table) -> str:
        if table.name not in NAMED_BY:
            raise StoreError(f"{table.name}: must be asked by number, it has no name of its own",
                             hint="use find() to search")
        return NAMED_BY[table.name]

    def _load(self, connection: Connection, kind: type[R],
              *rules: ColumnElement[bool]) -> list[Stored[R]]:
        table = table_of(kind)
        order = [table.c[name] for name in (NAMED_BY.get(table.name, ""), "engine", "car")
                 if name in table.c]
        rows = connection.execute(select(table).where(table.c.removed_at.is_(None), *rules)
                                  .order_by(*order, table.c.id)).mappings().all()
        more: dict[int, dict[str, Any]] = {}
        if kind is Teardown:
            findings = findings_of(connection, [row["id"] for row in rows])
            more = {number: {"findings": found} for number, found in findings.items()}
        return [Stored(row["id"], row["rev"], from_row(kind, row, more=more.get(row["id"])),
                       datetime.fromisoformat(row["changed_at"]), row["changed_by"],
                       row["import_id"]) for row in rows]


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return int(value) if isinstance(value, bool) else value


def findings_of(connection: Connection,
                teardowns: Sequence[int]) -> dict[int, tuple[ShellFinding, ...]]:
    """Fetch what was found on the shells of some teardowns.

    Parameters
    ----------
    connection : Connection [-]
        To the database.
    teardowns : sequence of int [-]
        Their numbers.

    Returns
    -------
    dict [-]
        Number to findings, in the order of entry.
    """
    table = TABLES["shell_finding"]
    found: dict[int, list[ShellFinding]] = {number: [] for number in teardowns}
    for part in chunks(teardowns):
        rows = connection.execute(select(table).where(table.c.teardown_id.in_(part))
                                  .order_by(table.c.id)).mappings()
        for row in rows:
            found[row["teardown_id"]].append(from_row(ShellFinding, row))
    return {number: tuple(list_) for number, list_ in found.items()}
