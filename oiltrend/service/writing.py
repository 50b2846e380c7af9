"""What a file holds, on its way into the store: one import is one transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from oiltrend.ingest import Item, ParsedFile, ReadOptions, item_key
from oiltrend.records import Caller, Engine, Teardown
from oiltrend.service.cars import enter_car
from oiltrend.service.results import add_results
from oiltrend.service.teardowns import fit_new_shells
from oiltrend.store import Store, Transaction

__all__ = ["release_rows", "write_import"]


def release_rows(tx: Transaction, parsed: ParsedFile, import_id: int,
                 waiting: dict[int, int]) -> int:
    """Store the rows of some lines, keep what is wrong with others, and end their waiting.

    Parameters
    ----------
    tx : Transaction [-]
        Inside a write.
    parsed : ParsedFile [-]
        The file, read again.
    import_id : int [-]
        The import that holds the rows.
    waiting : dict [-]
        Line to number of the held row.

    Returns
    -------
    int [-]
        Records stored.
    """
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


def write_import(store: Store, caller: Caller, data: bytes, parsed: ParsedFile,
                 options: ReadOptions, new_engines: list[Engine]) -> int:
    """Write a file in one transaction: its raw bytes first, then everything it holds.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who imports.
    data : bytes [-]
        The file.
    parsed : ParsedFile [-]
        As it was understood.
    options : ReadOptions [-]
        What was said about it.
    new_engines : list of Engine [-]
        Engines to make first.

    Returns
    -------
    int [-]
        Number of the import.
    """
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
        elif isinstance(item, Engine):
            enter_car(tx, item)


def _plain_options(options: ReadOptions) -> dict[str, Any]:
    plain = asdict(options)
    plain["matches"] = dict(options.matches)
    return plain
