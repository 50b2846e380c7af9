"""Cars, owners, engines, the shells in them, and the fresh oils: the standing records."""

from __future__ import annotations

from datetime import date

import numpy as np

from oiltrend.demo.families import FAMILIES, OILS, OWNERS
from oiltrend.demo.garage import Fleet
from oiltrend.demo.history import Legs
from oiltrend.demo.laboratory import STATIONS, readings_of, report
from oiltrend.demo.materials import MATERIALS
from oiltrend.demo.meters import Meters, as_read, removal_km
from oiltrend.demo.oil import fresh_oil
from oiltrend.demo.paperwork import day_of, openings
from oiltrend.demo.wearing import ROD_SLOTS
from oiltrend.records import (
    BearingSet,
    Car,
    Engine,
    EngineStay,
    NewOil,
    Ownership,
    Slot,
)

__all__ = ["bearing_sets", "cars", "engines", "new_oils", "ownerships", "stays"]

_CLEARANCE_NEW_MM = 0.048
# Fresh oil is tested by Lab A's first method and by Lab B.
_NEW_OIL_STATIONS = (0, 2)


def cars(fleet: Fleet) -> tuple[Car, ...]:
    """List the cars once each.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.

    Returns
    -------
    tuple of Car [-]
        By job number.
    """
    return tuple(Car(name) for name in sorted(set(fleet.car)))


def _owner_of(car: str) -> str:
    number = int(car.partition("-")[2])
    return OWNERS[number % len(OWNERS)]


def ownerships(fleet: Fleet) -> tuple[Ownership, ...]:
    """Say who owns each car, and who owned it before where it changed hands.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.

    Returns
    -------
    tuple of Ownership [-]
        By car, then date.
    """
    sold = {fleet.car[e]: day_of((fleet.start_day[e] + fleet.end_day[e]) / 2)
            for e in fleet.parts["new_owner"]}
    written = []
    for car in sorted(set(fleet.car)):
        owner, day = _owner_of(car), sold.get(car)
        written.append(Ownership(car, owner, to_date=day))
        if day is not None:
            place = OWNERS.index(owner)
            written.append(Ownership(car, OWNERS[(place + 7) % len(OWNERS)], from_date=day))
    return tuple(written)


def engines(fleet: Fleet, meters: Meters) -> tuple[Engine, ...]:
    """List the engines as the workshop took them in.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    meters : Meters [-]
        What the meters show.

    Returns
    -------
    tuple of Engine [-]
        In the order of the fleet.
    """
    owner = {entry.car: entry.owner for entry in ownerships(fleet)}
    gone = set(fleet.parts["engine_swapped_out"].tolist())
    return tuple(
        Engine(name, FAMILIES[fleet.family[row]].record.family,
               meter_unit="h" if fleet.hours[row] else "km", built=str(fleet.built[row]),
               shell_material=MATERIALS[fleet.material[row]].name,
               set_fitted_meter=_fitted_meter(fleet, meters, row),
               car="" if row in gone else fleet.car[row],
               owner="" if row in gone else owner[fleet.car[row]],
               note="invented")
        for row, name in enumerate(fleet.engine))


def _fitted_meter(fleet: Fleet, meters: Meters, row: int) -> float | None:
    """Tell when the shells went in: with the engine or at the rebuild, unknown in a used one."""
    if row in fleet.parts["engine_swapped_in"]:
        return None
    at = np.array([row])
    return float(as_read(meters, at, fleet.fitted_km[at], fleet.start_day[at])[0])


def stays(fleet: Fleet, legs: Legs) -> tuple[EngineStay, ...]:
    """Say which engine sat in which car; a swapped one has an end or a beginning.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs, for the meter at the swap.

    Returns
    -------
    tuple of EngineStay [-]
        In the order of the fleet.
    """
    ends: dict[int, tuple[date, float]] = {}
    begins: dict[int, tuple[date, float]] = {}
    pairs = zip(fleet.parts["engine_swapped_out"].tolist(),
                fleet.parts["engine_swapped_in"].tolist(), strict=True)
    for out, into in pairs:
        reading = float(np.round(removal_km(fleet, legs, out)))
        ends[out] = (day_of(fleet.end_day[out]), reading)
        begins[into] = (day_of(fleet.start_day[into] - 3), reading)
    nothing = (None, None)
    return tuple(EngineStay(name, fleet.car[row], *begins.get(row, nothing),
                            *ends.get(row, nothing))
                 for row, name in enumerate(fleet.engine))


def bearing_sets(fleet: Fleet, legs: Legs, meters: Meters) -> tuple[BearingSet, ...]:
    """List the rod shells: first what each engine came with, then what went in at openings.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs.
    meters : Meters [-]
        What the meters show.

    Returns
    -------
    tuple of BearingSet [-]
        A set after an opening holds the renewed slots only.
    """
    rebuilt = set(fleet.parts["rebuilt_before_first_sample"].tolist())
    sets = []
    for row, name in enumerate(fleet.engine):
        rods = FAMILIES[fleet.family[row]].record.rods or 0
        on = day_of(fleet.start_day[row]) if row in rebuilt else None
        meter = _fitted_meter(fleet, meters, row)
        material = MATERIALS[fleet.material[row]].name
        sets.append(BearingSet(name, tuple(
            _slot(place, material, meter, on, clearance=row in rebuilt)
            for place in range(2 * rods))))
    leg, engine = openings(legs)
    read = as_read(meters, engine, legs.km[leg, engine], legs.day[leg, engine])
    for step, row, meter in zip(leg, engine, read, strict=True):
        places = np.flatnonzero(legs.renewed[step, row, :ROD_SLOTS])
        if len(places):
            sets.append(BearingSet(fleet.engine[row], tuple(
                _slot(int(place), MATERIALS[legs.new_material[step, row, place]].name,
                      float(meter), day_of(legs.day[step, row]), clearance=True)
                for place in places)))
    return tuple(sets)


def _slot(place: int, material: str, meter: float | None, on: date | None, *, clearance: bool
          ) -> Slot:
    return Slot("rod", place // 2 + 1, "cap" if place % 2 else "rod", material, meter, on, "new",
                _CLEARANCE_NEW_MM if clearance else None)


def new_oils(rng: np.random.Generator, bias: np.ndarray, first_day: date) -> tuple[NewOil, ...]:
    """Report the fresh oils, each by both laboratories.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    bias : array, shape (n_stations, n_measurands) [-]
        Lasting bias of the stations.
    first_day : date [-]
        Day of the samples.

    Returns
    -------
    tuple of NewOil [-]
        By oil, then laboratory.
    """
    written = []
    for row, oil in enumerate(OILS):
        for station in _NEW_OIL_STATIONS:
            value, qualifier = report(rng, fresh_oil()[[row]], np.array([station]), bias)
            made = STATIONS[station]
            written.append(NewOil(oil.record.oil_product, readings_of(value[0], qualifier[0], made),
                                  batch="first", lab=made.lab, method=made.method,
                                  sample_date=first_day))
    return tuple(written)
