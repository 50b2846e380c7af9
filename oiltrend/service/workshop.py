"""Uses about the workshop's own books: engines, families, cars, laboratories, oils."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, TypeVar

from oiltrend.errors import ValueRefused
from oiltrend.records import (
    Caller,
    Car,
    Engine,
    EngineStay,
    Event,
    Family,
    Lab,
    Mapping,
    OilProduct,
    Ownership,
)
from oiltrend.service.access import require
from oiltrend.service.cars import enter_car
from oiltrend.service.fleet import refresh_verdicts
from oiltrend.service.limits import starting_limits
from oiltrend.store import AuditEntry, Store, Stored, StoredImport

__all__ = ["Overview", "add_event", "begin_store", "hand_over_car", "overview", "save_record",
           "swap_engine"]

R = TypeVar("R", Family, Engine, Car, Lab, OilProduct)

# Which text field names a record, and which reads best in a sentence.
_NAME: dict[type[Any], Callable[[Any], str]] = {
    Family: lambda record: record.family, Engine: lambda record: record.engine,
    Car: lambda record: record.car, Lab: lambda record: record.lab,
    OilProduct: lambda record: record.oil_product}


@dataclass(frozen=True, slots=True)
class Overview:
    """Everything in the workshop's books."""

    families: list[Stored[Family]]
    engines: list[Stored[Engine]]
    cars: list[Stored[Car]]
    owners: list[Stored[Ownership]]
    stays: list[Stored[EngineStay]]
    labs: list[Stored[Lab]]
    oils: list[Stored[OilProduct]]
    mappings: list[Stored[Mapping]]
    imports: list[StoredImport]
    audit: list[AuditEntry]


def begin_store(store: Store, caller: Caller) -> None:
    """Give a new store the limits to start with; nothing happens to one that has limits.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who opens it.
    """
    if not store.limit_versions():
        with store.write(caller, "starting set of limits") as tx:
            tx.set_limits(starting_limits(), "starting set: warning levels of a published "
                          "handbook, for you to replace")


def overview(store: Store, caller: Caller) -> Overview:
    """Read the workshop's books.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.

    Returns
    -------
    Overview [-]
        Records by kind, imports, and the latest changes.
    """
    require(caller, "see the fleet")
    return Overview(store.all(Family), store.all(Engine), store.all(Car), store.all(Ownership),
                    store.all(EngineStay), store.all(Lab), store.all(OilProduct),
                    store.all(Mapping), store.imports(), store.audit(limit=100))


def save_record(store: Store, caller: Caller, record: R, *, id: int | None = None,
                rev: int | None = None) -> None:
    """Add a record, or change one that was read.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who saves.
    record : Family, Engine, Car, Lab or OilProduct [-]
        The record.
    id : int or None [-]
        Number of the record to change; None adds a new one.
    rev : int or None [-]
        The version that was read.

    Raises
    ------
    ValueRefused
        When the record has no name, or another bears it.
    ChangedMeanwhile
        When someone else changed it since.
    """
    require(caller, "edit the workshop")
    kind = type(record).__name__.lower()
    name = _NAME[type(record)](record).strip()
    if not name:
        raise ValueRefused(f"{kind}: must have a name, found none", hint="give it one")
    if id is None:
        if any(_NAME[type(record)](entry.record) == name for entry in store.all(type(record))):
            raise ValueRefused(f"{kind}: must have a name of its own, found another '{name}'",
                               hint="choose another name, or edit the one there is")
        with store.write(caller, f"{kind} {name} added") as tx:
            tx.add(record)
            if isinstance(record, Engine):
                enter_car(tx, record)
    else:
        with store.write(caller, f"{kind} {name} changed") as tx:
            tx.save(id, record, rev or 0)
    if isinstance(record, Engine):
        refresh_verdicts(store, caller, engines=[record.engine])
    elif isinstance(record, Family):
        refresh_verdicts(store, caller)


def add_event(store: Store, caller: Caller, event: Event) -> None:
    """Record something that happened between samples.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who records it.
    event : Event [-]
        Oil change, top-up, replaced meter and the like.
    """
    require(caller, "add results")
    with store.write(caller, f"{event.event} of {event.engine}") as tx:
        tx.add(event)
    refresh_verdicts(store, caller, engines=[event.engine])


def hand_over_car(store: Store, caller: Caller, car: str, *, owner: str, on: date) -> None:
    """Give a car a new owner from a day on; the owner before keeps the days before it.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who hands over.
    car : str [-]
        Car.
    owner : str [-]
        New owner.
    on : date [-]
        First day.
    """
    require(caller, "edit the workshop")
    store.get(Car, car)
    with store.write(caller, f"{car} handed over") as tx:
        for entry in tx.find(Ownership, {"car": car}):
            if entry.record.to_date is None:
                ended = Ownership(car, entry.record.owner, entry.record.from_date, on)
                tx.save(entry.id, ended, entry.rev)
        tx.add(Ownership(car, owner, on))


def swap_engine(store: Store, caller: Caller, *, car: str, engine: str, on: date,
                meter: float | None, engine_meter: float | None = None) -> None:
    """Put an engine into a car; the one that sat there comes out.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who swaps.
    car : str [-]
        Car.
    engine : str [-]
        Engine that goes in.
    on : date [-]
        Day.
    meter : float or None [km or h]
        Meter reading of the car.
    engine_meter : float or None [km or h]
        The engine's own use at that moment, where known.
    """
    require(caller, "edit the workshop")
    store.get(Car, car)
    changed = [engine]
    with store.write(caller, f"{engine} fitted to {car}") as tx:
        for stay in tx.find(EngineStay, {"car": car}):
            if stay.record.to_date is None:
                left = stay.record
                changed.append(left.engine)
                tx.save(stay.id, EngineStay(left.engine, car, left.from_date, left.from_meter, on,
                                            meter), stay.rev)
                tx.add(Event(left.engine, "engine_removed", date=on, meter=meter, car=car))
                held = tx.get(Engine, left.engine)
                tx.save(held.id, _in_car(held.record, ""), held.rev)
        tx.add(EngineStay(engine, car, on, meter))
        tx.add(Event(engine, "engine_fitted", date=on, meter=meter, car=car,
                     new_meter=engine_meter))
        fitted = tx.get(Engine, engine)
        tx.save(fitted.id, _in_car(fitted.record, car), fitted.rev)
    refresh_verdicts(store, caller, engines=changed)


def _in_car(engine: Engine, car: str) -> Engine:
    return replace(engine, car=car)
