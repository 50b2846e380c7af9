"""Normal and lognormal fits of left-censored series by maximum likelihood, many at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, ndtri

from oiltrend.limits.series import bounded

__all__ = ["FitState", "NormalFit", "fit_censored_normal", "fit_lognormal", "lognormal_mean",
           "lognormal_percentile"]

# A location and a spread need at least this many numbers; common practice.
_LEAST_DETECTED = 3
# Size of the last step, relative; the error left is about its square.
_TOLERANCE = 1e-8
_MOST_STEPS = 200
_ROUNDING = 1e-12
_CELLS_AT_ONCE = 1_000_000


class FitState(IntEnum):
    """Whether a fit can be given: FITTED; fewer than 3 numbers; all numbers equal; no end."""

    FITTED = 0
    TOO_FEW_DETECTED = 1
    NO_SPREAD = 2
    NOT_CONVERGED = 3


@dataclass(frozen=True, slots=True)
class NormalFit:
    """Location and spread of many series.

    Parameters
    ----------
    mean, sd : array, shape (...) [any]
        Maximum-likelihood estimates (sd with divisor n); natural logs for a lognormal fit.
        NaN where the state is not FITTED.
    n, n_detected : array of int, shape (...) [-]
        Readings, and those with a number.
    state : array of FitState codes, shape (...) [-]
        Whether there is a fit.
    """

    mean: NDArray[np.float64]
    sd: NDArray[np.float64]
    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]
    state: NDArray[np.int8]


class _Likelihood:
    """The likelihood of many left-censored normal series, in ``d = µ/σ`` and ``h = 1/σ``.

    In these it has one summit and no other, so that damped Newton steps always get there.
    """

    def __init__(self, number: NDArray[np.float64], used: NDArray[np.bool_],
                 censored: NDArray[np.bool_]) -> None:
        detected = np.where(used & ~censored, number, 0.0)
        self.count = (used & ~censored).sum(axis=1).astype(float)
        self.sum, self.square = detected.sum(axis=1), (detected**2).sum(axis=1)
        self.line, self.bound = np.nonzero(censored)[0], number[censored]

    def _add(self, weight: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(self.line, weight, len(self.count)), dtype=float)

    def at(self, d: NDArray[np.float64], h: NDArray[np.float64],
           ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Give the log-likelihood and the Newton step in d and h."""
        z = h[self.line] * self.bound - d[self.line]
        chance = log_ndtr(z)
        hazard = np.exp(-0.5 * z**2 - chance) / math.sqrt(2.0 * math.pi)
        bend = hazard * (z + hazard)
        value = (self.count * (np.log(h) - 0.5 * d**2) - 0.5 * h**2 * self.square
                 + h * d * self.sum + self._add(chance))
        slope_d = h * self.sum - self.count * d - self._add(hazard)
        slope_h = (self.count / h - h * self.square + d * self.sum
                   + self._add(self.bound * hazard))
        curve_dd = self.count + self._add(bend)
        curve_dh = -self.sum - self._add(self.bound * bend)
        curve_hh = self.count / h**2 + self.square + self._add(self.bound**2 * bend)
        whole = curve_dd * curve_hh - curve_dh**2
        return (value, (curve_hh * slope_d - curve_dh * slope_h) / whole,
                (curve_dd * slope_h - curve_dh * slope_d) / whole)

    def keep(self, lines: NDArray[np.bool_]) -> None:
        """Go on with some of the series only."""
        place = np.cumsum(lines) - 1
        wanted = lines[self.line]
        self.line, self.bound = place[self.line[wanted]], self.bound[wanted]
        self.count, self.sum, self.square = (
            array[lines] for array in (self.count, self.sum, self.square))


def _climb(number: NDArray[np.float64], used: NDArray[np.bool_], censored: NDArray[np.bool_],
           ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Give mean and sd of greatest likelihood, and whether the climb came to an end."""
    n = used.sum(axis=1)
    mean = number.sum(axis=1) / n
    sd = np.sqrt(np.where(used, (number - mean[:, None]) ** 2, 0.0).sum(axis=1) / n)
    moving = np.flatnonzero(censored.any(axis=1))
    likelihood = _Likelihood(number[moving], used[moving], censored[moving])
    d, h = mean[moving] / sd[moving], 1.0 / sd[moving]
    best, step_d, step_h = likelihood.at(d, h)
    for _ in range(_MOST_STEPS):
        if not len(moving):
            break
        # h stays positive, and a step that leads down is cut in half.
        part = 1.0 / np.maximum(1.0, -step_h / (0.9 * h))
        new_d, new_h = d + part * step_d, h + part * step_h
        value, next_d, next_h = likelihood.at(new_d, new_h)
        up = value >= best - _ROUNDING * np.abs(best)
        size = np.maximum(np.abs(part * step_d), np.abs(part * step_h)) / new_h
        d, h, best = np.where(up, new_d, d), np.where(up, new_h, h), np.where(up, value, best)
        step_d = np.where(up, next_d, part * step_d / 2.0)
        step_h = np.where(up, next_h, part * step_h / 2.0)
        mean[moving], sd[moving] = d / h, 1.0 / h
        on = ~(up & (size < _TOLERANCE))
        likelihood.keep(on)
        moving, d, h, best, step_d, step_h = (
            array[on] for array in (moving, d, h, best, step_d, step_h))
    arrived = np.ones(len(number), dtype=bool)
    arrived[moving] = False
    return mean, sd, arrived


def _fit(number: NDArray[np.float64], censored: NDArray[np.bool_]) -> NormalFit:
    """Fit the lines of a rectangle."""
    used = ~np.isnan(number)
    detected = used & ~censored
    found = detected.sum(axis=1)
    high = np.where(detected, number, -np.inf).max(axis=1, initial=-np.inf)
    low = np.where(detected, number, np.inf).min(axis=1, initial=np.inf)
    state = np.select([found < _LEAST_DETECTED, high == low],
                      [FitState.TOO_FEW_DETECTED, FitState.NO_SPREAD], default=FitState.FITTED)
    mean, sd = np.full((2, len(number)), np.nan)
    rows = np.flatnonzero(state == FitState.FITTED)
    # Scaled by its own detected range, no series depends on the unit it is counted in.
    origin, width = low[rows], high[rows] - low[rows]
    scaled = (np.where(used, number, 0.0)[rows] - origin[:, None]) / width[:, None]
    centre, spread, arrived = _climb(np.where(used[rows], scaled, 0.0), used[rows],
                                     censored[rows])
    state[rows[~arrived]] = FitState.NOT_CONVERGED
    mean[rows] = np.where(arrived, origin + width * centre, np.nan)
    sd[rows] = np.where(arrived, width * spread, np.nan)
    return NormalFit(mean, sd, used.sum(axis=1), found, state.astype(np.int8))


def fit_censored_normal(value: ArrayLike, below: ArrayLike) -> NormalFit:
    """Fit a normal distribution to each left-censored series by maximum likelihood.

    Equation: ``max Π φ((x_i − µ)/σ)/σ · Π Φ((c_j − µ)/σ)`` over numbers x and bounds c, by Newton
    steps in ``µ/σ`` and ``1/σ``, in which the likelihood is concave.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : array of bool, shape (..., n) [-]
        True where the reading was below a limit; an unknown bound as in
        :func:`~oiltrend.limits.series.bounded`.

    Returns
    -------
    NormalFit [-]
        One entry per series.

    Examples
    --------
    >>> fit = fit_censored_normal([[1.0, 2.0, 4.0, 5.0], [3.0, 4.0, 5.0, 6.0]],
    ...                           [[False] * 4, [True, False, False, False]])
    >>> fit.mean.round(4), fit.sd.round(4)
    (array([3.    , 4.3052]), array([1.5811, 1.434 ]))

    References
    ----------
    Cohen 1959, Technometrics 1:217 (likelihood); Olsen 1978, Econometrica 46:1211 (concave form).
    """
    number, censored = bounded(value, below)
    shape, n = number.shape[:-1], number.shape[-1]
    lines = math.prod(shape)
    number, censored = number.reshape(lines, n), censored.reshape(lines, n)
    at_once = max(1, _CELLS_AT_ONCE // max(n, 1))
    # In slices, so that the working memory does not grow with the fleet.
    parts = [_fit(number[first:first + at_once], censored[first:first + at_once])
             for first in range(0, max(len(number), 1), at_once)]
    return NormalFit(*(np.concatenate([getattr(part, name) for part in parts]).reshape(shape)
                       for name in ("mean", "sd", "n", "n_detected", "state")))


def fit_lognormal(value: ArrayLike, below: ArrayLike) -> NormalFit:
    """Fit a lognormal distribution to each left-censored series by maximum likelihood.

    Equation: as :func:`fit_censored_normal` on natural logarithms. A reported 0 or less is
    below the smallest positive value of its series.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : array of bool, shape (..., n) [-]
        True where the reading was below a limit.

    Returns
    -------
    NormalFit [-]
        Mean and sd of the natural logarithm, one entry per series.

    Examples
    --------
    >>> fit = fit_lognormal([2.0, 3.0, 5.0, 9.0], [True, False, False, False])
    >>> float(lognormal_percentile(fit, 0.5))
    3.666

    References
    ----------
    Helsel 2005, Nondetects and Data Analysis, chapter 6.
    """
    number, censored = bounded(value, below, positive=True)
    return fit_censored_normal(np.log(number), censored)


def lognormal_mean(fit: NormalFit) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give mean and standard deviation on the plain scale.

    Equation: ``mean = exp(µ + σ²/2)``, ``sd = mean · √(exp(σ²) − 1)``. With a wide spread both
    grow far beyond the data; percentiles do not.

    Parameters
    ----------
    fit : NormalFit [-]
        From :func:`fit_lognormal`.

    Returns
    -------
    tuple of two arrays, shape (...) [any]
        Mean and standard deviation.

    Examples
    --------
    >>> mean, sd = lognormal_mean(fit_lognormal([2.0, 3.0, 5.0, 9.0], [False] * 4))
    >>> float(mean), float(sd)
    (4.751, 2.904)
    """
    mean = np.exp(fit.mean + fit.sd**2 / 2)
    return mean, mean * np.sqrt(np.expm1(fit.sd**2))


def lognormal_percentile(fit: NormalFit, share: float) -> NDArray[np.float64]:
    """Give a percentile on the plain scale.

    Equation: ``exp(µ + σ·Φ⁻¹(share))``.

    Parameters
    ----------
    fit : NormalFit [-]
        From :func:`fit_lognormal`.
    share : float [-]
        Between 0 and 1.

    Returns
    -------
    array, shape (...) [any]
        The percentile.

    Examples
    --------
    >>> float(lognormal_percentile(fit_lognormal([2.0, 3.0, 5.0, 9.0], [False] * 4), 0.5))
    4.054
    """
    return np.asarray(np.exp(fit.mean + fit.sd * ndtri(share)))
