"""How many standard deviations: tolerance, prediction and individuals-chart factors.

Mean plus two sigma from few values promises nothing. These factors say what they promise: a share
of the population with a confidence, or the next few results. All assume a normal distribution; see
:mod:`oiltrend.limits.shape` for whether that may be assumed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, gammaln, nctdtrit, ndtr, ndtri, stdtrit

from oiltrend.errors import ValueRefused

__all__ = ["Individuals", "howe_factor", "individuals_chart", "one_sided_factor",
           "prediction_factor", "two_sided_factor"]

Floats = NDArray[np.float64]

_RANGE_FACTOR = 1.128  # mean range of two normal values over sigma, 2/√π, as tables round it
_POINTS = 64


def _check(n: int, share: float, confidence: float) -> None:
    if n < 2:
        raise ValueRefused(f"n: must be 2 or more, found {n}",
                           hint="with one value nothing is known of the spread")
    for name, value in (("share", share), ("confidence", confidence)):
        if not 0.0 < value < 1.0:
            raise ValueRefused(f"{name}: must be between 0 and 1, found {value}",
                               hint="give a share such as 0.95")


def one_sided_factor(n: int, *, share: float, confidence: float) -> float:
    """Give k so that mean + k·s lies above a share of the population with a confidence.

    Equation: ``k = t'(γ; n − 1, z_p·√n)/√n``, t' the quantile of the noncentral t distribution.

    Parameters
    ----------
    n : int [-]
        Values that mean and s come from.
    share : float [-]
        p, share of the population.
    confidence : float [-]
        γ.

    Returns
    -------
    float [-]
        k.

    Raises
    ------
    ValueRefused
        When n is under 2, or share or confidence is not between 0 and 1.

    Examples
    --------
    >>> round(one_sided_factor(43, share=0.9, confidence=0.99), 5)
    1.87395

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3.
    """
    _check(n, share, confidence)
    root = np.sqrt(n)
    return float(nctdtrit(n - 1, ndtri(share) * root, confidence) / root)


def howe_factor(n: int, *, share: float, confidence: float) -> float:
    """Give Howe's approximation of k so that mean ± k·s holds a share with a confidence.

    Equation: ``k = z·√((n − 1)(1 + 1/n)/χ²)``, ``z = z_{(1+p)/2}``, χ² the quantile for 1 − γ and
    n − 1 degrees of freedom. Low by some 0.3 % from 8 values on.

    Parameters
    ----------
    n : int [-]
        Values that mean and s come from.
    share : float [-]
        p, share of the population.
    confidence : float [-]
        γ.

    Returns
    -------
    float [-]
        k.

    Raises
    ------
    ValueRefused
        When n is under 2, or share or confidence is not between 0 and 1.

    Examples
    --------
    >>> round(howe_factor(43, share=0.9, confidence=0.99), 4)
    2.2173

    References
    ----------
    Howe 1969, JASA 64:610; NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3.
    """
    _check(n, share, confidence)
    return float(ndtri((1.0 + share) / 2.0)
                 * np.sqrt((n - 1) * (1.0 + 1.0 / n) / chdtri(n - 1, confidence)))


def _half_width(centre: Floats, share: float) -> Floats:
    """Give r with Φ(c + r) − Φ(c − r) = p, by Newton steps from above."""
    width = np.abs(centre) + ndtri((1.0 + share) / 2.0)
    for _ in range(60):
        high, low = centre + width, centre - width
        missing = ndtr(high) - ndtr(low) - share
        slope = (np.exp(-0.5 * high**2) + np.exp(-0.5 * low**2)) / np.sqrt(2.0 * np.pi)
        step = missing / slope
        width = width - step
        if np.abs(step).max() < 1e-12:
            break
    return np.asarray(width)


def two_sided_factor(n: int, *, share: float, confidence: float) -> float:
    """Give k so that mean ± k·s holds a share of the population with a confidence.

    Equation: ``∫ P(χ² > (n − 1)·r²(z/√n)/k²)·φ(z) dz = γ`` with ``Φ(c + r) − Φ(c − r) = p``.

    Parameters
    ----------
    n : int [-]
        Values that mean and s come from.
    share : float [-]
        p, share of the population.
    confidence : float [-]
        γ.

    Returns
    -------
    float [-]
        k.

    Raises
    ------
    ValueRefused
        When n is under 2, or share or confidence is not between 0 and 1.

    Examples
    --------
    >>> round(two_sided_factor(43, share=0.9, confidence=0.99), 4)
    2.2228

    References
    ----------
    Odeh 1978, Communications in Statistics B7:183 (from memory).
    """
    _check(n, share, confidence)
    point, weight = np.polynomial.hermite_e.hermegauss(_POINTS)
    weight = weight / weight.sum()
    square = (n - 1) * _half_width(point / np.sqrt(n), share) ** 2

    def kept(k: float) -> float:
        return float((weight * chdtrc(n - 1, square / k**2)).sum()) - confidence

    guess = howe_factor(n, share=share, confidence=confidence)
    return float(brentq(kept, guess / 2.0, guess * 2.0, xtol=1e-10))


def prediction_factor(n: int, *, confidence: float, following: int = 1,
                      exact: bool = True) -> float:
    """Give k so that the next few results all stay below mean + k·s.

    Equation: ``P(t_1 ≤ k', …, t_m ≤ k') = γ``, ``k = k'·√(1 + 1/n)``, the t sharing mean and s;
    not exact: each one with ``1 − (1 − γ)/m`` (Bonferroni), never lower.

    Parameters
    ----------
    n : int [-]
        Earlier results that mean and s come from.
    confidence : float [-]
        γ, chance that none of the next results is beyond while nothing changes.
    following : int [-]
        m, how many next results.
    exact : bool [-]
        False for Bonferroni.

    Returns
    -------
    float [-]
        k.

    Raises
    ------
    ValueRefused
        When n is under 2, following under 1, or the confidence is not between 0 and 1.

    Examples
    --------
    >>> round(prediction_factor(12, confidence=0.95, following=4), 3)
    2.654

    References
    ----------
    US EPA 2009, Unified Guidance 530/R-09-007, chapter 18.
    """
    _check(n, 0.5, confidence)
    if following < 1:
        raise ValueRefused(f"following: must be 1 or more, found {following}",
                           hint="give how many next results the limit is for")
    free = n - 1
    single = float(stdtrit(free, 1.0 - (1.0 - confidence) / following)) * np.sqrt(1.0 + 1.0 / n)
    if not exact or following == 1:
        return float(single)
    centre, by_centre = np.polynomial.hermite_e.hermegauss(_POINTS)
    by_centre = by_centre / by_centre.sum()
    spread, by_spread = _spreads(free)
    shifted = centre[:, None] / np.sqrt(n)

    def kept(k: float) -> float:
        below = ndtr(shifted + k * spread) ** following
        return float(by_centre @ below @ by_spread) - confidence

    return float(brentq(kept, 0.2 * single, single * 1.001, xtol=1e-10))


def _spreads(free: int) -> tuple[Floats, Floats]:
    """Give points and weights for s/σ with so many degrees of freedom."""
    low, high = np.sqrt(chdtri(free, [1.0 - 1e-12, 1e-12]) / free)
    point, weight = np.polynomial.legendre.leggauss(4 * _POINTS)
    at = low + (high - low) * (point + 1.0) / 2.0
    log = ((free - 1) * np.log(at) - free * at**2 / 2.0 + free / 2.0 * np.log(free / 2.0)
           + np.log(2.0) - gammaln(free / 2.0))
    density = weight * (high - low) / 2.0 * np.exp(log)
    return at, density / density.sum()


@dataclass(frozen=True, slots=True)
class Individuals:
    """Chart of single values of many series.

    Parameters
    ----------
    mean : array, shape (...) [any]
        Centre line.
    moving_range : array, shape (...) [any]
        Mean difference of neighbours.
    low, high : array, shape (...) [any]
        Limits; NaN with fewer than two neighbours.
    """

    mean: Floats
    moving_range: Floats
    low: Floats
    high: Floats


def individuals_chart(value: ArrayLike, *, sigmas: float = 3.0) -> Individuals:
    """Give the limits of a chart of single values from the differences of neighbours.

    Equation: ``x̄ ± 3·MR/1.128``. A lasting change widens the limits less than it would widen s.

    Parameters
    ----------
    value : array, shape (..., n) [any]
        Values in order; NaN for none, its neighbours then count as neighbours of each other.
    sigmas : float [-]
        Width.

    Returns
    -------
    Individuals [-]
        One entry per series.

    Examples
    --------
    >>> told = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> float(told.low.round(4)), float(told.high.round(4))
    (45.8159, 55.8041)

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    number = np.asarray(value, dtype=float)
    used = ~np.isnan(number)
    order = np.argsort(~used, axis=-1, kind="stable")
    packed = np.take_along_axis(number, order, axis=-1)
    count = used.sum(axis=-1)
    range_sum = np.nansum(np.abs(np.diff(packed, axis=-1)), axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(count > 0, np.nansum(number, axis=-1) / count, np.nan)
        moving = np.where(count > 1, range_sum / (count - 1), np.nan)
    half = sigmas * moving / _RANGE_FACTOR
    return Individuals(mean, moving, mean - half, mean + half)
