"""Is it rising: a slope that one bad value cannot move, and a rank test beside it.

Many series at once, samples unevenly spaced along the use axis. Take the rate, not the raw
concentration: the saw-tooth of oil changes is no trend.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from oiltrend.errors import ValueRefused
from oiltrend.limits.kendall import MOST_EXACT, exact_p_value, normal_p_value, score_variance
from oiltrend.limits.pairs import PairSums, sweep
from oiltrend.limits.percentiles import percentile
from oiltrend.limits.series import bounded, same_length

__all__ = ["LEAST_DETECTED", "RankTrend", "TrendState", "median_intercept", "rank_trend",
           "rank_trend_long"]

LEAST_DETECTED = 4
"""Fewer numbers than this carry no slope; with 4 no order at all is rare enough for p < 0.05."""

# Working memory: pairs of one slice (about 8 bytes each, a few copies), cells of one call.
_PAIRS_AT_ONCE = 250_000
_CELLS_AT_ONCE = 1_000_000
_ROUNDING = 1e-9


class TrendState(IntEnum):
    """Whether there is a slope.

    GIVEN; TOO_FEW values (fewer than 4); TOO_MUCH_BELOW (4 or more, but fewer than 4 with a
    number); NO_SLOPE (the samples do not lie at different places).
    """

    GIVEN = 0
    TOO_FEW = 1
    TOO_MUCH_BELOW = 2
    NO_SLOPE = 3


@dataclass(frozen=True, slots=True)
class RankTrend:
    """Slope and rank test of many series.

    Parameters
    ----------
    slope, low, high : array, shape (...) [any/use]
        Median slope and its confidence interval; NaN where the state is not GIVEN, and for the
        bounds also where there are too few pairs to bound it.
    score, variance, z : array, shape (...) [-]
        Kendall's S, its variance, and the normal score.
    p_value : array, shape (...) [-]
        Two-sided chance of such a score without any trend; counted exactly up to 10 samples
        without ties, else normal; NaN for fewer than 3 samples.
    n, n_detected : array of int, shape (...) [-]
        Samples used, and those with a number.
    state : array of TrendState codes, shape (...) [-]
        Whether there is a slope.
    """

    slope: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    score: NDArray[np.float64]
    variance: NDArray[np.float64]
    z: NDArray[np.float64]
    p_value: NDArray[np.float64]
    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]
    state: NDArray[np.int8]


def _slot(pairs: PairSums, place: NDArray[np.float64], doubled: bool) -> NDArray[np.float64]:
    """Take a break point by its place in the list in which a pair of two numbers stands twice."""
    last = pairs.slopes.shape[1]
    found = np.floor(place).astype(np.intp)
    index = np.clip((found if doubled else (found + 1) // 2) - 1, 0, last - 1)
    return np.take_along_axis(pairs.slopes, index[:, None], axis=1)[:, 0]


def _crossing(pairs: PairSums, place: NDArray[np.float64], total: NDArray[np.int64],
              doubled: bool) -> NDArray[np.float64]:
    """Interpolate the slope at which the score has fallen by ``place``."""
    bottom = np.floor(np.clip(np.nan_to_num(place), 0.0, total))
    part = place - bottom
    ends = [_slot(pairs, np.clip(bottom + step, 1, np.maximum(total, 1)), doubled)
            for step in (0, 1, 2)]
    slope = ((1.0 - part) * ends[0] + ends[1] + part * ends[2]) / 2.0
    inside = (place >= 1.0 - _ROUNDING) & (place <= total - 1.0 + _ROUNDING)
    return np.where(inside, slope, np.nan)


def _interval(pairs: PairSums, variance: NDArray[np.float64], confidence: float, doubled: bool,
              whole_ranks: bool) -> tuple[NDArray[np.float64], ...]:
    """Give slope, lower and upper bound: the score is 0 at the slope, ±C at the bounds."""
    total = pairs.total if doubled else 2 * pairs.total
    half = ndtri((1.0 + confidence) / 2.0) * np.sqrt(variance)
    start = pairs.rising.astype(float)
    lower, upper = start - half - 1.0, start + half + 1.0
    slope = _crossing(pairs, start, total, doubled)
    if not whole_ranks:
        return (slope, _crossing(pairs, lower, total, doubled),
                _crossing(pairs, upper, total, doubled))
    bounds = []
    for inward, mirrored in ((lower, False), (total - upper, True)):
        place = np.floor(np.nan_to_num(inward) + _ROUNDING)
        bound = _slot(pairs, total + 1 - place if mirrored else place, doubled)
        bounds.append(np.where((place >= 1) & ~np.isnan(variance), bound, np.nan))
    return slope, bounds[0], bounds[1]


def _slice(x: NDArray[np.float64], number: NDArray[np.float64],
           censored: NDArray[np.bool_] | None, confidence: float,
           whole_ranks: bool) -> RankTrend:
    """Work out the series of one slice, lines are series."""
    n = np.count_nonzero(~np.isnan(number), axis=1)
    detected = n if censored is None else n - np.count_nonzero(censored, axis=1)
    pairs = sweep(x.T.copy(), number.T.copy(), None if censored is None else censored.T.copy())
    sums_y, sums_x, signs_y, signs_x = pairs.variance_terms
    variance = score_variance(n, (sums_y, sums_x), (signs_y, signs_x))
    z, p_value = normal_p_value(pairs.score, variance)
    untied = (signs_y == n * (n - 1)) & (signs_x == n * (n - 1)) & (n <= MOST_EXACT)
    p_value = np.where(untied & (n > 2), exact_p_value(np.where(untied, n, 0), pairs.score),
                       p_value)
    if pairs.slopes.shape[1]:
        slope, low, high = _interval(pairs, variance, confidence, censored is not None,
                                     whole_ranks)
    else:
        slope, low, high = np.full((3, len(n)), np.nan)
    state = np.select(
        [n < LEAST_DETECTED, detected < LEAST_DETECTED, np.isnan(slope)],
        [TrendState.TOO_FEW, TrendState.TOO_MUCH_BELOW, TrendState.NO_SLOPE],
        default=TrendState.GIVEN)
    given = state == TrendState.GIVEN
    slope, low, high = (np.where(given, array, np.nan) for array in (slope, low, high))
    return RankTrend(slope, low, high, pairs.score.astype(float), variance, z, p_value, n,
                     detected, state.astype(np.int8))


def _blank(shape: tuple[int, ...]) -> dict[str, NDArray[Any]]:
    whole = {"n": np.int64, "n_detected": np.int64, "state": np.int8}
    return {field.name: np.full(shape, 0 if field.name in whole else np.nan,
                                dtype=whole.get(field.name, np.float64))
            for field in fields(RankTrend)}


def _check_confidence(confidence: float) -> None:
    if not 0.0 < confidence < 1.0:
        raise ValueRefused(f"confidence: must be between 0 and 1, found {confidence}",
                           hint="give a share such as 0.95")


def _rectangle(axis: NDArray[np.float64], number: NDArray[np.float64],
               lost: NDArray[np.bool_], confidence: float,
               whole_ranks: bool) -> dict[str, NDArray[Any]]:
    """Work out the lines of a rectangle slice by slice, those without any bound in one go."""
    lines, n = number.shape
    censored = np.asarray(lost.any(axis=1))
    told = _blank((lines,))
    at_once = max(1, _PAIRS_AT_ONCE // max(n * (n - 1) // 2, 1))
    for bounds in (False, True):
        rows = np.flatnonzero(censored == bounds)
        for first in range(0, len(rows), at_once):
            part = rows[first:first + at_once]
            values, below = number[part], lost[part]
            if bounds:
                values, below = bounded(values, below)
            used = ~np.isnan(values) & ~np.isnan(axis[part])
            result = _slice(np.where(used, axis[part], np.nan), np.where(used, values, np.nan),
                            below & used if bounds else None, confidence, whole_ranks)
            for name, array in told.items():
                array[part] = getattr(result, name)
    return told


def rank_trend(x: ArrayLike, value: ArrayLike, *, below: ArrayLike | None = None,
               confidence: float = 0.95, whole_ranks: bool = False) -> RankTrend:
    """Give the median slope of all pairs and the rank test for a trend.

    Equation: slope ``= median of (y_j − y_i)/(x_j − x_i)``; ``S = Σ sign(x_j − x_i)·sign(y_j −
    y_i)``; interval at the slopes of rank ``(N − C)/2`` and ``(N + C)/2 + 1``, ``C = z·√Var S``.
    With values below a limit, a pair whose order is open counts 0 in S, and the slope is the one
    that brings the score of the residuals to 0.

    Parameters
    ----------
    x : array, shape (..., n) [use]
        Use axis, broadcast against the value.
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads and stands for what was not measured.
    below : array of bool, shape (..., n), or None [-]
        True where the reading was below a limit; an unknown bound as in
        :func:`~oiltrend.limits.series.bounded`.
    confidence : float [-]
        Of the interval.
    whole_ranks : bool [-]
        Take the interval's ranks outward to whole ones instead of interpolating.

    Returns
    -------
    RankTrend [-]
        One entry per series.

    Raises
    ------
    ValueRefused
        When the confidence is not between 0 and 1.

    Examples
    --------
    >>> trend = rank_trend([1.0, 2.0, 4.0, 5.0, 9.0], [5.0, 6.0, 11.0, 8.0, 10.0])
    >>> float(trend.slope), float(trend.score), float(trend.p_value)
    (0.6458333, 6.0, 0.2333333)

    References
    ----------
    Sen 1968, JASA 63:1379; Gilbert 1987, Statistical Methods for Environmental Pollution
    Monitoring, 16.5; Akritas, Murphy and LaValley 1995, JASA 90:170 (censored values).
    """
    _check_confidence(confidence)
    number, axis = np.broadcast_arrays(np.asarray(value, dtype=float),
                                       np.asarray(x, dtype=float))
    shape = number.shape
    lost = np.broadcast_to(np.asarray(False if below is None else below, dtype=bool), shape)
    flat = (math.prod(shape[:-1]), shape[-1])
    told = _rectangle(axis.reshape(flat), number.reshape(flat), lost.reshape(flat), confidence,
                      whole_ranks)
    return RankTrend(**{name: array.reshape(shape[:-1]) for name, array in told.items()})


def rank_trend_long(x: ArrayLike, value: ArrayLike, starts: ArrayLike, *,
                    below: ArrayLike | None = None, confidence: float = 0.95,
                    whole_ranks: bool = False) -> RankTrend:
    """Give slope and rank test for a long table of a fleet, without padding.

    Equation: as :func:`rank_trend`.

    Parameters
    ----------
    x : array, shape (n_rows,) [use]
        Use axis, sorted by series.
    value : array, shape (n_rows, m) [any]
        Numbers, for "<v" the bound v; NaN for what was not measured.
    starts : array of int, shape (k,) [-]
        First row of each series; no series may be empty.
    below : array of bool, shape (n_rows, m), or None [-]
        True where the reading was below a limit.
    confidence : float [-]
        Of the interval.
    whole_ranks : bool [-]
        As in :func:`rank_trend`.

    Returns
    -------
    RankTrend [-]
        Arrays of shape (k, m).

    Raises
    ------
    ValueRefused
        When the confidence is not between 0 and 1, or ``starts`` does not fit the rows.

    Examples
    --------
    >>> trend = rank_trend_long(np.arange(9.0), np.arange(9.0)[:, None] * [1, -2], [0, 4])
    >>> trend.slope
    array([[ 1., -2.],
           [ 1., -2.]])
    """
    _check_confidence(confidence)
    axis, table = np.asarray(x, dtype=float), np.asarray(value, dtype=float)
    lost = None if below is None else np.asarray(below, dtype=bool)
    columns = table.shape[1]
    told = _blank((np.size(starts), columns))
    for series, rows in same_length(starts, len(table)):
        at_once = max(1, _CELLS_AT_ONCE // max(rows.shape[1] * columns, 1))
        for first in range(0, len(series), at_once):
            part, taken = series[first:first + at_once], rows[first:first + at_once]
            result = rank_trend(
                axis[taken][:, None, :], np.moveaxis(table[taken], 2, 1),
                below=None if lost is None else np.moveaxis(lost[taken], 2, 1),
                confidence=confidence, whole_ranks=whole_ranks)
            for name, array in told.items():
                array[part] = getattr(result, name)
    return RankTrend(**told)


def median_intercept(x: ArrayLike, value: ArrayLike, slope: ArrayLike, *,
                     below: ArrayLike = False) -> NDArray[np.float64]:
    """Place the line of a median slope.

    Equation: ``intercept = median(y) − slope · median(x)``.

    Parameters
    ----------
    x : array, shape (..., n) [use]
        Use axis, broadcast against the value.
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    slope : array, shape (...) [any/use]
        From :func:`rank_trend`.
    below : bool or array of bool, shape (..., n) [-]
        True where the reading was below a limit.

    Returns
    -------
    array, shape (...) [any]
        Value of the line at x = 0; NaN where the median lies below the reporting limit.

    Examples
    --------
    >>> float(median_intercept([1.0, 2.0, 4.0], [3.0, 5.0, 9.0], 2.0))
    1.0

    References
    ----------
    Conover 1980, Practical Nonparametric Statistics, 5.5 (from memory).
    """
    number, axis = np.broadcast_arrays(np.asarray(value, dtype=float),
                                       np.asarray(x, dtype=float))
    lost = np.broadcast_to(np.asarray(below, dtype=bool), number.shape)
    used = (lost | ~np.isnan(number)) & ~np.isnan(axis)
    middle_y = percentile(np.where(used, number, np.nan), 0.5, below=lost & used)
    middle_x = percentile(np.where(used, axis, np.nan), 0.5)
    return np.asarray(middle_y - np.asarray(slope, dtype=float) * middle_x)
