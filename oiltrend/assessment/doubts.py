"""Doubts: is this sample what it says? A doubt never lowers a level.

Each rule marks samples; a marked sample is stored, drawn hollow, left out of trends until
someone confirms it, and says why. The thresholds are ours unless a source is named.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.axis import first_of_engine, previous_row
from oiltrend.assessment.fills import Fills
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.readings import Readings
from oiltrend.nomenclature import PANEL_INDEX, WEAR_METALS, measurands_of

__all__ = ["DOUBT_CODES", "find_doubts"]

DOUBT_CODES = ("metals_fell_together", "metals_rose_together", "additives_differ", "other_oil",
               "meter_backwards", "oil_distance_too_long", "identical_results")

Marks = NDArray[np.bool_]

_METALS = [PANEL_INDEX[s] for s in WEAR_METALS]
_ADDITIVES = [PANEL_INDEX[s] for s in measurands_of("additive")]
_KV100 = PANEL_INDEX["KV100"]
_COVERAGE = 1.96
_ABLE_TO_FALL_PPM = 3.0
_ROSE_FACTOR = 3.0
_ADDITIVE_SHARE = 0.4
_ADDITIVE_LEAST_PPM = 50.0
_VISCOSITY_SHARE = 0.2
_PASSES = 6


def find_doubts(fleet: FleetInput, axis: NDArray[np.float64], fills: Fills,
                readings: Readings) -> NDArray[np.bool_]:
    """Mark the samples that may not be what they say.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    axis : array, shape (n,) [use]
        Place of each sample on the use axis.
    fills : Fills [-]
        Oil fills.
    readings : Readings [-]
        Bounds and uncertainties.

    Returns
    -------
    array of bool, shape (n, n_codes) [-]
        One column per entry of :data:`DOUBT_CODES`.
    """
    first = first_of_engine(fleet.engine_of)
    marks = np.zeros((len(axis), len(DOUBT_CODES)), dtype=bool)
    column = {code: marks[:, index] for index, code in enumerate(DOUBT_CODES)}
    usable = readings.has_result & ~fleet.samples.awaited
    column["meter_backwards"][:] = _backwards(axis, first)
    column["oil_distance_too_long"][:] = fills.too_long & usable
    before = previous_row(first, usable)
    column["identical_results"][:] = _identical(readings, before) & usable
    differ, other = _another_oil(readings, fills, before)
    column["additives_differ"][:] = differ & usable
    column["other_oil"][:] = other & usable
    cleared = fleet.answered == "confirmed"
    # Each pass compares with the last sample that is not itself marked, so that one wrong
    # bottle does not drag its neighbours along.
    fell = column["metals_fell_together"]
    for _ in range(_PASSES):
        before = previous_row(first, usable & (~fell | cleared))
        found = _fell(readings, fills, before, fleet.settings.level_span_share) & usable
        if not (found & ~fell).any():
            break
        fell |= found
    before = previous_row(first, usable & (~fell | cleared))
    column["metals_rose_together"][:] = _rose(readings, fills, before) & usable & ~fell
    return marks


def _pairs(fills: Fills, before: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Rows whose predecessor is on the same oil fill."""
    same: Marks = (before >= 0) & (fills.number == fills.number[before])
    return same


def _fell(readings: Readings, fills: Fills, before: NDArray[np.int64], span: float
          ) -> NDArray[np.bool_]:
    """All wear metals that could fall fell, beyond what a top-up of the dipstick span explains."""
    same = _pairs(fills, before)
    high, low = readings.high[:, _METALS], readings.low[:, _METALS]
    u = readings.uncertainty[:, _METALS]
    spread = _COVERAGE * np.hypot(u, u[before])
    earlier = low[before]
    able = (earlier >= _ABLE_TO_FALL_PPM) & readings.measured[:, _METALS]
    fell = able & (high < earlier * (1 - span) - spread)
    rose = low > readings.high[before][:, _METALS] + spread
    enough = able.sum(axis=1) >= 2
    marked: Marks = same & enough & (fell.sum(axis=1) == able.sum(axis=1)) & ~rose.any(axis=1)
    return marked


def _rose(readings: Readings, fills: Fills, before: NDArray[np.int64]) -> NDArray[np.bool_]:
    """At least five wear metals, iron and aluminium among them, jumped by one factor."""
    same = _pairs(fills, before) & (fills.use > fills.use[before]) & (fills.use[before] > 0)
    value, u = readings.value[:, _METALS], readings.uncertainty[:, _METALS]
    earlier = value[before]
    with np.errstate(invalid="ignore", divide="ignore"):
        expected = earlier * (fills.use / fills.use[before])[:, None]
        jumped = value > _ROSE_FACTOR * expected + _COVERAGE * np.hypot(u, u[before])
    compared = np.isfinite(value) & np.isfinite(earlier) & (earlier > 0)
    core = [WEAR_METALS.index("Fe"), WEAR_METALS.index("Al")]
    all_jumped = (jumped & compared).sum(axis=1) == compared.sum(axis=1)
    marked: Marks = same & (compared.sum(axis=1) >= 5) & all_jumped & jumped[:, core].all(axis=1)
    return marked


def _another_oil(readings: Readings, fills: Fills, before: NDArray[np.int64]
                 ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Additives unlike the product (or the sample before on this fill); and viscosity as well."""
    same = _pairs(fills, before)
    chosen = [*_ADDITIVES, _KV100]
    fresh = readings.fresh[:, chosen]
    reference = np.where(np.isnan(fresh), np.where(same[:, None], readings.value[before][:, chosen],
                                                   np.nan), fresh)
    value = readings.value[:, chosen]
    larger = np.fmax(value, reference)
    with np.errstate(invalid="ignore", divide="ignore"):
        gap = np.abs(value - reference) / larger
    off = (gap[:, :-1] > _ADDITIVE_SHARE) & (larger[:, :-1] >= _ADDITIVE_LEAST_PPM)
    additives = off.sum(axis=1) >= 3
    viscosity = gap[:, -1] > _VISCOSITY_SHARE
    return additives & ~viscosity, additives & viscosity


def _identical(readings: Readings, before: NDArray[np.int64]) -> NDArray[np.bool_]:
    """At least six results, none of them zero, repeat the sample before to the digit."""
    value = readings.value
    earlier = value[before]
    compared = np.isfinite(value) & np.isfinite(earlier) & (value != 0)
    equal = compared & (value == earlier)
    marked: Marks = (before >= 0) & (equal.sum(axis=1) >= 6) & (
        equal.sum(axis=1) == compared.sum(axis=1))
    return marked


def _backwards(axis: NDArray[np.float64], first: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark a reading above the next two that follow as too high; else the lower one."""
    rows = len(axis)
    if rows == 0:
        return np.zeros(0, dtype=bool)
    following = np.append(axis[1:], np.nan)
    second = np.append(axis[2:], [np.nan, np.nan])[:rows]
    last = np.append(first[1:], True)
    second_same = ~last & ~np.append(last[1:], True)
    too_high = ~last & second_same & (axis > following) & (axis > second)
    earlier = np.concatenate(([np.nan], axis[:-1]))
    blamed = np.concatenate(([False], too_high[:-1]))
    too_low = ~first & ~blamed & (axis < earlier)
    marked: Marks = too_high | too_low
    return marked
