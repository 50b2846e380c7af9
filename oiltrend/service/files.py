"""Uses about files: preview, import, undo, held rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from oiltrend.errors import NotThere
from oiltrend.ingest import (
    HeldRow,
    Item,
    Known,
    ParsedFile,
    ReadOptions,
    SizeCaps,
    accounting,
    item_hash,
    item_key,
    read_file,
)
from oiltrend.records import (
    Caller,
    Engine,
    Event,
    Family,
    Lab,
    Mapping,
    NewOil,
    Teardown,
)
from oiltrend.samplekeys import SampleKey
from oiltrend.service.access import require
from oiltrend.service.fleet import local_today, refresh_verdicts
from oiltrend.service.results import add_results
from oiltrend.service.teardowns import fit_new_shells
from oiltrend.store import Store, Transaction, UndoReport

__all__ = ["HeldEntry", "ImportReport", "answer_held", "held_rows", "import_file", "known_to",
           "named_mapping", "preview_file", "remember_mapping", "undo_import"]

_STORED_KINDS: dict[str, type[Any]] = {"events": Event, "teardowns": Teardown, "engines": Engine,
                                       "families": Family, "new-oil": NewOil}


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


@dataclass(frozen=True, slots=True)
class HeldEntry:
    """A stored row that waits for its engine: from which import, line, and the name it bears."""

    id: int
    import_id: int
    file: str
    line: int
    engine_text: str
    raw: str


def known_to(store: Store, kind: str) -> Known:
    """Collect what the store knows and a file must be checked against.

    Parameters
    ----------
    store : Store [-]
        The store.
    kind : str [-]
        Kind of file.

    Returns
    -------
    Known [-]
        Engines, families, and keys of what is stored.
    """
    families = {entry.record.family: entry.record for entry in store.all(Family)}
    engines = [entry.record for entry in store.all(Engine)]
    rods = {e.engine: f.rods for e in engines
            if (f := families.get(e.family)) is not None and f.rods is not None}
    mains = {e.engine: f.mains for e in engines
             if (f := families.get(e.family)) is not None and f.mains is not None}
    items: dict[str, str] = {}
    if kind in _STORED_KINDS:
        items = {item_key(entry.record): item_hash(entry.record)
                 for entry in store.all(_STORED_KINDS[kind])}
    elif kind == "limits":
        items = {item_key(limit): item_hash(limit) for limit in store.limits()}
    return Known(today=local_today(), engines={e.engine: e.meter_unit for e in engines},
                 families=frozenset(families),
                 existing=lambda keys: _stored_among(store, keys),
                 stored_items=items, rods=rods, mains=mains)


def _stored_among(store: Store, keys: Sequence[SampleKey]) -> dict[SampleKey, bytes]:
    asked = set(keys)
    stored = store.sample_keys(sorted({key[0] for key in keys}))
    return {key: content for key, content in stored.items() if key in asked}


def named_mapping(store: Store, name: str) -> Mapping:
    """Fetch a remembered way to read a laboratory's files.

    Parameters
    ----------
    store : Store [-]
        The store.
    name : str [-]
        Its name.

    Returns
    -------
    Mapping [-]
        The mapping.

    Raises
    ------
    NotThere
        When there is none of that name; the message lists those there are.
    """
    names = {entry.record.name: entry.record for entry in store.all(Mapping)}
    if name not in names:
        listed = ", ".join(f"'{known}'" for known in sorted(names)) or "none yet"
        raise NotThere(f"mapping: must be one that was remembered, found '{name}'",
                       hint=f"known are: {listed}")
    return names[name]


def remember_mapping(store: Store, caller: Caller, mapping: Mapping) -> None:
    """Keep a confirmed way to read files, in place of an older one of that name.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who confirms.
    mapping : Mapping [-]
        Columns, units, engines and answers.
    """
    require(caller, "add results")
    old = [entry for entry in store.all(Mapping) if entry.record.name == mapping.name]
    with store.write(caller, f"reading of {mapping.name} confirmed") as tx:
        if old:
            tx.save(old[0].id, mapping, old[0].rev)
        else:
            tx.add(mapping)
        if mapping.lab:
            _remember_lab(store, tx, mapping)


def _remember_lab(store: Store, tx: Transaction, mapping: Mapping) -> None:
    """Remember with the laboratory, too, how it writes dates and decimals."""
    known = [entry for entry in store.all(Lab) if entry.record.lab == mapping.lab]
    if not known:
        tx.add(Lab(mapping.lab, mapping.date_order, mapping.decimal))
        return
    answered = replace(known[0].record,
                       date_order=mapping.date_order or known[0].record.date_order,
                       decimal=mapping.decimal or known[0].record.decimal)
    if answered != known[0].record:
        tx.save(known[0].id, answered, known[0].rev)


def _with_lab(store: Store, options: ReadOptions) -> ReadOptions:
    """Add what is remembered about the laboratory to what was said about the file."""
    name = options.lab or (options.mapping.lab if options.mapping else "")
    for entry in store.all(Lab) if name else []:
        if entry.record.lab == name:
            return replace(options, date_order=options.date_order or entry.record.date_order,
                           decimal=options.decimal or entry.record.decimal,
                           method=options.method or entry.record.method)
    return options


def preview_file(store: Store, caller: Caller, data: bytes, *, filename: str,
                 kind: str = "samples", options: ReadOptions | None = None,
                 size_caps: SizeCaps | None = None) -> ParsedFile:
    """Read a file without storing anything.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.
    data : bytes [-]
        The file.
    filename : str [-]
        Its name.
    kind : str [-]
        Kind of file.
    options : ReadOptions or None [-]
        What was said about it.
    size_caps : SizeCaps or None [-]
        Largest size, for files from a browser.

    Returns
    -------
    ParsedFile [-]
        As it was understood.

    Raises
    ------
    FileRefused
        When the file cannot be read as what it claims to be.
    """
    require(caller, "add results")
    return read_file(data, filename=filename, kind=kind,
                     options=_with_lab(store, options or ReadOptions()),
                     known=known_to(store, kind), size_caps=size_caps)


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
        parsed = read_file(data, filename=filename, kind=kind, options=_with_lab(store, chosen),
                           known=known, size_caps=size_caps)
        blocked = bool(parsed.questions) or (parsed.rejected > 0 and not good_rows_only)
    if dry_run or blocked or not (parsed.accepted or parsed.held):
        return ImportReport(parsed, 0, None)
    before = store.import_of(parsed.sha256, kind)
    if before is not None:
        stored = _write_waiting(store, caller, parsed, before.id, new_engines)
        return ImportReport(parsed, stored, before.id)
    import_id = _write(store, caller, data, parsed, chosen, new_engines)
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
        return _release(tx, parsed, import_id, {line: waiting[line] for line in ready})


def _release(tx: Transaction, parsed: ParsedFile, import_id: int, waiting: dict[int, int]) -> int:
    """Store the rows of some lines, keep what is wrong with others, and end their waiting."""
    stored = 0
    if parsed.samples is not None:
        rows = np.flatnonzero(np.isin(parsed.samples.line, list(waiting)))
        stored = len(rows)
        if stored:
            add_results(tx, parsed.samples.take(rows), import_id=import_id)
    else:
        stored = len(parsed.items)
        _add_items(tx, parsed.items, import_id)
    rejected = [r for r in parsed.rejects if r.line in waiting]
    if rejected:
        tx.add_rejects(import_id, [(r.line, r.column, r.raw, r.reason, r.hint)
                                   for r in rejected])
    tx.release_held(list(waiting.values()))
    return stored


def _new_engines(store: Store, held: tuple[HeldRow, ...], family: str, parsed: ParsedFile,
                 options: ReadOptions) -> list[Engine]:
    store.get(Family, family)
    hours = any(match.column == "hours" for match in parsed.matched) or options.meter == "h"
    names = dict.fromkeys(row.engine_text for row in held if row.engine_text)
    return [Engine(name, family, meter_unit="h" if hours else "km",
                   note="made while importing " + parsed.file) for name in names]


def _write(store: Store, caller: Caller, data: bytes, parsed: ParsedFile, options: ReadOptions,
           new_engines: list[Engine]) -> int:
    store.keep_file(data)
    counts = {name: getattr(parsed, name) for name in (
        "records", "header", "accepted", "held", "rejected", "duplicates", "blank")}
    with store.write(caller, f"import of {parsed.file}") as tx:
        import_id = tx.add_import(parsed.file, parsed.sha256, parsed.kind, counts=counts,
                                  options=_plain_options(options),
                                  mapping=options.mapping.name if options.mapping else "")
        for engine in new_engines:
            tx.add(engine, import_id=import_id)
        if parsed.samples is not None and len(parsed.samples):
            add_results(tx, parsed.samples, import_id=import_id)
        _write_items(store, tx, parsed, import_id)
        if parsed.rejects:
            tx.add_rejects(import_id, [(r.line, r.column, r.raw, r.reason, r.hint)
                                       for r in parsed.rejects])
        if parsed.held_rows:
            tx.add_held(import_id, [(row.line, row.engine_text, row.raw)
                                    for row in parsed.held_rows])
    return import_id


def _write_items(store: Store, tx: Transaction, parsed: ParsedFile, import_id: int) -> None:
    if not parsed.items:
        return
    if parsed.kind == "limits":
        current = {item_key(limit): limit for limit in store.limits()}
        current.update({item_key(limit): limit for limit in parsed.items})  # type: ignore[misc]
        version = next((v.id for v in store.limit_versions() if v.state == "current"), None)
        tx.set_limits(list(current.values()), f"import of {parsed.file}", based_on=version,
                      import_id=import_id)
        return
    _add_items(tx, parsed.items, import_id)


def _add_items(tx: Transaction, items: Sequence[Item], import_id: int) -> None:
    tx.add_all(list(items), import_id=import_id)
    for item in items:
        if isinstance(item, Teardown):
            fit_new_shells(tx, item, import_id=import_id)


def _plain_options(options: ReadOptions) -> dict[str, Any]:
    plain = asdict(options)
    plain["matches"] = dict(options.matches)
    return plain


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
        stored = _release(tx, parsed, import_id, waiting)
    refresh_verdicts(store, caller, engines=[engine])
    return stored


def _options_again(stored: dict[str, Any], engine_text: str, engine: str) -> ReadOptions:
    """Rebuild the options of an import, with one more engine matched."""
    known = dict(stored)
    mapping = known.pop("mapping", None)
    matched = Mapping(**mapping) if mapping else Mapping("", {}, {}, {})
    matched = replace(matched, engines={**matched.engines, engine_text: engine})
    return ReadOptions(**known, mapping=matched)
