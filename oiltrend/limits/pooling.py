"""Partial pooling in closed form: how far to believe a group's own mean, how far everybody's.

One-way data only: a level per engine, a scatter within. Alarms rest on what was measured; what is
drawn together here is the level to compare it with.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["Pooled", "PooledLevels", "pool_estimates", "pool_groups"]

Floats = NDArray[np.float64]

# Ratio of the variances, between over within, that is looked through: nothing, then ten decades.
_RATIOS = np.concatenate([[0.0], np.logspace(-5, 5, 81)])
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
_NARROWINGS = 45


@dataclass(frozen=True, slots=True)
class PooledLevels:
    """Levels of k groups in m measurands, drawn towards their common mean.

    Parameters
    ----------
    level : array, shape (k, m) [any]
        Drawn level; the common mean for a group without values.
    uncertainty : array, shape (k, m) [any]
        Its standard uncertainty with both variances taken as known.
    own_share : array, shape (k, m) [-]
        Weight of the group's own mean in it, 0 to 1.
    mean : array, shape (m,) [any]
        Common mean, every group weighted by what it knows.
    between, within : array, shape (m,) [-]
        Variance of the groups' levels and of the values within a group, in squared units of the
        values; NaN where the groups do not tell.
    floored : array of bool, shape (m,) [-]
        True where the groups differ by no more than their scatter explains: their variance is
        then 0 and every level the common mean.
    criterion : array, shape (m,) [-]
        Minus twice the restricted log-likelihood.
    """

    level: Floats
    uncertainty: Floats
    own_share: Floats
    mean: Floats
    between: Floats
    within: Floats
    floored: NDArray[np.bool_]
    criterion: Floats


class _Sums(NamedTuple):
    """Count and mean of each group (k, m), squares within (m,), values in all (m,)."""

    counts: Floats
    mean: Floats
    within: Floats
    total: Floats


def _sums(value: Floats, first: NDArray[np.intp]) -> _Sums:
    used = ~np.isnan(value)
    filled = np.where(used, value, 0.0)
    # Far from zero the squares would lose their digits.
    origin = filled.sum(axis=0) / np.maximum(used.sum(axis=0), 1)
    centred = np.where(used, value - origin, 0.0)
    count = np.add.reduceat(used, first, axis=0).astype(float)
    mean = np.add.reduceat(centred, first, axis=0) / np.maximum(count, 1.0)
    within = (centred**2).sum(axis=0) - (count * mean**2).sum(axis=0)
    return _Sums(count, mean + origin, np.maximum(within, 0.0), count.sum(axis=0))


def _weights(sums: _Sums, ratio: Floats) -> Floats:
    """Give n/(1 + n·θ): what each group's mean knows, in units of the scatter within."""
    return np.asarray(sums.counts / (1.0 + sums.counts * ratio))


def _profile(sums: _Sums, ratio: Floats) -> tuple[Floats, Floats, Floats]:
    """Give criterion, within variance and common mean for a ratio of the variances."""
    weight = _weights(sums, ratio)
    whole = weight.sum(axis=0)
    mean = (weight * sums.mean).sum(axis=0) / whole
    square = sums.within + (weight * (sums.mean - mean) ** 2).sum(axis=0)
    free = sums.total - 1.0
    variance = square / free
    criterion = (free * (1.0 + np.log(2.0 * np.pi * variance)) + np.log(whole)
                 + np.log1p(sums.counts * ratio).sum(axis=0))
    return criterion, variance, mean


def _restricted(sums: _Sums) -> Floats:
    """Find the ratio of the variances of greatest restricted likelihood."""
    columns = sums.counts.shape[1]
    found = np.array([_profile(sums, np.full(columns, ratio))[0] for ratio in _RATIOS])
    best = found.argmin(axis=0)
    low, high = _RATIOS[np.maximum(best - 1, 0)], _RATIOS[np.minimum(best + 1, len(_RATIOS) - 1)]
    for _ in range(_NARROWINGS):
        inner, outer = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        lower = _profile(sums, inner)[0] < _profile(sums, outer)[0]
        low, high = np.where(lower, low, inner), np.where(lower, outer, high)
    middle = (low + high) / 2.0
    none = _profile(sums, np.zeros(columns))[0] <= _profile(sums, middle)[0]
    return np.asarray(np.where(none, 0.0, middle), dtype=np.float64)


def _by_moments(sums: _Sums) -> Floats:
    """Give the ratio of the variances from the mean squares between and within."""
    groups = (sums.counts > 0).sum(axis=0)
    grand = (sums.counts * sums.mean).sum(axis=0) / sums.total
    between = (sums.counts * (sums.mean - grand) ** 2).sum(axis=0) / (groups - 1)
    within = sums.within / (sums.total - groups)
    usual = (sums.total - (sums.counts**2).sum(axis=0) / sums.total) / (groups - 1)
    return np.asarray(np.maximum((between / within - 1.0) / usual, 0.0), dtype=np.float64)


def pool_groups(value: ArrayLike, starts: ArrayLike, *,
                method: Literal["restricted", "moments"] = "restricted") -> PooledLevels:
    """Draw the mean of each group towards the common mean by as much as it is unsure.

    Equation: ``level_i = µ + B_i·(x̄_i − µ)``, ``B_i = τ²/(τ² + σ²/n_i)``, standard uncertainty
    ``√(B_i·σ²/n_i + (1 − B_i)²·var µ)``. τ² and σ² by restricted maximum likelihood, or from the
    mean squares.

    Parameters
    ----------
    value : array, shape (n, m) [any]
        Long table, sorted by group; NaN for none.
    starts : array of int, shape (k,) [-]
        First row of each group; no group may be empty.
    method : str [-]
        ``restricted`` or ``moments``.

    Returns
    -------
    PooledLevels [-]
        NaN in a measurand with fewer than two groups or without a second value in any group.

    Raises
    ------
    ValueRefused
        When the method is unknown, or ``starts`` does not fit the rows.

    Examples
    --------
    >>> told = pool_groups([[5.0], [6.0], [9.0], [10.0], [7.0]], [0, 2, 4])
    >>> told.level.round(2).ravel(), told.own_share.round(2).ravel()
    (array([5.61, 9.37, 7.04]), array([0.94, 0.94, 0.89]))

    References
    ----------
    Searle, Casella and McCulloch 1992, Variance Components, 3.6 to 3.8 (from memory).
    """
    if method not in ("restricted", "moments"):
        raise ValueRefused(f"method: must be 'restricted' or 'moments', found '{method}'",
                           hint="use restricted")
    table, first = np.asarray(value, dtype=float), np.asarray(starts, dtype=np.intp)
    if table.ndim != 2 or not len(first) or first[0] != 0 or (
            np.diff(first, append=len(table)) < 1).any():
        raise ValueRefused(
            f"starts: must begin at 0 and rise to less than the number of rows ({len(table)}), "
            f"found {first.tolist()[:8]}", hint="give the first row of each group that has rows")
    sums = _sums(table, first)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = (_restricted if method == "restricted" else _by_moments)(sums)
        criterion, variance, mean = _profile(sums, ratio)
        if method == "moments":
            variance = sums.within / (sums.total - (sums.counts > 0).sum(axis=0))
        share = sums.counts * ratio / (1.0 + sums.counts * ratio)
        spread = np.where(sums.counts > 0, share * variance / np.maximum(sums.counts, 1.0),
                          ratio * variance)
        unsure = variance / _weights(sums, ratio).sum(axis=0)
    told = (sums.within > 0) & ((sums.counts > 0).sum(axis=0) >= 2)

    def or_nan(array: Floats) -> Floats:
        return np.where(told, array, np.nan)

    return PooledLevels(
        or_nan(mean + share * (sums.mean - mean)),
        or_nan(np.sqrt(spread + (1.0 - share) ** 2 * unsure)), or_nan(share), or_nan(mean),
        or_nan(ratio * variance), or_nan(variance), told & (ratio == 0.0), or_nan(criterion))


@dataclass(frozen=True, slots=True)
class Pooled:
    """Estimates that came with their own uncertainty, drawn towards their common mean.

    Parameters
    ----------
    level : array, shape (k,) [any]
        Drawn estimates.
    own_share : array, shape (k,) [-]
        Weight of the own estimate in each.
    mean, mean_uncertainty : float [any]
        Common mean, weighted by what each knows, and its standard uncertainty.
    between : float [-]
        Variance between, in squared units of the estimates.
    unlike : float [-]
        Cochran's Q: squared distances from the mean in units of the uncertainties; about k − 1
        where nothing differs.
    """

    level: Floats
    own_share: Floats
    mean: float
    mean_uncertainty: float
    between: float
    unlike: float


def pool_estimates(value: ArrayLike, uncertainty: ArrayLike) -> Pooled:
    """Draw estimates with known uncertainties together.

    Equation: ``Q = Σ w(y − ȳ)²``, ``τ² = max(0, (Q − k + 1)/(Σw − Σw²/Σw))`` with ``w = 1/u²``;
    own share ``1 − (k − 3)/(k − 1) · u²/(u² + τ²)``: the factor keeps few estimates from being
    drawn together entirely when by chance they differ little, and makes equal uncertainties the
    rule of James and Stein.

    Parameters
    ----------
    value : array, shape (k,) [any]
        Estimates, four or more.
    uncertainty : array, shape (k,) [any]
        Their standard uncertainties, above 0.

    Returns
    -------
    Pooled [-]
        Drawn estimates and what they have in common.

    Raises
    ------
    ValueRefused
        When there are fewer than four, or an uncertainty is not above 0.

    Examples
    --------
    >>> told = pool_estimates([2.0, 4.0, 6.0, 8.0], [1.0, 1.0, 1.0, 1.0])
    >>> told.level, told.own_share.round(2)
    (array([2.15, 4.05, 5.95, 7.85]), array([0.95, 0.95, 0.95, 0.95]))

    References
    ----------
    DerSimonian and Laird 1986, Controlled Clinical Trials 7:177; Morris 1983, JASA 78:47;
    Efron and Morris 1975, JASA 70:311.
    """
    y, u = np.broadcast_arrays(np.asarray(value, dtype=float),
                               np.asarray(uncertainty, dtype=float))
    if y.ndim != 1 or len(y) < 4 or not (u > 0).all():
        raise ValueRefused(
            f"estimates: must be four or more with uncertainties above 0, found {y.size} with "
            f"uncertainties from {u.min(initial=np.inf)}",
            hint="with fewer, show them as they are")
    k, weight = len(y), 1.0 / u**2
    first = float((weight * y).sum() / weight.sum())
    unlike = float((weight * (y - first) ** 2).sum())
    between = max(0.0, (unlike - k + 1) / float(weight.sum() - (weight**2).sum() / weight.sum()))
    knows = 1.0 / (u**2 + between)
    mean = float((knows * y).sum() / knows.sum())
    share = 1.0 - (k - 3) / (k - 1) * u**2 * knows
    return Pooled(mean + share * (y - mean), share, mean, float(1.0 / np.sqrt(knows.sum())),
                  between, unlike)
