"""From samples to intervals, and from intervals to wear rates: the ledger of the whole fleet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.axis import first_of_engine, previous_row
from oiltrend.assessment.fills import Fills
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.readings import Readings
from oiltrend.assessment.starts import Start, after_change, interval_start, residue_share
from oiltrend.nomenclature import MEASURANDS
from oiltrend.records import LEVELS_AT_SAMPLING
from oiltrend.wear.ledger import IntervalReadings, WearRates, wear_rates
from oiltrend.wear.masses import IntervalMasses
from oiltrend.wear.plain import mid_fill_difference, per_thousand

__all__ = ["WORN", "Ledger", "keep_ledger", "over_panel"]

Floats = NDArray[np.float64]

# What wears or is carried in, and so has a wear rate. It comes first in the panel, so that a
# place in the panel is also the column of a wear rate.
WORN = [place for place, m in enumerate(MEASURANDS)
         if m.unit == "mg/kg" and m.kind in ("wear", "contaminant")]
_SAMPLE_L = 0.1  # drawn for one sample; assumed


@dataclass(frozen=True, slots=True)
class Ledger:
    """Per sample and measurand: start concentration, plain figures and wear rate.

    ``before`` is the row of the undoubted sample before it, ``same_fill`` whether that one is
    on the same fill; ``use`` is the use of the interval, which starts there or at the change.
    ``wear`` has columns for :data:`WORN` alone; all other arrays have the whole panel.
    """

    before: NDArray[np.int64]
    same_fill: NDArray[np.bool_]
    use: Floats
    start: Floats
    per_1000: Floats
    mid_fill_per_1000: Floats
    wear: WearRates


def keep_ledger(fleet: FleetInput, axis: Floats, event_axis: Floats, fills: Fills,
                readings: Readings, doubted: NDArray[np.bool_]) -> Ledger:
    """Work out every interval of the fleet.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    axis, event_axis : array, shapes (n,) and (n_events,) [use]
        Places on the use axis.
    fills : Fills [-]
        Oil fills.
    readings : Readings [-]
        Bounds, uncertainties, fresh oil.
    doubted : array of bool, shape (n,) [-]
        Samples that must not serve as the start of an interval.

    Returns
    -------
    Ledger [-]
        Arrays of shape (n,) and (n, n_measurands).
    """
    first = first_of_engine(fleet.engine_of)
    before = previous_row(first, readings.has_result & ~fleet.samples.awaited & ~doubted)
    same = (before >= 0) & (fills.number == fills.number[before])
    residue = residue_share(fleet, before)
    fill_start = after_change(fleet, fills, readings, before, residue)
    start = interval_start(readings, before, same, fill_start, columns=len(WORN))
    use = np.where(same, axis - axis[before], fills.use)
    use = np.where(use > 0, use, np.nan)
    masses = _masses(fleet, fills, before, same, use, residue, event_axis, axis)
    wear = _wear_of_metals(masses, start, readings)
    begin = fill_start.value
    since = np.where(fills.use > 0, fills.use, np.nan)[:, None]
    plain = per_thousand(readings.value, begin, since)
    mid = np.full_like(plain, np.nan)
    # Only fills with two trusted samples or more have a difference, and most have one.
    paired = same & readings.has_result & ~fleet.samples.awaited & ~doubted
    paired[before[paired]] = True
    mid[paired] = mid_fill_difference(readings.value[paired], fills.use[paired],
                                      fills.number[paired])
    return Ledger(before, same, use, begin, plain, mid, wear)


def over_panel(of_worn: Floats, rows: NDArray[np.int64], columns: NDArray[np.int64]) -> Floats:
    """Look up figures of wear for some samples and places of the panel.

    Parameters
    ----------
    of_worn : array, shape (n, n_worn) [-]
        An array of :attr:`Ledger.wear`.
    rows : array of int, shape (j,) [-]
        Samples.
    columns : array of int, shape (k,) [-]
        Places in the panel.

    Returns
    -------
    array, shape (j, k) [-]
        NaN for additives and conditions, which have no wear rate.

    Examples
    --------
    >>> over_panel(np.array([[5.0] * len(WORN)]), np.array([0]), np.array([0, len(WORN)])).tolist()
    [[5.0, nan]]
    """
    found = np.full((len(rows), len(columns)), np.nan)
    worn = np.isin(columns, WORN)
    found[:, worn] = of_worn[np.ix_(rows, columns[worn])]
    return found


def _wear_of_metals(masses: IntervalMasses, start: Start, readings: Readings) -> WearRates:
    """Wear rates of what wears or is carried in; additives and conditions have none."""
    return wear_rates(masses, IntervalReadings(
        start=start.value, start_uncertainty=start.uncertainty,
        end=_worn(readings.value), end_uncertainty=_worn(readings.uncertainty),
        fresh=np.nan_to_num(_worn(readings.fresh)),
        fresh_uncertainty=_worn(readings.fresh_uncertainty), start_low=start.low,
        start_high=start.high, end_low=_worn(readings.low), end_high=_worn(readings.high)))


def _worn(array: Floats) -> Floats:
    return array[:, :len(WORN)]


def _masses(fleet: FleetInput, fills: Fills, before: NDArray[np.int64], same: NDArray[np.bool_],
            use: Floats, residue: Floats, event_axis: Floats, axis: Floats) -> IntervalMasses:
    settings, samples = fleet.settings, fleet.samples
    density = fleet.engines.density_kg_l[fleet.engine_of]
    full = fleet.engines.oil_fill_l[fleet.engine_of] * density
    loose = settings.fill_level_half_range * full
    span = settings.level_span_share * full
    level = samples.level_at_sampling
    at_max = level == LEVELS_AT_SAMPLING.index("max")
    at_min = level == LEVELS_AT_SAMPLING.index("min")
    down = np.where(at_max, 0.0, np.where(at_min, span, span / 2))
    end = full - down
    end_half = loose + np.where(at_max | at_min, 0.0, span / 2)
    start = np.where(same, end[before] - _SAMPLE_L * density, full)
    start_half = np.where(same, end_half[before], loose)
    added, half, dated, place = _top_ups(fleet, before, same, density, span, event_axis, axis, use)
    return IntervalMasses(
        use=use, start_mass=start, start_mass_half=start_half, end_mass=end,
        end_mass_half=end_half, added_mass=added, added_mass_half=half,
        liquid_share=settings.liquid_share, liquid_share_half=settings.liquid_share_half_range,
        fresh_in_start=np.where(same, 0.0, 1 - residue), top_up_mass=dated, top_up_position=place)


def _top_ups(fleet: FleetInput, before: NDArray[np.int64], same: NDArray[np.bool_],
             density: Floats, span: Floats, event_axis: Floats, axis: Floats, use: Floats
             ) -> tuple[Floats, Floats, Floats | None, Floats | None]:
    """Fresh oil of each interval: noted with the sample, else recorded events, else a range."""
    noted = fleet.samples.top_up_l * density
    earlier = np.where(same, noted[before], 0.0)
    added = noted - earlier
    known = np.isfinite(added) & (added >= 0)
    dated, place, recorded = _recorded(fleet, same, before, density, event_axis, axis, use, ~known)
    unknown = ~known & ~recorded
    added = np.where(known, added, np.where(unknown, span / 2, 0.0))
    return added, np.where(unknown, span / 2, 0.0), dated, place


def _recorded(fleet: FleetInput, same: NDArray[np.bool_], before: NDArray[np.int64],
              density: Floats, event_axis: Floats, axis: Floats, use: Floats,
              open_rows: NDArray[np.bool_]
              ) -> tuple[Floats | None, Floats | None, NDArray[np.bool_]]:
    """Lay top-up events into the intervals that have no amount noted with the sample."""
    events = fleet.events
    recorded = np.zeros(len(axis), dtype=bool)
    chosen = np.flatnonzero((events.kind == "top_up") & np.isfinite(event_axis)
                            & np.isfinite(events.litres))
    found: dict[int, list[tuple[float, float]]] = {}
    begin = axis - use
    # A loop over recorded top-ups: each belongs to at most one interval.
    for number in chosen:
        low, high = np.searchsorted(fleet.engine_of, [events.engine[number],
                                                      events.engine[number] + 1])
        here = np.flatnonzero((begin[low:high] <= event_axis[number])
                              & (event_axis[number] <= axis[low:high]) & open_rows[low:high])
        if len(here):
            row = int(low + here[0])
            share = (event_axis[number] - begin[row]) / use[row]
            found.setdefault(row, []).append((events.litres[number] * density[row], float(share)))
            recorded[row] = True
    if not found:
        return None, None, recorded
    width = max(len(entries) for entries in found.values())
    mass, place = np.full((2, len(axis), width), np.nan)
    for row, entries in found.items():
        for column, (amount, share) in enumerate(entries):
            mass[row, column], place[row, column] = amount, min(max(share, 0.0), 1.0)
    return mass, place, recorded
