"""How far an amount can go before the data object: ends of ranges from the profile.

For one unknown at a time the sum of squares is followed while that unknown moves and all
others give way as well as they can without going below zero. Where the sum has risen by the
stated amount lies the end of the range. The path is straight between the points where another
unknown reaches zero or leaves it, so it is followed from point to point, exactly. At a bound
this gives an upper limit where a standard error would mean nothing; inside, it reaches further
than the conditional covariance where another source at zero could take over.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.wear.arrays import Floats
from oiltrend.wear.sources_gram import Normal, passive_inverse, ridge, solve_passive, times
from oiltrend.wear.sources_nnls import Solution

__all__ = ["RISE_95", "profile_ends"]

Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]

RISE_95 = 3.841
"""Rise of the sum of squares at the ends of a 95 % range: chi-squared, one degree of freedom."""

# Problems followed at once.
BLOCK = 8192
# A path this many standard errors long, as if the others stood still, is held by the ridge
# alone: the data do not object.
UNBOUNDED = 1e4
# Points at which a path may turn; a path takes each unknown in or out once or twice.
TURNS = 60


class _Paths(NamedTuple):
    """Where each path stands: one row and one unknown, moving up or down."""

    row: Indices
    column: Indices
    sign: Floats
    x: Floats
    slope: Floats
    passive: Bools
    rise: Floats
    turned: Indices


class _Step(NamedTuple):
    """The next stretch of each path."""

    direction: Floats
    bend: Floats
    length: Floats
    turn: Indices
    at_turn: Bools
    at_zero: Bools
    unbounded: Bools


def profile_ends(normal: Normal, answer: Solution, columns: Indices, *,
                 rise: float = RISE_95) -> tuple[Floats, Floats]:
    """Give the ends of the range of some unknowns.

    Equation: the values t at which ``min {q(x) : x_j = t, x ≥ 0} − min {q(x) : x ≥ 0} = rise``
    with ``q(x) = xᵀGx − 2hᵀx``, or 0 where that is reached first.

    Parameters
    ----------
    normal : Normal [-]
        Scaled equations, weighted so that q counts in units of variance.
    answer : Solution [-]
        Their solution.
    columns : array of int, shape (c,) [-]
        Unknowns whose range is wanted.
    rise : float [-]
        Rise of the sum of squares; 3.841 for 95 %.

    Returns
    -------
    tuple of array, shapes (c, n) [-]
        Low and high end in scaled unknowns; NaN for unknowns that are not usable, infinite
        where nothing bounds them.

    Examples
    --------
    >>> from oiltrend.wear.sources_gram import scaled
    >>> from oiltrend.wear.sources_nnls import nonnegative
    >>> normal = scaled(np.ones((1, 1, 1)), np.array([[3.0]]), np.ones((1, 1), bool))
    >>> low, high = profile_ends(normal, nonnegative(normal), np.array([0]))
    >>> low[0].round(2).tolist(), high[0].round(2).tolist()
    ([1.04], [4.96])

    References
    ----------
    Venzon and Moolgavkar, Applied Statistics 37 (1988) 87 (profile ranges in general).
    """
    ends = np.full((2, len(columns), normal.right.shape[1]), np.nan)
    if not len(columns):
        return ends[0], ends[1]
    inverse = passive_inverse(normal, answer.passive)
    slope = normal.right - times(normal.gram, answer.x)
    pending: list[_Paths] = []
    # A loop over unknowns, then over the two directions: few of either.
    for place, column in enumerate(columns):
        usable = np.flatnonzero(normal.usable[column])
        direction, bend = _first_direction(normal, inverse, answer.passive, int(column))
        for side, sign in ((0, -1.0), (1, 1.0)):
            paths = _Paths(usable, np.full(len(usable), column), np.full(len(usable), sign),
                           answer.x.take(usable, axis=1), slope.take(usable, axis=1),
                           answer.passive.take(usable, axis=1), np.full(len(usable), rise),
                           np.full(len(usable), -1))
            step = _measure(normal, paths, direction.take(usable, axis=1),
                            bend.take(usable, axis=1))
            ends[side, place, usable] = _end(paths, step)
            pending.append(_moved(paths, step, np.flatnonzero(step.at_turn)))
    turning = _Paths._make(np.concatenate(part, axis=-1) for part in zip(*pending, strict=True))
    place_of = np.zeros(len(normal.right), dtype=int)
    place_of[columns] = np.arange(len(columns))
    # A loop over blocks of paths: each carries its own equations.
    for first in range(0, len(turning.row), BLOCK):
        some = _take(turning, slice(first, first + BLOCK))
        up = (some.sign > 0.0).astype(int)
        ends[up, place_of[some.column], some.row] = _follow(normal, some)
    return ends[0], ends[1]


def _first_direction(normal: Normal, inverse: Floats, passive: Bools, column: int
                     ) -> tuple[Floats, Floats]:
    """Say how the others give way when one unknown moves, from one inverse for all of them."""
    inside = passive[column]
    own = np.where(inside, inverse[column, column], 1.0)
    outside = -times(inverse, normal.gram[:, column])
    direction = np.where(inside, inverse[:, column] / own, outside)
    direction[column] = 1.0
    return direction, _bend(normal.gram, ridge(normal), direction)


def _bend(gram: Floats, added: Floats, direction: Floats) -> Floats:
    """Change of all slopes per unit moved."""
    return -times(gram, direction) - added[:, None] * direction


def _measure(normal: Normal, paths: _Paths, direction: Floats, bend: Floats) -> _Step:
    """Find where each path ends or turns."""
    every, sign = np.arange(len(paths.row)), paths.sign
    idle = normal.usable.take(paths.row, axis=1) & ~paths.passive
    passive = paths.passive.copy()
    for mask in (idle, passive):
        mask[paths.column, every] = False
    with np.errstate(divide="ignore", invalid="ignore"):
        fall = -sign * direction
        to_turn = np.where(passive & (fall > 0.0), paths.x / fall, np.inf)
        growth = sign * bend
        to_turn = np.where(idle & (growth > 0.0), np.maximum(-paths.slope, 0.0) / growth, to_turn)
        # What has just changed sides stands at its bound and must not change back at once.
        came = paths.turned >= 0
        to_turn[paths.turned[came], every[came]] = np.where(
            to_turn[paths.turned[came], every[came]] > 0.0,
            to_turn[paths.turned[came], every[came]], np.inf)
        turn = np.argmin(to_turn, axis=0)
        nearest = to_turn[turn, every]
        uphill = np.maximum(-sign * paths.slope[paths.column, every], 0.0)
        curve = np.maximum(-bend[paths.column, every], 0.0)
        length = paths.rise / (np.sqrt(uphill**2 + curve * paths.rise) + uphill)
    to_zero = np.where(sign < 0.0, paths.x[paths.column, every], np.inf)
    at_zero = to_zero <= length
    length = np.minimum(length, to_zero)
    at_turn = nearest < length
    return _Step(direction, bend, np.where(at_turn, nearest, length), turn, at_turn,
                 at_zero & ~at_turn, ~at_turn & (length > UNBOUNDED * np.sqrt(paths.rise)))


def _end(paths: _Paths, step: _Step) -> Floats:
    """Give the end of every path that does not turn."""
    every = np.arange(len(paths.row))
    reached = paths.x[paths.column, every] + paths.sign * step.length
    reached = np.where(step.at_zero, 0.0, reached)
    return np.where(step.unbounded & (paths.sign > 0.0), np.inf, reached)


def _moved(paths: _Paths, step: _Step, which: Indices) -> _Paths:
    """Bring some paths to their turning point and let the unknown there change sides."""
    some = _take(paths, which)
    length, turn = step.length[which], step.turn[which]
    every = np.arange(len(which))
    way = some.sign * length
    uphill = np.maximum(-some.sign * some.slope[some.column, every], 0.0)
    bend = step.bend.take(which, axis=1)
    curve = np.maximum(-bend[some.column, every], 0.0)
    move = np.where(some.passive, step.direction.take(which, axis=1), 0.0)
    move[some.column, every] = 1.0
    x = np.maximum(some.x + move * way, 0.0)
    passive = some.passive.copy()
    passive[turn, every] ^= True
    x[turn, every] = 0.0
    rise = some.rise - 2.0 * uphill * length - curve * length**2
    return _Paths(some.row, some.column, some.sign, x, some.slope + bend * way, passive,
                  np.maximum(rise, 0.0), turn)


def _take(paths: _Paths, which: Indices | slice) -> _Paths:
    return _Paths._make(part[..., which] for part in paths)


def _follow(normal: Normal, paths: _Paths) -> Floats:
    """Follow paths from turning point to turning point to their ends."""
    result = np.empty(len(paths.row))
    left = np.arange(len(paths.row))
    for _ in range(TURNS):
        equations = Normal(normal.gram.take(paths.row, axis=2), np.empty(0), np.empty(0),
                           normal.usable, normal.slacks)
        every = np.arange(len(paths.row))
        others = paths.passive.copy()
        others[paths.column, every] = False
        pull = -equations.gram[:, paths.column, every]
        direction = solve_passive(equations, pull, others)
        direction[paths.column, every] = 1.0
        step = _measure(normal, paths, direction,
                        _bend(equations.gram, ridge(normal), direction))
        result[left] = _end(paths, step)
        again = np.flatnonzero(step.at_turn)
        if not len(again):
            break
        paths, left = _moved(paths, step, again), left[again]
    return result
