"""The use axis: one rising count of km (or h) per engine, over swapped meters and cars."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import EventTable, FleetInput

__all__ = ["first_of_engine", "previous_row", "use_axis"]

_OFFSET_KINDS = ("meter_replaced", "engine_fitted", "engine_removed")


def first_of_engine(engine_of: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark the first sample of every engine in a table sorted by engine.

    Parameters
    ----------
    engine_of : array, shape (n,) [-]
        Engine row of each sample.

    Returns
    -------
    array of bool, shape (n,) [-]
        True where a new engine begins.

    Examples
    --------
    >>> first_of_engine(np.array([0, 0, 2])).tolist()
    [True, False, True]
    """
    first = np.ones(len(engine_of), dtype=bool)
    first[1:] = engine_of[1:] != engine_of[:-1]
    return first


def previous_row(first: NDArray[np.bool_], usable: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Find for each sample the last usable one before it in the same engine, or -1.

    Parameters
    ----------
    first : array of bool, shape (n,) [-]
        First sample of each engine.
    usable : array of bool, shape (n,) [-]
        Samples that may serve as a predecessor.

    Returns
    -------
    array of int, shape (n,) [-]
        Row of the predecessor, -1 where there is none.

    Examples
    --------
    >>> previous_row(np.array([True, False, False]), np.array([True, False, True])).tolist()
    [-1, 0, 0]
    """
    rows = len(first)
    if rows == 0:
        return np.zeros(0, dtype=np.int64)
    index = np.arange(rows)
    last = np.maximum.accumulate(np.where(usable, index, -1))
    before = np.concatenate(([-1], last[:-1]))
    begin = np.maximum.accumulate(np.where(first, index, 0))
    return np.where(before >= begin, before, -1).astype(np.int64)


def use_axis(fleet: FleetInput) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give every sample and every event its place on the engine's use axis.

    A replaced meter and a stay in another car shift the reading by a constant. A sample
    without a reading is placed by its distance on the oil after the sample before it; an
    engine without any reading has its oil fills laid end to end.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.

    Returns
    -------
    tuple of array, shapes (n_samples,) and (n_events,) [use]
        Axis of samples and of events; NaN where it cannot be known.
    """
    samples, events = fleet.samples, fleet.events
    axis = samples.meter + _offsets(events, fleet.engine_of, samples.sample_date, samples.meter)
    event_axis = events.meter + _offsets(events, events.engine, events.on, events.meter,
                                         before=True)
    first = first_of_engine(fleet.engine_of)
    return _place_unread(axis, samples.oil_distance, samples.oil_changed, first), event_axis


def _offsets(events: EventTable, engine: NDArray[np.int64], on: NDArray[np.datetime64],
             meter: NDArray[np.float64], *, before: bool = False) -> NDArray[np.float64]:
    """Sum the shifts that lie before each reading. ``before``: the event itself not counted.

    A loop over the few engines whose meter or car ever changed; most have none.
    """
    offset = np.zeros(len(engine))
    moved = np.isin(events.kind, _OFFSET_KINDS)
    for row in np.unique(events.engine[moved]):
        chosen = np.flatnonzero(moved & (events.engine == row))
        chosen = chosen[np.argsort(events.on[chosen], kind="stable")]
        target = np.flatnonzero(engine == row)
        total, reached = 0.0, np.nan
        for number in chosen:
            kind, old, new = events.kind[number], events.meter[number], events.new_meter[number]
            if kind == "engine_removed":
                reached = old + total
                continue
            if kind == "meter_replaced":
                step = old - new if np.isfinite(old - new) else 0.0
            else:
                own = new if np.isfinite(new) else reached
                step = (own - old) - total if np.isfinite(own - old) else 0.0
            later = _later(on[target], meter[target], events.on[number], old, before)
            offset[target[later]] += step
            total += step
    return offset


def _later(on: NDArray[np.datetime64], meter: NDArray[np.float64], event_on: np.datetime64,
           event_meter: float, before: bool) -> NDArray[np.bool_]:
    """Which readings come after the event: by date, else by the reading itself."""
    if not np.isnat(event_on):
        known = ~np.isnat(on)
        after = on > event_on if before else on >= event_on
        return np.where(known, after, meter > event_meter)
    return meter > event_meter


def _place_unread(axis: NDArray[np.float64], oil_distance: NDArray[np.float64],
                  oil_changed: NDArray[np.int8], first: NDArray[np.bool_]
                  ) -> NDArray[np.float64]:
    if not np.isnan(axis).any():
        return axis
    before = np.concatenate(([np.nan], oil_distance[:-1]))
    changed = np.concatenate(([1], oil_changed[:-1]))
    same = ~first & (changed != 1) & (oil_distance >= before)
    step = np.where(same, oil_distance - before, oil_distance)
    total = np.cumsum(np.nan_to_num(step))
    unknown = np.cumsum(np.isnan(step))
    index = np.arange(len(axis))
    begin = np.maximum.accumulate(np.where(first, index, 0))
    known = np.maximum.accumulate(np.where(np.isfinite(axis), index, -1))
    has_base = known >= begin
    base = np.where(has_base, known, begin)
    start = np.where(has_base, axis[base], np.nan_to_num(step[begin]))
    clean = unknown == unknown[base]
    clean |= ~has_base & (unknown - unknown[begin] == 0) & np.isfinite(step[begin])
    placed = np.where(clean, start + total - total[base], np.nan)
    # Ahead of the first reading of an engine that has one, a place would be on another scale.
    counts = np.zeros(len(axis), dtype=bool)
    np.logical_or.at(counts, begin, np.isfinite(axis))
    placed = np.where(~has_base & counts[begin], np.nan, placed)
    return np.where(np.isfinite(axis), axis, placed)
