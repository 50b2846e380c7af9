"""Control charts on standard scores: small lasting changes that no single result shows.

Both charts take scores that are standard normal while nothing changes, such as the residuals of
:mod:`oiltrend.limits.latent`. The weighted mean (EWMA) forgets slowly, by sample or by use; the
sum (CUSUM) adds up what exceeds an allowance and also tells since when.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["Cusum", "Ewma", "cusum", "ewma"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ewma:
    """Weighted means of many series.

    Parameters
    ----------
    value : array, shape (..., n) [-]
        Weighted mean up to each sample; a missing score leaves it where it was.
    limit : array, shape (..., n) [-]
        What its size must exceed; narrower for the first samples.
    high, low : array of bool, shape (..., n) [-]
        Beyond the limit upwards, downwards.
    """

    value: Floats
    limit: Floats
    high: NDArray[np.bool_]
    low: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Cusum:
    """Upper and lower sums of many series.

    Parameters
    ----------
    upper, lower : array, shape (..., n) [-]
        Sums up to each sample, both counted positive.
    high, low : array of bool, shape (..., n) [-]
        Beyond the decision value upwards, downwards.
    high_since, low_since : array of int, shape (..., n) [-]
        First sample that the present sum is made of: where the change is likely to have begun;
        −1 where the sum is 0.
    """

    upper: Floats
    lower: Floats
    high: NDArray[np.bool_]
    low: NDArray[np.bool_]
    high_since: NDArray[np.int64]
    low_since: NDArray[np.int64]


def _weights(score: Floats, weight: float, x: ArrayLike | None, span: float | None) -> Floats:
    """Give the weight of every sample; 0 where there is none."""
    used = ~np.isnan(score)
    if x is None or span is None:
        return np.where(used, weight, 0.0)
    axis = np.broadcast_to(np.asarray(x, dtype=float), score.shape)
    if np.isnan(axis[used]).any():
        raise ValueRefused("x: must be a number wherever there is a score, found NaN",
                           hint="leave the score out where the place on the axis is not known")
    last = np.maximum.accumulate(np.where(used, axis, -np.inf), axis=-1)
    before = np.concatenate([np.full((*score.shape[:-1], 1), -np.inf), last[..., :-1]], axis=-1)
    with np.errstate(invalid="ignore"):
        part = -np.expm1(-np.fmax(axis - before, 0.0) / span)
    return np.where(used, np.where(np.isfinite(before), part, weight), 0.0)


def ewma(score: ArrayLike, *, weight: float = 0.2, x: ArrayLike | None = None,
         span: float | None = None, width: float = 2.962) -> Ewma:
    """Follow an exponentially weighted mean with limits for every sample.

    Equation: ``z_i = (1 − w_i)·z_{i−1} + w_i·x_i``, ``v_i = (1 − w_i)²·v_{i−1} + w_i²``, limit
    ``L·√v_i``. With an axis ``w_i = 1 − exp(−Δ_i/span)``: samples close together share a weight.

    Parameters
    ----------
    score : array, shape (..., n) [-]
        Standard scores in order; NaN for none.
    weight : float [-]
        Weight of one sample; with an axis that of the first.
    x : array, broadcast to (..., n), or None [use]
        Places on the use axis, rising.
    span : float, or None [use]
        Use after which a sample's weight has fallen to 37 %; needed with an axis.
    width : float [-]
        L. The default with weight 0.2 gives one false signal in 500 samples on the long run,
        both sides together (:func:`~oiltrend.limits.run_length.ewma_run_length`).

    Returns
    -------
    Ewma [-]
        One entry per sample.

    Raises
    ------
    ValueRefused
        When the weight is not above 0 and at most 1, the span or the width is not above 0, or only
        one of axis and span is given.

    Examples
    --------
    >>> told = ewma([0.5, 2.0, 1.5, 2.5, 2.0])
    >>> told.value.round(2), told.high
    (array([0.1 , 0.48, 0.68, 1.05, 1.24]), array([False, False, False,  True,  True]))

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; Lucas and Saccucci 1990,
    Technometrics 32:1. The weight by use is ours.
    """
    if not 0.0 < weight <= 1.0:
        raise ValueRefused(f"weight: must be above 0 and at most 1, found {weight}",
                           hint="use 0.2")
    if not width > 0.0 or (span is not None and not span > 0.0):
        raise ValueRefused(f"width and span: must be above 0, found {width} and {span}",
                           hint="use a width near 3")
    if (x is None) != (span is None):
        raise ValueRefused("x and span: must be given together, found one alone",
                           hint="give both, or neither for a weight by sample")
    number = np.asarray(score, dtype=float)
    weights = _weights(number, weight, x, span)
    value, variance = np.empty((2, *number.shape))
    mean, spread = np.zeros((2, *number.shape[:-1]))
    filled = np.nan_to_num(number)
    for sample in range(number.shape[-1]):  # over samples, all series at once
        own = weights[..., sample]
        mean = (1.0 - own) * mean + own * filled[..., sample]
        spread = (1.0 - own) ** 2 * spread + own**2
        value[..., sample], variance[..., sample] = mean, spread
    limit = width * np.sqrt(variance)
    return Ewma(value, limit, value > limit, value < -limit)


def _one_side(gain: Floats, used: NDArray[np.bool_], head: float
              ) -> tuple[Floats, NDArray[np.int64]]:
    """Give the sum that never falls below 0, and where its present run began."""
    total = np.cumsum(np.where(used, gain, 0.0), axis=-1)
    lowest = np.minimum.accumulate(np.minimum(total, 0.0), axis=-1)
    value = np.maximum(total - lowest, total + head)
    sample = np.arange(gain.shape[-1])
    rest = np.maximum.accumulate(np.where(used & (value <= 0.0), sample, -1), axis=-1)
    # The run begins with the first score after the last rest.
    upcoming = np.minimum.accumulate(np.where(used, sample, gain.shape[-1])[..., ::-1],
                                     axis=-1)[..., ::-1]
    first = np.take_along_axis(upcoming, np.minimum(rest + 1, gain.shape[-1] - 1), axis=-1)
    return value, np.where(value > 0.0, first, -1)


def cusum(score: ArrayLike, *, allowance: float = 0.5, decision: float = 5.0,
          head_start: float = 0.0) -> Cusum:
    """Add up what exceeds an allowance, upwards and downwards.

    Equation: ``S_i = max(0, S_{i−1} + x_i − k)``, as ``C_i − min(0, C_1, …, C_i)`` with ``C`` the
    plain sum of ``x − k``; downwards the same with ``−x``.

    Parameters
    ----------
    score : array, shape (..., n) [-]
        Standard scores in order; NaN for none.
    allowance : float [-]
        k, half the change that matters.
    decision : float [-]
        Value that a sum must exceed; the default with k 0.5 gives one false signal in 930 samples
        on one side (:func:`~oiltrend.limits.run_length.cusum_run_length`).
    head_start : float [-]
        Value that both sums begin with.

    Returns
    -------
    Cusum [-]
        One entry per sample.

    Raises
    ------
    ValueRefused
        When the decision value is not above 0, or allowance or head start are negative.

    Examples
    --------
    >>> told = cusum([0.2, -0.4, 2.0, 2.5, 2.0], decision=4.0)
    >>> told.upper.round(2), int(told.high_since[-1])
    (array([0. , 0. , 1.5, 3.5, 5. ]), 2)

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3; Lucas and Crosier 1982,
    Technometrics 24:199.
    """
    if not (decision > 0.0 and allowance >= 0.0 and head_start >= 0.0):
        raise ValueRefused(
            f"decision: must be above 0, allowance and head start at least 0, found {decision}, "
            f"{allowance} and {head_start}", hint="use 5, 0.5 and 0")
    number = np.asarray(score, dtype=float)
    used = ~np.isnan(number)
    upper, since = _one_side(number - allowance, used, head_start)
    lower, low_since = _one_side(-number - allowance, used, head_start)
    return Cusum(upper, lower, upper > decision, lower > decision, since, low_since)
