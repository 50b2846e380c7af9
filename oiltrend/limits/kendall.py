"""Kendall's score: its variance with ties and censored values, and its exact chance.

Two series agree in a pair of samples when both rise or both fall. The score S counts pairs that
agree less pairs that disagree.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erfc

from oiltrend.errors import ValueRefused

__all__ = ["MOST_EXACT", "exact_p_value", "normal_p_value", "score_variance"]

MOST_EXACT = 10
"""Up to so many samples without ties the chance of a score is counted, not approximated."""


def score_variance(
    n: ArrayLike, square_of_sums: tuple[ArrayLike, ArrayLike],
    sum_of_squares: tuple[ArrayLike, ArrayLike],
) -> NDArray[np.float64]:
    """Give the variance of Kendall's score if every order were equally likely.

    Equation: with pair signs a and b, row sums A and B over ordered pairs,
    ``Var S = (ΣA² − Σa²)(ΣB² − Σb²)/(n(n−1)(n−2)) + Σa²·Σb²/(2n(n−1))``. Without ties this is
    ``n(n−1)(2n+5)/18``; with ties it is the usual corrected form; a pair that censoring leaves
    open has sign 0 and needs no other treatment.

    Parameters
    ----------
    n : array of int [-]
        Samples.
    square_of_sums : tuple of two arrays [-]
        ΣA² and ΣB².
    sum_of_squares : tuple of two arrays [-]
        Σa² and Σb² over ordered pairs.

    Returns
    -------
    array [-]
        Variance of S; NaN for fewer than 3 samples.

    Examples
    --------
    >>> float(score_variance(5, (40, 40), (20, 20)))
    16.666667

    References
    ----------
    Daniels 1944, Biometrika 33:129; Kendall and Gibbons 1990, Rank Correlation Methods, ch. 5.
    """
    count = np.asarray(n, dtype=float)
    count = np.where(count > 2, count, np.nan)
    (sums_a, sums_b), (signs_a, signs_b) = (
        [np.asarray(array, dtype=float) for array in pair]
        for pair in (square_of_sums, sum_of_squares))
    pairs = count * (count - 1.0)
    return np.asarray((sums_a - signs_a) * (sums_b - signs_b) / (pairs * (count - 2.0))
                      + signs_a * signs_b / (2.0 * pairs))


def normal_p_value(score: ArrayLike, variance: ArrayLike,
                   ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the normal score of S, continuity corrected, and its two-sided chance.

    Equation: ``Z = (S − sign S)/√Var S``, ``p = 2·(1 − Φ(|Z|))``.

    Parameters
    ----------
    score : array [-]
        S.
    variance : array [-]
        Variance of S.

    Returns
    -------
    tuple of two arrays [-]
        Z and p; Z 0 and p 1 where the variance is 0 (all values tied).

    Examples
    --------
    >>> z, p = normal_p_value(194, 1428.0)
    >>> float(z), float(p)
    (5.107322, 3.267574e-07)

    References
    ----------
    Mann 1945; Kendall 1975; Gilbert 1987, chapter 16.
    """
    s, v = np.asarray(score, dtype=float), np.asarray(variance, dtype=float)
    z = np.where(v == 0.0, 0.0, (s - np.sign(s)) / np.sqrt(np.where(v == 0.0, 1.0, v)))
    return z, np.asarray(erfc(np.abs(z) / math.sqrt(2.0)))


@cache
def _tail(n: int) -> NDArray[np.float64]:
    """Chance of |S| ≥ s among all orders of n values, for s = 0 … n(n−1)/2."""
    orders = np.ones(1)
    for size in range(2, n + 1):  # one more value adds 0 … size − 1 inversions
        orders = np.convolve(orders, np.ones(size))
    pairs = len(orders) - 1
    score = np.abs(pairs - 2 * np.arange(pairs + 1))
    at = np.bincount(score, orders / orders.sum(), pairs + 1)
    return np.asarray(np.cumsum(at[::-1])[::-1], dtype=float)


def exact_p_value(n: ArrayLike, score: ArrayLike) -> NDArray[np.float64]:
    """Give the two-sided chance of a score by counting orders; no ties, n up to 10.

    Equation: ``P(|S'| ≥ |S|)`` with S' the score of a random order.

    Parameters
    ----------
    n : array of int [-]
        Samples, 2 to :data:`MOST_EXACT`; other entries give NaN.
    score : array of int [-]
        S.

    Returns
    -------
    array [-]
        Two-sided p.

    Raises
    ------
    ValueRefused
        When a score is larger than n samples allow.

    Examples
    --------
    >>> float(exact_p_value(5, 6))
    0.2333333

    References
    ----------
    Kendall and Gibbons 1990, Rank Correlation Methods, table 1.
    """
    count, s = np.broadcast_arrays(np.asarray(n, dtype=np.int64), np.asarray(score))
    size = np.abs(s).astype(np.int64)
    counted = (count >= 2) & (count <= MOST_EXACT)
    if (size[counted] > (count * (count - 1) // 2)[counted]).any():
        raise ValueRefused(
            f"score: must not exceed n(n − 1)/2, found {int(size[counted].max())}",
            hint="pass the number of samples that the score was counted on")
    table = np.full((MOST_EXACT + 1, MOST_EXACT * (MOST_EXACT - 1) // 2 + 1), np.nan)
    for row in range(2, MOST_EXACT + 1):
        tail = _tail(row)
        table[row, :len(tail)] = tail
    place = np.where(counted, count, 0)
    return np.asarray(table[place, np.where(counted, size, 0)])
