"""One step ahead: what an engine's earlier intervals say about the next, before it is seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from oiltrend.limits.latent_grid import (
    STRAY,
    LogGrid,
    Singles,
    occasion_matrix,
    told_by,
    upper_tail,
)
from oiltrend.limits.latent_readings import RateReadings

__all__ = ["Engines", "Forecast", "engine_blocks", "step_through", "upper_limit"]

Floats = NDArray[np.float64]

# Chances are held within these, so that a normal score stays a number.
_LEAST_CHANCE, _MOST_CHANCE = 1e-9, 1.0 - 1e-7
# Single-precision numbers of one step; they then fit a processor's cache.
_CELLS_AT_ONCE = 300_000
# A limit is narrowed down so many times; the error left is below a thousandth of it.
_LIMIT_STEPS = 16


@dataclass(frozen=True, slots=True)
class Engines:
    """Some engines of one family, padded to a rectangle, the longest history first.

    Parameters
    ----------
    place : array of int, shape (e,) [-]
        Which engines.
    rows : array of int, shape (e, n) [-]
        Rows of the long table; −1 pads.
    """

    place: NDArray[np.intp]
    rows: NDArray[np.intp]


class Forecast(NamedTuple):
    """One interval of some engines, shape (m, e) each, before and after it was seen.

    Parameters
    ----------
    step : int [-]
        Which interval, from 0.
    engines : int [-]
        Only so many of the engines, the first, have it.
    exceedance : array, shape (m, e) [-]
        Chance of a result at or above this one; NaN where nothing was reported.
    centre, spread : array, shape (m, e) [-]
        Mean and standard deviation of the logarithm of the true rate, before it was seen.
    chance : array, shape (m, e, points) [-]
        Chance of every true rate, before it was seen; overwritten by the next step.
    """

    step: int
    engines: int
    exceedance: Floats
    centre: Floats
    spread: Floats
    chance: Singles


def engine_blocks(starts: NDArray[np.intp], counts: NDArray[np.intp], engines: NDArray[np.intp],
                  cells: int) -> Iterator[Engines]:
    """Take engines in blocks of similar length, so that the working memory stays small.

    Parameters
    ----------
    starts, counts : array of int, shape (k,) [-]
        First row and number of rows of each engine.
    engines : array of int, shape (e,) [-]
        Which engines.
    cells : int [-]
        Numbers that one engine takes at one step.

    Yields
    ------
    Engines [-]
        Every engine once.

    Examples
    --------
    >>> first, count = np.array([0, 2, 3]), np.array([2, 1, 3])
    >>> [block.rows.tolist() for block in engine_blocks(first, count, np.arange(3), 1)]
    [[[3, 4, 5], [0, 1, -1], [2, -1, -1]]]
    """
    order = engines[np.argsort(-counts[engines], kind="stable")]
    at_once = max(1, _CELLS_AT_ONCE // max(cells, 1))
    for begin in range(0, len(order), at_once):
        part = order[begin:begin + at_once]
        place = np.arange(counts[part[0]])
        inside = place < counts[part][:, None]
        yield Engines(part, np.where(inside, starts[part][:, None] + place, -1))


def step_through(grid: LogGrid, scatters: Floats, start: Singles, readings: RateReadings,
                 block: Engines) -> Iterator[Forecast]:
    """Go through the intervals of some engines, forecasting each before taking it in.

    Equation: ``p_i(x) = Σ_a b_i(a)·K(a, x)``; ``b_{i+1}(a) ∝ b_i(a)·[(1 − ε)·Σ_x K(a, x)·L_i(x) +
    ε·mean L_i]``, over all scatters that remain possible.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    scatters : array, shape (m, s) [-]
        Possible scatters.
    start : array, shape (m, s, points) or (e, m, s, points) [-]
        Chance of scatter and level of a new engine, or of each engine of the block.
    readings : RateReadings [-]
        Rates of the fleet.
    block : Engines [-]
        The engines.

    Yields
    ------
    Forecast [-]
        One for each interval, in order.

    Examples
    --------
    >>> from oiltrend.limits.latent_readings import rate_readings
    >>> grid = LogGrid(np.full(1, -3.0), np.full(1, 0.1))
    >>> start = np.full((1, 1, 64), 1 / 64, dtype=np.float32)
    >>> told = rate_readings([[1.0], [1.1], [2.5]], 0.1)
    >>> first = Engines(np.array([0]), np.array([[0, 1, 2]]))
    >>> [round(float(seen.exceedance[0, 0]), 4) for seen in
    ...  step_through(grid, np.full((1, 1), 0.3), start, told, first)]
    [0.5239, 0.4057, 0.0096]
    """
    forward = occasion_matrix(grid, scatters)
    backward = np.ascontiguousarray(forward.swapaxes(-1, -2)) * np.float32(1.0 - STRAY)
    own = np.moveaxis(start, 0, 2) if start.ndim == 4 else start[:, :, None]
    m, s, points = own.shape[0], own.shape[1], own.shape[3]
    belief = np.array(np.broadcast_to(own, (m, s, len(block.place), points)))
    logs = grid.logs().astype(np.float32)
    for step in range(block.rows.shape[1]):
        rows = block.rows[:, step]
        rows = rows[rows >= 0]
        here = belief[:, :, :len(rows)]
        chance = np.matmul(here, forward).sum(axis=1) if s > 1 else np.matmul(
            here[:, 0], forward[:, 0])
        told = told_by(grid, readings.take(rows))
        centre = np.einsum("mep,mp->me", chance, logs).astype(np.float64)
        square = np.einsum("mep,mp->me", chance, logs**2).astype(np.float64)
        exceedance = np.einsum("mep,mep->me", chance, told.tail).astype(np.float64)
        yield Forecast(step, len(rows), np.clip(exceedance, _LEAST_CHANCE, _MOST_CHANCE), centre,
                       np.sqrt(np.fmax(square - centre**2, 0.0)), chance)
        at_level = np.matmul(told.likelihood[:, None], backward)
        at_level += np.float32(STRAY) * told.likelihood.mean(axis=-1)[:, None, :, None]
        here *= at_level
        here /= here.sum(axis=(1, 3), keepdims=True)


def upper_limit(grid: LogGrid, chance: Singles, fixed: Floats, relative: Floats,
                share: float) -> Floats:
    """Give the value that a reading stays below with a given chance.

    Equation: the y with ``upper_tail(y) = 1 − share``, by halving and false position between
    normal scores.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    chance : array, shape (m, r, points) [-]
        Chance of every true rate.
    fixed : array, shape (m, r) [any]
        Variance that the reading would have at a rate of nothing.
    relative : array, shape (m, r) [-]
        Share of the rate in its uncertainty.
    share : float [-]
        Chance of staying below.

    Returns
    -------
    array, shape (m, r) [any]
        Limits; NaN where the variance is.

    Examples
    --------
    >>> grid = LogGrid(np.full(1, -3.0), np.full(1, 0.1))
    >>> sure = np.zeros((1, 1, 64), dtype=np.float32)
    >>> sure[0, 0, 30] = 1.0
    >>> upper_limit(grid, sure, np.array([[0.25]]), np.zeros((1, 1)), 0.975).round(2)
    array([[1.99]])
    """
    def score(value: Floats) -> Floats:
        tail = upper_tail(grid, chance, value, fixed, relative)
        return np.asarray(-ndtri(np.clip(tail, _LEAST_CHANCE, _MOST_CHANCE)) - ndtri(share))

    rates = np.exp(grid.logs())
    reach = 6.0 * np.sqrt(fixed)
    low, high = rates[:, :1] - reach, rates[:, -1:] + reach
    score_low, score_high = score(low), score(high)
    for step in range(_LIMIT_STEPS):
        part = np.full_like(low, 0.5)
        if step % 2:  # every other step halves, so that a bent curve does not hold one end still
            np.divide(-score_low, score_high - score_low, out=part, where=score_high > score_low)
            np.clip(part, 0.02, 0.98, out=part)
        middle = low + part * (high - low)
        found = score(middle)
        under = found < 0
        low, score_low = np.where(under, middle, low), np.where(under, found, score_low)
        high, score_high = np.where(under, high, middle), np.where(under, score_high, found)
    return np.where(np.isnan(fixed), np.nan, (low + high) / 2.0)
