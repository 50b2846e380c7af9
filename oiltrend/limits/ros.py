"""Robust regression on order statistics: a summary of left-censored data for people to read.

Only the values below a limit are taken from the fitted line; what was measured stays as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from oiltrend.errors import ValueRefused
from oiltrend.limits.lognormal import FitState
from oiltrend.limits.series import bounded

__all__ = ["RosFit", "plotting_positions", "robust_ros"]

_LEAST_DETECTED = 3


@dataclass(frozen=True, slots=True)
class RosFit:
    """Summary of one left-censored sample.

    Parameters
    ----------
    mean, sd, median : float [any]
        Of the completed sample; NaN where the state is not FITTED.
    log_mean, log_sd : float [-]
        Of the natural logarithms of the completed sample.
    intercept, slope : float [-]
        The fitted line: logarithm against normal score.
    completed : array, shape (n,) [any]
        The sample with the values below a limit filled in, in the order given.
    n, n_detected : int [-]
        Readings, and those with a number.
    state : FitState [-]
        Whether there is a fit.
    """

    mean: float
    sd: float
    median: float
    log_mean: float
    log_sd: float
    intercept: float
    slope: float
    completed: NDArray[np.float64]
    n: int
    n_detected: int
    state: FitState


def _spread_evenly(order: NDArray[np.intp], groups: NDArray[np.intp], count: NDArray[np.intp],
                   constant: float) -> NDArray[np.float64]:
    """Give (rank − a)/(count + 1 − 2a) inside each group; order sorts by group, then value."""
    first = np.cumsum(count) - count
    inside = np.empty(len(groups))
    inside[order] = np.arange(len(groups)) - first[groups[order]] + 1.0
    return (inside - constant) / (count[groups] + 1.0 - 2.0 * constant)


def _exceedance(found: NDArray[np.intp], under: NDArray[np.intp]) -> NDArray[np.float64]:
    """Give the chance of exceeding each limit, from the highest down, then 0 above all."""
    exceed = np.zeros(len(found) + 1)
    for place in reversed(range(len(found))):  # each chance rests on the one above it
        share = found[place] / max(found[place] + under[place], 1)
        exceed[place] = exceed[place + 1] + share * (1.0 - exceed[place + 1])
    exceed[0] = 1.0
    return exceed


def plotting_positions(value: ArrayLike, below: ArrayLike, *,
                       constant: float = 0.0) -> NDArray[np.float64]:
    """Give each reading its share of the distribution, several reporting limits allowed.

    Equation: with the limits ``d_1 < … < d_k``, A_j detected values from d_j up to under
    d_{j+1}, and B_j readings under d_j (bounds at d_j included), the chance of exceeding d_j is
    ``p_j = p_{j+1} + A_j/(A_j + B_j) · (1 − p_{j+1})``, ``p_{k+1} = 0``. Inside a group the
    r-th of m stands at ``(r − a)/(m + 1 − 2a)``.

    Parameters
    ----------
    value : array, shape (n,) [any]
        Numbers, for "<v" the bound v; no NaN.
    below : array of bool, shape (n,) [-]
        True where the reading was below a limit.
    constant : float [-]
        a: 0 (Weibull) or 0.375 (Blom).

    Returns
    -------
    array, shape (n,) [-]
        Position between 0 and 1, in the order given.

    Raises
    ------
    ValueRefused
        When the constant is not between 0 and 0.5.

    Examples
    --------
    >>> plotting_positions([1.0, 3.0, 2.0], [True, False, False])
    array([0.1667, 0.7778, 0.5556])

    References
    ----------
    Hirsch and Stedinger 1987, Water Resources Research 23:715; Helsel and Cohn 1988.
    """
    if not 0.0 <= constant <= 0.5:
        raise ValueRefused(f"constant: must be between 0 and 0.5, found {constant}",
                           hint="use 0 (Weibull) or 0.375 (Blom)")
    number, censored = np.asarray(value, dtype=float), np.asarray(below, dtype=bool)
    limits = np.concatenate([[-np.inf], np.unique(number[censored])])
    group = np.searchsorted(limits, number, side="right") - 1
    places = len(limits)
    found = np.bincount(group[~censored], minlength=places)
    lost = np.bincount(group[censored], minlength=places)
    under = np.cumsum(lost) + np.cumsum(found) - found
    exceed = _exceedance(found, under)
    position = np.empty(len(number))
    for kind, count, from_zero in ((~censored, found, False), (censored, lost, True)):
        groups = group[kind]
        order = np.lexsort((number[kind], groups))
        inside = _spread_evenly(order, groups, count, constant)
        bottom, top = 1.0 - exceed[groups], 1.0 - exceed[groups + 1]
        # "<5" lies anywhere under 5; a detected value lies between its limit and the next.
        position[kind] = bottom * inside if from_zero else bottom + (top - bottom) * inside
    return position


def robust_ros(value: ArrayLike, below: ArrayLike, *, constant: float = 0.0) -> RosFit:
    """Summarise one left-censored sample by robust regression on order statistics.

    Equation: a straight line of ln(value) on ``Φ⁻¹(position)`` through the detected values; the
    readings below a limit are read off the line at their positions, then mean, standard
    deviation and median are those of the completed sample.

    Parameters
    ----------
    value : array, shape (n,) [any]
        Numbers, for "<v" the bound v; NaN is left out.
    below : array of bool, shape (n,) [-]
        True where the reading was below a limit. A reported 0 counts as below the smallest
        positive value.
    constant : float [-]
        Plotting constant a: 0 (Weibull) or 0.375 (Blom).

    Returns
    -------
    RosFit [-]
        The summary; NaN with fewer than 3 detected values, or when all of them are equal.

    Raises
    ------
    ValueRefused
        When the constant is not between 0 and 0.5.

    Examples
    --------
    >>> fit = robust_ros([1.0, 2.0, 3.0, 5.0], [True, False, False, False])
    >>> round(fit.mean, 3), fit.completed.round(3).tolist()
    (2.708, [0.833, 2.0, 3.0, 5.0])

    References
    ----------
    Helsel and Cohn 1988, Water Resources Research 24:1997.
    """
    number, censored = bounded(value, below, positive=True)
    used = ~np.isnan(number)
    number, censored = number[used], censored[used]
    detected = ~censored
    found = int(detected.sum())
    if found < _LEAST_DETECTED or np.ptp(number[detected]) == 0.0:
        state = FitState.TOO_FEW_DETECTED if found < _LEAST_DETECTED else FitState.NO_SPREAD
        nothing = np.where(censored, np.nan, number)
        nan = float("nan")
        return RosFit(nan, nan, nan, nan, nan, nan, nan, nothing, len(number), found, state)
    score = ndtri(plotting_positions(number, censored, constant=constant))
    log = np.log(number)
    away = score[detected] - score[detected].mean()
    slope = float(away @ log[detected] / (away @ away))
    intercept = float(log[detected].mean() - slope * score[detected].mean())
    log[censored] = intercept + slope * score[censored]
    completed = np.where(censored, np.exp(log), number)
    return RosFit(
        float(completed.mean()), float(completed.std(ddof=1)), float(np.median(completed)),
        float(log.mean()), float(log.std(ddof=1)), intercept, slope, completed, len(number),
        found, FitState.FITTED)
