"""What a family's engines have in common: level, spread between engines, scatter of an engine.

Learned once per fleet by adding up the likelihood on a lattice of spreads and scatters; the
family's level is integrated out on the grid. Nothing is searched for step by step, so nothing can
fail to converge, and one engine is learned from in the same way as ten thousand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from oiltrend.limits.latent_filter import engine_blocks, step_through
from oiltrend.limits.latent_grid import (
    STRAY,
    LogGrid,
    Singles,
    family_matrix,
    log_grid,
    occasion_matrix,
    told_by,
)
from oiltrend.limits.latent_readings import RateReadings

__all__ = ["FEW_ENGINES", "LEAST_SCATTER", "LEAST_SPREAD", "FamilyLevel", "Priors",
           "learn_family"]

Floats = NDArray[np.float64]

FEW_ENGINES = 60
"""Below this, what is not known of spread and scatter is carried along, and an engine is judged by
the others. From here on it no longer matters: at 60 engines of 6 intervals the standard error of
the scatter is 4 %."""

LEAST_SPREAD, LEAST_SCATTER = 0.05, 0.10
"""Floors of the standard deviations of the logarithm: no two engines are alike, no two fills are
driven alike, and a spread of zero would judge every engine by the family alone. Assumed."""

# Engines looked at, one number a look: what stands out in one is left out of the next. At the last,
# with 10 intervals each, the standard error of the spread is 3 %, of the scatter 1 %, and that of
# a chance of 1 in 200 some 7 % of it.
_LOOKS = (60, 120, 120, 480)
# The least half width, in the logarithm, of the range that a later look searches.
_LEAST_RANGE = 0.12
# An engine with one normal score beyond the first, or a sum of scores beyond the second (allowance
# 0.5), tells nothing of sound ones. Of those, 1 in 400 is left out by mistake in 12 intervals.
_FAR_OFF, _LASTING, _ALLOWANCE = 4.0, 7.5, 0.5
_NODES = 5
# Where the middle of the data lies on the grid, which reaches further up than down.
_MIDDLE = 0.45


@dataclass(frozen=True, slots=True)
class Priors:
    """What is taken for likely before a family has spoken; all of it assumed, and weak.

    Parameters
    ----------
    spread : float [-]
        Median standard deviation of the logarithm between engines.
    scatter : float [-]
        Median standard deviation of the logarithm from interval to interval.
    doubt : float [-]
        Standard deviation of the logarithm of both.
    level : float [-]
        Standard deviation of the logarithm of the family's level around the middle of its data.
    """

    spread: float = 0.35
    scatter: float = 0.30
    doubt: float = 0.5
    level: float = 1.5


@dataclass(frozen=True, slots=True)
class FamilyLevel:
    """What was learned of one family, m measurands, s values of the scatter.

    Parameters
    ----------
    grid : LogGrid [-]
        Grid of the logarithm of the rate.
    level, spread, scatter : array, shape (m,) [-]
        Mean of the logarithm over the engines, its standard deviation between engines, and that
        of one engine from interval to interval: what is shown. NaN where nothing was reported.
    floored : array of bool, shape (m,) [-]
        True where the spread between engines is no larger than its floor.
    scatters : array, shape (m, s) [-]
        Scatters that remain possible; a single one from ``FEW_ENGINES`` on.
    start : array, shape (m, s, points) [-]
        Joint chance of scatter and level for an engine of which nothing is known yet.
    engines : array of int, shape (m,) [-]
        Engines with a reading.
    others : array, shape (engines, m, s, points), or None [-]
        The same chance without the engine's own part, in the order in which the engines were
        given; only for few engines.
    """

    grid: LogGrid
    level: Floats
    spread: Floats
    scatter: Floats
    floored: NDArray[np.bool_]
    scatters: Floats
    start: Singles
    engines: NDArray[np.int64]
    others: Singles | None = None


class _Data(NamedTuple):
    """Rates of the fleet, first row and number of rows of each engine."""

    readings: RateReadings
    starts: NDArray[np.intp]
    counts: NDArray[np.intp]


class _Lattice(NamedTuple):
    """Values of scatter (m, s) and spread (m, t), evenly spaced in the logarithm."""

    scatter: Floats
    spread: Floats


class _Evidence(NamedTuple):
    """Log-likelihood with the priors, shape (m, s, t, level), and the engines' own parts of it.

    The latter have the engine in front; they are kept for few engines only.
    """

    total: Floats
    own: Floats | None


def _of_engines(grid: LogGrid, told: Singles, first: NDArray[np.intp], scatter: Floats
                ) -> list[Singles]:
    """Give, for each scatter, the log-likelihood of every level, shape (m, engines, level)."""
    matrices = occasion_matrix(grid, scatter)
    result = []
    for place in range(scatter.shape[1]):
        at_level = np.matmul(told, matrices[:, place].transpose(0, 2, 1))
        at_level *= np.float32(1.0 - STRAY)
        at_level += (STRAY * told.mean(axis=-1, keepdims=True)).astype(np.float32)
        result.append(np.add.reduceat(np.log(at_level, out=at_level), first, axis=1))
    return result


def _weigh(grid: LogGrid, told: Singles, first: NDArray[np.intp], lattice: _Lattice,
           used: Floats, priors: Priors, *, keep: bool) -> _Evidence:
    """Add up the evidence at every point of the lattice; ``used`` is 0 for engines left out."""
    around = family_matrix(grid, lattice.spread)
    shape = (len(grid.low), lattice.scatter.shape[1], lattice.spread.shape[1], grid.points)
    total = np.broadcast_to(_prior(grid, lattice, priors), shape).copy()
    own = np.empty((used.shape[1], *shape)) if keep else None
    for s, of_engine in enumerate(_of_engines(grid, told, first, lattice.scatter)):
        best = of_engine.max(axis=-1, keepdims=True)
        shares = np.exp(of_engine - best)
        for t in range(shape[2]):
            log = np.log(np.matmul(shares, around[:, t].swapaxes(-1, -2)))
            log += best
            counted = log * used[..., None]
            total[:, s, t] += counted.sum(axis=1)
            if own is not None:
                own[:, :, s, t] = counted.swapaxes(0, 1)
    return _Evidence(total, own)


def _prior(grid: LogGrid, lattice: _Lattice, priors: Priors) -> Floats:
    middle = grid.low + grid.step * (grid.points - 1) * _MIDDLE
    level = ((grid.logs() - middle[:, None]) / priors.level) ** 2
    scatter = (np.log(lattice.scatter / priors.scatter) / priors.doubt) ** 2
    spread = (np.log(lattice.spread / priors.spread) / priors.doubt) ** 2
    return np.asarray(-0.5 * (level[:, None, None] + scatter[:, :, None, None]
                              + spread[:, None, :, None]))


def _summit(values: Floats, log: Floats) -> tuple[Floats, Floats]:
    """Give middle and width of a bell from its values at evenly spaced logarithms, (m, k)."""
    x = np.log(values)
    step = x[:, 1] - x[:, 0]
    best = np.clip(np.argmax(log, axis=1), 1, log.shape[1] - 2)
    left, here, right = (np.take_along_axis(log, (best + move)[:, None], axis=1)[:, 0]
                         for move in (-1, 0, 1))
    bend = np.fmax(2.0 * here - left - right, 1e-6)
    shift = np.clip(0.5 * (right - left) / bend, -1.0, 1.0)
    middle = np.take_along_axis(x, best[:, None], axis=1)[:, 0] + shift * step
    return middle, step / np.sqrt(bend)


def _around(middle: Floats, half: Floats, least: float) -> Floats:
    """Lay a lattice of five around a middle, not below a floor."""
    low = np.fmax(middle - half, np.log(least))
    return np.exp(low[:, None] + (np.fmax(middle + half, low + half) - low)[:, None]
                  * np.linspace(0.0, 1.0, _NODES))


class _Found(NamedTuple):
    """Middle and width of the logarithms of scatter and spread, shape (m,) each."""

    scatter: Floats
    scatter_width: Floats
    spread: Floats
    spread_width: Floats


def _marginal(total: Floats, axes: tuple[int, ...]) -> Floats:
    top = total.max(axis=axes, keepdims=True)
    return np.asarray(np.log(np.exp(total - top).sum(axis=axes)) + np.squeeze(top, axis=axes))


def _search(grid: LogGrid, told: Singles, first: NDArray[np.intp], used: Floats, priors: Priors,
            begin: _Found, stages: int) -> _Found:
    """Narrow the lattice around the likely scatters and spreads."""
    found = begin
    halves = (np.fmax(2.0 * found.scatter_width, _LEAST_RANGE),
              np.fmax(2.0 * found.spread_width, _LEAST_RANGE))
    for _ in range(stages):
        lattice = _Lattice(_around(found.scatter, halves[0], LEAST_SCATTER),
                           _around(found.spread, halves[1], LEAST_SPREAD))
        total = _weigh(grid, told, first, lattice, used, priors, keep=False).total
        found = _Found(*_summit(lattice.scatter, _marginal(total, (2, 3))),
                       *_summit(lattice.spread, _marginal(total, (1, 3))))
        halves = (np.clip(2.5 * found.scatter_width, 0.25 * halves[0], halves[0]),
                  np.clip(2.5 * found.spread_width, 0.25 * halves[1], halves[1]))
    return found


def _rows_of(engines: NDArray[np.intp], starts: NDArray[np.intp], counts: NDArray[np.intp]
             ) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Give the rows of some engines and the place of the first of each."""
    size = counts[engines]
    first = np.cumsum(size) - size
    return np.repeat(starts[engines] - first, size) + np.arange(size.sum()), first


def _some(engines: NDArray[np.intp], most: int) -> NDArray[np.intp]:
    """Choose evenly along the list, so that the same fleet gives the same answer; few are all."""
    if len(engines) < FEW_ENGINES:
        return engines
    place = np.linspace(0, len(engines) - 1, min(len(engines), most))
    return engines[np.unique(place.astype(np.intp))]


def _start(grid: LogGrid, total: Floats, spread: Floats) -> Singles:
    """Turn log chances of scatter, spread and family level into those of scatter and engine."""
    top = total.max(axis=(-3, -2, -1), keepdims=True)
    chance = np.exp(total - top).astype(np.float32)
    around = family_matrix(grid, spread)
    joint = np.einsum("...mstl,mtla->...msa", chance, around, optimize=True)
    joint /= joint.sum(axis=(-2, -1), keepdims=True)
    return np.asarray(joint, dtype=np.float32)


def _sound(data: _Data, grid: LogGrid, scatters: Floats, start: Singles,
           engines: NDArray[np.intp]) -> Floats:
    """Give 1 for engine and measurand whose forecasts came true, 0 for those that stand out."""
    sound = np.ones((len(grid.low), len(engines)))
    for block in engine_blocks(data.starts, data.counts, engines, grid.points * scatters.size):
        place = np.searchsorted(engines, block.place)
        own = start[place] if start.ndim == 4 else start
        worst, up, down = np.zeros((3, len(grid.low), len(block.place)))
        sums = np.zeros_like(worst)
        for forecast in step_through(grid, scatters, own, data.readings, block):
            here = slice(forecast.engines)
            score = np.nan_to_num(ndtri(forecast.exceedance))
            allowance = _ALLOWANCE * ~np.isnan(forecast.exceedance)
            worst[:, here] = np.fmax(worst[:, here], np.abs(score))
            up[:, here] = np.fmax(up[:, here] - score - allowance, 0.0)
            down[:, here] = np.fmax(down[:, here] + score - allowance, 0.0)
            sums = np.fmax(sums, np.fmax(up, down))
        sound[:, place] = (worst <= _FAR_OFF) & (sums <= _LASTING)
    return sound


def _lattice_of(found: _Found, engines: int) -> _Lattice:
    """Lay out what remains possible: one point for many engines, a lattice for few."""
    if engines >= FEW_ENGINES:
        return _Lattice(np.exp(found.scatter)[:, None], np.exp(found.spread)[:, None])
    # Without one of them, the others know a little less.
    wider = 2.0 * np.sqrt(engines / max(engines - 1, 1))
    return _Lattice(_around(found.scatter, wider * found.scatter_width, LEAST_SCATTER),
                    _around(found.spread, wider * found.spread_width, LEAST_SPREAD))


class _Look(NamedTuple):
    """What one look at some engines gave; ``found`` holds means of the logarithms."""

    found: _Found
    lattice: _Lattice
    total: Floats
    start: Singles
    others: Singles | None


def _mean(total: Floats, values: Floats, axis: int) -> Floats:
    """Give the mean of something that lies along one axis of (m, s, t, level)."""
    rest = tuple(other for other in (1, 2, 3) if other != axis)
    log = _marginal(total, rest)
    chance = np.exp(log - log.max(axis=1, keepdims=True))
    return np.asarray((chance * values).sum(axis=1) / chance.sum(axis=1))


def _look(data: _Data, grid: LogGrid, engines: NDArray[np.intp], used: Floats, priors: Priors,
          begin: _Found, stages: int) -> _Look:
    """Learn from some engines, those that are to be used."""
    rows, first = _rows_of(engines, data.starts, data.counts)
    told = told_by(grid, data.readings.take(rows), tail=False).likelihood
    # One engine alone says too little to look anywhere but around what is likely beforehand.
    found = begin if len(engines) == 1 else _search(
        grid, told, first, used, priors, begin, stages)
    lattice = _lattice_of(found, len(engines))
    few = len(engines) < FEW_ENGINES
    evidence = _weigh(grid, told, first, lattice, used, priors, keep=few)
    others = None if evidence.own is None else _start(
        grid, evidence.total - evidence.own, lattice.spread)
    if few:
        found = found._replace(scatter=_mean(evidence.total, np.log(lattice.scatter), 1),
                               spread=_mean(evidence.total, np.log(lattice.spread), 2))
    return _Look(found, lattice, evidence.total,
                 _start(grid, evidence.total, lattice.spread), others)


def learn_family(readings: RateReadings, starts: NDArray[np.intp], engines: NDArray[np.intp], *,
                 priors: Priors | None = None) -> FamilyLevel:
    """Learn level, spread and scatter of one family by what its engines have shown.

    Equation: ``y = λ + u·e``, ``log λ = a + ε``, ``a ~ N(µ, τ²)``, ``ε ~ N(0, σ²)``; the likelihood
    of µ, τ and σ is added up on a lattice with weak priors. Engines that stand out are left out
    and the rest learned from once more.

    Parameters
    ----------
    readings : RateReadings [-]
        Rates of the fleet.
    starts : array of int, shape (k,) [-]
        First row of each engine of the fleet.
    engines : array of int, shape (e,) [-]
        Engines of the family.
    priors : Priors [-]
        What is taken for likely beforehand.

    Returns
    -------
    FamilyLevel [-]
        What the family has in common.

    Examples
    --------
    >>> from oiltrend.limits.latent_readings import rate_readings
    >>> rng = np.random.default_rng(4)
    >>> level = rng.normal(1.0, 0.4, 100).repeat(8)
    >>> rate = np.exp(level + rng.normal(0.0, 0.2, 800))
    >>> told = rate_readings((rate + rng.normal(0.0, 0.3, 800))[:, None], 0.3)
    >>> family = learn_family(told, np.arange(0, 800, 8), np.arange(100))
    >>> family.level.round(2), family.spread.round(2), family.scatter.round(2)
    (array([0.98]), array([0.41]), array([0.2]))
    """
    weak = Priors() if priors is None else priors
    counts = np.diff(starts, append=len(readings.low))
    data = _Data(readings, starts, counts)
    grid = log_grid(readings.take(_rows_of(_some(engines, _LOOKS[-1]), starts, counts)[0]))
    nothing = _Found(*(np.full(len(grid.low), value) for value in
                       (np.log(weak.scatter), weak.doubt, np.log(weak.spread), weak.doubt)))
    some = _some(engines, _LOOKS[0])
    look = _look(data, grid, some, np.ones((len(grid.low), len(some))), weak, nothing, 2)
    # Few engines are all of them looked at each time, and one more look is enough.
    looks = len(_LOOKS) if len(engines) >= FEW_ENGINES else min(len(engines), 2)
    for size in _LOOKS[1:looks]:
        some = _some(engines, size)
        start = look.start if look.others is None else look.others
        sound = _sound(data, grid, look.lattice.scatter, start, some)
        look = _look(data, grid, some, sound, weak, look.found, 1)
    rows, first = _rows_of(engines, starts, counts)
    told = np.add.reduceat(~np.isnan(readings.low[rows]), first)
    engines_told = (told > 0).sum(axis=0)
    # Of a measurand that nobody reported only the grid and the priors are there.
    level, spread, scatter = (
        np.where(engines_told > 0, array, np.nan) for array in
        (_mean(look.total, grid.logs(), 3), np.exp(look.found.spread), np.exp(look.found.scatter)))
    return FamilyLevel(
        grid, level, spread, scatter, spread <= LEAST_SPREAD * 1.01, look.lattice.scatter,
        look.start, engines_told, look.others)
