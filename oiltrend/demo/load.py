"""Put the invented workshop into a store, and its truth beside it."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

from oiltrend.demo.files import LAB_A_MAPPING, SAMPLE_ENGINES, lab_b_mapping
from oiltrend.demo.laboratory import report_texts
from oiltrend.demo.truth import truth_as_json
from oiltrend.demo.workshop import DEFAULT_ENGINES, DEFAULT_SEED, Workshop, simulate
from oiltrend.errors import StoreRefused
from oiltrend.records import Caller, Engine
from oiltrend.service.fleet import local_today, refresh_verdicts
from oiltrend.store import Store, Transaction

__all__ = ["TRUTH_NAME", "DemoLoaded", "load", "load_demo"]

TRUTH_NAME = "demo-truth.json"


@dataclass(frozen=True, slots=True)
class DemoLoaded:
    """What became of a wish to load the demo.

    Parameters
    ----------
    loaded : bool [-]
        False when it was there already.
    engines, samples : int [-]
        How many there are now.
    """

    loaded: bool
    engines: int
    samples: int


def load_demo(store: Store, caller: Caller, *, seed: int = DEFAULT_SEED,
              engines: int = DEFAULT_ENGINES) -> DemoLoaded:
    """Simulate the workshop up to today and load it, unless that was done before.

    Parameters
    ----------
    store : Store [-]
        Without engines, or with the demo in it.
    caller : Caller [-]
        Who loads it.
    seed : int [-]
        The same number gives the same story.
    engines : int [-]
        How many engines.

    Returns
    -------
    DemoLoaded [-]
        Whether it was loaded, and what is there.

    Raises
    ------
    StoreRefused
        When the store holds engines that are not the demo's.
    """
    if not store.setting("demo", False):
        if store.all(Engine):
            raise StoreRefused("demo: must be loaded into an empty store, found one with engines",
                               hint="name another folder with --data")
        load(store, simulate(today=local_today(), seed=seed, engines=engines), caller)
        return _count(store, loaded=True)
    return _count(store, loaded=False)


def _count(store: Store, *, loaded: bool) -> DemoLoaded:
    return DemoLoaded(loaded, len(store.all(Engine)), len(store.fleet()))


def load(store: Store, workshop: Workshop, caller: Caller) -> Path:
    """Write a simulated workshop into a store and judge its engines.

    The store is marked, so that every screen can say that the data are invented. The truth
    goes into a file of its own beside the data; nothing reads it but tests.

    Parameters
    ----------
    store : Store [-]
        An empty store.
    workshop : Workshop [-]
        Records and truth.
    caller : Caller [-]
        Who writes.

    Returns
    -------
    Path [-]
        The file with the truth.
    """
    with store.write(caller, "the invented workshop was loaded") as tx:
        tx.set_setting("demo", True)
        _add_records(tx, workshop)
        tx.add_samples(replace(workshop.samples, raw=report_texts(workshop.samples)))
        for fitted in workshop.bearing_sets:
            tx.fit_shells(fitted.engine, fitted.slots)
    truth = truth_as_json(workshop.truth, workshop.samples.engine, workshop.samples.sample_id)
    path = store.folder / TRUTH_NAME
    path.write_text(json.dumps(truth, allow_nan=False), encoding="utf-8")
    refresh_verdicts(store, caller)
    return path


def _add_records(tx: Transaction, workshop: Workshop) -> None:
    """Add what others point to first."""
    mappings = (LAB_A_MAPPING, lab_b_mapping((*workshop.truth.engines.engine, *SAMPLE_ENGINES)))
    for records in (workshop.families, workshop.labs, workshop.oil_products, workshop.cars,
                    workshop.ownerships, workshop.engines, workshop.stays, mappings,
                    workshop.new_oils, workshop.events, workshop.teardowns, workshop.actions):
        tx.add_all(records)
