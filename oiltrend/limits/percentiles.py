"""Percentiles without a distribution: ranks, their confidence, and how many values they need."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtr

from oiltrend.errors import ValueRefused
from oiltrend.limits.censored import ladder, too_much_below

__all__ = ["Rungs", "at_or_over", "at_or_under", "between", "percentile", "percentile_position",
           "percentile_ranks", "rungs_of", "smallest_sample"]

# No fleet has more engines than this; it only ends the search.
_MOST_ENGINES = 10_000_000
# Ranks come from products of shares and carry rounding that grows with the fleet.
_RANK_ROUNDING = 1e-6


def _check_share(name: str, share: float) -> None:
    if not 0.0 < share < 1.0:
        raise ValueRefused(f"{name}: must be between 0 and 1, found {share}",
                           hint="give a share such as 0.95")


def smallest_sample(share: float, confidence: float, *, from_top: int = 1) -> int:
    """Count the engines needed before an order statistic bounds a percentile.

    Equation: the smallest n with ``P(Bin(n, p) ≤ n − k) ≥ confidence``; for the largest value
    (k = 1) ``1 − pⁿ ≥ confidence``. For a percentile under one half the lowest values count.

    Parameters
    ----------
    share : float [-]
        The percentile p.
    confidence : float [-]
        Chance that the k-th value from the end lies beyond the percentile.
    from_top : int [-]
        k: 1 for the largest value, 2 for the second largest.

    Returns
    -------
    int [-]
        Number of engines.

    Raises
    ------
    ValueRefused
        When share or confidence is not between 0 and 1, or k is less than 1.

    Examples
    --------
    >>> smallest_sample(0.95, 0.95), smallest_sample(0.95, 0.95, from_top=2)
    (59, 93)

    References
    ----------
    Wilks 1941, Annals of Mathematical Statistics 12:91.
    """
    _check_share("share", share)
    _check_share("confidence", confidence)
    if from_top < 1:
        raise ValueRefused(f"from_top: must be 1 or more, found {from_top}",
                           hint="use 1 for the largest value")
    upper = max(share, 1.0 - share)
    low, high = from_top - 1, from_top
    while bdtr(high - from_top, high, upper) < confidence and high < _MOST_ENGINES:
        low, high = high, 2 * high
    while high - low > 1:  # the chance only grows with n
        middle = (low + high) // 2
        enough = bdtr(middle - from_top, middle, upper) >= confidence
        low, high = (low, middle) if enough else (middle, high)
    return high


def percentile_position(n: ArrayLike, share: float) -> NDArray[np.float64]:
    """Give the rank at which a percentile stands.

    Equation: ``p · (n + 1)``, held between 1 and n.

    Parameters
    ----------
    n : int or array of int [-]
        Values.
    share : float [-]
        The percentile p.

    Returns
    -------
    array [-]
        Rank, counted from 1 for the smallest; a fraction lies between two values.

    Examples
    --------
    >>> float(percentile_position(12, 0.9))
    11.7

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2.
    """
    count = np.asarray(n, dtype=float)
    return np.asarray(np.maximum(np.minimum(share * (count + 1.0), count), 1.0))


def percentile_ranks(n: int, share: float, confidence: float) -> tuple[int | None, int | None]:
    """Give the ranks of the values that bound a percentile, each with the given confidence.

    Equation: with B ~ Bin(n, p), the largest l with ``P(B ≥ l) ≥ confidence`` and the smallest u
    with ``P(B ≤ u − 1) ≥ confidence``. Both together hold with ``2 · confidence − 1`` or more.

    Parameters
    ----------
    n : int [-]
        Values.
    share : float [-]
        The percentile p.
    confidence : float [-]
        One-sided confidence of each bound.

    Returns
    -------
    tuple of two int or None [-]
        Lower and upper rank, from 1 for the smallest; None where n is too small.

    Raises
    ------
    ValueRefused
        When share or confidence is not between 0 and 1.

    Examples
    --------
    >>> percentile_ranks(59, 0.95, 0.95), percentile_ranks(58, 0.95, 0.95)
    ((53, 59), (52, None))

    References
    ----------
    Wilks 1941; David and Nagaraja 2003, Order Statistics, section 7.1 (from memory).
    """
    _check_share("share", share)
    _check_share("confidence", confidence)
    # P(B ≤ r) for r = 0 … n − 1; the bound by rank r + 1 from above holds with this chance.
    chance = bdtr(np.arange(n), n, share)
    upper = int(np.searchsorted(chance, confidence)) + 1
    lower = int(np.searchsorted(chance, 1.0 - confidence, side="right"))
    return (lower if lower >= 1 else None), (upper if upper <= n else None)


class Rungs(NamedTuple):
    """Ranks, counted from the bottom, that each detected value fills.

    One rank if nothing is censored, more if it carries the weight of bounds that stand above it.

    Parameters
    ----------
    value : array, shape (k, n) [any]
        Numbers and bounds in falling order.
    first, last : array, shape (k, n) [-]
        Lowest and highest rank of a detected value; infinite for a bound.
    """

    value: NDArray[np.float64]
    first: NDArray[np.float64]
    last: NDArray[np.float64]


def rungs_of(value: NDArray[np.float64], below: NDArray[np.bool_],
             n: NDArray[np.int64]) -> Rungs:
    """Rank the detected values of left-censored series by the product-limit method.

    Equation: a value fills the ranks from ``n·F(x−) + 1`` to ``n·F(x)``.

    Parameters
    ----------
    value : array, shape (k, n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : array of bool, shape (k, n) [-]
        True where the reading was below a limit.
    n : array of int, shape (k,) [-]
        Readings of each series.

    Returns
    -------
    Rungs [-]
        Values and ranks, from the highest down.

    Examples
    --------
    >>> rungs_of(np.array([[5.0, 3.0]]), np.array([[False, False]]), np.array([2])).last
    array([[2., 1.]])
    """
    rungs = ladder(value, below)
    count = n[:, None]
    return Rungs(rungs.value, np.where(rungs.detected, count * rungs.under + 1.0, np.inf),
                  np.where(rungs.detected, count * rungs.up_to, -np.inf))


def at_or_under(rungs: Rungs, rank: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take the largest detected value that does not stand above a rank.

    Parameters
    ----------
    rungs : Rungs [-]
        From :func:`rungs_of`.
    rank : array, shape (k,) [-]
        Rank of each series, from 1 for the smallest; NaN gives NaN.

    Returns
    -------
    array, shape (k,) [any]
        The value, NaN if there is none.

    Examples
    --------
    >>> rungs = rungs_of(np.array([[5.0, 1.0, 3.0]]), np.zeros((1, 3), dtype=bool), np.array([3]))
    >>> at_or_under(rungs, np.array([2.5]))
    array([3.])
    """
    held = rungs.first <= rank[:, None] + _RANK_ROUNDING
    found = np.where(held, rungs.value, -np.inf).max(axis=1, initial=-np.inf)
    return np.where(np.isfinite(found), found, np.nan)


def at_or_over(rungs: Rungs, rank: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take the smallest detected value that does not stand under a rank.

    Parameters
    ----------
    rungs : Rungs [-]
        From :func:`rungs_of`.
    rank : array, shape (k,) [-]
        Rank of each series, from 1 for the smallest; NaN gives NaN.

    Returns
    -------
    array, shape (k,) [any]
        The value, NaN if there is none.

    Examples
    --------
    >>> rungs = rungs_of(np.array([[5.0, 1.0, 3.0]]), np.zeros((1, 3), dtype=bool), np.array([3]))
    >>> at_or_over(rungs, np.array([2.5]))
    array([5.])
    """
    held = rungs.last >= rank[:, None] - _RANK_ROUNDING
    found = np.where(held, rungs.value, np.inf).min(axis=1, initial=np.inf)
    return np.where(np.isfinite(found), found, np.nan)


def between(rungs: Rungs, rank: NDArray[np.float64]) -> NDArray[np.float64]:
    """Interpolate between the detected values on both sides of a rank.

    Parameters
    ----------
    rungs : Rungs [-]
        From :func:`rungs_of`.
    rank : array, shape (k,) [-]
        Rank of each series, from 1 for the smallest; NaN gives NaN.

    Returns
    -------
    array, shape (k,) [any]
        The value, NaN where no detected value stands at or under the rank.

    Examples
    --------
    >>> rungs = rungs_of(np.array([[5.0, 1.0, 3.0]]), np.zeros((1, 3), dtype=bool), np.array([3]))
    >>> between(rungs, np.array([2.5]))
    array([4.])
    """
    under, over = at_or_under(rungs, rank), at_or_over(rungs, rank)
    held = rungs.first <= rank[:, None] + _RANK_ROUNDING
    reached = np.where(held, rungs.last, -np.inf).max(axis=1, initial=-np.inf)
    return np.asarray(under + np.clip(rank - reached, 0.0, 1.0) * (over - under))


def percentile(value: ArrayLike, share: float, *, below: ArrayLike = False,
               ) -> NDArray[np.float64]:
    """Give a percentile of each series, left-censored values allowed.

    Equation: interpolation at rank ``p · (n + 1)``; with values below a limit, ranks by the
    product-limit method (:func:`~oiltrend.limits.censored.ladder`).

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    share : float [-]
        The percentile p.
    below : bool or array of bool, shape (..., n) [-]
        True where the reading was below a limit.

    Returns
    -------
    array, shape (...) [any]
        The percentile; NaN where it falls among values below the reporting limits.

    Raises
    ------
    ValueRefused
        When the share is not between 0 and 1.

    Examples
    --------
    >>> float(percentile([4.0, 1.0, 3.0, 2.0], 0.5))
    2.5

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2.
    """
    _check_share("share", share)
    number, censored = np.broadcast_arrays(np.asarray(value, dtype=float),
                                           np.asarray(below, dtype=bool))
    shape, n = number.shape[:-1], number.shape[-1]
    lines = math.prod(shape)
    number, censored = number.reshape(lines, n), censored.reshape(lines, n)
    count = too_much_below(number, censored).n
    found = between(rungs_of(number, censored, count), percentile_position(count, share))
    return found.reshape(shape)
