"""Imports: what file, by whom, with what answers, what was rejected, what is held.

The same file of the same kind cannot come in twice, unless its import was undone.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, NamedTuple

from sqlalchemy import select, update

from oiltrend.errors import NotThere, StoreError
from oiltrend.store.base import Reads, Writes, as_json, chunks
from oiltrend.store.schema import TABLES

__all__ = ["HeldRow", "ImportReads", "ImportWrites", "RejectRow", "StoredHeld", "StoredImport"]


class RejectRow(NamedTuple):
    """A row of a file that was not taken: where, what stood there, why, what to do."""

    line: int
    column: str
    raw: str
    reason: str
    hint: str


class HeldRow(NamedTuple):
    """A row that waits for its engine: line, the engine as the file names it, the row as text."""

    line: int
    engine_text: str
    raw: str


@dataclass(frozen=True, slots=True)
class StoredImport:
    """One import. ``counts`` and ``options`` are what was given to it."""

    id: int
    file: str
    sha256: str
    kind: str
    counts: dict[str, int]
    options: dict[str, Any]
    mapping: str
    made_at: datetime
    made_by: str
    state: Literal["done", "undone"]
    undone_at: datetime | None
    undone_by: str | None


@dataclass(frozen=True, slots=True)
class StoredHeld:
    """A row that is held, with its number and its import."""

    id: int
    import_id: int
    line: int
    engine_text: str
    raw: str


class ImportReads(Reads):
    """Questions about imports."""

    def imports(self) -> list[StoredImport]:
        """List all imports.

        Returns
        -------
        list of StoredImport [-]
            Newest first, undone ones too.
        """
        table = TABLES["import"]
        with self._reading() as connection:
            rows = connection.execute(select(table).order_by(table.c.id.desc())).mappings().all()
        return [_import(row) for row in rows]

    def import_of(self, sha256: str, kind: str) -> StoredImport | None:
        """Find the import by which a file came in.

        Parameters
        ----------
        sha256 : str [-]
            Hash of the file.
        kind : str [-]
            What it was read as.

        Returns
        -------
        StoredImport or None [-]
            None when it is not in the store, or was undone.
        """
        table = TABLES["import"]
        with self._reading() as connection:
            row = connection.execute(select(table).where(
                table.c.sha256 == sha256, table.c.kind == kind,
                table.c.state == "done")).mappings().one_or_none()
        return None if row is None else _import(row)

    def rejects(self, import_id: int) -> list[RejectRow]:
        """Fetch the rows of a file that were not taken.

        Parameters
        ----------
        import_id : int [-]
            Number of the import.

        Returns
        -------
        list of RejectRow [-]
            By line.
        """
        table = TABLES["import_reject"]
        with self._reading() as connection:
            rows = connection.execute(
                select(*(table.c[name] for name in RejectRow._fields))
                .where(table.c.import_id == import_id).order_by(table.c.line, table.c.id))
            return [RejectRow(*row) for row in rows]

    def held(self) -> list[StoredHeld]:
        """Fetch the rows that still wait for their engine.

        Returns
        -------
        list of StoredHeld [-]
            By import and line; not those of imports that were undone.
        """
        table, imports = TABLES["import_held"], TABLES["import"]
        question = select(table).join(imports, imports.c.id == table.c.import_id).where(
            table.c.released_at.is_(None), imports.c.state == "done").order_by(
            table.c.import_id, table.c.line, table.c.id)
        with self._reading() as connection:
            return [StoredHeld(row["id"], row["import_id"], row["line"], row["engine_text"],
                               row["raw"]) for row in connection.execute(question).mappings()]


def _import(row: AnyMapping[Any, Any]) -> StoredImport:
    undone = row["undone_at"]
    return StoredImport(
        row["id"], row["file"], row["sha256"], row["kind"], json.loads(row["counts"]),
        json.loads(row["options"]), row["mapping"], datetime.fromisoformat(row["made_at"]),
        row["made_by"], row["state"], None if undone is None else datetime.fromisoformat(undone),
        row["undone_by"])


class ImportWrites(ImportReads, Writes):
    """Changes of imports; taking one back is in :mod:`oiltrend.store.undo`."""

    def add_import(self, file: str, sha256: str, kind: str, *, counts: AnyMapping[str, int],
                   options: AnyMapping[str, Any], mapping: str = "") -> int:
        """Record an import, before its rows.

        Parameters
        ----------
        file : str [-]
            Name of the file, shown to people.
        sha256 : str [-]
            Its hash, under which it is kept.
        kind : str [-]
            samples, events, teardowns, engines, families, new-oil or limits.
        counts : mapping [-]
            The accounting: records, accepted, rejected and so on.
        options : mapping [-]
            The answers that it was read with.
        mapping : str [-]
            Name of the mapping that matched its columns, "" for none.

        Returns
        -------
        int [-]
            Its number.

        Raises
        ------
        StoreError
            The same file came in already.
        """
        before = self.import_of(sha256, kind)
        if before is not None:
            raise StoreError(
                f"{file}: a file must come in once, found it as import no. {before.id} "
                f"('{before.file}') by {before.made_by} on {before.made_at:%Y-%m-%d}",
                hint=f"nothing is left to do; to read it again, undo import no. {before.id} first")
        (number,) = self._insert("import", [{
            "file": file, "sha256": sha256, "kind": kind, "counts": as_json(dict(counts)),
            "options": as_json(dict(options)), "mapping": mapping, "made_at": self._at,
            "made_by": self._caller.name, "state": "done", "undone_at": None, "undone_by": None}])
        self._note("import", number, new={"file": file, "sha256": sha256, "kind": kind,
                                          "counts": dict(counts)})
        return number

    def add_rejects(self, import_id: int,
                    rows: Iterable[tuple[int, str, str, str, str]]) -> int:
        """Keep the rows of a file that were not taken.

        Parameters
        ----------
        import_id : int [-]
            Number of the import.
        rows : iterable of tuple [-]
            Line, column, raw text, reason, hint; see :class:`RejectRow`.

        Returns
        -------
        int [-]
            How many.
        """
        kept = [{"import_id": import_id, **RejectRow(*row)._asdict()} for row in rows]
        return len(self._insert("import_reject", kept))

    def add_held(self, import_id: int, rows: Iterable[tuple[int, str, str]]) -> int:
        """Keep the rows of a file that wait for their engine.

        Parameters
        ----------
        import_id : int [-]
            Number of the import.
        rows : iterable of tuple [-]
            Line, engine as the file names it, row as text; see :class:`HeldRow`.

        Returns
        -------
        int [-]
            How many.
        """
        kept = [{"import_id": import_id, **HeldRow(*row)._asdict(), "released_at": None}
                for row in rows]
        return len(self._insert("import_held", kept))

    def release_held(self, ids: Sequence[int]) -> None:
        """Mark held rows as dealt with.

        Parameters
        ----------
        ids : sequence of int [-]
            Their numbers.

        Raises
        ------
        NotThere
            One is not held, or no longer.
        """
        table = TABLES["import_held"]
        for part in chunks(list(ids)):
            rule = table.c.id.in_(part) & table.c.released_at.is_(None)
            waiting = set(self._connection.execute(select(table.c.id).where(rule)).scalars())
            gone = [id_ for id_ in part if id_ not in waiting]
            if gone:
                raise NotThere(f"held row: must be one that waits, found no. {gone[0]}",
                               hint="someone may have dealt with it meanwhile")
            self._connection.execute(update(table).where(rule).values(released_at=self._at))
        if ids:
            self._note("import_held", None, field="released", new=list(ids))
