"""Changes of records: add, change, remove.

A record that is changed must be given with the version (``rev``) that was read. A record that
is removed stays in the table, out of sight, and comes back to life when one with the same name
is added.
"""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence
from datetime import datetime
from typing import Any, cast

from sqlalchemy import Connection, Table, delete, func, select, update

from oiltrend.errors import ChangedMeanwhile, NotThere, StoreError
from oiltrend.records import Engine, ShellFinding, Slot, Teardown
from oiltrend.store.base import Writes, chunks
from oiltrend.store.codec import columns_of, fields_of, from_row, to_row
from oiltrend.store.recordrows import NAMED_BY, PACKED, RecordReads, Row, findings_of, table_of
from oiltrend.store.schema import RECORD_TABLES, TABLES

__all__ = ["RecordWrites", "changed_meanwhile", "uses_of"]

_PARENTS = {table.name: tuple(name for name in ("family", "car", "engine")
                              if name != table.name and table.c.get(name) is not None
                              and table.c[name].foreign_keys)
            for table in RECORD_TABLES.values()}
# Where a name stands as mere text. (What the keys of the database watch goes along by itself.)
_NAMED_IN = {"family": (("watch", "family"),),
             "car": (("engine", "car"), ("event", "car"), ("watch", "car")),
             "lab": (("sample", "lab"), ("new_oil", "lab"), ("mapping", "lab")),
             "oil_product": (("sample", "oil_product"), ("sample", "refill_product"),
                             ("event", "oil_product"), ("teardown", "refill_product"),
                             ("new_oil", "oil_product"))}
# Who would be left pointing at nothing: table and column, by what is pointed at.
_USES = {"family": (("engine", "family"),),
         "car": (("engine", "car"), ("ownership", "car"), ("engine_stay", "car")),
         "engine": tuple((name, "engine") for name in ("sample", "event", "teardown", "slot",
                                                       "engine_stay", "action"))}


def changed_meanwhile(what: str, *, rev: int, row: Row) -> ChangedMeanwhile:
    """Say that someone else was first.

    Parameters
    ----------
    what : str [-]
        The thing, in words.
    rev : int [-]
        The version that the caller had read.
    row : mapping [-]
        The row as it stands, with ``rev``, ``changed_at`` and ``changed_by``.

    Returns
    -------
    ChangedMeanwhile [-]
        To be raised.
    """
    at = datetime.fromisoformat(row["changed_at"])
    return ChangedMeanwhile(
        f"{what}: must be changed from its present version {row['rev']}, found version {rev}; "
        f"it was changed by {row['changed_by']} on {at:%Y-%m-%d} at {at:%H:%M} UTC",
        hint="look at the present version first")


def uses_of(connection: Connection, *, table: str, key: str) -> str:
    """Say what still points to a family, car or engine.

    Parameters
    ----------
    connection : Connection [-]
        To the database.
    table : str [-]
        family, car or engine; anything else is never in use.
    key : str [-]
        Its name.

    Returns
    -------
    str [-]
        For instance ``2 event, 5 sample``; ``""`` when nothing does.
    """
    found = []
    for name, column in _USES.get(table, ()):
        user = TABLES[name]
        alive = user.c.voided_at if name == "sample" else user.c.removed_at
        count = connection.execute(select(func.count()).select_from(user).where(
            user.c[column] == key, alive.is_(None))).scalar_one()
        if count:
            found.append(f"{count} {name}")
    return ", ".join(sorted(found))


class RecordWrites(RecordReads, Writes):
    """Changes of records."""

    def add(self, record: Any, *, import_id: int | None = None) -> int:
        """Add one record.

        Parameters
        ----------
        record : record [-]
            What is added.
        import_id : int or None [-]
            The import it came from.

        Returns
        -------
        int [-]
            Its number.

        Raises
        ------
        StoreError
            One with this name is there already.
        NotThere
            It names a family, car or engine that is not there.
        """
        (number,) = self._add_rows([record], import_id=import_id)
        self._note(table_of(type(record)).name, number, new=_document(record))
        return number

    def add_all(self, records: Sequence[Any], *, import_id: int | None = None) -> list[int]:
        """Add many records of one kind, with one entry in the audit for all.

        Parameters
        ----------
        records : sequence of records [-]
            All of one kind.
        import_id : int or None [-]
            The import they came from.

        Returns
        -------
        list of int [-]
            Their numbers, in the same order.

        Raises
        ------
        StoreError
            A name is there already, or comes twice.
        NotThere
            One names a family, car or engine that is not there.
        """
        if not records:
            return []
        numbers = self._add_rows(records, import_id=import_id)
        self._note(table_of(type(records[0])).name, None, field="added",
                   new={"count": len(numbers), "first": min(numbers), "last": max(numbers),
                        "import": import_id})
        return numbers

    def save(self, id: int, record: Any, rev: int) -> int:
        """Change a record.

        Parameters
        ----------
        id : int [-]
            Its number.
        record : record [-]
            As it shall be, whole.
        rev : int [-]
            The version that was read.

        Returns
        -------
        int [-]
            The new version; the same when nothing differs.

        Raises
        ------
        ChangedMeanwhile
            Someone else changed it since.
        NotThere
            No such record, or it names something that is not there.
        StoreError
            Another record has the name.
        """
        kind = type(record)
        table = table_of(kind)
        old = self._present(table, id, rev)
        new = to_row(record)
        changes = {name: value for name, value in new.items() if old[name] != value}
        notes = [(name, old[name], value) for name, value in changes.items()
                 if name not in PACKED]
        if NAMED_BY.get(table.name) in changes:
            self._refuse_taken(table, [changes[NAMED_BY[table.name]]], removed_too=True)
        for parent in _PARENTS[table.name]:
            if parent in changes:
                self._require(parent, [changes[parent]])
        if kind is Teardown:
            notes += self._save_findings(id, record)
        if not changes and not notes:
            return rev
        self._update(table, id, rev, changes)
        if NAMED_BY.get(table.name) in changes:
            key = NAMED_BY[table.name]
            self._renamed(table.name, old=old[key], new=changes[key])
        if changes.keys() & PACKED:
            before = from_row(kind, old)
            notes = [note for note in notes if note[0] != "raw"]
            notes += _reading_notes(before.readings, record.readings)
        for name, before_, after in notes:
            self._note(table.name, id, field=name, old=before_, new=after)
        return rev + 1

    def remove(self, kind: type[Any], id: int, rev: int) -> None:
        """Take a record out of sight.

        Parameters
        ----------
        kind : type [-]
            Record class.
        id : int [-]
            Its number.
        rev : int [-]
            The version that was read.

        Raises
        ------
        ChangedMeanwhile
            Someone else changed it since.
        NotThere
            No such record.
        StoreError
            Something still points to it.
        """
        table = table_of(kind)
        row = self._present(table, id, rev)
        key = row[NAMED_BY[table.name]] if table.name in NAMED_BY else ""
        used = uses_of(self._connection, table=table.name, key=key)
        if used:
            raise StoreError(f"{table.name} '{key}': must not be in use to be removed, found "
                             f"{used}", hint="remove those first")
        self._remove_row(table, row)

    def _remove_row(self, table: Table, row: AnyMapping[Any, Any]) -> None:
        self._update(table, row["id"], row["rev"], {"removed_at": self._at})
        self._note(table.name, row["id"], field="removed", new=self._at)
        if table is RECORD_TABLES[Engine]:
            for name in ("watch", "watch_document"):
                watched = TABLES[name]
                self._connection.execute(
                    delete(watched).where(watched.c.engine == row["engine"]))
                self._watch_changed = True

    def _present(self, table: Table, id: int, rev: int) -> Row:
        row = self._connection.execute(select(table).where(
            table.c.id == id, table.c.removed_at.is_(None))).mappings().one_or_none()
        if row is None:
            raise NotThere(f"{table.name}: must be one that the store has, found no. {id}",
                           hint="it may have been removed meanwhile")
        if row["rev"] != rev:
            named = f" '{row[NAMED_BY[table.name]]}'" if table.name in NAMED_BY else f" no. {id}"
            raise changed_meanwhile(table.name + named, rev=rev, row=cast(Row, row))
        return cast(Row, row)

    def _update(self, table: Table, id: int, rev: int, changes: AnyMapping[str, Any]) -> None:
        self._connection.execute(
            update(table).where(table.c.id == id, table.c.rev == rev).values(
                **changes, rev=rev + 1, changed_at=self._at, changed_by=self._caller.name))

    def _renamed(self, table: str, *, old: str, new: str) -> None:
        """Take along what names a record that has a new name now."""
        for name, column in _NAMED_IN.get(table, ()):
            user = TABLES[name]
            self._connection.execute(
                update(user).where(user.c[column] == old).values({column: new}))

    def _add_rows(self, records: Sequence[Any], *, import_id: int | None) -> list[int]:
        kind = type(records[0])
        if kind is Slot:
            raise StoreError("slot: must be fitted to an engine, found a shell alone",
                             hint="use fit_shells()")
        table = table_of(kind)
        marks = {"rev": 1, "import_id": import_id, "changed_at": self._at,
                 "changed_by": self._caller.name, "removed_at": None}
        rows = [{**to_row(record), **marks} for record in records]
        for parent in _PARENTS[table.name]:
            self._require(parent, [row[parent] for row in rows])
        back = self._revive(table, rows) if table.name in NAMED_BY else {}
        fresh = [row for row in rows if _name_of(row, table) not in back]
        made = iter(self._insert(table.name, fresh)) if fresh else iter(())
        numbers = [back[name] if (name := _name_of(row, table)) in back else next(made)
                   for row in rows]
        if kind is Teardown:
            self._insert("shell_finding", [
                {"teardown_id": number, **to_row(finding)}
                for number, record in zip(numbers, records, strict=True)
                for finding in record.findings])
        return numbers

    def _revive(self, table: Table, rows: Sequence[Row]) -> dict[str, int]:
        """Bring removed records of the same names back, as what is added now."""
        key = NAMED_BY[table.name]
        by_name = {row[key]: row for row in rows}
        if len(by_name) < len(rows):
            raise StoreError(f"{table.name}: a name must come once, found one that comes twice",
                             hint="add each one once")
        removed = self._refuse_taken(table, list(by_name))
        for name, (number, rev) in removed.items():
            self._connection.execute(update(table).where(table.c.id == number).values(
                {**by_name[name], "rev": rev + 1}))
        return {name: number for name, (number, _) in removed.items()}

    def _refuse_taken(self, table: Table, names: Sequence[str], *,
                      removed_too: bool = False) -> dict[str, tuple[int, int]]:
        key = table.c[NAMED_BY[table.name]]
        removed: dict[str, tuple[int, int]] = {}
        for part in chunks(names):
            for name, number, rev, gone in self._connection.execute(select(
                    key, table.c.id, table.c.rev, table.c.removed_at).where(key.in_(part))):
                if gone is None or removed_too:
                    there = "is there already" if gone is None else "a removed one has"
                    raise StoreError(f"{table.name}: a name must be new, found '{name}' which "
                                     + there, hint="choose another name")
                removed[name] = (number, rev)
        return removed

    def _save_findings(self, teardown: int,
                       record: Teardown) -> list[tuple[str, object, object]]:
        before = {_place(f): f for f in findings_of(self._connection, [teardown])[teardown]}
        after = {_place(f): f for f in record.findings}
        notes: list[tuple[str, object, object]] = []
        for place in [*before, *(p for p in after if p not in before)]:
            old = to_row(before[place]) if place in before else {}
            new = to_row(after[place]) if place in after else {}
            notes += [(f"{place} {name}", old.get(name), new.get(name))
                      for name in columns_of(ShellFinding) if old.get(name) != new.get(name)]
        if notes:
            table = TABLES["shell_finding"]
            self._connection.execute(delete(table).where(table.c.teardown_id == teardown))
            self._insert("shell_finding", [{"teardown_id": teardown, **to_row(finding)}
                                           for finding in record.findings])
        return notes


def _name_of(row: Row, table: Table) -> str:
    return str(row[NAMED_BY[table.name]]) if table.name in NAMED_BY else ""


def _place(finding: ShellFinding) -> str:
    return f"{finding.kind} {finding.number} {finding.half}"


def _document(record: Any) -> dict[str, Any]:
    document = {name: value for name, value in to_row(record).items() if name not in PACKED}
    for name, kind, _ in fields_of(type(record)):
        if kind == "rows":
            document[name] = [to_row(row) for row in getattr(record, name)]
        if kind == "readings":
            document[name] = {symbol: [reading.value, int(reading.qualifier), reading.raw]
                              for symbol, reading in getattr(record, name).items()}
    return document


def _reading_notes(before: AnyMapping[str, Any],
                   after: AnyMapping[str, Any]) -> list[tuple[str, object, object]]:
    def plain(reading: Any) -> list[object] | None:
        return reading and [reading.value, int(reading.qualifier), reading.raw]

    return [(symbol, plain(before.get(symbol)), plain(after.get(symbol)))
            for symbol in sorted({*before, *after}) if before.get(symbol) != after.get(symbol)]
