"""What the workshop writes down of its legs: samples, events, teardowns and actions.

Here, and only here, truth becomes record: readings of meters, rounded litres, blanks where
nobody wrote anything.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.bench import findings
from oiltrend.demo.families import FAMILIES, LABS, OILS
from oiltrend.demo.garage import TOP_UP_HABITS, Fleet
from oiltrend.demo.history import Kind, Legs
from oiltrend.demo.laboratory import STATIONS
from oiltrend.demo.materials import MATERIALS
from oiltrend.demo.meters import Meters, as_read, in_unit, removal_km
from oiltrend.demo.wearing import ROD_SLOTS
from oiltrend.records import (
    LEVELS_AT_SAMPLING,
    OPENING_REASONS,
    Action,
    Event,
    SampleTable,
    Teardown,
    empty_samples,
)

__all__ = ["actions", "day_of", "events", "openings", "sample_rows", "samples", "teardowns"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
# Lack of oil that a dipstick shows as full, or as the lower mark (assumed).
_FULL_L = 0.15
_MINIMUM_L = 0.7


def day_of(number: float) -> date:
    """Turn a day number into a date.

    Parameters
    ----------
    number : float [d]
        Days since 1970-01-01; the fraction is dropped.

    Returns
    -------
    date [-]
        The date.

    Examples
    --------
    >>> day_of(10.7)
    datetime.date(1970, 1, 11)
    """
    return date(1970, 1, 1) + timedelta(days=int(number))


def sample_rows(legs: Legs) -> tuple[Ints, Ints]:
    """List the legs that end with a sample, by engine and then in time.

    Parameters
    ----------
    legs : Legs [-]
        All legs.

    Returns
    -------
    tuple of array, shape (n,) [-]
        Leg and engine of each sample.
    """
    engine, leg = np.nonzero((legs.active & legs.sampled).T)
    return leg, engine


def openings(legs: Legs) -> tuple[Ints, Ints]:
    """List the legs at whose end an engine was opened, by engine and then in time.

    Parameters
    ----------
    legs : Legs [-]
        All legs.

    Returns
    -------
    tuple of array, shape (n,) [-]
        Leg and engine of each opening.
    """
    engine, leg = np.nonzero((legs.active & legs.opened).T)
    return leg, engine


def samples(rng: np.random.Generator, fleet: Fleet, legs: Legs, meters: Meters) -> SampleTable:
    """Write the sample table as the workshop's records have it.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance, for what people forget.
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs.
    meters : Meters [-]
        What the meters show.

    Returns
    -------
    SampleTable [-]
        Sorted by engine, then date; readings of awaited samples are missing.
    """
    leg, engine = sample_rows(legs)
    at = (leg, engine)
    table = empty_samples(len(leg))
    day, change = legs.day[at], legs.kind[at] == Kind.CHANGE
    table.engine[:] = np.array(fleet.engine, dtype=object)[engine]
    table.sample_date[:] = np.floor(day).astype("datetime64[D]")
    table.meter[:] = as_read(meters, engine, legs.km[at], day)
    table.meter_unit[:] = fleet.hours[engine]
    table.oil_distance[:] = in_unit(meters, engine, legs.written_oil_km[at])
    table.oil_changed[:] = change
    wrote = fleet.habit[engine] != TOP_UP_HABITS.index("none")
    table.top_up_l[:] = np.where(wrote, np.round(legs.written_top_up_l[at], 1), np.nan)
    table.level_at_sampling[:] = _levels(rng, legs.lack_l[at])
    table.refill_l[:] = np.where(change, np.round(legs.refill_l[at], 1), np.nan)
    names = np.array([oil.record.oil_product for oil in OILS], dtype=object)
    table.oil_product[:] = names[legs.product[at]]
    table.refill_product[:] = np.where(change, names[legs.refill[at]], "")
    table.lab[:] = np.array([lab.lab for lab in LABS], dtype=object)[legs.lab[at]]
    table.method[:] = np.array([s.method for s in STATIONS], dtype=object)[legs.station[at]]
    table.sample_id[:] = _numbers(day, legs.lab[at])
    table.note[:] = np.where(legs.cooler_renewed[at], "oil cooler renewed", "")
    table.filter_finding[:] = legs.filter_finding[at]
    table.hot_oil_pressure_bar[:] = legs.pressure_bar[at]
    table.noise[:] = legs.noise[at]
    table.glitter[:] = legs.glitter[at]
    table.awaited[:] = legs.awaited[at]
    reported = ~table.awaited[:, None]
    table.value[:] = np.where(reported, legs.value[at], np.nan)
    table.qualifier[:] = np.where(reported, legs.qualifier[at], 0)
    return table


def _levels(rng: np.random.Generator, lack_l: Floats) -> NDArray[np.int8]:
    level = np.where(lack_l < _FULL_L, LEVELS_AT_SAMPLING.index("max"), np.where(
        lack_l > _MINIMUM_L, LEVELS_AT_SAMPLING.index("min"),
        LEVELS_AT_SAMPLING.index("unknown")))
    return np.where(rng.random(len(lack_l)) < 0.6, level, 0).astype(np.int8)


def _numbers(day: Floats, lab: Ints) -> NDArray[np.object_]:
    """Give the bottles numbers in the order in which they were drawn."""
    order = np.argsort(day, kind="stable")
    place = np.empty(len(day), dtype=np.int64)
    place[order] = np.arange(len(day))
    letters = [record.lab[-1] for record in LABS]
    return np.array([f"{letters[which]}-{20001 + 3 * number}"
                     for which, number in zip(lab, place, strict=True)], dtype=object)


def events(fleet: Fleet, legs: Legs, meters: Meters) -> tuple[Event, ...]:
    """Write the events that no sample tells: changes without one, top-ups, swaps of meter and car.

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
    tuple of Event [-]
        By engine, then date.
    """
    oils = [oil.record.oil_product for oil in OILS]
    n = len(fleet.engine)
    everyone = np.arange(n)
    first_product = legs.product[0]
    found = _written(fleet, meters, "oil_change", everyone, fleet.start_km, fleet.start_day,
                     litres=np.full(n, np.nan), products=[oils[p] for p in first_product],
                     note="first visit")
    at = np.nonzero(legs.active & (legs.kind == Kind.CHANGE_UNSAMPLED))
    found += _written(fleet, meters, "oil_change", at[1], legs.km[at], legs.day[at],
                      litres=legs.refill_l[at], products=[oils[p] for p in legs.refill[at]],
                      note="no sample drawn")
    dated = fleet.habit == TOP_UP_HABITS.index("dated")
    leg, engine, stretch = np.nonzero((legs.top_up_l > 0)
                                      & (legs.active & dated)[:, :, None])
    found += _written(fleet, meters, "top_up", engine, legs.top_up_km[leg, engine, stretch],
                      legs.top_up_day[leg, engine, stretch],
                      litres=legs.top_up_l[leg, engine, stretch],
                      products=[oils[p] for p in legs.product[leg, engine]], note="")
    found += _swaps(fleet, legs, meters)
    return tuple(sorted(found, key=lambda event: (event.engine, event.date or date.min)))


def _written(fleet: Fleet, meters: Meters, kind: str, engine: Ints, km: Floats, day: Floats, *,
             litres: Floats, products: list[str], note: str) -> list[Event]:
    readings = as_read(meters, engine, km, day)
    return [Event(fleet.engine[who], kind, day_of(on), float(reading),
                  None if np.isnan(amount) else round(float(amount), 1), product, note=note)
            for who, on, reading, amount, product
            in zip(engine, day, readings, litres, products, strict=True)]


def _swaps(fleet: Fleet, legs: Legs, meters: Meters) -> list[Event]:
    """Write swaps of meters and engines: a loop over the few that had one."""
    found = []
    for engine in fleet.parts["meter_replaced"]:
        day, km = meters.replaced_day[engine], meters.replaced_km[engine]
        found.append(Event(
            fleet.engine[engine], "meter_replaced", day_of(day),
            float(np.round(km + meters.offset_km[engine])),
            new_meter=float(np.round(km + meters.later_offset_km[engine])),
            note="instrument failed"))
    for out, into in zip(fleet.parts["engine_swapped_out"], fleet.parts["engine_swapped_in"],
                         strict=True):
        odometer = float(np.round(removal_km(fleet, legs, int(out))))
        found.append(Event(fleet.engine[out], "engine_removed", day_of(fleet.end_day[out]),
                           odometer, car=fleet.car[out], note="another engine goes in"))
        found.append(Event(fleet.engine[into], "engine_fitted", day_of(fleet.start_day[into] - 3),
                           odometer, car=fleet.car[into],
                           new_meter=float(np.round(fleet.start_km[into])),
                           note="used engine, own distance as told by the seller"))
    return found


def teardowns(rng: np.random.Generator, fleet: Fleet, legs: Legs, meters: Meters
              ) -> tuple[Teardown, ...]:
    """Write a teardown for every opening, every rod half looked at.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance, for gauges and forgetting.
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs.
    meters : Meters [-]
        What the meters show.

    Returns
    -------
    tuple of Teardown [-]
        In the order of :func:`openings`.
    """
    leg, engine = openings(legs)
    read = as_read(meters, engine, legs.km[leg, engine], legs.day[leg, engine])
    flakes = ("none", "fine", "flakes")
    written = []
    # A loop over openings, which are few.
    for step, who, meter in zip(leg, engine, read, strict=True):
        spec = FAMILIES[fleet.family[who]].record
        depth = legs.depth_um[step, who, :ROD_SLOTS]
        reason = OPENING_REASONS[legs.reason[step, who]]
        drained = bool(legs.changed[step, who])
        worst = int(legs.worst[step, who])
        written.append(Teardown(
            engine=fleet.engine[who], teardown_date=day_of(legs.day[step, who]),
            meter=float(meter),
            findings=findings(
                rng, rods=spec.rods or 0, pin_mm=spec.pin_mm or 0.0, depth_um=depth,
                overlay_um=legs.overlay_um[step, who, :ROD_SLOTS],
                names=_names(legs.material[step, who]),
                renewed=legs.renewed[step, who, :ROD_SLOTS],
                new_names=_names(legs.new_material[step, who])),
            reason=reason, oil_verdict_seen=_seen(rng, reason),
            oil_changed=drained,
            refill_l=_litres(float(legs.refill_l[step, who])) if drained else None,
            refill_product=OILS[legs.refill[step, who]].record.oil_product if drained else "",
            filter_finding=flakes[(worst >= 3) + (worst >= 5)] if drained else "",
            note=_NOTES[reason]))
    return tuple(written)


_NOTES = {"planned": "opened as ordered by the owner", "alarm": "opened because the oil alarmed",
          "symptom": "knocking noise when warm",
          "failure": "engine stopped, brought in on a trailer",
          "other": "oil pan off for a leak, shells looked at on the way"}


def _names(materials: Ints) -> list[str]:
    return [MATERIALS[row].name for row in materials[:ROD_SLOTS]]


def _litres(value: float) -> float | None:
    return None if np.isnan(value) else round(value, 1)


def _seen(rng: np.random.Generator, reason: str) -> bool | None:
    """Tell whether the verdict was known: always when the oil was the reason, else sometimes."""
    chance = rng.random()
    if reason == "alarm":
        return True
    return None if chance < 0.1 else bool(chance > 0.8)


def actions(fleet: Fleet, legs: Legs, *, today: date) -> tuple[Action, ...]:
    """Write what the workshop did about its crude alarms.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs.
    today : date [-]
        Nothing is done later.

    Returns
    -------
    tuple of Action [-]
        Told, then booked and opened, or asked for a confirming sample, or declined.
    """
    written: list[Action] = []
    # A loop over alarms, which are few.
    for engine, leg in zip(*np.nonzero((legs.active & legs.alarm).T), strict=True):
        name, on = fleet.engine[engine], legs.day[leg, engine]
        following = leg + 1 < len(legs.kind) and legs.active[leg + 1, engine]
        written.append(Action(name, "told", day_of(on + 8)))
        if following and legs.kind[leg + 1, engine] == Kind.OPENING:
            written.append(Action(name, "booked", day_of(on + 9)))
            written.append(Action(name, "opened", day_of(legs.day[leg + 1, engine])))
        elif following and legs.kind[leg + 1, engine] == Kind.MID_FILL:
            written.append(Action(name, "resample_asked", day_of(on + 9)))
        else:
            written.append(Action(name, "declined", day_of(on + 9), "the owner wants to wait"))
    return tuple(action for action in written if action.on <= today)
