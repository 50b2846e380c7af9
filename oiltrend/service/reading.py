"""A file read against what the store knows, and nothing written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from oiltrend.ingest import Known, ParsedFile, ReadOptions, SizeCaps, item_hash, item_key, read_file
from oiltrend.records import Caller, Engine, Event, Family, NewOil, Teardown
from oiltrend.samplekeys import SampleKey
from oiltrend.service.access import require
from oiltrend.service.fleet import local_today
from oiltrend.service.mappings import with_lab
from oiltrend.store import Store

__all__ = ["known_to", "preview_file"]

_STORED_KINDS: dict[str, type[Any]] = {"events": Event, "teardowns": Teardown, "engines": Engine,
                                       "families": Family, "new-oil": NewOil}


def known_to(store: Store, kind: str, *, only: str = "") -> Known:
    """Collect what the store knows and a file must be checked against.

    Parameters
    ----------
    store : Store [-]
        The store.
    kind : str [-]
        Kind of file.
    only : str [-]
        The one engine that what is read can be about; "" for any.

    Returns
    -------
    Known [-]
        Engines, families, and keys of what is stored.
    """
    families = {entry.record.family: entry.record for entry in store.all(Family)}
    where = {"engine": only} if only else {}
    engines = [entry.record for entry in store.find(Engine, where)]
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
                     options=with_lab(store, options or ReadOptions()),
                     known=known_to(store, kind), size_caps=size_caps)
