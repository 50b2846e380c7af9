"""May mean plus or minus k sigma be used: the probability plot, on the plain and on the log scale.

A straight probability plot is what a normal distribution looks like. Readings below a limit keep
their places on the plot although their values are not known.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from oiltrend.errors import ValueRefused
from oiltrend.limits.ros import plotting_positions
from oiltrend.limits.series import bounded

__all__ = ["LEAST_DETECTED", "MOST_BELOW", "Shape", "ShapeCheck", "check_shape"]

Floats = NDArray[np.float64]

LEAST_DETECTED = 8
"""Numbers needed. Ours: with 8, two of three exponential samples still pass for normal, with 5 four
of five, with 20 one of five."""

MOST_BELOW = 0.5
"""Largest share below a limit. Common practice: the lower half is then not on the plot at all."""

# The closed form of the chance holds from 5 to 5000 numbers (Royston 1993); with a hidden part,
# from 12 to 500.
_MOST, _MOST_HIDDEN = 5000, 500
# How a hidden lower part d moves middle and log width of log(1 − W'), in d, d·L, d², d²·L, d·L²,
# d²·L² with L = log n: least squares through 8,000 to 20,000 simulated normal samples at each of
# 48 pairs of n (12 to 500) and d (up to a half). A chance of 5 in 100 comes out 3.5 to 5.7.
_MIDDLE = np.array([0.86101, -0.27832, -1.27031, 1.0537, 0.01125, -0.0452])
_WIDTH = np.array([0.16658, 0.04884, -0.74561, 0.27586, 0.01646, -0.05913])
_BLOM = 0.375


class Shape(IntEnum):
    """What the plots allow.

    PLAIN: normal as it is; LOG: its logarithm is; NEITHER; TOO_FEW numbers; TOO_MUCH_BELOW a
    reporting limit; NO_SPREAD, all the same.
    """

    PLAIN = 0
    LOG = 1
    NEITHER = 2
    TOO_FEW = 3
    TOO_MUCH_BELOW = 4
    NO_SPREAD = 5


@dataclass(frozen=True, slots=True)
class ShapeCheck:
    """Probability plots of many samples.

    Parameters
    ----------
    plain, log : array, shape (...) [-]
        Squared correlation of the plot as it is and of the logarithms; 1 is straight. NaN without
        a plot, and of logarithms where a number is 0 or less.
    plain_p, log_p : array, shape (...) [-]
        Chance of a plot as crooked from normal values.
    shape : array of Shape codes, shape (...) [-]
        The scale on which mean and sigma may be used; the straighter one where both may.
    n, n_detected : array of int, shape (...) [-]
        Readings, and those with a number.
    """

    plain: Floats
    log: Floats
    plain_p: Floats
    log_p: Floats
    shape: NDArray[np.int8]
    n: NDArray[np.int64]
    n_detected: NDArray[np.int64]


class _Plot(NamedTuple):
    """Numbers in order, their places as normal scores, and what of all readings they are."""

    number: Floats
    score: Floats
    readings: int


def _straightness(number: Floats, score: Floats) -> Floats:
    """Give the squared correlation along the last axis."""
    a = number - number.mean(axis=-1, keepdims=True)
    b = score - score.mean(axis=-1, keepdims=True)
    return np.asarray((a * b).sum(axis=-1) ** 2 / ((a**2).sum(axis=-1) * (b**2).sum(axis=-1)))


def _chance(straight: float, n: int, hidden: float) -> float:
    """Give the chance of a plot as crooked from normal values, their lower part hidden."""
    log = np.log(n)
    more = np.log(log)
    middle, width = -1.2725 + 1.0521 * (more - log), 1.0308 - 0.26758 * (more + 2.0 / log)
    moved = hidden * np.array([1.0, log, hidden, hidden * log, log**2, hidden * log**2])
    middle, width = middle + _MIDDLE @ moved, width * np.exp(_WIDTH @ moved)
    return float(ndtr(-(np.log(max(1.0 - straight, 1e-15)) - middle) / width))


def _thinned(plot: _Plot, most: int) -> _Plot:
    """Keep evenly spaced numbers of a long plot: a plot of very many is never straight enough."""
    if plot.readings <= most:
        return plot
    keep = np.unique(np.linspace(0, len(plot.number) - 1,
                                 most * len(plot.number) // plot.readings).astype(int))
    return _Plot(plot.number[keep], plot.score[keep], most)


def _judge(plot: _Plot) -> tuple[float, float]:
    """Give squared correlation and chance."""
    hidden = 1.0 - len(plot.number) / plot.readings
    short = _thinned(plot, _MOST_HIDDEN if hidden else _MOST)
    return (float(_straightness(plot.number, plot.score)),
            _chance(float(_straightness(short.number, short.score)), short.readings, hidden))


def _one(value: Floats, below: NDArray[np.bool_], least_p: float) -> tuple[float, ...]:
    """Check one sample."""
    number, lost = bounded(value, below)
    hidden = below & np.isnan(number)
    used = ~np.isnan(number)
    number, lost = number[used], lost[used]
    n, detected = len(number) + int(hidden.sum()), int((~lost).sum())
    nothing = (np.nan, np.nan, np.nan, np.nan)
    if detected < LEAST_DETECTED:
        return (*nothing, Shape.TOO_FEW, n, detected)
    if detected < (1.0 - MOST_BELOW) * n:
        return (*nothing, Shape.TOO_MUCH_BELOW, n, detected)
    order = np.argsort(number[~lost], kind="stable")
    own = number[~lost][order]
    if own[0] == own[-1]:
        return (*nothing, Shape.NO_SPREAD, n, detected)
    score = ndtri(plotting_positions(number, lost, constant=_BLOM))[~lost][order]
    plain, plain_p = _judge(_Plot(own, score, n))
    log, log_p = _judge(_Plot(np.log(own), score, n)) if own[0] > 0 else (np.nan, np.nan)
    better_log = log_p > plain_p  # False for NaN
    best_p = log_p if better_log else plain_p
    shape = Shape.NEITHER if best_p < least_p else Shape.LOG if better_log else Shape.PLAIN
    return plain, log, plain_p, log_p, shape, n, detected


def check_shape(value: ArrayLike, *, below: ArrayLike = False, least_p: float = 0.05
                ) -> ShapeCheck:
    """Check each sample for a normal shape, plain and on the log scale.

    Equation: squared correlation of the ordered numbers with ``Φ⁻¹((rank − 3/8)/(n + 1/4))``
    (Shapiro and Francia); chance by Royston's formula. With readings below a limit, places by
    Hirsch and Stedinger, and the formula moved by what simulation shows for a hidden lower part.
    Very long samples are judged by 5000 evenly spaced numbers, with a hidden part by 500.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Numbers, for "<v" the bound v; NaN pads.
    below : bool or array of bool, shape (..., n) [-]
        True where the reading was below a limit.
    least_p : float [-]
        Chance below which a plot is called crooked.

    Returns
    -------
    ShapeCheck [-]
        One entry per sample.

    Raises
    ------
    ValueRefused
        When the least chance is not between 0 and 1.

    Examples
    --------
    >>> skewed = np.exp(np.random.default_rng(0).normal(1.0, 0.6, 60))
    >>> Shape(check_shape(skewed).shape).name
    'LOG'

    References
    ----------
    Shapiro and Francia 1972, JASA 67:215; Royston 1993, Statistics in Medicine 12:181; Hirsch and
    Stedinger 1987, Water Resources Research 23:715.
    """
    if not 0.0 < least_p < 1.0:
        raise ValueRefused(f"least_p: must be between 0 and 1, found {least_p}",
                           hint="use 0.05")
    number, lost = np.broadcast_arrays(np.asarray(value, dtype=float),
                                       np.asarray(below, dtype=bool))
    shape, n = number.shape[:-1], number.shape[-1]
    lines = int(np.prod(shape, dtype=np.int64))
    # A loop over samples: one per family and measurand, each with gaps of its own.
    found = np.array([_one(*line, least_p) for line in
                      zip(number.reshape(lines, n), lost.reshape(lines, n), strict=True)],
                     dtype=float).reshape(lines, 7)
    plain, log, plain_p, log_p = (found[:, column].reshape(shape) for column in range(4))
    return ShapeCheck(plain, log, plain_p, log_p, found[:, 4].astype(np.int8).reshape(shape),
                      found[:, 5].astype(np.int64).reshape(shape),
                      found[:, 6].astype(np.int64).reshape(shape))
