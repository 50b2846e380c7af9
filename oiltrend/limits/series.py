"""From the long table of a fleet to rectangles, sample last, and back to plain numbers.

A long table is sorted by engine, then use; ``starts`` holds the first row of each engine.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["bounded", "same_length", "to_padded"]


def _counts(starts: NDArray[np.intp], rows: int) -> NDArray[np.intp]:
    counts = np.diff(starts, append=rows)
    if starts.ndim != 1 or (len(starts) and starts[0] != 0) or (counts < 1).any() or (
            rows and not len(starts)):
        raise ValueRefused(
            f"starts: must begin at 0 and rise to less than the number of rows ({rows}), "
            f"found {starts.tolist()[:8]}",
            hint="give the first row of each series that has rows, and no empty series")
    return counts


def to_padded(values: ArrayLike, starts: ArrayLike) -> NDArray[np.float64]:
    """Turn a long table into a rectangle, one line per series, the sample on the last axis.

    Parameters
    ----------
    values : array, shape (n_rows,) or (n_rows, m) [any]
        Long table, sorted by series.
    starts : array of int, shape (k,) [-]
        First row of each series; no series may be empty.

    Returns
    -------
    array, shape (k, n) or (k, m, n) [any]
        The rows of each series, padded at the end with NaN; masks come back as 0 and 1.

    Raises
    ------
    ValueRefused
        When ``starts`` does not begin at 0, does not rise, or does not fit the rows.

    Examples
    --------
    >>> to_padded([1.0, 2.0, 3.0, 4.0], [0, 1])
    array([[ 1., nan, nan],
           [ 2.,  3.,  4.]])
    """
    table = np.asarray(values, dtype=float)
    first = np.asarray(starts, dtype=np.intp)
    counts = _counts(first, len(table))
    width = int(counts.max(initial=0))
    place = np.arange(width)
    filled = place < counts[:, None]
    padded = np.full((len(first), width, *table.shape[1:]), np.nan)
    padded[filled] = table
    return np.moveaxis(padded, 1, -1)


def same_length(starts: ArrayLike, rows: int) -> Iterator[tuple[NDArray[np.intp],
                                                                NDArray[np.intp]]]:
    """Take the series of a long table in groups of equal length, so that nothing is padded.

    Parameters
    ----------
    starts : array of int, shape (k,) [-]
        First row of each series; no series may be empty.
    rows : int [-]
        Rows of the long table.

    Yields
    ------
    tuple of two arrays of int, shape (g,) and (g, n) [-]
        Which series have n rows, and their rows.

    Raises
    ------
    ValueRefused
        As :func:`to_padded`.

    Examples
    --------
    >>> [(series.tolist(), row.tolist()) for series, row in same_length([0, 2, 3], 5)]
    [([1], [[2]]), ([0, 2], [[0, 1], [3, 4]])]
    """
    first = np.asarray(starts, dtype=np.intp)
    counts = _counts(first, rows)
    for length in np.unique(counts):
        series = np.flatnonzero(counts == length)
        yield series, first[series][:, None] + np.arange(length)


def bounded(value: ArrayLike, below: ArrayLike, *, positive: bool = False,
            ) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Give every censored member of a series a bound, also where the laboratory gave none.

    A "not detected" without a bound is taken to be below the smallest detected value of its
    series: a laboratory that reports 3 as a number has a reporting limit of 3 or less. That
    holds in one laboratory and is assumed across laboratories.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads, and stands where a bound is unknown.
    below : array of bool, shape (..., n) [-]
        True where the reading was below a limit.
    positive : bool [-]
        For a log scale: a reported 0 or less is below the smallest positive value of its
        series, too.

    Returns
    -------
    tuple of two arrays, shape (..., n) [any]
        Numbers with every bound filled, and the censored mask. Where a series has no detected
        value an unknown bound stays NaN and its mask is False: there is nothing to hold it by.

    Examples
    --------
    >>> bounded([4.0, np.nan, 6.0, np.nan], [False, True, False, False])
    (array([ 4.,  4.,  6., nan]), array([False,  True, False, False]))
    """
    number, censored = np.broadcast_arrays(np.asarray(value, dtype=float),
                                           np.asarray(below, dtype=bool))
    unknown = censored & np.isnan(number)
    if positive:
        nothing = number <= 0
        censored, unknown = censored | nothing, unknown | nothing
    detected = np.where(censored | np.isnan(number), np.inf, number)
    least = detected.min(axis=-1, keepdims=True, initial=np.inf)
    filled = np.where(unknown, np.where(np.isfinite(least), least, np.nan), number)
    return filled, censored & ~np.isnan(filled)
