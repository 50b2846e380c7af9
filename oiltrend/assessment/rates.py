"""From samples to intervals, and from intervals to wear rates: the ledger of the whole fleet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.axis import first_of_engine, previous_row
from oiltrend.assessment.fills import Fills
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.readings import Readings
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
_UNSAMPLED_DRAIN_SHARE = 0.5  # half range of a drained concentration that nobody sampled; assumed


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


class _Start(NamedTuple):
    """Concentration at the start of each interval; the middle of its bounds if below limit."""

    value: Floats
    uncertainty: Floats
    low: Floats
    high: Floats


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
    residue = _residue_share(fleet, before)
    fill_start = _after_change(fleet, fills, readings, before, residue)
    start = _interval_start(readings, before, same, fill_start)
    use = np.where(same, axis - axis[before], fills.use)
    use = np.where(use > 0, use, np.nan)
    masses = _masses(fleet, fills, before, same, use, residue, event_axis, axis)
    wear = _wear_of_metals(masses, start, readings)
    begin = fill_start.value
    since = np.where(fills.use > 0, fills.use, np.nan)[:, None]
    plain = per_thousand(readings.value, begin, since)
    trusted = readings.has_result & ~fleet.samples.awaited & ~doubted
    mid = np.full_like(plain, np.nan)
    mid[trusted] = mid_fill_difference(readings.value[trusted], fills.use[trusted],
                                       fills.number[trusted])
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


def _wear_of_metals(masses: IntervalMasses, start: _Start, readings: Readings) -> WearRates:
    """Wear rates of what wears or is carried in; additives and conditions have none."""
    def some(array: Floats) -> Floats:
        return array[:, :len(WORN)]

    return wear_rates(masses, IntervalReadings(
        start=some(start.value), start_uncertainty=some(start.uncertainty),
        end=some(readings.value), end_uncertainty=some(readings.uncertainty),
        fresh=some(np.nan_to_num(readings.fresh)),
        fresh_uncertainty=some(readings.fresh_uncertainty), start_low=some(start.low),
        start_high=some(start.high), end_low=some(readings.low), end_high=some(readings.high)))


def _residue_share(fleet: FleetInput, before: NDArray[np.int64]) -> Floats:
    """Share of old oil after the change: the family's, or from the amount refilled."""
    share = fleet.engines.residue_fraction[fleet.engine_of]
    refill = np.where(before >= 0, fleet.samples.refill_l[before], np.nan)
    total = fleet.engines.oil_fill_l[fleet.engine_of]
    with np.errstate(invalid="ignore"):
        from_refill = 1.0 - refill / total
    # A refill that leaves less than nothing behind contradicts the fill; the family's share
    # then stands.
    usable = np.isfinite(from_refill) & (from_refill >= 0.0) & (from_refill <= 0.6)
    return np.where(usable, from_refill, share)


def _after_change(fleet: FleetInput, fills: Fills, readings: Readings, before: NDArray[np.int64],
                  residue: Floats) -> _Start:
    """Concentration right after the change that began each sample's fill.

    All samples of one fill share the start of its first row, so that it is worked out there.
    """
    rows = len(fills.number)
    begin = np.maximum.accumulate(np.where(fills.begins, np.arange(rows), 0))
    last = before[begin]
    sampled = (last >= 0)[:, None]
    known_drain = sampled & fills.drained_at_previous[begin][:, None]
    # Most of the panel is never measured: only the columns that are, are worked out.
    columns = np.flatnonzero(readings.measured.any(axis=0))
    drained, own = np.ix_(last, columns), np.ix_(begin, columns)
    bounds = readings.low[drained], readings.high[drained]
    # Where the drained oil was not sampled: near the sample before, else near this fill's own.
    guess = np.where(sampled, np.fmax(bounds[0], 0.0), np.nan)
    guess = np.where(np.isnan(guess), np.fmax(readings.value[own], 0.0), guess)
    guess = np.nan_to_num(guess)
    spread = np.where(sampled, _UNSAMPLED_DRAIN_SHARE, 1.0) * guess
    low = np.where(known_drain & np.isfinite(bounds[0]), bounds[0], guess - spread)
    high = np.where(known_drain & np.isfinite(bounds[1]), bounds[1], guess + spread)
    share = residue[begin][:, None]
    half = np.minimum(fleet.settings.residue_half_range, share)
    fresh, middle = readings.fresh[:, columns], (low + high) / 2
    variance = ((half * (middle - fresh)) ** 2 / 3 + (share * (high - low)) ** 2 / 12
                + known_drain * (share * readings.uncertainty[drained]) ** 2
                + ((1 - share) * readings.fresh_uncertainty[:, columns]) ** 2)
    value, uncertainty = np.full((2, *readings.value.shape), np.nan)
    value[:, columns] = share * middle + (1 - share) * fresh
    uncertainty[:, columns] = np.sqrt(variance)
    return _Start(value, uncertainty, value, value)


def _interval_start(readings: Readings, before: NDArray[np.int64], same: NDArray[np.bool_],
                    fill_start: _Start) -> _Start:
    chosen = same[:, None]
    broken = same & (readings.series != readings.series[before])
    # Another laboratory or method on one fill: the pair carries R instead of the site's share.
    bridge = np.where(broken, 1 / 0.6, 1.0)[:, None]
    return _Start(np.where(chosen, readings.value[before], fill_start.value),
                  np.where(chosen, readings.uncertainty[before] * bridge, fill_start.uncertainty),
                  np.where(chosen, readings.low[before], fill_start.low),
                  np.where(chosen, readings.high[before], fill_start.high))


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
