"""Description of left-censored data without assuming a shape: counts and Kaplan-Meier.

Values below a reporting limit are never 0, never dropped and never half the limit. Turned round,
they are right-censored, and the product-limit method applies.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.limits.series import bounded

__all__ = ["BelowFlag", "BelowShare", "KaplanMeier", "Ladder", "kaplan_meier", "ladder",
           "percentile_step", "too_much_below"]

# Above these shares mean and median (half) and any fit (four fifths) rest on assumption rather
# than on data. Common practice in water quality, no single source.
_HALF, _FOUR_FIFTHS = 0.5, 0.8
# Products of shares carry a few last binary digits.
_EXACT = 1e-12


class BelowFlag(IntEnum):
    """How much of a series lies below the reporting limit, and so what can be said of it.

    NONE: everything. UP_TO_HALF: median and upper percentiles. OVER_HALF: upper percentiles;
    the median is only "below". OVER_FOUR_FIFTHS: the share below, and the highest values.
    ALL: "below the reporting limit". NO_VALUES: nothing.
    """

    NONE = 0
    UP_TO_HALF = 1
    OVER_HALF = 2
    OVER_FOUR_FIFTHS = 3
    ALL = 4
    NO_VALUES = 5


@dataclass(frozen=True, slots=True)
class BelowShare:
    """Counts of each series, and what they allow to be said.

    Parameters
    ----------
    n, n_detected : array of int, shape (...) [-]
        Readings, and those with a number.
    share : array, shape (...) [-]
        Share of the readings below the reporting limit; NaN without readings.
    flag : array of BelowFlag codes, shape (...) [-]
        What the share allows.
    """

    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]
    share: NDArray[np.float64]
    flag: NDArray[np.int8]


def too_much_below(value: ArrayLike, below: ArrayLike) -> BelowShare:
    """Say how much of each series lies below its reporting limits.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : array of bool, shape (..., n) [-]
        True where the reading was below a limit, also when no bound was given.

    Returns
    -------
    BelowShare [-]
        Counts, share and flag per series. The borders one half and four fifths are common
        practice.

    Examples
    --------
    >>> told = too_much_below([1.0, 1.0, 1.0, 5.0], [True, True, True, False])
    >>> float(told.share), BelowFlag(told.flag).name
    (0.75, 'OVER_HALF')
    """
    number, censored = np.broadcast_arrays(np.asarray(value, dtype=float),
                                           np.asarray(below, dtype=bool))
    n = (censored | ~np.isnan(number)).sum(axis=-1)
    lost = censored.sum(axis=-1)
    share = np.where(n > 0, lost / np.maximum(n, 1), np.nan)
    flag = np.select(
        [n == 0, lost == 0, lost == n, share > _FOUR_FIFTHS, share > _HALF],
        [BelowFlag.NO_VALUES, BelowFlag.NONE, BelowFlag.ALL, BelowFlag.OVER_FOUR_FIFTHS,
         BelowFlag.OVER_HALF], default=BelowFlag.UP_TO_HALF)
    return BelowShare(n, n - lost, share, flag.astype(np.int8))


@dataclass(frozen=True, slots=True)
class Ladder:
    """Readings from the highest down, with the product-limit distribution on each rung.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers and bounds in falling order; NaN at the end.
    detected : array of bool, shape (..., n) [-]
        True for numbers, False for bounds and padding.
    up_to, under : array, shape (..., n) [-]
        F(x), the share up to and with this rung, and F(x−), the share strictly under it.
    n : array of int, shape (...) [-]
        Readings.
    """

    value: NDArray[np.float64]
    detected: NDArray[np.bool_]
    up_to: NDArray[np.float64]
    under: NDArray[np.float64]
    n: NDArray[np.int64]


def ladder(value: ArrayLike, below: ArrayLike) -> Ladder:
    """Order left-censored readings and give each its product-limit share.

    Equation: ``F(x−) = Π (1 − 1/n_i)`` over the detected values from the highest down to x, with
    n_i the readings that stand at or under the rung, bounds included.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : array of bool, shape (..., n) [-]
        True where the reading was below a limit; an unknown bound as in
        :func:`~oiltrend.limits.series.bounded`.

    Returns
    -------
    Ladder [-]
        One ladder per series. A "<5" stands under a detected 5.

    Examples
    --------
    >>> rungs = ladder([3.0, 5.0, 8.0, 5.0], [False, True, False, False])
    >>> rungs.value, rungs.under
    (array([8., 5., 5., 3.]), array([0.75, 0.5 , 0.5 , 0.  ]))

    References
    ----------
    Kaplan and Meier 1958; Helsel 2005, Nondetects and Data Analysis, chapter 6 (flipping).
    """
    number, censored = bounded(value, below)
    order = np.lexsort((censored, -number), axis=-1)
    number = np.take_along_axis(number, order, axis=-1)
    present = ~np.isnan(number)
    detected = present & ~np.take_along_axis(censored, order, axis=-1)
    n = present.sum(axis=-1)
    at_risk = np.maximum(n[..., None] - np.arange(number.shape[-1]), 1)
    factor = np.where(detected, 1.0 - 1.0 / at_risk, 1.0)
    under = np.asarray(np.cumprod(factor, axis=-1), dtype=float)
    up_to = np.concatenate([np.ones_like(under[..., :1]), under[..., :-1]], axis=-1)
    return Ladder(number, detected, up_to, under, n)


def percentile_step(rungs: Ladder, share: float) -> NDArray[np.float64]:
    """Read a percentile off the product-limit steps.

    Equation: the smallest detected x with ``F(x) ≥ share``. For an interpolated percentile see
    :func:`oiltrend.limits.percentiles.percentile`.

    Parameters
    ----------
    rungs : Ladder [-]
        From :func:`ladder`.
    share : float [-]
        Between 0 and 1.

    Returns
    -------
    array, shape (...) [any]
        The percentile; NaN where it falls among the values below the reporting limits.

    Examples
    --------
    >>> float(percentile_step(ladder([3.0, 5.0, 8.0, 5.0], [False, True, False, False]), 0.75))
    5.0

    References
    ----------
    Helsel 2005, Nondetects and Data Analysis, chapter 6.
    """
    reaches = rungs.detected & (rungs.up_to >= share - _EXACT)
    lowest = np.where(reaches, rungs.value, np.inf).min(axis=-1, initial=np.inf)
    left = np.where(rungs.detected, rungs.under, 1.0).min(axis=-1, initial=1.0)
    return np.where(np.isfinite(lowest) & (left < share - _EXACT), lowest, np.nan)


@dataclass(frozen=True, slots=True)
class KaplanMeier:
    """Mean, spread and median without a shape, one entry per series.

    Parameters
    ----------
    mean, standard_error, sd, median : array, shape (...) [any]
        In the unit of the values; NaN where they cannot be given.
    left_over : array, shape (...) [-]
        Share of the distribution under the smallest detected value.
    n, n_detected : array of int, shape (...) [-]
        Readings, and those with a number.
    """

    mean: NDArray[np.float64]
    standard_error: NDArray[np.float64]
    sd: NDArray[np.float64]
    median: NDArray[np.float64]
    left_over: NDArray[np.float64]
    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]


def kaplan_meier(value: ArrayLike, below: ArrayLike) -> KaplanMeier:
    """Describe left-censored readings without assuming a shape.

    Equation: mean ``= Σ x · (F(x) − F(x−))``. What is left under the smallest detected value is
    put at the smallest number present, value or bound, so the mean is an upper estimate wherever
    ``left_over`` is above 0. Standard error after Greenwood with the factor ``m/(m − 1)`` for m
    detected values, NaN for fewer than 2; ``sd = standard error · √n``.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : array of bool, shape (..., n) [-]
        True where the reading was below a limit.

    Returns
    -------
    KaplanMeier [-]
        One entry per series; all NaN where nothing was detected.

    Examples
    --------
    >>> told = kaplan_meier([3.0, 5.0, 8.0, 5.0], [False, True, False, False])
    >>> float(told.mean), float(told.median)
    (4.75, 3.0)

    References
    ----------
    Helsel 2005, Nondetects and Data Analysis, chapter 6; Greenwood 1926 (variance).
    """
    rungs = ladder(value, below)
    detected = rungs.detected.sum(axis=-1)
    some = detected > 0
    present = ~np.isnan(rungs.value)
    least = np.where(present, rungs.value, np.inf).min(axis=-1, initial=np.inf)
    least = np.where(np.isfinite(least), least, 0.0)[..., None]
    number = np.where(present, rungs.value, least)
    left = np.where(rungs.detected, rungs.under, 1.0).min(axis=-1, initial=1.0)
    weight = np.where(rungs.detected, rungs.up_to - rungs.under, 0.0)
    mean = (weight * number).sum(axis=-1) + left * least[..., 0]
    # Area under F from each rung down to the lowest number.
    strip = rungs.under * (number - np.concatenate([number[..., 1:], least], axis=-1))
    area = np.cumsum(strip[..., ::-1], axis=-1)[..., ::-1]
    at_risk = rungs.n[..., None] - np.arange(number.shape[-1])
    term = area**2 / np.maximum(at_risk * (at_risk - 1.0), 1.0)
    variance = np.where(rungs.detected & (at_risk > 1), term, 0.0).sum(axis=-1)
    variance = np.where(detected > 1, variance * detected / np.maximum(detected - 1.0, 1.0), np.nan)
    error = np.sqrt(variance)
    return KaplanMeier(
        mean=np.where(some, mean, np.nan), standard_error=error, sd=error * np.sqrt(rungs.n),
        median=percentile_step(rungs, 0.5), left_over=np.where(some, left, np.nan), n=rungs.n,
        n_detected=detected)
