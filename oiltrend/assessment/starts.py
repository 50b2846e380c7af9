"""What the oil held at the start of each interval: the sample before, or what a change left."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.fills import Fills
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.readings import Readings

__all__ = ["Start", "after_change", "interval_start", "residue_share"]

Floats = NDArray[np.float64]

_UNSAMPLED_DRAIN_SHARE = 0.5  # half range of a drained concentration that nobody sampled; assumed
# So many rows that the figures of one block stay in a processor's cache.
_BLOCK_ROWS = 2_000


class Start(NamedTuple):
    """Concentration at the start of each interval, and its bounds where it has no value.

    Arrays of shape (n_samples, n_measurands) [mg/kg].
    """

    value: Floats
    uncertainty: Floats
    low: Floats
    high: Floats


def residue_share(fleet: FleetInput, before: NDArray[np.int64]) -> Floats:
    """Find the share of old oil after a change: the family's, or from the amount refilled.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    before : array of int, shape (n,) [-]
        Row of the undoubted sample before each sample, or -1.

    Returns
    -------
    array, shape (n,) [-]
        Share by mass, 0 to 1.
    """
    share = fleet.engines.residue_fraction[fleet.engine_of]
    refill = np.where(before >= 0, fleet.samples.refill_l[before], np.nan)
    total = fleet.engines.oil_fill_l[fleet.engine_of]
    with np.errstate(invalid="ignore"):
        from_refill = 1.0 - refill / total
    # A refill that leaves less than nothing behind contradicts the fill; the family's share
    # then stands.
    usable = np.isfinite(from_refill) & (from_refill >= 0.0) & (from_refill <= 0.6)
    return np.where(usable, from_refill, share)


def after_change(fleet: FleetInput, fills: Fills, readings: Readings, before: NDArray[np.int64],
                 residue: Floats) -> Start:
    """Work out the concentration right after the change that began each sample's fill.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    fills : Fills [-]
        Oil fills.
    readings : Readings [-]
        Bounds, uncertainties, fresh oil.
    before : array of int, shape (n,) [-]
        Row of the undoubted sample before each sample, or -1.
    residue : array, shape (n,) [-]
        Share of old oil after a change.

    Returns
    -------
    Start [-]
        Known for every measurand that was ever measured.
    """
    rows = len(fills.number)
    # All samples of one fill share the start of its first row.
    begin = np.maximum.accumulate(np.where(fills.begins, np.arange(rows), 0))
    # Most of the panel is never measured: only the columns that are, are worked out.
    columns = np.flatnonzero(readings.measured.any(axis=0))
    value, uncertainty = np.full((2, *readings.value.shape), np.nan)
    # A loop over blocks of rows, so that no intermediate figure is as large as the fleet.
    for first in range(0, rows, _BLOCK_ROWS):
        block = np.arange(first, min(first + _BLOCK_ROWS, rows))
        cells = np.ix_(block, columns)
        drained = _drained(fills, readings, before, begin[block], columns)
        value[cells], uncertainty[cells] = _mixed(
            drained, residue[begin[block]][:, None], fleet.settings.residue_half_range,
            readings.fresh[cells], readings.fresh_uncertainty[cells])
    return Start(value, uncertainty, value, value)


def _drained(fills: Fills, readings: Readings, before: NDArray[np.int64],
             begin: NDArray[np.int64], columns: NDArray[np.int64]
             ) -> tuple[Floats, Floats, Floats]:
    """Give bounds and test uncertainty of the oil that was drained when a fill began."""
    last = before[begin]
    sampled = (last >= 0)[:, None]
    known_drain = sampled & fills.drained_at_previous[begin][:, None]
    cells = np.ix_(last, columns)
    bounds = readings.low[cells], readings.high[cells]
    # Where the drained oil was not sampled: near the sample before, else near this fill's own.
    guess = np.where(sampled, np.fmax(bounds[0], 0.0), np.nan)
    guess = np.where(np.isnan(guess), np.fmax(readings.value[np.ix_(begin, columns)], 0.0), guess)
    guess = np.nan_to_num(guess)
    spread = np.where(sampled, _UNSAMPLED_DRAIN_SHARE, 1.0) * guess
    return (np.where(known_drain & np.isfinite(bounds[0]), bounds[0], guess - spread),
            np.where(known_drain & np.isfinite(bounds[1]), bounds[1], guess + spread),
            known_drain * readings.uncertainty[cells])


def _mixed(drained: tuple[Floats, Floats, Floats], share: Floats, half_range: float,
           fresh: Floats, fresh_uncertainty: Floats) -> tuple[Floats, Floats]:
    """Mix the old oil that stayed with the fresh: concentration and standard uncertainty."""
    low, high, tested = drained
    half, middle = np.minimum(half_range, share), (low + high) / 2
    variance = ((half * (middle - fresh)) ** 2 / 3 + (share * (high - low)) ** 2 / 12
                + (share * tested) ** 2 + ((1 - share) * fresh_uncertainty) ** 2)
    return share * middle + (1 - share) * fresh, np.sqrt(variance)


def interval_start(readings: Readings, before: NDArray[np.int64], same: NDArray[np.bool_],
                   fill_start: Start, *, columns: int) -> Start:
    """Choose between the sample before on the same fill and what the change left.

    Parameters
    ----------
    readings : Readings [-]
        Bounds and uncertainties.
    before : array of int, shape (n,) [-]
        Row of the undoubted sample before each sample, or -1.
    same : array of bool, shape (n,) [-]
        Whether that one is on the same fill.
    fill_start : Start [-]
        What the change left.
    columns : int [-]
        How many columns of the panel are wanted, from the first.

    Returns
    -------
    Start [-]
        Arrays of shape (n, columns).
    """
    chosen = same[:, None]
    broken = same & (readings.series != readings.series[before])
    # Another laboratory or method on one fill: the pair carries R instead of the site's share.
    bridge = np.where(broken, 1 / 0.6, 1.0)[:, None]

    def earlier(array: Floats) -> Floats:
        return array[:, :columns][before]

    value, uncertainty, low, high = (part[:, :columns] for part in fill_start)
    return Start(np.where(chosen, earlier(readings.value), value),
                 np.where(chosen, earlier(readings.uncertainty) * bridge, uncertainty),
                 np.where(chosen, earlier(readings.low), low),
                 np.where(chosen, earlier(readings.high), high))
