"""Oil fills: which samples share one, where it began, and what was drained before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.axis import first_of_engine
from oiltrend.assessment.inputs import FleetInput

__all__ = ["Fills", "find_fills"]

# Two readings of one change may differ by this much before they are called different: a
# rounded form against an exact odometer. Ours.
_TOLERANCE_SHARE = 0.05
_TOLERANCE_KM = 100.0
_TOLERANCE_H = 3.0


@dataclass(frozen=True, slots=True)
class Fills:
    """Per sample: the number of its fill, the use since the fill began, and how it began.

    ``drained_at_previous``: the previous row of the engine was drawn as the old oil was
    drained, so its result is that of the drained oil. ``too_long``: the distance on the oil
    as written is longer than the distance since the last change.
    """

    number: NDArray[np.int64]
    use: NDArray[np.float64]
    begins: NDArray[np.bool_]
    drained_at_previous: NDArray[np.bool_]
    too_long: NDArray[np.bool_]


def find_fills(fleet: FleetInput, axis: NDArray[np.float64],
               event_axis: NDArray[np.float64]) -> Fills:
    """Tell the oil fills of the fleet apart.

    A fill begins where the sample before was drawn at the drain, where an oil change was
    recorded in between, or where the distance on the oil says so.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    axis, event_axis : array, shapes (n_samples,) and (n_events,) [use]
        Places on the use axis.

    Returns
    -------
    Fills [-]
        One entry per sample.
    """
    samples = fleet.samples
    first = first_of_engine(fleet.engine_of)
    on_oil = samples.oil_distance
    hours = samples.meter_unit == 1
    least = np.where(hours, _TOLERANCE_H, _TOLERANCE_KM)
    gap = np.full(len(axis), np.nan)
    gap[1:] = axis[1:] - axis[:-1]
    gap[first] = np.nan
    tolerance = np.fmax(least, _TOLERANCE_SHARE * np.nan_to_num(on_oil))
    before = np.concatenate(([np.nan], on_oil[:-1]))
    drained = np.concatenate(([False], samples.oil_changed[:-1] == 1)) & ~first
    told_not = np.concatenate(([False], samples.oil_changed[:-1] == 0)) & ~first
    recorded = _changes_between(fleet, axis, event_axis, first)
    dropped = on_oil < before
    started_later = on_oil + tolerance < gap
    fits_previous = np.abs(on_oil - gap) <= tolerance
    # Blank "oil changed" at the sample before, and the distance on the oil counts from there.
    inferred = ~first & ~told_not & fits_previous & ~(on_oil > before + 0.5 * gap)
    begins = first | drained | recorded | dropped | started_later | inferred
    number = np.cumsum(begins)
    drained_at_previous = (drained | inferred) & ~recorded
    index = np.arange(len(axis))
    begin_row = np.maximum.accumulate(np.where(begins, index, 0))
    start = np.where(np.isfinite(on_oil), axis - on_oil, np.nan)
    previous_axis = np.concatenate(([np.nan], axis[:-1]))
    begin_axis = np.where(np.isnan(start) & drained_at_previous, previous_axis, start)
    since = axis - begin_axis[begin_row]
    use = np.where(np.isfinite(on_oil), on_oil, since)
    too_long = drained & ~recorded & (on_oil > gap + tolerance)
    return Fills(number, use, begins, drained_at_previous, too_long)


def _changes_between(fleet: FleetInput, axis: NDArray[np.float64],
                     event_axis: NDArray[np.float64], first: NDArray[np.bool_]
                     ) -> NDArray[np.bool_]:
    """Mark samples with a recorded oil change after the sample before them."""
    marked = np.zeros(len(axis), dtype=bool)
    events, samples = fleet.events, fleet.samples
    ends = np.append(np.flatnonzero(first), len(axis))
    starts_of = dict(zip(fleet.engine_of[ends[:-1]].tolist(),
                         zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True), strict=True))
    # A loop over recorded changes, of which an engine has a handful at most: most changes
    # come with a sample.
    for number in np.flatnonzero(events.kind == "oil_change"):
        low, high = starts_of.get(int(events.engine[number]), (0, 0))
        if high <= low:
            continue
        if np.isfinite(event_axis[number]):
            after = axis[low:high] > event_axis[number]
        else:
            after = samples.sample_date[low:high] > events.on[number]
        place = np.flatnonzero(after)
        if len(place):
            row = low + int(place[0])
            # The change that was drawn as a sample and entered as an event is one change.
            same = (not first[row] and samples.oil_changed[row - 1] == 1
                    and _same_moment(samples.sample_date[row - 1], axis[row - 1],
                                     events.on[number], event_axis[number]))
            marked[row] = not same
    return marked


def _same_moment(sample_on: np.datetime64, sample_axis: float, event_on: np.datetime64,
                 event_axis: float) -> bool:
    if np.isfinite(sample_axis) and np.isfinite(event_axis):
        return bool(abs(sample_axis - event_axis) <= _TOLERANCE_KM)
    return bool(not np.isnat(sample_on) and not np.isnat(event_on)
                and abs(sample_on - event_on) <= np.timedelta64(3, "D"))
