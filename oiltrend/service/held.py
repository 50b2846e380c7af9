"""Uses about held rows: which of our engines a laboratory's name stands for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from oiltrend.errors import NotThere
from oiltrend.ingest import ReadOptions, read_file
from oiltrend.records import Caller, Engine, Mapping
from oiltrend.service.access import require
from oiltrend.service.fleet import refresh_verdicts
from oiltrend.service.reading import known_to
from oiltrend.service.writing import release_rows
from oiltrend.store import Store

__all__ = ["HeldEntry", "answer_held", "held_rows"]


@dataclass(frozen=True, slots=True)
class HeldEntry:
    """A stored row that waits for its engine: from which import, line, and the name it bears."""

    id: int
    import_id: int
    file: str
    line: int
    engine_text: str
    raw: str


def held_rows(store: Store, caller: Caller) -> list[HeldEntry]:
    """List the rows that wait for their engine.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.

    Returns
    -------
    list of HeldEntry [-]
        Oldest first.
    """
    require(caller, "add results")
    files = {entry.id: entry.file for entry in store.imports()}
    return [HeldEntry(row.id, row.import_id, files.get(row.import_id, ""), row.line,
                      row.engine_text, row.raw) for row in store.held()]


def answer_held(store: Store, caller: Caller, import_id: int, engine_text: str, engine: str
                ) -> int:
    """Say which engine a laboratory's name stands for, and store the rows that waited for it.

    The kept file is read again, so that the rows pass the same checks as all others.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who answers.
    import_id : int [-]
        The import that holds them.
    engine_text : str [-]
        The name in the file.
    engine : str [-]
        Our engine.

    Returns
    -------
    int [-]
        Samples stored.

    Raises
    ------
    NotThere
        When the import holds no such rows or the engine is not known.
    """
    require(caller, "add results")
    store.get(Engine, engine)
    waiting = {row.line: row.id for row in store.held()
               if row.import_id == import_id and row.engine_text == engine_text}
    entry = next((i for i in store.imports() if i.id == import_id), None)
    if entry is None or not waiting:
        raise NotThere(f"held rows: import {import_id} must hold rows of '{engine_text}', "
                       "found none", hint="see the list of held rows")
    parsed = read_file(store.file(entry.sha256), filename=entry.file, kind=entry.kind,
                       options=_options_again(entry.options, engine_text, engine),
                       known=known_to(store, entry.kind))
    # The other held rows are still held in this reading: what it accepts beyond what is stored
    # are the rows of this engine.
    with store.write(caller, f"'{engine_text}' is {engine}") as tx:
        stored = release_rows(tx, parsed, import_id, waiting)
    refresh_verdicts(store, caller, engines=[engine])
    return stored


def _options_again(stored: dict[str, Any], engine_text: str, engine: str) -> ReadOptions:
    """Rebuild the options of an import, with one more engine matched."""
    known = dict(stored)
    mapping = known.pop("mapping", None)
    matched = Mapping(**mapping) if mapping else Mapping("", {}, {}, {})
    matched = replace(matched, engines={**matched.engines, engine_text: engine})
    return ReadOptions(**known, mapping=matched)
