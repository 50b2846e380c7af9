"""Alder Quay Engine Works: everything its records hold, and the truth behind them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo import people
from oiltrend.demo.confounders import MIXED_UP_PAIRS, draw_schedule
from oiltrend.demo.families import FAMILIES, LABS, OILS
from oiltrend.demo.garage import DAYS_PER_YEAR, LEAST_ENGINES, Fleet, day_number, draw_fleet
from oiltrend.demo.history import Legs, Stretch, World, live
from oiltrend.demo.laboratory import draw_bias
from oiltrend.demo.materials import SOURCES
from oiltrend.demo.meters import draw_meters
from oiltrend.demo.oil import draw_oil
from oiltrend.demo.paperwork import actions, day_of, events, sample_rows, samples, teardowns
from oiltrend.demo.reveal import reveal
from oiltrend.demo.truth import Truth
from oiltrend.demo.wearing import draw_shells
from oiltrend.records import (
    Action,
    BearingSet,
    Car,
    Engine,
    EngineStay,
    Event,
    Family,
    Lab,
    NewOil,
    OilProduct,
    Ownership,
    SampleTable,
    Teardown,
)

__all__ = ["DEFAULT_ENGINES", "DEFAULT_SEED", "Workshop", "simulate"]

DEFAULT_SEED = 20
DEFAULT_ENGINES = LEAST_ENGINES
# Two bottles can be taken for each other when they are drawn within so many days (assumed).
_MIXED_UP_DAYS = 20


@dataclass(frozen=True, slots=True)
class Workshop:
    """The records of one invented workshop, and the truth.

    Parameters
    ----------
    families, cars, ownerships, engines, stays, labs, oil_products, new_oils : tuple [-]
        Standing records.
    events : tuple of Event [-]
        What no sample tells.
    samples : SampleTable [-]
        Sorted by engine, then date; with those whose result is awaited.
    teardowns : tuple of Teardown [-]
        Every opening.
    bearing_sets : tuple of BearingSet [-]
        Shells as the engines came, then the shells fitted at openings.
    actions : tuple of Action [-]
        What was done about alarms.
    truth : Truth [-]
        What no record says.
    """

    families: tuple[Family, ...]
    cars: tuple[Car, ...]
    ownerships: tuple[Ownership, ...]
    engines: tuple[Engine, ...]
    stays: tuple[EngineStay, ...]
    labs: tuple[Lab, ...]
    oil_products: tuple[OilProduct, ...]
    new_oils: tuple[NewOil, ...]
    events: tuple[Event, ...]
    samples: SampleTable
    teardowns: tuple[Teardown, ...]
    bearing_sets: tuple[BearingSet, ...]
    actions: tuple[Action, ...]
    truth: Truth


def simulate(*, today: date, seed: int = DEFAULT_SEED, engines: int = DEFAULT_ENGINES,
             watch: Callable[[Stretch], None] | None = None) -> Workshop:
    """Let an invented workshop live for eight years.

    Parameters
    ----------
    today : date [-]
        Last day.
    seed : int [-]
        The same number gives the same workshop.
    engines : int [-]
        How many engines, at least 46.
    watch : callable or None [-]
        Is shown every stretch that is driven, for checks of the oil balance.

    Returns
    -------
    Workshop [-]
        Records and truth.

    Raises
    ------
    ValueRefused
        When there are too few engines for every situation.

    Examples
    --------
    >>> works = simulate(today=date(2026, 1, 1))
    >>> len(works.engines), len(works.families), len(works.samples) > 400
    (46, 3, True)
    """
    # Each idea draws from its own stream, so that a change in one leaves the others alone.
    streams = [np.random.default_rng([seed, number]) for number in range(7)]
    garage, oil_rng, shell_rng, fate, road, lab_rng, paper = streams
    fleet = draw_fleet(garage, engines=engines, today=today)
    oil = draw_oil(oil_rng, fleet)
    shells = draw_shells(shell_rng, fleet)
    method_day = day_number(today) - 4 * DAYS_PER_YEAR
    world = World(fleet, oil, draw_schedule(fate, fleet), draw_bias(lab_rng), method_day,
                  _other_wear(shell_rng, fleet), road, lab_rng)
    legs = live(world, shells, watch=watch)
    meters = draw_meters(fleet, legs)
    table = samples(paper, fleet, legs, meters)
    mixed_up = _mix_up(paper, table, legs)
    first_day = day_of(float(fleet.start_day.min()))
    return Workshop(
        families=tuple(spec.record for spec in FAMILIES), cars=people.cars(fleet),
        ownerships=people.ownerships(fleet), engines=people.engines(fleet, meters),
        stays=people.stays(fleet, legs),
        labs=LABS, oil_products=tuple(oil.record for oil in OILS),
        new_oils=people.new_oils(lab_rng, world.bias, first_day),
        events=events(fleet, legs, meters), samples=table,
        teardowns=teardowns(paper, fleet, legs, meters),
        bearing_sets=people.bearing_sets(fleet, legs, meters),
        actions=actions(fleet, legs, today=today),
        truth=reveal(fleet, oil, shells, legs, mixed_up))


def _other_wear(rng: np.random.Generator, fleet: Fleet) -> NDArray[np.float64]:
    """Metal of the other sources per engine, mg per 1000 km, around the family's."""
    names = SOURCES[8:13]
    usual = np.array([[spec.others_mg[name] for name in names] for spec in FAMILIES])
    return usual[fleet.family] * rng.lognormal(0, 0.25, (len(fleet.engine), len(names)))


def _mix_up(rng: np.random.Generator, table: SampleTable, legs: Legs
            ) -> tuple[tuple[int, int], ...]:
    """Exchange the results of some pairs of bottles that reached one laboratory together.

    Only bottles of different oils, and of quiet engines: the workshop acted on the reports
    as they were, and a pair must not rewrite that story.
    """
    leg, engine = sample_rows(legs)
    quiet = ~legs.alarm[leg, engine] & ~table.awaited
    order = np.lexsort((legs.day[leg, engine], legs.station[leg, engine]))
    order = order[quiet[order]]
    first, second = order[:-1], order[1:]
    close = (legs.day[leg, engine][second] - legs.day[leg, engine][first]) <= _MIXED_UP_DAYS
    fits = close & (legs.station[leg, engine][first] == legs.station[leg, engine][second])
    fits &= (engine[first] != engine[second]) & (table.oil_product[first]
                                                 != table.oil_product[second])
    wanted = max(MIXED_UP_PAIRS, round(MIXED_UP_PAIRS * legs.kind.shape[1] / LEAST_ENGINES))
    pairs: list[tuple[int, int]] = []
    used: set[int] = set()
    # A loop until the few wanted pairs are found.
    for place in rng.permutation(np.flatnonzero(fits)):
        pair = (int(first[place]), int(second[place]))
        if len(pairs) < wanted and not used & set(pair):
            pairs.append(pair)
            used |= set(pair)
    for one, other in pairs:
        both, swapped = [one, other], [other, one]
        table.value[both] = table.value[swapped]
        table.qualifier[both] = table.qualifier[swapped]
    return tuple(pairs)
