"""All pairs of samples of many series in one sweep: slopes, and who is above whom.

Series run along the last axis here, samples along the first, so that every step is one pass over
contiguous memory.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["PairSums", "sweep"]


class PairSums(NamedTuple):
    """What the pairs of each series add up to.

    Parameters
    ----------
    slopes : array, shape (c, p) [any/use]
        Break points of the score of the residuals, sorted, NaN at the end; every pair of two
        numbers stands twice when any series is censored (``weight`` 2), else once.
    rising : array of int, shape (c,) [-]
        Score of the residuals for a line falling without end, in the weights of ``slopes``.
    total : array of int, shape (c,) [-]
        Number of break points.
    score : array of int, shape (c,) [-]
        Kendall's S.
    variance_terms : tuple of four arrays, shape (c,) [-]
        ΣA², ΣB², Σa², Σb² of values and use (:func:`oiltrend.limits.kendall.score_variance`).
    """

    slopes: NDArray[np.float64]
    rising: NDArray[np.int64]
    total: NDArray[np.int64]
    score: NDArray[np.int64]
    variance_terms: tuple[NDArray[np.int64], ...]


def _sign(difference: NDArray[np.float64]) -> NDArray[np.int8]:
    # NaN compares false both ways: its sign is 0.
    return np.asarray((difference > 0.0).view(np.int8) - (difference < 0.0).view(np.int8))


def _censored_sign(difference: NDArray[np.float64], earlier: NDArray[np.bool_],
                   later: NDArray[np.bool_]) -> NDArray[np.int8]:
    """Sign of a difference between numbers and bounds, 0 where either order is possible.

    A detected value at or above a bound is above the reading that the bound belongs to.
    """
    up = ((difference > 0.0) | (earlier & (difference == 0.0))) & ~later
    down = ((difference < 0.0) | (later & (difference == 0.0))) & ~earlier
    return np.asarray(up.view(np.int8) - down.view(np.int8))


def _square_of_sums(sign: NDArray[np.int8], n: int) -> NDArray[np.int64]:
    """Add up, over the samples, the square of how many others each is above less below."""
    sums = np.zeros((n, sign.shape[1]), dtype=np.int32)
    place = 0
    for lag in range(1, n):
        block = sign[place:place + n - lag]
        sums[lag:] += block
        sums[:-lag] -= block
        place += n - lag
    return np.asarray(np.square(sums, dtype=np.int64).sum(axis=0))


def _count_breaks(sign_x: NDArray[np.int8], earlier: NDArray[np.bool_],
                  later: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Count the break points of one lag: those that hold S up before they are passed, and all."""
    distinct = sign_x != 0
    twice = (distinct & ~earlier & ~later).sum(axis=0)
    once = (distinct & (earlier ^ later)).sum(axis=0)
    # A number further on than a bound stands above it until its slope is passed; a number before
    # a bound only afterwards.
    number_further = np.where(sign_x > 0, earlier & ~later, later & ~earlier)
    return twice + (distinct & number_further).sum(axis=0), 2 * twice + once


def sweep(x: NDArray[np.float64], value: NDArray[np.float64],
          censored: NDArray[np.bool_] | None) -> PairSums:
    """Go through all pairs of samples of each series.

    Equation: ``slope = (y_j − y_i)/(x_j − x_i)``. With bounds in place of numbers the score of
    the residuals, S(b), falls by 2 at the slope of a pair of numbers and by 1 at that of a
    number and a bound; pairs of two bounds have no say, nor have pairs at one x.

    Parameters
    ----------
    x : array, shape (n, c) [use]
        Use axis; NaN where there is no sample.
    value : array, shape (n, c) [any]
        Numbers and bounds; NaN where x is NaN.
    censored : array of bool, shape (n, c), or None [-]
        True for bounds; None when there are none.

    Returns
    -------
    PairSums [-]
        One entry per series.

    Examples
    --------
    >>> column = np.array([[0.0], [1.0], [2.0]])
    >>> sums = sweep(column, column**2, None)
    >>> sums.slopes, sums.score
    (array([[1., 2., 3.]]), array([3]))
    """
    n, series = value.shape
    pairs = n * (n - 1) // 2
    slopes = np.empty((pairs if censored is None else 2 * pairs, series))
    sign_x, sign_y = np.empty((2, pairs, series), dtype=np.int8)
    rising, total = np.zeros((2, series), dtype=np.int64)
    place = 0
    for lag in range(1, n):
        block = slice(place, place + n - lag)
        dx, dy = x[lag:] - x[:-lag], value[lag:] - value[:-lag]
        sign_x[block] = _sign(dx)
        dx[dx == 0.0] = np.nan
        slope = np.divide(dy, dx, out=slopes[block])
        if censored is None:
            sign_y[block] = _sign(dy)
        else:
            earlier, later = censored[:-lag], censored[lag:]
            sign_y[block] = _censored_sign(dy, earlier, later)
            slope[earlier & later] = np.nan
            slopes[pairs + place:pairs + place + n - lag] = np.where(earlier | later, np.nan, slope)
            up, points = _count_breaks(sign_x[block], earlier, later)
            rising += up
            total += points
        place += n - lag
    distinct, told = (np.count_nonzero(sign, axis=0) for sign in (sign_x, sign_y))
    if censored is None:
        rising, total = distinct, distinct
    return PairSums(
        np.sort(slopes.T.copy(), axis=1), rising, total,
        (sign_x * sign_y).sum(axis=0, dtype=np.int64),
        (_square_of_sums(sign_y, n), _square_of_sums(sign_x, n), 2 * told, 2 * distinct))
