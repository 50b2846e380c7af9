"""Population limits: percentiles of one value per engine, and what so many engines can support.

No distribution is assumed (the cumulative-distribution technique). What is counted is engines,
one value each: twelve samples of one engine are not twelve engines.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused
from oiltrend.limits.censored import too_much_below
from oiltrend.limits.percentiles import (
    at_or_over,
    at_or_under,
    between,
    percentile,
    percentile_position,
    percentile_ranks,
    rungs_of,
    smallest_sample,
)
from oiltrend.limits.series import bounded

__all__ = ["PopulationLimits", "PopulationState", "population_limits"]


class PopulationState(IntEnum):
    """Whether a population limit can be given."""

    ENOUGH = 0
    TOO_FEW_ENGINES = 1
    BELOW_REPORTING_LIMIT = 2


@dataclass(frozen=True, slots=True)
class PopulationLimits:
    """Limits of every group and measurand.

    Parameters
    ----------
    limit, lower, upper : array, shape (g, m) [any]
        The percentile and its order-statistic bounds; NaN where they cannot be given. With too
        few engines the limit is NaN.
    bound : array, shape (g, m) [any]
        Where the percentile lies among values below the reporting limit: a number that it does
        not exceed (every "<v" taken as v), else NaN.
    n_engines, n_below : array of int, shape (g, m) [-]
        Engines with a value, and those of them below a reporting limit.
    state : array of PopulationState codes, shape (g, m) [-]
        Whether there is a limit.
    needed : int [-]
        Engines that share and confidence ask for.
    """

    limit: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    bound: NDArray[np.float64]
    n_engines: NDArray[np.int64]
    n_below: NDArray[np.int64]
    state: NDArray[np.int8]
    needed: int


def _worst_case(value: NDArray[np.float64], below: NDArray[np.bool_],
                share: float) -> NDArray[np.float64]:
    """Give a number the percentile does not exceed: every "<v" taken as v."""
    number, _ = bounded(value, below)
    known = ~(below & np.isnan(number)).any(axis=1)
    return np.where(known, percentile(number, share), np.nan)


def _one_group(value: NDArray[np.float64], below: NDArray[np.bool_], share: float,
               confidence: float, needed: int) -> tuple[NDArray[Any], ...]:
    """Give limit, lower, upper, bound, n, n below and state of one group; lines are measurands."""
    counts = too_much_below(value, below)
    enough = counts.n >= needed
    rungs = rungs_of(value, below, counts.n)
    limit = between(rungs, percentile_position(counts.n, share))
    ranks = {n: percentile_ranks(n, share, confidence) for n in np.unique(counts.n).tolist()}
    low, high = np.array([[rank or np.nan for rank in ranks[n]] for n in counts.n.tolist()],
                         dtype=float).reshape(-1, 2).T
    lower, upper = at_or_under(rungs, low), at_or_over(rungs, high)
    hidden = enough & np.isnan(limit)
    bound = np.where(hidden, _worst_case(value, below, share), np.nan)
    state = np.select([~enough, hidden], [PopulationState.TOO_FEW_ENGINES,
                                          PopulationState.BELOW_REPORTING_LIMIT],
                      default=PopulationState.ENOUGH)
    limit, lower, upper = (np.where(enough, array, np.nan) for array in (limit, lower, upper))
    return limit, lower, upper, bound, counts.n, counts.n - counts.n_detected, state


def population_limits(value: ArrayLike, below: ArrayLike, group: ArrayLike, *, share: float,
                      confidence: float) -> PopulationLimits:
    """Give a percentile of each group of engines, with order-statistic bounds.

    Equation: the value at rank ``p · (n + 1)``, values below a limit by the product-limit
    method; bounds by binomial ranks. A group needs so many engines that its largest value bounds
    the percentile: :func:`~oiltrend.limits.percentiles.smallest_sample`.

    Parameters
    ----------
    value : array, shape (n_engines, m) [any]
        One value per engine and measurand, for "<v" the bound v; NaN where there is none.
    below : array of bool, shape (n_engines, m) [-]
        True where the value is below a reporting limit.
    group : array of int, shape (n_engines,) [-]
        Group of each engine, from 0; a negative code leaves the engine out.
    share : float [-]
        The percentile p.
    confidence : float [-]
        One-sided confidence of each bound.

    Returns
    -------
    PopulationLimits [-]
        Arrays with one line per group.

    Raises
    ------
    ValueRefused
        When share or confidence is not between 0 and 1, or the shapes do not fit.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> lead = rng.lognormal(1.0, 0.5, (60, 1))
    >>> told = population_limits(lead, lead < 0, np.zeros(60, dtype=int), share=0.9,
    ...                          confidence=0.95)
    >>> told.needed, PopulationState(told.state[0, 0]).name
    (29, 'ENOUGH')

    References
    ----------
    ASTM D7720, section 1.3 (technique, in outline); Wilks 1941.
    """
    needed = smallest_sample(share, confidence)
    number, censored = np.asarray(value, dtype=float), np.asarray(below, dtype=bool)
    code = np.asarray(group, dtype=np.intp)
    if number.ndim != 2 or censored.shape != number.shape or code.shape != number.shape[:1]:
        raise ValueRefused(
            f"value: must have shape (n_engines, m), below the same and group (n_engines,), found "
            f"{number.shape}, {censored.shape} and {code.shape}",
            hint="give one value per engine and measurand")
    groups, m = int(code.max(initial=-1)) + 1, number.shape[1]
    # Groups are families, tens of them and of unequal size: a rectangle would mostly be padding.
    parts = [_one_group(number[code == g].T, censored[code == g].T, share, confidence, needed)
             for g in range(groups)]
    limit, lower, upper, bound, n, lost, state = (
        np.array([part[column] for part in parts]).reshape(groups, m) for column in range(7))
    return PopulationLimits(limit, lower, upper, bound, n.astype(np.int64),
                            lost.astype(np.int64), state.astype(np.int8), needed)
