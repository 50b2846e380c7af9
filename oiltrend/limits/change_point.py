"""One lasting step in level: where it lies, how sure that is, and whether there is one at all.

A slow ramp looks like a step, too, and a change of oil, laboratory or filter explains many; that
is for the reader to weigh first.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["LEAST_SEGMENT", "ChangePoint", "ChangeState", "Pettitt", "change_point", "pettitt"]

Floats = NDArray[np.float64]

LEAST_SEGMENT = 3
"""Samples that a level needs on each side. Common practice: fewer are an outlier, not a level."""

# Up to this length all orders of the ranks are counted.
_MOST_COUNTED = 14


class ChangeState(IntEnum):
    """Whether a step was looked for: GIVEN; TOO_FEW samples; NO_SPREAD (all the same)."""

    GIVEN = 0
    TOO_FEW = 1
    NO_SPREAD = 2


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """The one step in each of many series, if there is one.

    Parameters
    ----------
    chance : array, shape (..., n) [-]
        Chance that the step comes right after each sample, given that there is one; 0 where it
        cannot.
    last_before : array of int, shape (...) [-]
        Last sample before the most likely step; −1 where the state is not GIVEN.
    x_low, x_high : array, shape (...) [use]
        The step lies between these with a chance of at least 95 %.
    before, after : array, shape (...) [any]
        Mean levels on both sides of the most likely step.
    step, step_uncertainty : array, shape (...) [any]
        Mean and standard deviation of the height, over all places where the step may be.
    n : array of int, shape (...) [-]
        Samples used.
    state : array of ChangeState codes, shape (...) [-]
        Whether there is an answer.
    """

    chance: Floats
    last_before: NDArray[np.int64]
    x_low: Floats
    x_high: Floats
    before: Floats
    after: Floats
    step: Floats
    step_uncertainty: Floats
    n: NDArray[np.int64]
    state: NDArray[np.int8]


def _packed(x: Floats, value: Floats) -> tuple[Floats, Floats, NDArray[np.intp], NDArray[np.intp]]:
    """Bring the samples that count to the front; give where each came from, and how many."""
    used = ~(np.isnan(value) | np.isnan(x))
    order = np.argsort(~used, axis=1, kind="stable")
    return (np.take_along_axis(np.where(used, x, np.nan), order, axis=1),
            np.take_along_axis(np.where(used, value, np.nan), order, axis=1), order,
            used.sum(axis=1))


def _split(value: Floats, n: NDArray[np.intp], least: Floats
           ) -> tuple[Floats, Floats, Floats, Floats]:
    """Give mean before, mean after and squares left for a step after each sample; and n after."""
    filled = np.nan_to_num(value)
    k = np.arange(1, value.shape[1] + 1)
    rest = np.maximum(n[:, None] - k, 1)
    sums, squares = np.cumsum(filled, axis=1), (filled**2).sum(axis=1, keepdims=True)
    before, after = sums / k, (sums[:, -1:] - sums) / rest
    left = squares - k * before**2 - rest * after**2
    return before, after, np.maximum(left, ((n - 2) * least**2)[:, None]), rest


def _rows(x: Floats, value: Floats, least: Floats) -> dict[str, NDArray[Any]]:
    """Work out the lines of a rectangle."""
    axis, number, order, n = _packed(x, value)
    centre = np.nanmean(np.where(n[:, None] > 0, number, 0.0), axis=1, keepdims=True)
    before, after, left, rest = _split(number - centre, n, least)
    k = np.arange(1, number.shape[1] + 1)
    gap = np.diff(axis, axis=1, append=np.nan)
    possible = (k >= LEAST_SEGMENT) & (n[:, None] - k >= LEAST_SEGMENT) & (gap > 0)
    spread = np.nanmax(np.where(n[:, None] > 0, number, 0.0), axis=1) > np.nanmin(
        np.where(n[:, None] > 0, number, 0.0), axis=1)
    state = np.select([~possible.any(axis=1), ~spread],
                      [ChangeState.TOO_FEW, ChangeState.NO_SPREAD], default=ChangeState.GIVEN)
    given = state == ChangeState.GIVEN
    # A perfect split leaves nothing; a millionth of the whole keeps it a number.
    floor = 1e-12 * np.fmax(np.nan_to_num(number - centre) ** 2, 0.0).sum(axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        log = (np.log(gap) - 0.5 * np.log(k * rest)
               - 0.5 * (n[:, None] - 2) * np.log(np.maximum(left, floor)))
    log = np.where(possible & given[:, None], log, -np.inf)
    top = np.where(given, log.max(axis=1), 0.0)
    chance = np.exp(log - top[:, None])
    chance /= np.maximum(chance.sum(axis=1, keepdims=True), 1e-300)
    height = np.where(chance > 0, after - before, 0.0)
    error = np.where(chance > 0, left / np.maximum(n - 4, 1)[:, None] * (1.0 / k + 1.0 / rest), 0.0)
    mean = (chance * height).sum(axis=1)
    variance = (chance * (error + height**2)).sum(axis=1) - mean**2
    grown = np.cumsum(chance, axis=1)
    best, first = chance.argmax(axis=1), (grown >= 0.025).argmax(axis=1)
    last = np.minimum((grown >= 0.975 - 1e-12).argmax(axis=1) + 1, number.shape[1] - 1)
    line = np.arange(len(n))
    told = {"x_low": axis[line, first], "x_high": axis[line, last],
            "before": (before + centre)[line, best], "after": (after + centre)[line, best],
            "step": mean, "step_uncertainty": np.sqrt(np.maximum(variance, 0.0))}
    told = {name: np.where(given, array, np.nan) for name, array in told.items()}
    placed = np.zeros_like(chance)
    np.put_along_axis(placed, order, np.where(given[:, None], chance, 0.0), axis=1)
    return told | {"chance": placed, "n": n, "state": state.astype(np.int8),
                   "last_before": np.where(given, order[line, best], -1)}


def change_point(value: ArrayLike, *, x: ArrayLike | None = None,
                 test_uncertainty: ArrayLike = 0.0) -> ChangePoint:
    """Find the one step in level of each series, and how sure its place is.

    Equation: ``P(step after k) ∝ Δx_k · [k(n − k)]^(−1/2) · S_k^(−(n − 2)/2)``, S_k the squares
    left around the two means (normal scatter of unknown size, levels free, every place on the axis
    as likely beforehand); at least 3 samples on each side.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Values in order, logarithms where they scatter in proportion; NaN for none.
    x : array, broadcast to (..., n), or None [use]
        Places on the use axis, rising; by default evenly spaced from 0.
    test_uncertainty : array, broadcast to (...) [any]
        Standard uncertainty of one value: the scatter is taken to be no less, so that rounded
        values that happen to agree do not fake a step.

    Returns
    -------
    ChangePoint [-]
        One entry per series.

    Examples
    --------
    >>> told = change_point([1.0, 1.2, 0.9, 1.1, 2.0, 2.2, 1.9, 2.1], x=np.arange(8) * 1000.0)
    >>> int(told.last_before), float(told.x_low), float(told.x_high)
    (3, 3000.0, 4000.0)
    >>> float(told.step.round(2)), float(told.step_uncertainty.round(2))
    (1.0, 0.11)

    References
    ----------
    Smith 1975, Biometrika 62:407 (posterior of the place, from memory). The weight of the axis is
    ours.
    """
    number = np.asarray(value, dtype=float)
    shape, n = number.shape[:-1], number.shape[-1]
    axis = np.arange(n, dtype=float) if x is None else np.asarray(x, dtype=float)
    lines = int(np.prod(shape, dtype=np.int64))
    least = np.broadcast_to(np.asarray(test_uncertainty, dtype=float), shape).reshape(lines)
    told = _rows(np.broadcast_to(axis, number.shape).reshape(lines, n), number.reshape(lines, n),
                 least)
    return ChangePoint(**{name: array.reshape(shape + array.shape[1:])
                          for name, array in told.items()})


@dataclass(frozen=True, slots=True)
class Pettitt:
    """Rank test for one step in each of many series.

    Parameters
    ----------
    statistic : array, shape (...) [-]
        K, the largest difference of ranks between before and after.
    last_before : array of int, shape (...) [-]
        Last sample before it; −1 without two samples.
    p_value : array, shape (...) [-]
        Two-sided chance of a K as large without a step; NaN for fewer than 6 samples.
    n : array of int, shape (...) [-]
        Samples used.
    """

    statistic: Floats
    last_before: NDArray[np.int64]
    p_value: Floats
    n: NDArray[np.int64]


@lru_cache(maxsize=16)
def _counted(n: int) -> tuple[Floats, Floats]:
    """Give the values that K can take with n ranks, and the share of orders that reach each.

    An order is a path through the subsets of the ranks, one rank more at each step; those that
    stay under every value are counted subset by subset, smallest first.
    """
    subset = np.arange(1 << n)
    size, total = np.zeros((2, 1 << n), dtype=np.int64)
    for rank in range(n):
        size += subset >> rank & 1
        total += (subset >> rank & 1) * (rank + 1)
    height = np.abs(2 * total - size * (n + 1))
    value = np.unique(height)
    under = np.zeros((1 << n, len(value)))
    under[0] = 1.0
    for step in range(1, n + 1):
        here = subset[size == step]
        ways = np.zeros((len(here), len(value)))
        for rank in range(n):
            has = (here >> rank & 1) == 1
            ways[has] += under[here[has] ^ (1 << rank)]
        under[here] = ways * (height[here, None] < value)
    orders = float(np.prod(np.arange(1.0, n + 1.0)))
    return value.astype(float), 1.0 - under[-1] / orders


def _mid_ranks(table: Floats) -> Floats:
    """Rank each line from 1; ties share the mean of their ranks."""
    order = np.argsort(table, axis=1, kind="stable")
    value = np.take_along_axis(table, order, axis=1)
    place = np.arange(table.shape[1])
    new = np.ones(table.shape, dtype=bool)
    new[:, 1:] = value[:, 1:] != value[:, :-1]
    first = np.maximum.accumulate(np.where(new, place, 0), axis=1)
    ends = np.ones(table.shape, dtype=bool)
    ends[:, :-1] = new[:, 1:]
    last = np.minimum.accumulate(np.where(ends, place, table.shape[1])[:, ::-1], axis=1)[:, ::-1]
    rank = np.empty(table.shape)
    np.put_along_axis(rank, order, (first + last) / 2.0 + 1.0, axis=1)
    return rank


def pettitt(value: ArrayLike) -> Pettitt:
    """Test for one step in level by ranks, without a distribution.

    Equation: ``U_k = 2·Σ_{i≤k} R_i − k(n + 1)``, ``K = max |U_k|``; up to 14 samples p is the share
    of all orders with a K as large, beyond that ``2·exp(−6K²/(n³ + n²))``, which is too large
    rather than too small: at 20 samples it calls 2 in 100 where 5 in 100 was asked.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Values in order; NaN for none. Ties share their ranks.

    Returns
    -------
    Pettitt [-]
        One entry per series.

    Raises
    ------
    ValueRefused
        When there is no sample axis.

    Examples
    --------
    >>> told = pettitt([1.0, 1.2, 0.9, 1.1, 2.0, 2.2, 1.9, 2.1])
    >>> float(told.statistic), int(told.last_before), float(told.p_value.round(3))
    (16.0, 3, 0.029)

    References
    ----------
    Pettitt 1979, Applied Statistics 28:126.
    """
    number = np.asarray(value, dtype=float)
    if number.ndim < 1:
        raise ValueRefused("value: must have the samples on its last axis, found a single number",
                           hint="give an array of values in order")
    shape, width = number.shape[:-1], number.shape[-1]
    table = number.reshape(-1, width)
    used = ~np.isnan(table)
    n = used.sum(axis=1)
    rank = np.where(used, _mid_ranks(np.where(used, table, np.inf)), 0.0)
    walk = np.abs(2.0 * np.cumsum(rank, axis=1) - np.cumsum(used, axis=1) * (n[:, None] + 1.0))
    walk = np.where(used, walk, -1.0)
    largest = np.maximum(walk.max(axis=1, initial=-1.0), 0.0)
    p_value = np.full(len(table), np.nan)
    for size in np.unique(n[n >= 2 * LEAST_SEGMENT]).tolist():
        rows = n == size
        if size <= _MOST_COUNTED:
            value, reached = _counted(size)
            # Ties give values in between; the next one is on the safe side.
            p_value[rows] = reached[np.searchsorted(value, largest[rows] + 1e-9, side="right") - 1]
        else:
            p_value[rows] = np.minimum(
                2.0 * np.exp(-6.0 * largest[rows] ** 2 / (size**3 + size**2)), 1.0)
    place = walk.argmax(axis=1) if width else np.zeros(len(table), dtype=np.int64)
    return Pettitt(largest.reshape(shape), np.where(n >= 2, place, -1).reshape(shape),
                   p_value.reshape(shape), n.reshape(shape))
