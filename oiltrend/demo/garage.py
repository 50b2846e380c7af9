"""The invented workshop's engines: who owns them, how they are driven, and which part they play.

A part is a situation that the workshop must contain, such as an engine counted in hours or a
sample whose result is awaited. Parts are handed out by lot and grow with the fleet.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.families import AS_OF, FAMILIES, FIRST_JOB, LABS
from oiltrend.errors import ValueRefused

__all__ = ["DAYS_PER_YEAR", "KM_PER_HOUR", "LEAST_ENGINES", "PARTS", "TOP_UP_HABITS", "Fleet",
           "day_number", "draw_fleet"]

Floats = NDArray[np.float64]
DAYS_PER_YEAR = 365.25
LEAST_ENGINES = 46
# Mean speed that turns the hidden km into running hours (assumed, mixed road use).
KM_PER_HOUR = 45.0
# How top-ups are written down: as dated events, as a total with the sample, or not at all.
TOP_UP_HABITS = ("dated", "total", "none")

# Part, and how many engines of 46 play it. No engine plays two of them.
PARTS: dict[str, int] = {
    "hours_meter": 1, "meter_replaced": 1, "engine_swapped_out": 1, "engine_swapped_in": 1,
    "awaited_last_week": 1, "awaited": 1, "overdue": 4, "few_samples": 2, "new_owner": 2,
    "rebuilt_before_first_sample": 6, "planned_opening": 7,
}


@dataclass(frozen=True, slots=True)
class Fleet:
    """One entry per engine; days since 1970-01-01, distances in the engine's own km.

    Parameters
    ----------
    engine, car : tuple of str [-]
        Names; a car is named by its job number.
    family, material, lab : array of int, shape (n,) [-]
        Rows of the invented tables; the first laboratory.
    built : array of int, shape (n,) [-]
        Year.
    start_day, end_day, final_day : array, shape (n,) [d]
        First visit, last day of the history, and the day of a last sample whose result is
        awaited (NaN for none).
    start_km, fitted_km : array, shape (n,) [km]
        Distance at the first visit and when the shells in it went in.
    km_per_day, interval_km : array, shape (n,) [km]
        Use per day and per oil fill.
    mid_fill, sampled : array, shape (n,) [-]
        Chance of a sample in mid-fill and of a sample at a change.
    habit : array of int, shape (n,) [-]
        Row of :data:`TOP_UP_HABITS`.
    hours : array of bool, shape (n,) [-]
        Counted in running hours.
    parts : dict of str to array of int [-]
        Part to the engines that play it.
    """

    engine: tuple[str, ...]
    car: tuple[str, ...]
    family: NDArray[np.int64]
    material: NDArray[np.int64]
    lab: NDArray[np.int64]
    built: NDArray[np.int64]
    start_day: Floats
    end_day: Floats
    final_day: Floats
    start_km: Floats
    fitted_km: Floats
    km_per_day: Floats
    interval_km: Floats
    mid_fill: Floats
    sampled: Floats
    habit: NDArray[np.int64]
    hours: NDArray[np.bool_]
    parts: dict[str, NDArray[np.int64]]


def day_number(day: date) -> float:
    """Count the days since 1970-01-01.

    Parameters
    ----------
    day : date [-]
        A date.

    Returns
    -------
    float [d]
        Days.

    Examples
    --------
    >>> day_number(date(1970, 1, 11))
    10.0
    """
    return float((day - date(1970, 1, 1)).days)


def draw_fleet(rng: np.random.Generator, *, engines: int, today: date) -> Fleet:
    """Draw the engines of the workshop and hand out the parts.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    engines : int [-]
        How many, at least 46.
    today : date [-]
        Last day of the histories.

    Returns
    -------
    Fleet [-]
        The engines, sorted by family.

    Raises
    ------
    ValueRefused
        When there are too few engines for all parts.

    Examples
    --------
    >>> fleet = draw_fleet(np.random.default_rng(1), engines=46, today=date(2026, 1, 1))
    >>> len(fleet.engine), fleet.engine[0], np.bincount(fleet.family).tolist()
    (46, 'V8-001', [30, 9, 7])
    """
    if engines < LEAST_ENGINES:
        raise ValueRefused(
            f"engines: must be at least {LEAST_ENGINES}, so that every situation has its "
            f"engine, found {engines}", hint="ask for more engines")
    family = _families(engines)
    parts = _hand_out(rng, engines)
    end = np.full(engines, day_number(today))
    years = 8.0 - 4.5 * rng.random(engines) ** 2
    start = end - years * DAYS_PER_YEAR
    start[parts["few_samples"]] = end[0] - rng.uniform(400, 550, len(parts["few_samples"]))
    km_year = np.clip(rng.lognormal(np.log(9000), 0.35, engines), 4000, 15000)
    interval = np.minimum(rng.triangular(5000, 6500, 12000, engines),
                          np.maximum(5000, 1.3 * km_year))
    sampled = np.full(engines, 0.93)
    # A short history must still hold a sample or two.
    short = np.concatenate([parts["few_samples"], parts["engine_swapped_in"]])
    km_year[short], interval[short] = np.maximum(km_year[short], 9000), 6000.0
    sampled[short] = 1.0
    material, built = _shells_and_years(rng, family)
    # Ages hang on the last day, not on the calendar, so that the same number tells the same
    # story on any day.
    age = np.maximum(AS_OF + 0.5 - built - years, 0.2)
    start_km = age * km_year * rng.uniform(0.6, 1.1, engines)
    fitted = np.zeros(engines)
    fitted[parts["rebuilt_before_first_sample"]] = start_km[parts["rebuilt_before_first_sample"]]
    final = np.full(engines, np.nan)
    final[parts["awaited_last_week"]] = end[0] - 6
    final[parts["awaited"]] = end[0] - 17
    end = _early_ends(rng, parts, start, end)
    hours = np.zeros(engines, dtype=bool)
    hours[parts["hours_meter"]] = True
    cars = _cars(engines, parts)
    return Fleet(
        engine=_names(family), car=cars, family=family, material=material,
        lab=(rng.random(engines) < 0.42).astype(np.int64) % len(LABS),
        built=built + (today.year - AS_OF),
        start_day=start, end_day=end, final_day=final, start_km=start_km, fitted_km=fitted,
        km_per_day=km_year / DAYS_PER_YEAR, interval_km=interval,
        mid_fill=np.where(rng.random(engines) < 0.35, 0.7, 0.12),
        sampled=sampled, habit=rng.choice(3, engines, p=[0.3, 0.45, 0.25]),
        hours=hours, parts=parts)


def _families(engines: int) -> NDArray[np.int64]:
    """Split by share; the largest family takes what rounding leaves."""
    counts = [round(spec.share * engines) for spec in FAMILIES]
    counts[0] += engines - sum(counts)
    return np.repeat(np.arange(len(FAMILIES)), counts)


def _names(family: NDArray[np.int64]) -> tuple[str, ...]:
    first = np.searchsorted(family, family)
    return tuple(f"{FAMILIES[kind].prefix}-{number + 1:03d}"
                 for kind, number in zip(family, np.arange(len(family)) - first, strict=True))


def _hand_out(rng: np.random.Generator, engines: int) -> dict[str, NDArray[np.int64]]:
    order = rng.permutation(engines)
    parts: dict[str, NDArray[np.int64]] = {}
    taken = 0
    for part, count in PARTS.items():
        many = max(count, round(count * engines / LEAST_ENGINES))
        parts[part] = np.sort(order[taken:taken + many])
        taken += many
    return parts


def _early_ends(rng: np.random.Generator, parts: dict[str, NDArray[np.int64]], start: Floats,
                end: Floats) -> Floats:
    """Let overdue owners stay away, and hand a car over from one engine to the other."""
    out, into = parts["engine_swapped_out"], parts["engine_swapped_in"]
    swap = end[out] - rng.uniform(2.5, 3.5, len(out)) * DAYS_PER_YEAR
    start[out] = end[out] - rng.uniform(6.5, 8.0, len(out)) * DAYS_PER_YEAR
    ends = end.copy()
    ends[out] = swap
    start[into] = swap + 30
    overdue = parts["overdue"]
    ends[overdue] -= rng.uniform(1.8, 2.6, len(overdue)) * DAYS_PER_YEAR
    start[overdue] = np.minimum(start[overdue], ends[overdue] - 3 * DAYS_PER_YEAR)
    return ends


def _shells_and_years(rng: np.random.Generator, family: NDArray[np.int64]
                      ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Draw the shell material of each engine by its family's shares, and a year to match."""
    material = np.zeros(len(family), dtype=np.int64)
    built = np.zeros(len(family), dtype=np.int64)
    # A loop over the three families, each drawn at once.
    for kind, spec in enumerate(FAMILIES):
        members = np.flatnonzero(family == kind)
        shares = np.array([entry[1] for entry in spec.materials])
        edges = np.round(np.cumsum(shares) * len(members)).astype(int)
        entry = np.searchsorted(edges, np.arange(len(members)), side="right")
        table = np.array([(m, first, last) for m, _, first, last in spec.materials])[entry]
        material[members] = table[:, 0]
        built[members] = rng.integers(table[:, 1], table[:, 2] + 1)
    return material, built


def _cars(engines: int, parts: dict[str, NDArray[np.int64]]) -> tuple[str, ...]:
    """One job number per engine, but a swapped engine sits in the car of the one it replaced."""
    cars = np.array([f"J-{FIRST_JOB + number}" for number in range(engines)], dtype=object)
    cars[parts["engine_swapped_in"]] = cars[parts["engine_swapped_out"]]
    return tuple(cars.tolist())
