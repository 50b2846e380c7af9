"""Wear rates that nobody sees, on a grid of their logarithm: what a reported rate says of them.

A reported rate is the true one plus an error of known size, rounded or cut off at a reporting
limit. On a logarithmic grid its likelihood is a row of numbers, a scatter is a matrix, and a
whole fleet is followed by matrix products. Single precision: grid and error are far coarser.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.limits.latent_readings import RateReadings

__all__ = ["GRID_POINTS", "STRAY", "LogGrid", "Told", "family_matrix", "log_grid",
           "occasion_matrix", "scatter_matrix", "told_by", "upper_tail"]

GRID_POINTS = 64
"""Points of the grid; twice as many move no chance that matters (tested)."""

STRAY = 1e-3
"""Share of engines, and of intervals, that a normal scatter does not describe: one interval far
off moves the level of an engine little. Assumed."""

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

# log(Φ(z)/Φ(−z)) as an odd polynomial, by weighted least squares against scipy.special.log_ndtr:
# relative error of the smaller tail at most 0.2 % up to |z| = 6.5.
_LOGIT = np.array([1.59171848, 7.63824692e-2, -1.07177991e-3, 1.35666600e-5, -7.71410588e-8],
                  dtype=np.float32)
_FAR = np.float32(6.5)
# A likelihood narrower than this many grid steps would fall between the points.
_NARROWEST = 0.6
# Beyond this many standard uncertainties outside the grid a reading is no longer told apart.
_OUTSIDE = 6.0
_WIDEST_STEP, _LEAST_SPREAD = 0.15, 0.3


@dataclass(frozen=True, slots=True)
class LogGrid:
    """Evenly spaced points of the natural logarithm of a rate, one grid per measurand.

    Parameters
    ----------
    low : array, shape (m,) [-]
        Logarithm at the first point.
    step : array, shape (m,) [-]
        Distance between points.
    points : int [-]
        How many.
    """

    low: Floats
    step: Floats
    points: int = GRID_POINTS

    def logs(self) -> Floats:
        """Give the points.

        Returns
        -------
        array, shape (m, points) [-]
            Natural logarithms of rates.
        """
        return self.low[:, None] + self.step[:, None] * np.arange(self.points)


def log_grid(readings: RateReadings, *, points: int = GRID_POINTS) -> LogGrid:
    """Lay a grid for each measurand that covers what its rates can tell.

    Downwards a rate far below the uncertainty cannot be told from one further below; upwards
    room is left beyond the largest. A grid that would grow too coarse is cut at the top.

    Parameters
    ----------
    readings : RateReadings [-]
        Rates of one family.
    points : int [-]
        Points of the grid.

    Returns
    -------
    LogGrid [-]
        One grid per measurand; around 0 where nothing was reported.

    Examples
    --------
    >>> from oiltrend.limits.latent_readings import rate_readings
    >>> grid = log_grid(rate_readings([[1.0], [2.0], [4.0], [5.0]], 0.2))
    >>> np.exp(grid.logs()[0, [0, -1]]).round(2)
    array([ 0.22, 38.21])
    """
    low, high, spread = readings.low, readings.high, readings.uncertainty
    number = np.where(np.isfinite(low), low, high)
    told = np.isfinite(number)
    # A rate that its own uncertainty swallows, or a bound, speaks only of what lies below it.
    clear = np.isfinite(low) & (number > spread)
    size = np.where(clear, number, 0.5 * np.fmax(np.where(np.isfinite(low), 0.0, number), spread))
    logs = np.log(np.where(told & (size > 0), size, np.nan))
    columns = logs.shape[1]
    bottom, step = np.zeros(columns), np.full(columns, _WIDEST_STEP)
    for column in range(columns):  # a handful of measurands, each with its own gaps
        own = logs[told[:, column], column]
        own = own[np.isfinite(own)]
        if not len(own):
            continue
        few, tenth, middle, ninth, most = np.quantile(own, [0.02, 0.1, 0.5, 0.9, 0.995])
        wide = max((ninth - tenth) / 2.563, _LEAST_SPREAD)
        useless = np.median(spread[told[:, column], column])
        start = few - 3.0 * wide
        if useless > 0:
            start = min(max(start, math.log(0.1 * useless)), middle - 4.0 * wide)
        end = max(most + 2.0 * wide, middle + 5.0 * wide)
        bottom[column] = start
        step[column] = min((end - start) / (points - 1), _WIDEST_STEP)
    return LogGrid(bottom, step, points)


def scatter_matrix(grid: LogGrid, sd: ArrayLike) -> Singles:
    """Give the chance of every point of the grid around every other for a normal scatter.

    Equation: ``K[i, j] ∝ φ((x_j − x_i)/s)``; what would lie beyond an end is put at the end.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    sd : array, shape (m, s) [-]
        Standard deviations of the logarithm.

    Returns
    -------
    array, shape (m, s, points, points) [-]
        Rows sum to 1.

    Examples
    --------
    >>> grid = LogGrid(np.zeros(1), np.full(1, 0.1), 5)
    >>> scatter_matrix(grid, [[0.1]])[0, 0, 2].round(3)
    array([0.059, 0.242, 0.399, 0.242, 0.059], dtype=float32)
    """
    spread = np.asarray(sd, dtype=float)
    points = grid.points
    relative = grid.step[:, None] / spread
    offset = np.arange(-points + 1, points)
    # Exponents this low are zero in single precision too.
    weight = np.exp(-0.5 * np.minimum((offset * relative[..., None]) ** 2, 400.0))
    weight /= weight.sum(axis=-1, keepdims=True)
    beyond = np.cumsum(weight, axis=-1).astype(np.float32)
    place = np.arange(points)
    # Line i is the window of the offsets that begins at −i.
    windows = np.lib.stride_tricks.sliding_window_view(weight.astype(np.float32), points, axis=-1)
    matrix = windows[..., ::-1, :].copy()
    matrix[..., 0] = beyond[..., points - 1 - place]
    matrix[..., -1] = beyond[..., place]
    # The widest scatters reach beyond the offsets of the grid on both sides.
    matrix /= matrix.sum(axis=-1, keepdims=True)
    return matrix


def occasion_matrix(grid: LogGrid, sd: ArrayLike) -> Singles:
    """Give the chance of an interval's rate around its engine's level.

    Equation: as :func:`scatter_matrix`, less the little scatter that the likelihood on a grid adds
    by itself.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    sd : array, shape (m, s) [-]
        Standard deviations of the logarithm.

    Returns
    -------
    array, shape (m, s, points, points) [-]
        Rows sum to 1.

    Examples
    --------
    >>> grid = LogGrid(np.zeros(1), np.full(1, 0.1), 5)
    >>> occasion_matrix(grid, [[0.1]])[0, 0, 2].round(3)
    array([0.022, 0.228, 0.499, 0.228, 0.022], dtype=float32)
    """
    added = (_NARROWEST * grid.step[:, None]) ** 2
    return scatter_matrix(grid, np.sqrt(np.fmax(np.square(sd) - added, added / 4.0)))


def family_matrix(grid: LogGrid, sd: ArrayLike) -> Singles:
    """Give the chance of an engine's level around its family's; a few engines are strays.

    Equation: ``(1 − ε)·K + ε/points`` with K of :func:`scatter_matrix`.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    sd : array, shape (m, s) [-]
        Standard deviations of the logarithm.

    Returns
    -------
    array, shape (m, s, points, points) [-]
        Rows sum to 1.

    Examples
    --------
    >>> grid = LogGrid(np.zeros(1), np.full(1, 0.1), 5)
    >>> family_matrix(grid, [[0.01]])[0, 0, 2].round(4)
    array([2.000e-04, 2.000e-04, 9.992e-01, 2.000e-04, 2.000e-04],
          dtype=float32)
    """
    matrix = scatter_matrix(grid, sd) * np.float32(1.0 - STRAY)
    matrix += np.float32(STRAY / grid.points)
    return matrix


def _tail(z: Singles) -> Singles:
    """Give 1 − Φ(z), overwriting z."""
    np.clip(z, -_FAR, _FAR, out=z)
    square = z * z
    power = np.full_like(z, _LOGIT[-1])
    for factor in _LOGIT[-2::-1]:
        power *= square
        power += factor
    power *= z
    np.exp(power, out=power)
    power += np.float32(1.0)
    return np.divide(np.float32(1.0), power, out=power)


class Told(NamedTuple):
    """What readings say at every true rate.

    Parameters
    ----------
    likelihood : array, shape (m, r, points) [-]
        How well the rate explains the reading; a factor that does not depend on it is left out.
    tail : array, shape (m, r, points) [-]
        Chance of another reading above this one; one that is an interval counts by its middle.
    """

    likelihood: Singles
    tail: Singles


def _distance(grid: LogGrid, kind: NDArray[np.intp], value: Floats, fixed: Floats,
              relative: Floats) -> tuple[Singles, Singles]:
    """Give (value − rate)/uncertainty and the uncertainty at every point, single precision."""
    rates = np.exp(grid.logs())
    # What the grid cannot resolve is added; it is taken off the scatter again.
    growing = relative**2 + (_NARROWEST * grid.step[kind]) ** 2
    lowest = rates[:, 0][kind] - _OUTSIDE * np.sqrt(fixed)
    held = np.clip(value, lowest, rates[:, -1][kind])
    at = rates.astype(np.float32)[kind]
    wide = growing.astype(np.float32)[..., None] * (at * at)
    wide += fixed.astype(np.float32)[..., None]
    np.sqrt(wide, out=wide)
    z = held.astype(np.float32)[..., None] - at
    z /= wide
    return z, wide


def told_by(grid: LogGrid, readings: RateReadings, *, tail: bool = True) -> Told:
    """Give what each reading says at every true rate of the grid.

    Equation: with ``u² = u_y² + r²·(λ² − y²)`` a number y has likelihood ``φ((y − λ)/u)/u`` and
    tail ``1 − Φ((y − λ)/u)``, an interval ``Φ((high − λ)/u) − Φ((low − λ)/u)`` and the mean of
    the tails at its ends; nothing reported has likelihood 1.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    readings : RateReadings, arrays of shape (r, m) [-]
        The readings.
    tail : bool [-]
        False leaves the tails of numbers out (zeros), to save time.

    Returns
    -------
    Told [-]
        Measurands first.

    Examples
    --------
    >>> from oiltrend.limits.latent_readings import rate_readings
    >>> grid = LogGrid(np.zeros(1), np.full(1, 0.7), 3)
    >>> told = told_by(grid, rate_readings([[2.0]], 1.0))
    >>> told.likelihood.round(2), told.tail.round(2)
    (array([[[0.65, 0.83, 0.32]]], dtype=float32), array([[[0.18, 0.5 , 0.85]]], dtype=float32))
    """
    low, high, _, relative = (array.T for array in readings.arrays())
    number = low == high
    kind = np.arange(len(grid.low))[:, None]
    fixed = readings.fixed().T
    z, wide = _distance(grid, kind, np.where(number, low, 1.0), np.where(number, fixed, 1.0),
                        relative)
    above = _tail(z.copy()) if tail else np.zeros_like(z)
    z *= z
    z *= np.float32(-0.5)
    np.maximum(z, np.float32(-80.0), out=z)
    np.exp(z, out=z)
    z /= wide
    z *= wide[..., :1]
    if not number.all():
        z[~number], above[~number] = 1.0, np.nan
        where = ~number & ~np.isnan(low)
        z[where], above[where] = _between(grid, np.nonzero(where)[0], low[where], high[where],
                                          fixed[where], relative[where])
    return Told(z, above)


def _between(grid: LogGrid, kind: NDArray[np.intp], low: Floats, high: Floats,
             fixed: Floats, relative: Floats) -> tuple[Singles, Singles]:
    """Give likelihood and tail of intervals."""
    tails = []
    for end in (low, high):
        finite = np.isfinite(end)
        tail = _tail(_distance(grid, kind, np.where(finite, end, 0.0), fixed, relative)[0])
        tail[~finite] = (end[~finite] < 0)[:, None]
        tails.append(tail)
    return (np.asarray(np.maximum(tails[0] - tails[1], np.float32(1e-12))),
            np.asarray((tails[0] + tails[1]) / np.float32(2.0)))


def upper_tail(grid: LogGrid, chance: Singles, value: Floats, fixed: Floats,
               relative: Floats) -> Floats:
    """Give the chance that a reading turns out above a value.

    Equation: ``Σ_j p_j · (1 − Φ((y − λ_j)/u_j))``, ``u_j² = f + r²·λ_j²``.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of m measurands.
    chance : array, shape (m, r, points) [-]
        Chance p of every true rate.
    value : array, shape (m, r) [any]
        The values y.
    fixed : array, shape (m, r) [any]
        Variance f of the reading at a rate of nothing.
    relative : array, shape (m, r) [-]
        Share r of the rate in the uncertainty.

    Returns
    -------
    array, shape (m, r) [-]
        Chances; NaN where the value is.

    Examples
    --------
    >>> grid = LogGrid(np.zeros(1), np.full(1, 0.7), 3)
    >>> even = np.full((1, 1, 3), 1 / 3, dtype=np.float32)
    >>> upper_tail(grid, even, np.array([[2.0]]), np.array([[1e-4]]), np.zeros((1, 1))).round(2)
    array([[0.47]])
    """
    kind = np.arange(len(grid.low))[:, None]
    z, _ = _distance(grid, kind, value, fixed, relative)
    return np.asarray(np.einsum("mrg,mrg->mr", chance, _tail(z)), dtype=np.float64)
