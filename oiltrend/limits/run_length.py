"""How long a control chart stays quiet: exact run lengths for independent normal scores.

The chart's own value is a chain without memory, so that its run length solves an integral
equation; with a few dozen Gauss-Legendre points the answer has all digits that tables print.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import ndtr

from oiltrend.errors import ValueRefused

__all__ = ["cusum_beyond", "cusum_decision", "cusum_quiet", "cusum_run_length", "ewma_quiet",
           "ewma_run_length", "ewma_width"]

Floats = NDArray[np.float64]

_POINTS = 80
# Downwards a one-sided weighted mean is followed so many of its standard deviations.
_DEEP = 7.0
# A sum is followed so far beyond its decision value.
_FAR_ABOVE = 14.0


class _Chain(NamedTuple):
    """Chances to go from each point to each other without a signal, and from the start."""

    matrix: Floats
    start: Floats


def _density(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi))


def _points(low: float, high: float) -> tuple[Floats, Floats]:
    point, weight = np.polynomial.legendre.leggauss(_POINTS)
    return low + (high - low) * (point + 1.0) / 2.0, weight * (high - low) / 2.0


def _cusum_chain(shift: float, allowance: float, decision: float) -> _Chain:
    point, weight = _points(0.0, decision)
    here = np.concatenate([[0.0], point])
    to_zero = ndtr(allowance - here - shift)
    between = weight * _density(point + allowance - here[:, None] - shift)
    matrix = np.column_stack([to_zero, between])
    return _Chain(matrix, matrix[0])


def _ewma_chain(shift: float, weight: float, width: float, two_sided: bool) -> _Chain:
    sd = math.sqrt(weight / (2.0 - weight))
    point, share = _points(-width * sd if two_sided else -_DEEP * sd, width * sd)
    here = np.concatenate([[0.0], point])
    between = share / weight * _density((point - (1.0 - weight) * here[:, None]) / weight - shift)
    return _Chain(between[1:], between[0])


def _length(chain: _Chain) -> float:
    rest = np.linalg.solve(np.eye(len(chain.matrix)) - chain.matrix, np.ones(len(chain.matrix)))
    return float(1.0 + chain.start @ rest)


def _quiet(chain: _Chain, samples: int) -> Floats:
    kept = np.empty(samples)
    chance = chain.start
    for sample in range(samples):
        kept[sample] = chance.sum()
        chance = chance @ chain.matrix
    return kept


def _check_cusum(allowance: float, decision: float) -> None:
    if not (decision > 0.0 and allowance >= 0.0):
        raise ValueRefused(f"decision: must be above 0, allowance at least 0, found {decision} "
                           f"and {allowance}", hint="use 5 and 0.5")


def _check_ewma(weight: float, width: float) -> None:
    if not (0.0 < weight <= 1.0 and width > 0.0):
        raise ValueRefused(f"weight: must be above 0 and at most 1, width above 0, found {weight} "
                           f"and {width}", hint="use 0.2 and 2.962")


def cusum_run_length(shift: ArrayLike, *, allowance: float = 0.5, decision: float = 5.0
                     ) -> Floats:
    """Give the mean number of samples to the signal of an upper sum that begins at 0.

    Equation: ``L(s) = 1 + L(0)·Φ(k − s − δ) + ∫_0^h L(t)·φ(t + k − s − δ) dt``. Two sides
    together: ``1/L = 1/L(δ) + 1/L(−δ)``.

    Parameters
    ----------
    shift : array, shape (...) [-]
        Lasting change δ of the score, in its standard deviations.
    allowance, decision : float [-]
        k and h.

    Returns
    -------
    array, shape (...) [-]
        Mean run lengths, in samples.

    Raises
    ------
    ValueRefused
        When the decision value is not above 0 or the allowance is negative.

    Examples
    --------
    >>> cusum_run_length([0.0, 1.0], decision=4.0).round(2)
    array([335.37,   8.38])

    References
    ----------
    Lucas and Crosier 1982, Technometrics 24:199 (table); Goel and Wu 1971, Technometrics 13:221
    (equation, from memory).
    """
    _check_cusum(allowance, decision)
    change = np.asarray(shift, dtype=float)
    return np.array([_length(_cusum_chain(float(one), allowance, decision))
                     for one in change.ravel()]).reshape(change.shape)


def cusum_quiet(samples: int, *, shift: float = 0.0, allowance: float = 0.5,
                decision: float = 5.0) -> Floats:
    """Give the chance that an upper sum has not signalled yet.

    Equation: powers of the chain of :func:`cusum_run_length`.

    Parameters
    ----------
    samples : int [-]
        How many samples.
    shift : float [-]
        Lasting change of the score.
    allowance, decision : float [-]
        k and h.

    Returns
    -------
    array, shape (samples,) [-]
        Chance after 1, 2, … samples.

    Raises
    ------
    ValueRefused
        When the decision value is not above 0 or the allowance is negative.

    Examples
    --------
    >>> cusum_quiet(3, decision=2.0).round(4)
    array([0.9938, 0.976 , 0.953 ])
    """
    _check_cusum(allowance, decision)
    return _quiet(_cusum_chain(shift, allowance, decision), samples)


def cusum_beyond(samples: int, *, shift: float = 0.0, allowance: float = 0.5,
                 decision: float = 5.0) -> Floats:
    """Give the chance that an upper sum, left to itself, stands beyond its decision value.

    Equation: the distribution of ``S_i = max(0, S_{i−1} + x_i − k)`` carried forward. Unlike a
    signal, which is counted once, this counts every sample at which the chart is seen to be high.

    Parameters
    ----------
    samples : int [-]
        How many samples.
    shift : float [-]
        Lasting change of the score.
    allowance, decision : float [-]
        k and h.

    Returns
    -------
    array, shape (samples,) [-]
        Chance after 1, 2, … samples.

    Raises
    ------
    ValueRefused
        When the decision value is not above 0 or the allowance is negative.

    Examples
    --------
    >>> cusum_beyond(12, decision=4.0)[[1, 5, 11]].round(5)
    array([0.00021, 0.00397, 0.00802])
    """
    _check_cusum(allowance, decision)
    # Where the sum lies beyond does not change where it goes: both parts have their own points.
    inner, by_inner = _points(0.0, decision)
    top = decision + _FAR_ABOVE + samples * max(shift - allowance, 0.0)
    outer, by_outer = _points(decision, top)
    here = np.concatenate([[0.0], inner, outer])
    weight = np.concatenate([by_inner, by_outer])
    between = weight * _density(here[1:] + allowance - here[:, None] - shift)
    matrix = np.column_stack([ndtr(allowance - here - shift), between])
    found = np.empty(samples)
    chance = matrix[0]
    for sample in range(samples):
        found[sample] = chance[1 + _POINTS:].sum()
        chance = chance @ matrix
    return found


def cusum_decision(run_length: float, *, allowance: float = 0.5) -> float:
    """Give the decision value that lasts so long on the mean while nothing changes.

    Equation: :func:`cusum_run_length` solved for h.

    Parameters
    ----------
    run_length : float [-]
        Mean samples to a false signal of one side.
    allowance : float [-]
        k.

    Returns
    -------
    float [-]
        h.

    Raises
    ------
    ValueRefused
        When the run length is not between 5 and 100,000, no decision value is that short, or the
        allowance is negative.

    Examples
    --------
    >>> round(cusum_decision(335.37), 3)
    4.0
    """
    _check_run_length(run_length)
    _check_cusum(allowance, 1.0)
    return _solve(lambda h: _length(_cusum_chain(0.0, allowance, h)), run_length)


def ewma_run_length(shift: ArrayLike, *, weight: float = 0.2, width: float = 2.962,
                    two_sided: bool = True) -> Floats:
    """Give the mean number of samples to the signal of a weighted mean that begins at 0.

    Equation: ``L(s) = 1 + (1/w)·∫ L(t)·φ((t − (1 − w)·s)/w − δ) dt`` between the limits
    ``±L·√(w/(2 − w))`` of a chart that has run for long. Narrower limits for the first samples
    shorten it a little.

    Parameters
    ----------
    shift : array, shape (...) [-]
        Lasting change δ of the score, in its standard deviations.
    weight, width : float [-]
        w and L.
    two_sided : bool [-]
        False for a limit upwards only.

    Returns
    -------
    array, shape (...) [-]
        Mean run lengths, in samples.

    Raises
    ------
    ValueRefused
        When the weight is not above 0 and at most 1 or the width is not above 0.

    Examples
    --------
    >>> ewma_run_length([0.0, 1.0]).round(1)
    array([499.7,  10.5])

    References
    ----------
    Lucas and Saccucci 1990, Technometrics 32:1; Crowder 1987, Technometrics 29:401 (equation,
    from memory).
    """
    _check_ewma(weight, width)
    change = np.asarray(shift, dtype=float)
    return np.array([_length(_ewma_chain(float(one), weight, width, two_sided))
                     for one in change.ravel()]).reshape(change.shape)


def ewma_quiet(samples: int, *, shift: float = 0.0, weight: float = 0.2, width: float = 2.962,
               two_sided: bool = True) -> Floats:
    """Give the chance that a weighted mean with steady limits has not signalled yet.

    Equation: powers of the chain of :func:`ewma_run_length`.

    Parameters
    ----------
    samples : int [-]
        How many samples.
    shift : float [-]
        Lasting change of the score.
    weight, width : float [-]
        w and L.
    two_sided : bool [-]
        False for a limit upwards only.

    Returns
    -------
    array, shape (samples,) [-]
        Chance after 1, 2, … samples.

    Raises
    ------
    ValueRefused
        When the weight is not above 0 and at most 1 or the width is not above 0.

    Examples
    --------
    >>> ewma_quiet(3, weight=1.0, width=3.0).round(4)
    array([0.9973, 0.9946, 0.9919])
    """
    _check_ewma(weight, width)
    return _quiet(_ewma_chain(shift, weight, width, two_sided), samples)


def ewma_width(run_length: float, *, weight: float = 0.2, two_sided: bool = True) -> float:
    """Give the width that lasts so long on the mean while nothing changes.

    Equation: :func:`ewma_run_length` solved for L.

    Parameters
    ----------
    run_length : float [-]
        Mean samples to a false signal.
    weight : float [-]
        w.
    two_sided : bool [-]
        False for a limit upwards only.

    Returns
    -------
    float [-]
        L.

    Raises
    ------
    ValueRefused
        When the run length is not between 5 and 100,000 or the weight is out of range.

    Examples
    --------
    >>> round(ewma_width(500.0, weight=0.1), 3)
    2.814
    """
    _check_run_length(run_length)
    _check_ewma(weight, 1.0)
    return _solve(lambda width: _length(_ewma_chain(0.0, weight, width, two_sided)), run_length)


def _solve(length: Callable[[float], float], wanted: float) -> float:
    """Find where a rising run length reaches what is wanted."""
    low, high = 1e-3, 0.25
    # In small steps: far beyond, a run length is too long to be told.
    while length(high) < wanted:
        low, high = high, high + 0.25
    if length(low) > wanted:
        raise ValueRefused(f"run_length: must be what a chart can reach, found {wanted}",
                           hint="ask for a longer one, or use a smaller allowance")
    return float(brentq(lambda x: math.log(length(x) / wanted), low, high, xtol=1e-9))


def _check_run_length(run_length: float) -> None:
    if not 5.0 <= run_length <= 1e5:
        raise ValueRefused(f"run_length: must be between 5 and 100,000, found {run_length}",
                           hint="use a few hundred samples")
