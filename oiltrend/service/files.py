"""Uses about files: import one, take one back."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

from oiltrend.ingest import HeldRow, ParsedFile, ReadOptions, SizeCaps, accounting, read_file
from oiltrend.records import Caller, Engine, Family
from oiltrend.service.access import require
from oiltrend.service.fleet import refresh_verdicts
from oiltrend.service.mappings import with_lab
from oiltrend.service.reading import known_to, preview_file
from oiltrend.service.writing import release_rows, write_import
from oiltrend.store import Store, UndoReport

__all__ = ["ImportReport", "import_file", "undo_import"]


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What became of a file. ``stored`` counts rows written, ``import_id`` is None if none was."""

    parsed: ParsedFile
    stored: int
    import_id: int | None

    def as_document(self) -> dict[str, Any]:
        """Give the report as the promised JSON document.

        Returns
        -------
        dict [-]
            Counts, rejects, questions.
        """
        return {**accounting(self.parsed), "stored": self.stored, "import_id": self.import_id,
                "held_rows": [asdict(row) for row in self.parsed.held_rows]}


def import_file(store: Store, caller: Caller, data: bytes, *, filename: str,
                kind: str = "samples", options: ReadOptions | None = None,
                good_rows_only: bool = False, create_family: str = "", dry_run: bool = False,
                size_caps: SizeCaps | None = None) -> ImportReport:
    """Read a file and store what may be stored, in one transaction.

    Nothing is stored while a question is open, and nothing when a row is rejected unless the
    good rows were asked for. Rows whose engine is unknown are kept aside until someone says
    which one it is.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who imports.
    data : bytes [-]
        The file.
    filename : str [-]
        Its name.
    kind : str [-]
        Kind of file.
    options : ReadOptions or None [-]
        What was said about it.
    good_rows_only : bool [-]
        Store the good rows even when others are rejected.
    create_family : str [-]
        Make engines that are not known yet, in this family.
    dry_run : bool [-]
        Read and tell, store nothing.
    size_caps : SizeCaps or None [-]
        Largest size, for files from a browser.

    Returns
    -------
    ImportReport [-]
        What became of every row.

    Raises
    ------
    FileRefused
        When the file cannot be read as what it claims to be.
    NotThere
        When the family to create engines in is not known.
    """
    chosen = options or ReadOptions()
    parsed = preview_file(store, caller, data, filename=filename, kind=kind, options=chosen,
                          size_caps=size_caps)
    blocked = bool(parsed.questions) or (parsed.rejected > 0 and not good_rows_only)
    new_engines: list[Engine] = []
    if create_family and parsed.held_rows and not blocked:
        new_engines = _new_engines(store, parsed.held_rows, create_family, parsed, chosen)
        known = known_to(store, kind)
        known = replace(known, engines={**known.engines,
                                        **{e.engine: e.meter_unit for e in new_engines}})
        parsed = read_file(data, filename=filename, kind=kind, options=with_lab(store, chosen),
                           known=known, size_caps=size_caps)
        blocked = bool(parsed.questions) or (parsed.rejected > 0 and not good_rows_only)
    if dry_run or blocked or not (parsed.accepted or parsed.held):
        return ImportReport(parsed, 0, None)
    before = store.import_of(parsed.sha256, kind)
    if before is not None:
        stored = _write_waiting(store, caller, parsed, before.id, new_engines)
        return ImportReport(parsed, stored, before.id)
    import_id = write_import(store, caller, data, parsed, chosen, new_engines)
    return ImportReport(parsed, parsed.accepted, import_id)


def _write_waiting(store: Store, caller: Caller, parsed: ParsedFile, import_id: int,
                   new_engines: list[Engine]) -> int:
    """Store those rows of a file that came before that waited for an engine till now."""
    waiting = {row.line: row.id for row in store.held() if row.import_id == import_id}
    still = {row.line for row in parsed.held_rows}
    ready = [line for line in waiting if line not in still]
    if not ready:
        return 0
    with store.write(caller, f"held rows of {parsed.file}") as tx:
        for engine in new_engines:
            tx.add(engine, import_id=import_id)
        return release_rows(tx, parsed, import_id, {line: waiting[line] for line in ready})


def _new_engines(store: Store, held: tuple[HeldRow, ...], family: str, parsed: ParsedFile,
                 options: ReadOptions) -> list[Engine]:
    store.get(Family, family)
    hours = any(match.column == "hours" for match in parsed.matched) or options.meter == "h"
    names = dict.fromkeys(row.engine_text for row in held if row.engine_text)
    return [Engine(name, family, meter_unit="h" if hours else "km",
                   note="made while importing " + parsed.file) for name in names]


def undo_import(store: Store, caller: Caller, import_id: int, *, why: str) -> UndoReport:
    """Take an import back; what was edited since, or is in use, stays and is listed.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who undoes it.
    import_id : int [-]
        Number of the import.
    why : str [-]
        Reason, for the audit.

    Returns
    -------
    UndoReport [-]
        What went, what stayed and why.
    """
    require(caller, "undo an import")
    with store.write(caller, why) as tx:
        report = tx.undo_import(import_id)
    refresh_verdicts(store, caller)
    return report
