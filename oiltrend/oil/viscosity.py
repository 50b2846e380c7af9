"""Viscosity at any temperature: ASTM D341 through the viscosities at 40 °C and 100 °C.

The equation is a straight line ::

    log10 log10 Z = A − B·log10 T,    Z = ν + 0.7 + exp(−1.47 − 1.84 ν − 0.51 ν²)

with T in kelvin and ν in mm²/s.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["TEMPERATURE_RANGE", "VISCOSITY_RANGE", "ViscosityAt", "ViscosityState", "Walther",
           "viscosity_at", "viscosity_from_z", "walther", "walther_z"]

TEMPERATURE_RANGE = (-20.0, 160.0)
"""Temperatures answered for [°C]. Ours: the standard's charts reach further, but a colder oil
may hold wax and a hotter one is not found in a sump."""

VISCOSITY_RANGE = (0.21, 2e7)
"""Viscosities the equation was made for [mm²/s]: ASTM D341, from memory."""

_ZERO_CELSIUS = 273.15
_TWO_TEMPERATURES = (40.0, 100.0)


class ViscosityState(IntEnum):
    """How a viscosity was come by (above 0), or why there is none."""

    OUTSIDE_VISCOSITY = -3
    OUTSIDE_TEMPERATURE = -2
    NOT_FALLING = -1
    NOT_KNOWN = 0
    TWO_POINTS = 1
    SLOPE_FROM_40 = 2
    SLOPE_FROM_100 = 3


@dataclass(frozen=True, slots=True)
class Walther:
    """The straight line of ASTM D341, one per oil.

    Parameters
    ----------
    intercept, slope : array, same shape [-]
        A and B.
    """

    intercept: NDArray[np.float64]
    slope: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ViscosityAt:
    """Viscosity at a temperature.

    Parameters
    ----------
    value : array, any shape [mm²/s]
        Kinematic viscosity; NaN where the state says that there is none.
    u : array, same shape [mm²/s]
        One standard uncertainty; NaN where that of a measured viscosity is not known, and
        where the slope is another oil's: how far that one is off, nobody has measured.
    state : array of ViscosityState codes, same shape [-]
        How the value was come by, or why there is none.
    """

    value: NDArray[np.float64]
    u: NDArray[np.float64]
    state: NDArray[np.int8]


def walther_z(viscosity: ArrayLike) -> NDArray[np.float64]:
    """Turn a viscosity into the Z of ASTM D341.

    Equation: ``Z = ν + 0.7 + exp(−1.47 − 1.84 ν − 0.51 ν²)``.

    Parameters
    ----------
    viscosity : array [mm²/s]
        Kinematic viscosity.

    Returns
    -------
    array [-]
        Z; NaN outside :data:`VISCOSITY_RANGE`.

    Examples
    --------
    >>> walther_z([0.21, 10.0, 0.1]).round(4)
    array([ 1.0628, 10.7   ,     nan])

    References
    ----------
    ASTM D341, as a public help page of the equations gives it.
    """
    nu = _within(np.asarray(viscosity, dtype=float))
    return np.asarray(nu + 0.7 + np.exp(-1.47 - 1.84 * nu - 0.51 * nu * nu))


def viscosity_from_z(z: ArrayLike) -> NDArray[np.float64]:
    """Turn the Z of ASTM D341 back into a viscosity.

    Equation, with y = Z − 0.7:
    ``ν = y − exp(−0.7487 − 3.295 y + 0.6119 y² − 0.3193 y³)``. The standard's own inverse; it
    returns a viscosity to within 0.03 % of where it came from.

    Parameters
    ----------
    z : array [-]
        Z.

    Returns
    -------
    array [mm²/s]
        Kinematic viscosity; NaN outside :data:`VISCOSITY_RANGE`.

    Examples
    --------
    >>> viscosity_from_z([10.7, 2.7]).round(2)
    array([10.,  2.])

    References
    ----------
    ASTM D341, as a public help page of the equations gives it.
    """
    number = np.asarray(z, dtype=float)
    y = np.where(number <= VISCOSITY_RANGE[1] + 0.7, number, np.nan) - 0.7
    small = np.exp(-0.7487 + y * (-3.295 + y * (0.6119 - 0.3193 * y)))
    return _within(y - small, slack=5e-4)


def walther(kv40: ArrayLike, kv100: ArrayLike, *,
            temperatures: tuple[float, float] = _TWO_TEMPERATURES) -> Walther:
    """Lay the line of ASTM D341 through two measured viscosities.

    Equation: ``B = (w1 − w2) / (log10 T2 − log10 T1)``, ``A = w1 + B·log10 T1``, with
    ``w = log10 log10 Z``.

    Parameters
    ----------
    kv40, kv100 : array, broadcastable [mm²/s]
        Viscosity at the two temperatures.
    temperatures : tuple of float [°C]
        The two temperatures.

    Returns
    -------
    Walther [-]
        A and B; NaN where a viscosity is missing, out of range, or does not fall.

    Examples
    --------
    >>> line = walther(73.30, 8.86)
    >>> float(line.intercept), float(line.slope)
    (9.45839, 3.68095)

    References
    ----------
    ASTM D341.
    """
    first, second = _log_log(kv40), _log_log(kv100)
    cold, hot = (_log_kelvin(t) for t in temperatures)
    slope = np.where(first > second, (first - second) / (hot - cold), np.nan)
    return Walther(np.asarray(first + slope * cold), slope)


def viscosity_at(temperature: ArrayLike, kv40: ArrayLike, kv100: ArrayLike, *,
                 u40: ArrayLike = np.nan, u100: ArrayLike = np.nan,
                 slope: ArrayLike = np.nan) -> ViscosityAt:
    """Give the viscosity at a temperature from those at 40 °C and 100 °C.

    Equation: ASTM D341; ``w(T) = w40 + λ·(w100 − w40)`` with λ linear in log10 T. Where only
    one viscosity was measured, the line runs through it with the slope handed in, which is
    that of the product's new oil; the state says so. Without a slope there is no value.

    Parameters
    ----------
    temperature : array, broadcastable [°C]
        Oil temperature asked for.
    kv40, kv100 : array, broadcastable [mm²/s]
        Measured viscosities; NaN where not measured.
    u40, u100 : array, broadcastable [mm²/s]
        One standard uncertainty of each.
    slope : array, broadcastable [-]
        B of the product's new oil.

    Returns
    -------
    ViscosityAt [-]
        Value, uncertainty and state. Nothing is given outside :data:`TEMPERATURE_RANGE` and
        :data:`VISCOSITY_RANGE`.

    Examples
    --------
    >>> used = viscosity_at([80.0, 150.0, 200.0], 90.0, 14.0)
    >>> used.value.round(2)
    array([22.92,  5.69,   nan])
    >>> [ViscosityState(code).name for code in used.state]
    ['TWO_POINTS', 'TWO_POINTS', 'OUTSIDE_TEMPERATURE']

    References
    ----------
    ASTM D341.
    """
    t, v40, v100, s40, s100, borrowed = np.broadcast_arrays(*(
        np.asarray(a, dtype=float) for a in (temperature, kv40, kv100, u40, u100, slope)))
    inside = (t >= TEMPERATURE_RANGE[0]) & (t <= TEMPERATURE_RANGE[1])
    cold, hot = (_log_kelvin(x) for x in _TWO_TEMPERATURES)
    place = _log_kelvin(np.where(inside, t, np.nan))
    share = (place - cold) / (hot - cold)
    w40, w100 = _log_log(v40), _log_log(v100)
    state = _state(v40, v100, borrowed, t, inside)
    w = np.select(
        [state == ViscosityState.TWO_POINTS, state == ViscosityState.SLOPE_FROM_40,
         state == ViscosityState.SLOPE_FROM_100],
        [w40 + share * (w100 - w40), w40 - borrowed * (place - cold),
         w100 - borrowed * (place - hot)], np.nan)
    value = _from_log_log(w)
    state = np.where((state > 0) & np.isnan(value), ViscosityState.OUTSIDE_VISCOSITY, state)
    spread = np.hypot((1.0 - share) * _steepness(v40) * s40, share * _steepness(v100) * s100)
    u = np.where(state == ViscosityState.TWO_POINTS, spread / _steepness(value), np.nan)
    return ViscosityAt(value, u, state.astype(np.int8))


def _within(nu: NDArray[np.float64], *, slack: float = 0.0) -> NDArray[np.float64]:
    # The slack lets a viscosity at the very edge come back through the approximate inverse.
    least, most = VISCOSITY_RANGE
    kept = (nu >= least * (1.0 - slack)) & (nu <= most * (1.0 + slack))
    return np.where(kept, nu, np.nan)


def _log_kelvin(celsius: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(np.log10(np.asarray(celsius, dtype=float) + _ZERO_CELSIUS))


def _log_log(viscosity: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(np.log10(np.log10(walther_z(viscosity))))


def _from_log_log(w: NDArray[np.float64]) -> NDArray[np.float64]:
    # log10 log10 of the thickest viscosity is 0.86; beyond that the powers would overflow.
    return viscosity_from_z(10.0 ** 10.0 ** np.where(w < 0.9, w, np.nan))


def _steepness(viscosity: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give d(log10 log10 Z)/dν but for a factor that cancels."""
    nu = _within(viscosity, slack=5e-4)
    small = np.exp(-1.47 - 1.84 * nu - 0.51 * nu * nu)
    z = nu + 0.7 + small
    return np.asarray((1.0 - (1.84 + 1.02 * nu) * small) / (z * np.log(z)))


def _state(v40: NDArray[np.float64], v100: NDArray[np.float64], slope: NDArray[np.float64],
           t: NDArray[np.float64], inside: NDArray[np.bool_]) -> NDArray[np.int64]:
    has40, has100 = ~np.isnan(v40), ~np.isnan(v100)
    borrowed = slope > 0.0
    wrong = ((has40 & np.isnan(_within(v40))) | (has100 & np.isnan(_within(v100))))
    return np.select(
        [np.isnan(t) | ~(has40 | has100), wrong, has40 & has100 & (v100 >= v40), ~inside,
         has40 & has100, has40 & borrowed, has100 & borrowed],
        [ViscosityState.NOT_KNOWN, ViscosityState.OUTSIDE_VISCOSITY, ViscosityState.NOT_FALLING,
         ViscosityState.OUTSIDE_TEMPERATURE, ViscosityState.TWO_POINTS,
         ViscosityState.SLOPE_FROM_40, ViscosityState.SLOPE_FROM_100],
        ViscosityState.NOT_KNOWN)
