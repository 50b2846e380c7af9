"""An engine against its own past: the upper limit for its next result from its earlier ones.

A prediction limit, not mean plus three sigma: it knows that few earlier results fix neither the
level nor the spread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from oiltrend.errors import ValueRefused
from oiltrend.limits.lognormal import FitState, fit_censored_normal
from oiltrend.limits.series import bounded

__all__ = ["LEAST_HISTORY", "OwnLimits", "OwnState", "own_limits"]

LEAST_HISTORY = 5
"""Earlier results needed. Ours: with fewer the t factor makes the limit meaningless."""


class OwnState(IntEnum):
    """Whether there is an own limit.

    GIVEN; TOO_FEW earlier results; NO_FIT (so much below the reporting limit that level and
    spread cannot be told).
    """

    GIVEN = 0
    TOO_FEW = 1
    NO_FIT = 2


@dataclass(frozen=True, slots=True)
class OwnLimits:
    """Upper limits for the next result of many series.

    Parameters
    ----------
    limit : array, shape (...) [any]
        Upper prediction limit; NaN where the state is not GIVEN.
    centre : array, shape (...) [any]
        Level of the earlier results: mean, on a log scale the geometric mean.
    spread : array, shape (...) [any]
        Standard deviation used, on a log scale that of the natural logarithm.
    n, n_detected : array of int, shape (...) [-]
        Earlier results, and those with a number.
    state : array of OwnState codes, shape (...) [-]
        Whether there is a limit.
    """

    limit: NDArray[np.float64]
    centre: NDArray[np.float64]
    spread: NDArray[np.float64]
    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]
    state: NDArray[np.int8]


class _Past(NamedTuple):
    """Level and spread of the earlier results, on the scale of the limit."""

    mean: NDArray[np.float64]
    sd: NDArray[np.float64]
    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]
    fitted: NDArray[np.bool_]


def _past(number: NDArray[np.float64], censored: NDArray[np.bool_]) -> _Past:
    """Take mean and standard deviation (divisor n − 1), by maximum likelihood with bounds."""
    used = ~np.isnan(number)
    n = used.sum(axis=1)
    mean = np.where(used, number, 0.0).sum(axis=1) / np.maximum(n, 1)
    away = np.where(used, number - mean[:, None], 0.0)
    sd = np.sqrt((away**2).sum(axis=1) / np.maximum(n - 1, 1))
    fitted = np.ones(len(n), dtype=bool)
    bounds = np.flatnonzero(censored.any(axis=1))
    if len(bounds):
        fit = fit_censored_normal(number[bounds], censored[bounds])
        mean[bounds] = fit.mean
        sd[bounds] = fit.sd * np.sqrt(fit.n / np.maximum(fit.n - 1, 1))
        fitted[bounds] = fit.state == FitState.FITTED
    return _Past(mean, sd, n, n - censored.sum(axis=1), fitted)


def _check(confidence: float, scale: str, minimum: int) -> None:
    if not 0.0 < confidence < 1.0:
        raise ValueRefused(f"confidence: must be between 0 and 1, found {confidence}",
                           hint="give a share such as 0.99")
    if scale not in ("plain", "log"):
        raise ValueRefused(f"scale: must be 'plain' or 'log', found '{scale}'",
                           hint="use log for values that scatter in proportion to their level")
    if minimum < 3:
        raise ValueRefused(f"minimum: must be 3 or more, found {minimum}",
                           hint=f"use {LEAST_HISTORY}")


def _limits(past: _Past, known: NDArray[np.float64], confidence: float, minimum: int,
            logs: bool) -> dict[str, NDArray[Any]]:
    spread = np.fmax(past.sd, known / np.exp(past.mean) if logs else known)
    factor = (stdtrit(np.maximum(past.n_detected - 1, 1), confidence)
              * np.sqrt(1.0 + 1.0 / np.maximum(past.n, 1)))
    state = np.select([past.n < minimum, ~past.fitted], [OwnState.TOO_FEW, OwnState.NO_FIT],
                      default=OwnState.GIVEN)
    limit, centre, spread = (np.where(state == OwnState.GIVEN, array, np.nan)
                             for array in (past.mean + factor * spread, past.mean, spread))
    return {"limit": np.exp(limit) if logs else limit,
            "centre": np.exp(centre) if logs else centre, "spread": spread, "n": past.n,
            "n_detected": past.n_detected, "state": state.astype(np.int8)}


def own_limits(history: ArrayLike, *, confidence: float, scale: Literal["plain", "log"],
               test_uncertainty: ArrayLike = 0.0, below: ArrayLike = False,
               minimum: int = LEAST_HISTORY) -> OwnLimits:
    """Give the upper prediction limit for the next result of each series.

    Equation: ``x̄ + t·s·√(1 + 1/n)``, Student's t with n − 1 degrees of freedom, on the plain or
    the natural-log scale. s is at least the test's own standard uncertainty u (u/level on a log
    scale): a quiet past must not make every next result stand out. With results below a limit, x̄
    and s are maximum-likelihood estimates and the degrees of freedom those of the detected values
    (approximate, fewer false alarms than stated; checked by simulation).

    Parameters
    ----------
    history : array, shape (..., n) [any]
        Earlier results of each series, for "<v" the bound v; NaN pads.
    confidence : float [-]
        Chance that the next result of an unchanged engine stays below the limit.
    scale : str [-]
        ``plain``, or ``log`` for values that scatter in proportion; on the log scale a reported
        0 counts as below the smallest positive value.
    test_uncertainty : array, shape (...) [any]
        Standard uncertainty of one result, in the unit of the values.
    below : bool or array of bool, shape (..., n) [-]
        True where the result was below a limit.
    minimum : int [-]
        Earlier results needed.

    Returns
    -------
    OwnLimits [-]
        One entry per series.

    Raises
    ------
    ValueRefused
        When the confidence is not between 0 and 1, the scale is unknown or the minimum is under 3.

    Examples
    --------
    >>> float(own_limits([4.0, 5.0, 6.0, 5.0, 4.0], confidence=0.99, scale="plain").limit)
    8.234

    References
    ----------
    US EPA 2009, Unified Guidance 530/R-09-007, chapter 18.
    """
    _check(confidence, scale, minimum)
    logs = scale == "log"
    number, censored = bounded(history, below, positive=logs)
    shape = number.shape[:-1]
    flat = (math.prod(shape), number.shape[-1])
    past = _past((np.log(number) if logs else number).reshape(flat), censored.reshape(flat))
    known = np.broadcast_to(np.asarray(test_uncertainty, dtype=float), shape).reshape(flat[0])
    found = _limits(past, known, confidence, minimum, logs)
    return OwnLimits(**{name: array.reshape(shape) for name, array in found.items()})
