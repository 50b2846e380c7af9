"""Take an import back: what it brought goes, what people did with it since stays and is told."""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select, update

from oiltrend.errors import NotThere, StoreError
from oiltrend.store.imports import ImportWrites
from oiltrend.store.recordrows import NAMED_BY
from oiltrend.store.recordwrites import RecordWrites, uses_of
from oiltrend.store.sampleedits import SampleWrites
from oiltrend.store.samplerows import SAID
from oiltrend.store.schema import RECORD_TABLES, TABLES

__all__ = ["Left", "UndoReport", "UndoWrites"]


@dataclass(frozen=True, slots=True)
class Left:
    """Something that an undone import brought and that stays: what, its number, its name, why."""

    object: str
    id: int
    name: str
    why: str


@dataclass(frozen=True, slots=True)
class UndoReport:
    """What taking an import back did.

    ``voided`` samples are gone, ``awaited`` ones wait for their result again, ``removed``
    counts records by kind. ``edited_since`` and ``in_use`` stayed and need a decision.
    """

    import_id: int
    voided: int
    awaited: int
    removed: dict[str, int]
    edited_since: tuple[Left, ...]
    in_use: tuple[Left, ...]


class UndoWrites(ImportWrites, SampleWrites, RecordWrites):
    """Taking imports back."""

    def undo_import(self, import_id: int) -> UndoReport:
        """Take an import back, in this one transaction.

        Parameters
        ----------
        import_id : int [-]
            Its number.

        Returns
        -------
        UndoReport [-]
            What went, and what stayed because someone changed or uses it since.

        Raises
        ------
        NotThere
            No such import.
        StoreError
            It was taken back already.
        """
        table = TABLES["import"]
        row = self._connection.execute(
            select(table).where(table.c.id == import_id)).mappings().one_or_none()
        if row is None:
            raise NotThere(f"import: must be one that the store has, found no. {import_id}",
                           hint="see the list of imports")
        if row["state"] == "undone":
            raise StoreError(f"import no. {import_id}: must not be undone already, found that "
                             f"{row['undone_by']} undid it on {row['undone_at'][:10]}",
                             hint="nothing is left to do")
        edited: list[Left] = []
        in_use: list[Left] = []
        voided = self._undo_samples(import_id, edited)
        awaited = self._undo_results(import_id, edited)
        removed = self._undo_records(import_id, edited, in_use)
        self._undo_limits(import_id, in_use, removed)
        self._connection.execute(update(table).where(table.c.id == import_id).values(
            state="undone", undone_at=self._at, undone_by=self._caller.name))
        self._note("import", import_id, field="state", old="done", new={
            "state": "undone", "voided": voided, "awaited": awaited, "removed": removed,
            "edited_since": len(edited), "in_use": len(in_use)})
        return UndoReport(import_id, voided, awaited, removed, tuple(edited), tuple(in_use))

    def _undo_samples(self, import_id: int, edited: list[Left]) -> int:
        table = TABLES["sample"]
        came = (table.c.import_id == import_id) & table.c.voided_at.is_(None)
        changed = self._connection.execute(
            select(table.c.id, table.c.engine, table.c.sample_date).where(came, table.c.rev > 1)
            .order_by(table.c.id))
        edited += [Left("sample", row.id, f"{row.engine} {row.sample_date or ''}".strip(),
                        "changed since") for row in changed]
        return self._void(came & (table.c.rev == 1))

    def _undo_results(self, import_id: int, edited: list[Left]) -> int:
        """Make samples awaited again whose result this import put in."""
        table, versions = TABLES["sample"], TABLES["sample_version"]
        rows = self._connection.execute(select(table).where(
            table.c.filled_by == import_id, table.c.voided_at.is_(None))).mappings().all()
        back = 0
        for row in rows:
            before = self._connection.execute(select(versions).where(
                versions.c.id == row["id"], versions.c.rev == row["rev"] - 1)).mappings().one()
            if not before["awaited"]:
                edited.append(Left("sample", row["id"], row["engine"], "changed since"))
                continue
            self._replace(dict(row), {
                **{name: before[name] for name in (*SAID, "content_hash")}, "filled_by": None})
            self._note("sample", row["id"], field="awaited", old=0, new=1)
            back += 1
        return back

    def _undo_records(self, import_id: int, edited: list[Left],
                      in_use: list[Left]) -> dict[str, int]:
        removed: dict[str, int] = {}
        # The other way round: what points to something goes before what is pointed to.
        for table in reversed(RECORD_TABLES.values()):
            rows = self._connection.execute(select(table).where(
                table.c.import_id == import_id, table.c.removed_at.is_(None))
                .order_by(table.c.id)).mappings().all()
            for row in rows:
                name = _name(table.name, row)
                used = uses_of(self._connection, table=table.name, key=name)
                if self._edited_since(table.name, row):
                    edited.append(Left(table.name, row["id"], name, "changed since"))
                elif used:
                    in_use.append(Left(table.name, row["id"], name, f"used by {used}"))
                else:
                    self._remove_row(table, row)
                    removed[table.name] = removed.get(table.name, 0) + 1
        return removed

    def _edited_since(self, object_: str, row: AnyMapping[Any, Any]) -> bool:
        # Not by the version: a record that was removed once starts again at a higher one.
        audit = TABLES["audit"]
        return self._connection.execute(select(audit.c.seq).where(
            audit.c.object == object_, audit.c.object_id == row["id"], audit.c.field != "",
            audit.c.at > self._came_at(row["import_id"])).limit(1)).first() is not None

    def _came_at(self, import_id: int) -> str:
        table = TABLES["import"]
        return str(self._connection.execute(
            select(table.c.made_at).where(table.c.id == import_id)).scalar_one())

    def _undo_limits(self, import_id: int, in_use: list[Left], removed: dict[str, int]) -> None:
        table = TABLES["limit_version"]
        rows = self._connection.execute(select(table).where(
            table.c.import_id == import_id)).mappings().all()
        for row in rows:
            if row["state"] == "past":
                in_use.append(Left("limit_version", row["id"], row["note"],
                                   "limits were set on top of it since"))
                continue
            self._connection.execute(
                update(table).where(table.c.id == row["id"]).values(state="past"))
            if row["state"] == "current" and row["follows"] is not None:
                self._connection.execute(
                    update(table).where(table.c.id == row["follows"]).values(state="current"))
            self._note("limit_version", row["id"], field="state", old=row["state"], new="past")
            removed["limit_version"] = removed.get("limit_version", 0) + 1


def _name(table: str, row: AnyMapping[Any, Any]) -> str:
    for column in (NAMED_BY.get(table), "engine", "car", "oil_product"):
        if column and column in row:
            return str(row[column])
    return ""
