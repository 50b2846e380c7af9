"""How many sound engines are flagged at each sample, and what each single limit may cost.

A sound engine is one whose levels have not changed since its shells went in. Judging ten metals by
three kinds of limit is thirty comparisons; each has its small chance of a false flag, and together
they are not small. Correlated comparisons cost less than independent ones: metals of one engine
rise and fall together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import ndtri

from oiltrend.errors import ValueRefused

__all__ = ["FlagBudget", "effective_number", "flagged_share", "levels_for_budget",
           "score_correlation"]

Floats = NDArray[np.float64]

# Points of the integration lattice; the error of a share is then below a hundredth of it.
_POINTS = 4096
# Pairs that a correlation rests on at least; with fewer the two count as independent.
_LEAST_PAIRS = 20
# No two comparisons are quite the same; keeps the matrix invertible.
_LEAST_OWN = 1e-6


@dataclass(frozen=True, slots=True)
class FlagBudget:
    """What each comparison may cost so that all together cost the budget.

    Parameters
    ----------
    level : array, shape (c,) [-]
        Chance of a false flag allowed to each comparison, where it can be made.
    share : float [-]
        Expected share of sound engines flagged at a sample with these levels.
    independent : float [-]
        The same if the comparisons were independent.
    effective : float [-]
        Independent comparisons that would cost as much.
    """

    level: Floats
    share: float
    independent: float
    effective: float


def _primes(count: int) -> NDArray[np.int64]:
    found: list[int] = []
    candidate = 2
    while len(found) < count:
        if all(candidate % prime for prime in found):
            found.append(candidate)
        candidate += 1
    return np.array(found, dtype=np.int64)


def _matrix(correlation: ArrayLike | None, count: int) -> Floats | None:
    """Check a correlation matrix; None when the comparisons are independent."""
    if correlation is None:
        return None
    matrix = np.asarray(correlation, dtype=float)
    if matrix.shape != (count, count) or not np.allclose(matrix, matrix.T) or not np.allclose(
            np.diag(matrix), 1.0):
        raise ValueRefused(
            f"correlation: must be a correlation matrix of {count} comparisons, found shape "
            f"{matrix.shape}", hint="use score_correlation on the scores of sound engines")
    return None if np.allclose(matrix, np.eye(count)) else _definite(matrix)


def _definite(matrix: Floats) -> Floats:
    """Give the nearest usable correlation matrix: one put together pair by pair may not be one."""
    value, vector = np.linalg.eigh(matrix)
    fixed = (vector * np.maximum(value, _LEAST_OWN)) @ vector.T
    scale = np.sqrt(np.diag(fixed))
    return np.asarray(fixed / scale[:, None] / scale)


def score_correlation(score: ArrayLike) -> Floats:
    """Give the correlation of scores, pair by pair, and make it a correlation matrix.

    Equation: Pearson's r of the pairs that are both there; eigenvalues below 0 are raised to
    nearly 0.

    Parameters
    ----------
    score : array, shape (n, c) [-]
        Scores of n samples in c comparisons, such as the residuals of
        :func:`~oiltrend.limits.latent.follow_rates`; NaN for none.

    Returns
    -------
    array, shape (c, c) [-]
        Correlations; 0 for pairs with fewer than 20 samples in common.

    Raises
    ------
    ValueRefused
        When there are no rows and columns.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> common = rng.normal(size=(5000, 1))
    >>> score_correlation(common + rng.normal(size=(5000, 2))).round(1)
    array([[1. , 0.5],
           [0.5, 1. ]])
    """
    table = np.asarray(score, dtype=float)
    if table.ndim != 2:
        raise ValueRefused(f"score: must have samples and comparisons, found shape {table.shape}",
                           hint="give one column per comparison")
    used = ~np.isnan(table)
    here, filled = used.astype(float), np.where(used, table, 0.0)
    pairs = here.T @ here
    with np.errstate(invalid="ignore", divide="ignore"):
        # Means and squares of each column over the rows that the other column has, too.
        mean = (filled.T @ here) / pairs
        square = ((filled**2).T @ here) / pairs - mean**2
        product = (filled.T @ filled) / pairs - mean * mean.T
        found = product / np.sqrt(square * square.T)
    found = np.where((pairs >= _LEAST_PAIRS) & np.isfinite(found), found, 0.0)
    np.fill_diagonal(found, 1.0)
    return _definite(np.clip((found + found.T) / 2.0, -1.0, 1.0))


def _levels(level: ArrayLike, asked: ArrayLike) -> Floats:
    chance, share = np.broadcast_arrays(np.asarray(level, dtype=float),
                                        np.asarray(asked, dtype=float))
    for name, values in (("level", chance), ("asked", share)):
        if values.ndim != 1 or not ((values >= 0.0) & (values <= 1.0)).all():
            raise ValueRefused(f"{name}: must be chances between 0 and 1, one for each comparison, "
                               f"found {np.asarray(values).tolist()}",
                               hint="give for instance 0.005 for the limit of 99.5 %")
    return np.asarray(chance * share, dtype=np.float64)


def _any(chance: Floats, matrix: Floats | None) -> float:
    """Give the chance that at least one of the comparisons flags."""
    kept = chance > 0.0
    if matrix is None or kept.sum() < 2:
        return float(-np.expm1(np.log1p(-np.minimum(chance, 1.0 - 1e-15)).sum()))
    some, own = chance[kept], matrix[np.ix_(kept, kept)]
    # Start from a comparison that flags, chosen by its chance; the others follow from it. One over
    # the number that then flag, on the mean, is what the sum of the chances counts too often.
    lattice = np.arange(1, _POINTS + 1)[:, None] * np.sqrt(_primes(len(some) + 1)) % 1.0
    flagging = np.searchsorted(np.cumsum(some) / some.sum(),
                               (np.arange(_POINTS) + 0.5) / _POINTS)
    flagging = np.minimum(flagging, len(some) - 1)
    score = ndtri(np.clip(lattice[:, 1:], 1e-12, 1.0 - 1e-12)) @ np.linalg.cholesky(own).T
    beyond = -ndtri(np.clip(lattice[:, 0], 1e-12, 1.0) * some[flagging])
    line = np.arange(_POINTS)
    score += own[flagging] * (beyond - score[line, flagging])[:, None]
    flags = score >= -ndtri(some)
    flags[line, flagging] = True
    return min(float(some.sum() * (1.0 / flags.sum(axis=1)).mean()), 1.0)


def flagged_share(level: ArrayLike, *, asked: ArrayLike = 1.0,
                  correlation: ArrayLike | None = None) -> float:
    """Give the expected share of sound engines flagged at a sample.

    Equation: ``1 − P(Z_1 ≤ z_{1−α_1}, …, Z_c ≤ z_{1−α_c})``, Z normal with the correlation of the
    comparisons; ``1 − Π(1 − α_j)`` where they are independent.

    Parameters
    ----------
    level : array, shape (c,) [-]
        α, chance of a false flag of each comparison at one sample: 0.005 for a limit that 99.5 %
        stay below; for a sum, which stays up for some samples, that of
        :func:`~oiltrend.limits.run_length.cusum_beyond`.
    asked : array, broadcast to (c,) [-]
        Share of samples at which the comparison can flag at all: the measurand is reported, the
        history is long enough.
    correlation : array, shape (c, c), or None [-]
        Correlation of the scores that are compared; None for independent ones.

    Returns
    -------
    float [-]
        Share; times 100, so many of 100 sound engines are flagged at each sample.

    Raises
    ------
    ValueRefused
        When a level or a share is not between 0 and 1, or the matrix does not fit.

    Examples
    --------
    >>> round(flagged_share([0.05] * 8), 3)
    0.337
    >>> alike = 0.8 * np.ones((8, 8)) + 0.2 * np.eye(8)
    >>> round(flagged_share([0.05] * 8, correlation=alike), 3)
    0.141

    References
    ----------
    Naiman and Priebe 2001, Journal of Computational and Graphical Statistics 10:296 (how the
    chance is summed, from memory).
    """
    chance = _levels(level, asked)
    return _any(chance, _matrix(correlation, len(chance)))


def effective_number(share: float, level: float) -> float:
    """Give the number of independent comparisons of one level that cost a share.

    Equation: ``log(1 − share)/log(1 − level)``.

    Parameters
    ----------
    share : float [-]
        Share of sound engines flagged.
    level : float [-]
        Chance of a false flag of each comparison.

    Returns
    -------
    float [-]
        Effective number; not above the number of comparisons unless they exclude each other.

    Raises
    ------
    ValueRefused
        When one of the two is not between 0 and 1.

    Examples
    --------
    >>> round(effective_number(0.141, 0.05), 1)
    3.0
    """
    if not (0.0 < share < 1.0 and 0.0 < level < 1.0):
        raise ValueRefused(f"share and level: must be between 0 and 1, found {share} and {level}",
                           hint="give the share from flagged_share and the level it came from")
    return float(np.log1p(-share) / np.log1p(-level))


def levels_for_budget(budget: float, *, weight: ArrayLike, asked: ArrayLike = 1.0,
                      correlation: ArrayLike | None = None) -> FlagBudget:
    """Give the levels at which all comparisons together cost the budget.

    Equation: ``α_j = a·w_j`` with a such that :func:`flagged_share` is the budget. Independent
    comparisons of equal weight give Šidák's ``1 − (1 − B)^(1/c)``; ``B/c`` (Bonferroni) is always
    on the safe side.

    Parameters
    ----------
    budget : float [-]
        B, share of sound engines that may be flagged at a sample.
    weight : array, shape (c,) [-]
        How much of it each comparison may use, relative to the others; 0 switches it off.
    asked : array, broadcast to (c,) [-]
        Share of samples at which the comparison can flag at all.
    correlation : array, shape (c, c), or None [-]
        Correlation of the scores that are compared; None for independent ones.

    Returns
    -------
    FlagBudget [-]
        Levels, and what they cost.

    Raises
    ------
    ValueRefused
        When the budget is not between 0 and 1, no weight is above 0 or one is below, no comparison
        is asked often enough to use the budget, or the matrix does not fit.

    Examples
    --------
    >>> levels_for_budget(0.05, weight=[1.0] * 8).level.round(5)[0]
    np.float64(0.00639)

    References
    ----------
    Šidák 1967, JASA 62:626.
    """
    if not 0.0 < budget < 1.0:
        raise ValueRefused(f"budget: must be between 0 and 1, found {budget}",
                           hint="use 0.05: five of a hundred sound engines at each sample")
    part, share = np.broadcast_arrays(np.asarray(weight, dtype=float),
                                      np.asarray(asked, dtype=float))
    if part.ndim != 1 or not (part >= 0.0).all() or not (part > 0.0).any():
        raise ValueRefused(f"weight: must be 0 or more and above 0 for one comparison at least, "
                           f"found {np.asarray(part).tolist()}", hint="use 1 for each in force")
    matrix = _matrix(correlation, len(part))
    part = part / part.max()

    def cost(scale: float) -> float:
        return _any(_levels(np.minimum(scale * part, 1.0), share), matrix)

    if cost(1.0) < budget:
        raise ValueRefused(
            f"budget: must be within reach of the comparisons, found {budget} where all of them "
            f"together flag {cost(1.0):.3g} at most", hint="use a smaller budget")
    scale = float(brentq(lambda a: cost(a) - budget, 1e-12, 1.0, xtol=1e-12, rtol=1e-8))
    level = np.minimum(scale * part, 1.0)
    used = _levels(level, share)
    mean = float(used[used > 0].mean())
    total = _any(used, matrix)
    return FlagBudget(level, total, _any(used, None), effective_number(total, mean))
