"""Metal since each shell went in: the sum over all intervals, gaps filled and said so.

Sum first, split afterwards: a split of one interval is pushed up by its own noise, because no
source can be below zero, and a sum of many such splits keeps that push. The sum of the
elements has no such push, so it is the sum that should be split.

Stretches without a sample take the mean rate of the sampled intervals on either side, or of
the one side there is. What was filled in that way is told apart in the result.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import Floats

__all__ = ["Intervals", "MassSince", "mass_since"]

Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Intervals:
    """Wear rates of n intervals and m elements, sorted by engine, then by use.

    A rate without a value but with bounds counts by its interval; one with neither is a gap.

    Parameters
    ----------
    engine : array of int, shape (n,) [-]
        Engine of each interval, from 0.
    start, end : array, shape (n,) [use]
        Where each interval begins and ends on the engine's meter. Where one begins before
        the end of the one before it, the stretch that both cover counts with the earlier.
    rate : array, shape (n, m) [mg/(1000 use)]
        Wear rates.
    uncertainty : array, shape (n, m) [mg/(1000 use)]
        Standard uncertainties, taken as independent between intervals.
    low, high : array, shape (n, m), or None [mg/(1000 use)]
        Bounds of rates without a value.

    Raises
    ------
    ValueRefused
        When shapes do not fit, or rows are not in order.
    """

    engine: NDArray[np.integer]
    start: Floats
    end: Floats
    rate: Floats
    uncertainty: Floats
    low: Floats | None = None
    high: Floats | None = None

    def __post_init__(self) -> None:
        rows = self.rate.shape[:1]
        for name in ("engine", "start", "end"):
            if getattr(self, name).shape != rows:
                raise ValueRefused(f"{name}: must have one number per row, {rows[0]} rows, "
                                   f"found shape {getattr(self, name).shape}",
                                   hint="give an array of shape (n,)")
        for name in ("uncertainty", "low", "high"):
            array = getattr(self, name)
            if array is not None and array.shape != self.rate.shape:
                raise ValueRefused(f"{name}: must have the shape of rate {self.rate.shape}, "
                                   f"found {array.shape}",
                                   hint="give one number per row and element")
        if (self.low is None) != (self.high is None):
            raise ValueRefused("low and high: must be given together, found one alone",
                               hint="give both bounds or neither")
        same = np.diff(self.engine) == 0
        back = (np.diff(self.engine) < 0) | (same & (np.diff(self.end) < 0.0))
        if back.any():
            row = int(np.flatnonzero(back)[0]) + 1
            raise ValueRefused("intervals: must be sorted by engine, then by use, "
                               f"found row {row} before row {row - 1}", hint="sort the rows")


class MassSince(NamedTuple):
    """Metal since each fitting: e engines, g fittings each, m elements.

    Parameters
    ----------
    value : array, shape (e, g, m) [mg]
        Mass; NaN where part of it is only known by bounds.
    uncertainty : array, shape (e, g, m) [mg]
        Standard uncertainty from the readings; the filled part counts at its own rate here.
    low, high : array, shape (e, g, m) [mg]
        Bounds, without the uncertainty; both equal the value where there is one.
    filled_share : array, shape (e, g, m) [-]
        Share of the mass that was filled in.
    filled_use : array, shape (e, g, m) [use]
        Use without a reading.
    unsampled_start : array, shape (e, g) [use]
        Use from the fitting to the first interval with a reading.
    """

    value: Floats
    uncertainty: Floats
    low: Floats
    high: Floats
    filled_share: Floats
    filled_use: Floats
    unsampled_start: Floats


class _Rows(NamedTuple):
    """What is known of every interval, cell by cell, and where engines begin and end."""

    exact: Bools
    usable: Bools
    middle: Floats
    low: Floats
    high: Floats
    first: Bools
    last: Bools


def _neighbours(usable: Bools, first: Bools, last: Bools) -> tuple[Indices, Indices]:
    """Find, per cell, the nearest usable row before it and from it on, −1 where none."""
    rows = np.arange(len(usable))[:, None]
    start = np.maximum.accumulate(np.where(first, np.arange(len(usable)), 0))[:, None]
    found = np.maximum.accumulate(np.where(usable, rows, -1), axis=0)
    earlier = np.vstack([np.full((1, usable.shape[1]), -1), found[:-1]])
    beyond = len(usable)
    later = np.minimum.accumulate(np.where(usable, rows, beyond)[::-1], axis=0)[::-1]
    stop = np.minimum.accumulate(np.where(last, np.arange(beyond), beyond)[::-1])[::-1][:, None]
    return np.where(earlier >= start, earlier, -1), np.where(later <= stop, later, -1)


def _rows(intervals: Intervals) -> _Rows:
    rate, known = intervals.rate, np.isfinite(intervals.uncertainty)
    exact = known & np.isfinite(rate)
    nothing = np.full(rate.shape, np.nan)
    low = nothing if intervals.low is None else intervals.low
    high = nothing if intervals.high is None else intervals.high
    usable = exact | (known & np.isfinite(low) & ~np.isnan(high))
    middle = np.where(exact, rate, np.where(np.isfinite(high), (low + high) / 2.0, low))
    change = np.diff(intervals.engine) != 0
    first, last = np.r_[True, change], np.r_[change, True]
    return _Rows(exact, usable, np.where(usable, middle, 0.0), np.where(exact, rate, low),
                 np.where(exact, rate, high), first, last)


def _spread_gap(weight: Floats, gap: Floats, earlier: Indices, later: Indices) -> Floats:
    """Add the use of gaps to the rows that fill them, half to either side; give what found one."""
    both = (earlier >= 0) & (later >= 0)
    filled = np.zeros(weight.shape)
    column = np.broadcast_to(np.arange(weight.shape[1]), earlier.shape)
    for side in (earlier, later):
        there = (side >= 0) & (gap > 0.0)
        np.add.at(filled, (side[there], column[there]), np.where(both, gap / 2.0, gap)[there])
    weight += filled
    return filled


def mass_since(intervals: Intervals, fitted: Floats, until: Floats) -> MassSince:
    """Sum the metal that came into the oil since shells went in.

    Equation: ``M = Σ_i W_i (x_i + g_i)/1000``, x the use of interval i after the fitting, g the
    use of gaps that interval i fills; ``u² = Σ_i u_i² (x_i + g_i)²/10⁶``.

    Parameters
    ----------
    intervals : Intervals [-]
        Wear rates.
    fitted : array, shape (e, g) [use]
        Meter at each fitting: one column per time at which shells went in, not per half; NaN
        where there are fewer.
    until : array, shape (e,) [use]
        Meter up to which to sum.

    Returns
    -------
    MassSince [-]
        Masses; NaN for an element without a single reading since the fitting.

    Raises
    ------
    ValueRefused
        When shapes do not fit, or an interval's engine is not there.

    Examples
    --------
    >>> rows = Intervals(np.array([0, 0]), np.array([10e3, 30e3]), np.array([20e3, 40e3]),
    ...                  np.array([[2.0], [4.0]]), np.array([[0.5], [0.5]]))
    >>> mass = mass_since(rows, np.array([[0.0, 15e3]]), np.array([40e3]))
    >>> mass.value[0, :, 0].tolist(), mass.filled_use[0, :, 0].tolist()
    ([110.0, 80.0], [20000.0, 10000.0])
    """
    engines, elements = len(fitted), intervals.rate.shape[1]
    if until.shape != (engines,):
        raise ValueRefused(f"until: must have one number per engine, {engines} engines, "
                           f"found shape {until.shape}", hint="give an array of shape (e,)")
    outside = (intervals.engine < 0) | (intervals.engine >= engines)
    if outside.any():
        raise ValueRefused(f"engine: must be 0 to {engines - 1}, "
                           f"found {intervals.engine[outside][0]}",
                           hint="number the engines as the rows of fitted")
    shape = (engines, fitted.shape[1], elements)
    value, uncertainty, low, high, share, use = np.full((6, *shape), np.nan)
    result = MassSince(value, uncertainty, low, high, share, use, np.full(shape[:2], np.nan))
    if len(intervals.engine):
        rows = _rows(intervals)
        # A loop over fittings: an engine has few.
        for fitting in range(fitted.shape[1]):
            _sum_fitting(result, intervals, rows, fitted[:, fitting], until, fitting)
    return result


def _overlap(start: Floats, end: Floats, low: Floats, high: Floats) -> Floats:
    shared: Floats = np.maximum(np.minimum(end, high) - np.maximum(start, low), 0.0)
    return shared


def _sum_fitting(result: MassSince, intervals: Intervals, rows: _Rows, fitted: Floats,
                 until: Floats, fitting: int) -> None:
    """Sum from one fitting on, for all engines."""
    engine = intervals.engine
    low, high = fitted[engine], until[engine]
    before = np.where(rows.first, -np.inf, np.r_[np.nan, intervals.end[:-1]])
    start = np.maximum(intervals.start, before)
    own = _overlap(start, intervals.end, low, high)
    gap = _overlap(before, start, low, high)
    tail = _overlap(intervals.end, np.full(len(engine), np.inf), low, high) * rows.last
    # What the shells before gave says nothing of these, so it fills no gap of theirs.
    usable = rows.usable & (own > 0.0)[:, None]
    earlier, later = _neighbours(usable, rows.first, rows.last)
    weight = np.where(usable, own[:, None], 0.0)
    # The gap before a row, and the row itself where it says nothing of an element.
    filled = _spread_gap(weight, np.where(usable, 0.0, own[:, None]) + gap[:, None], earlier, later)
    at_end = np.where(usable, np.arange(len(engine))[:, None], earlier)
    filled += _spread_gap(weight, np.broadcast_to(tail[:, None], weight.shape), at_end,
                          np.full(at_end.shape, -1))
    starts = np.flatnonzero(rows.first)
    here = engine[starts]

    def total(part: Floats) -> Floats:
        summed: Floats = np.add.reduceat(part, starts, axis=0)
        return summed

    with np.errstate(invalid="ignore"):
        used = weight > 0.0
        ends = [total(np.where(used, weight * bound, 0.0)) / 1e3
                for bound in (rows.low, rows.high)]
        middle = total(weight * rows.middle) / 1e3
        known = total((used & ~rows.exact).astype(float)) == 0.0
        some = total(usable.astype(float)) > 0.0
        some &= np.isfinite(fitted[here] + until[here])[:, None]
        by_use = total(filled) / np.where(total(weight) > 0.0, total(weight), 1.0)
        by_mass = total(filled * rows.middle) / 1e3 / np.where(middle > 0.0, middle, np.nan)
        share = np.where((by_mass >= 0.0) & (by_mass <= 1.0), by_mass, by_use)
        spread = np.sqrt(total(np.where(used, weight * intervals.uncertainty, 0.0) ** 2)) / 1e3
    for array, part in (
            (result.value, np.where(known, ends[0], np.nan)), (result.uncertainty, spread),
            (result.low, ends[0]), (result.high, ends[1]), (result.filled_share, share),
            (result.filled_use, total(filled))):
        array[here, fitting] = np.where(some, part, np.nan)
    begins = np.minimum.reduceat(np.where(usable.any(axis=1), start, np.inf), starts)
    result.unsampled_start[here, fitting] = np.where(
        np.isfinite(begins), np.maximum(begins - fitted[here], 0.0), np.nan)
