"""Uses about the ways to read laboratories' files: confirmed once, remembered."""

from __future__ import annotations

from dataclasses import replace

from oiltrend.errors import NotThere
from oiltrend.ingest import ReadOptions
from oiltrend.records import Caller, Lab, Mapping
from oiltrend.service.access import require
from oiltrend.store import Store, Transaction

__all__ = ["named_mapping", "remember_mapping", "with_lab"]


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


def with_lab(store: Store, options: ReadOptions) -> ReadOptions:
    """Add what is remembered about the laboratory to what was said about the file.

    Parameters
    ----------
    store : Store [-]
        The store.
    options : ReadOptions [-]
        What was said.

    Returns
    -------
    ReadOptions [-]
        The same, with the laboratory's date order, decimal sign and method where nothing was said.
    """
    name = options.lab or (options.mapping.lab if options.mapping else "")
    for entry in store.all(Lab) if name else []:
        if entry.record.lab == name:
            return replace(options, date_order=options.date_order or entry.record.date_order,
                           decimal=options.decimal or entry.record.decimal,
                           method=options.method or entry.record.method)
    return options
