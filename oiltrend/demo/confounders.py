"""What makes an oil report mislead: who is struck by what, and when.

Each confounder acts where it acts in the real thing: copper, dirt and coolant enter the oil,
fuel thins it and wears the bores, a changed laboratory measures a little differently, a
bottle is mixed up after the report, and an oil change that nobody wrote down is missing from
the records only. Which sample is touched by which one is kept in the truth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.garage import DAYS_PER_YEAR, LEAST_ENGINES, Fleet

__all__ = ["CONFOUNDERS", "CONFOUNDER_INDEX", "MIXED_UP_PAIRS", "Schedule", "contaminants",
           "copper_shows", "draw_schedule", "during", "fuel_content", "wear_factors"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CONFOUNDERS: tuple[str, ...] = (
    "cooler_copper", "dirt", "coolant", "fuel_dilution", "bottle_mixed_up", "lab_change",
    "method_change", "unrecorded_oil_change", "unrecorded_top_ups",
)
CONFOUNDER_INDEX: dict[str, int] = {name: number for number, name in enumerate(CONFOUNDERS)}

# How many engines of 46 are struck; the two that follow from the engine's laboratory and from
# the owner's habit are not drawn. Counts are ours.
_STRUCK = {"cooler_copper": 5, "dirt": 4, "coolant": 3, "fuel_dilution": 5, "lab_change": 6,
           "unrecorded_oil_change": 4}
MIXED_UP_PAIRS = 2
# Strengths, all assumed: mg per 1000 km and kg of oil for what enters, decay of a new
# cooler's copper, days that an air leak, a coolant leak or a bad injector lasts.
_COOLER_MG = (12.0, 30.0)
_COOLER_KM = 7000.0
_DIRT_MG = (8.0, 18.0)
_COOLANT_MG = (1500.0, 3500.0)
_FUEL_PCT = (3.0, 6.5)
_LASTS_DAYS = {"dirt": (250, 500), "coolant": (120, 300), "fuel_dilution": (250, 600)}
_COPPER_SHOWS_KM = 2.5 * _COOLER_KM


@dataclass(frozen=True, slots=True)
class Schedule:
    """When each engine is struck; shape (n,), infinite where it is not.

    Parameters
    ----------
    begin, end : dict of str to array [d]
        Confounder to first and last day.
    strength : dict of str to array [-]
        Amount, see the constants of this module.
    """

    begin: dict[str, Floats]
    end: dict[str, Floats]
    strength: dict[str, Floats]


def draw_schedule(rng: np.random.Generator, fleet: Fleet) -> Schedule:
    """Draw who is struck by what and when, among engines with a history of three years.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    fleet : Fleet [-]
        The engines.

    Returns
    -------
    Schedule [-]
        Days and strengths.
    """
    n = len(fleet.engine)
    span = fleet.end_day - fleet.start_day
    eligible = np.flatnonzero(span >= 3 * DAYS_PER_YEAR)
    begin, end, strength = {}, {}, {}
    ranges = {"cooler_copper": _COOLER_MG, "dirt": _DIRT_MG, "coolant": _COOLANT_MG,
              "fuel_dilution": _FUEL_PCT}
    for kind, count in _STRUCK.items():
        many = max(count, round(count * n / LEAST_ENGINES))
        struck = rng.choice(eligible, min(many, len(eligible)), replace=False)
        day = np.full(n, np.inf)
        day[struck] = fleet.start_day[struck] + rng.uniform(0.25, 0.6, len(struck)) * span[struck]
        begin[kind] = day
        end[kind] = day + rng.uniform(*_LASTS_DAYS.get(kind, (0, 0)), n)
        strength[kind] = rng.uniform(*ranges.get(kind, (0, 0)), n)
    return Schedule(begin, end, strength)


def during(schedule: Schedule, kind: str, from_day: Floats, to_day: Floats) -> Bools:
    """Mark the engines that a lasting confounder strikes in a span of days.

    Parameters
    ----------
    schedule : Schedule [-]
        Who is struck and when.
    kind : str [-]
        dirt, coolant or fuel_dilution.
    from_day, to_day : array, shape (n,) [d]
        The span.

    Returns
    -------
    array of bool, shape (n,) [-]
        True where the spans overlap.
    """
    return (schedule.begin[kind] < to_day) & (schedule.end[kind] > from_day)


def contaminants(schedule: Schedule, full_kg: Floats, cooler_km: Floats, *, day: Floats,
                 start_km: Floats, end_km: Floats) -> Floats:
    """Give what cooler, dirt and coolant bring into the oil over a stretch.

    Copper of a new cooler fades: ``G = A M D (exp(−x1 / D) − exp(−x2 / D))``.

    Parameters
    ----------
    schedule : Schedule [-]
        Who is struck and when.
    full_kg : array, shape (n,) [kg]
        Oil when full: larger engines take in more.
    cooler_km : array, shape (n,) [km]
        Distance at which a new oil cooler went in; infinite for none.
    day : array, shape (n,) [d]
        Middle of the stretch.
    start_km, end_km : array, shape (n,) [km]
        The stretch.

    Returns
    -------
    array, shape (n, 3) [mg]
        Mass from cooler, dirt and coolant, as the last three sources.
    """
    km = end_km - start_km
    since = np.maximum(start_km - cooler_km, 0.0)
    until = np.maximum(end_km - cooler_km, 0.0)
    faded = _COOLER_KM * (np.exp(-since / _COOLER_KM) - np.exp(-until / _COOLER_KM))
    columns = [schedule.strength["cooler_copper"] * faded]
    for kind in ("dirt", "coolant"):
        columns.append(np.where(during(schedule, kind, day, day),
                                schedule.strength[kind] * km, 0.0))
    return np.stack(columns, axis=1) * full_kg[:, None] / 1000


def copper_shows(cooler_km: Floats, at_km: Floats) -> Bools:
    """Mark engines whose new cooler still sheds copper that a report can show.

    Parameters
    ----------
    cooler_km : array, shape (n,) [km]
        Distance at which a new oil cooler went in; infinite for none.
    at_km : array, shape (n,) [km]
        Distance now.

    Returns
    -------
    array of bool, shape (n,) [-]
        True within 17,500 km of a new cooler (assumed).
    """
    passed = at_km - cooler_km
    return (passed > 0) & (passed <= _COPPER_SHOWS_KM)


def wear_factors(schedule: Schedule, day: Floats) -> tuple[Floats, Floats]:
    """Give how much dirt and fuel add to the wear of shells and of bores (assumed).

    Parameters
    ----------
    schedule : Schedule [-]
        Who is struck and when.
    day : array, shape (n,) [d]
        The day.

    Returns
    -------
    tuple of array, shape (n,) [-]
        Factor on the shells' steady loss and on the wear of bores, rings and pistons.
    """
    dirt, fuel = during(schedule, "dirt", day, day), during(schedule, "fuel_dilution", day, day)
    return (1 + 0.5 * dirt + 0.3 * fuel), (1 + 1.0 * dirt + 0.4 * fuel)


def fuel_content(schedule: Schedule, usual_pct: Floats, day: Floats) -> Floats:
    """Give the fuel content on a day.

    Parameters
    ----------
    schedule : Schedule [-]
        Who is struck and when.
    usual_pct : array, shape (n,) [%]
        Fuel content without a fault.
    day : array, shape (n,) [d]
        The day.

    Returns
    -------
    array, shape (n,) [%]
        Fuel content.
    """
    struck = during(schedule, "fuel_dilution", day, day)
    return usual_pct + np.where(struck, schedule.strength["fuel_dilution"], 0.0)
