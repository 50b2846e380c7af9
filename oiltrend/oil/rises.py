"""How far each element has risen above the new oil, with test precision and reporting limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import PANEL
from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import bounds

__all__ = ["OilReadings", "Rise", "oil_readings", "real_change", "rise_of", "risen"]


@dataclass(frozen=True, slots=True)
class OilReadings:
    """Readings of samples and of their new oils: row i is a sample, column j a measurand.

    Parameters
    ----------
    symbols : tuple of str [-]
        Measurands, one per column.
    value : array, shape (n, m) [any]
        Sample; for "<v" and ">v" the number v; NaN where not measured.
    u : array, shape (n, m) [any]
        One standard uncertainty of the sample's value.
    fresh : array, shape (n, m) [any]
        New oil of the sample's product; NaN where not known.
    u_fresh : array, shape (n, m) [any]
        One standard uncertainty of the new oil's value.
    below, above : array of bool, shape (n, m) [-]
        True where the reading was "<v", or ">v".
    """

    symbols: tuple[str, ...]
    value: NDArray[np.float64]
    u: NDArray[np.float64]
    fresh: NDArray[np.float64]
    u_fresh: NDArray[np.float64]
    below: NDArray[np.bool_]
    above: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Rise:
    """Rise above the new oil.

    Parameters
    ----------
    value : array, shape (n,) [any]
        Rise; NaN where the new oil is not known, and for "<v" and ">v".
    low, high : array, shape (n,) [any]
        From where to where it may lie; NaN where not measured.
    """

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def oil_readings(value: ArrayLike, fresh: ArrayLike, *, u: ArrayLike, u_fresh: ArrayLike,
                 below: ArrayLike = False, above: ArrayLike = False,
                 symbols: Sequence[str] = PANEL) -> OilReadings:
    """Put readings together and check that they fit.

    Parameters
    ----------
    value : array, shape (n, m) [any]
        Samples; for "<v" and ">v" the number v; NaN where not measured.
    fresh : array, broadcastable [any]
        New oil of each sample's product; NaN where not known.
    u, u_fresh : array, broadcastable [any]
        One standard uncertainty of each.
    below, above : array of bool, broadcastable [-]
        True where the reading was "<v", or ">v".
    symbols : sequence of str, length m [-]
        Measurands, one per column.

    Returns
    -------
    OilReadings [-]
        The readings.

    Raises
    ------
    ValueRefused
        When the columns do not fit the measurands.

    Examples
    --------
    >>> oil_readings([[30.0, 6.0]], [5.0, 0.0], u=1.0, u_fresh=0.3, symbols=["Si", "Al"]).fresh
    array([[5., 0.]])
    """
    number = np.asarray(value, dtype=float)
    if number.ndim != 2 or number.shape[1] != len(symbols):
        raise ValueRefused(
            f"value: must have one column per measurand ({len(symbols)}), "
            f"found shape {number.shape}", hint="pass samples as rows and measurands as columns")
    s, new, s_new = (np.broadcast_to(np.asarray(a, dtype=float), number.shape)
                     for a in (u, fresh, u_fresh))
    low, high = (np.broadcast_to(np.asarray(a, dtype=bool), number.shape)
                 for a in (below, above))
    return OilReadings(tuple(symbols), number, s, new, s_new, low, high)


def rise_of(readings: OilReadings, symbol: str) -> Rise:
    """Give the rise of one measurand above the new oil.

    Equation: ``rise = value − fresh``, ``u² = u_value² + u_fresh²``, range ±2u. Where the new
    oil is not known it lies between nothing and everything found, so the rise is at most the
    value itself.

    Parameters
    ----------
    readings : OilReadings [-]
        Samples and new oils.
    symbol : str [-]
        The measurand.

    Returns
    -------
    Rise, arrays of shape (n,) [any]
        Rise and its range; NaN throughout when the measurand has no column.

    Examples
    --------
    >>> oils = oil_readings([[30.0], [30.0], [2.0]], [[5.0], [np.nan], [0.0]], u=3.0,
    ...                     u_fresh=4.0, below=[[False], [False], [True]], symbols=["Si"])
    >>> rise = rise_of(oils, "Si")
    >>> rise.value, rise.low, rise.high
    (array([25., nan, nan]), array([ 15., -inf, -inf]), array([35., 36., 10.]))
    """
    if symbol not in readings.symbols:
        nothing = np.full(len(readings.value), np.nan)
        return Rise(nothing, nothing, nothing)
    place = readings.symbols.index(symbol)
    number, new = readings.value[:, place], readings.fresh[:, place]
    low, high = readings.below[:, place], readings.above[:, place]
    exact, unknown = ~(low | high), np.isnan(new)
    # "<v" carries no uncertainty of its own: v is a bound. The new oil's still counts.
    spread = np.hypot(np.where(exact, readings.u[:, place], 0.0),
                      np.where(unknown, 0.0, readings.u_fresh[:, place]))
    reach = bounds(number - np.where(unknown, 0.0, new), spread)
    missing = np.isnan(number)
    least = np.where(low | unknown | missing, -np.inf, reach.low)
    most = np.where(high | missing, np.inf, reach.high)
    absent = missing & exact
    return Rise(np.where(exact, number - new, np.nan), np.where(absent, np.nan, least),
                np.where(absent, np.nan, most))


def risen(rise: Rise, least: ArrayLike) -> NDArray[np.int8]:
    """Say whether a rise is larger than a rule of thumb and real.

    Equation: YES where ``rise > least`` and the range of the rise lies above 0; for ">v" where
    the bound itself is above. The rule of thumb has no sharper edge than that.

    Parameters
    ----------
    rise : Rise, arrays of shape (n,) [any]
        Rise above the new oil.
    least : float or array, shape (n,) [any]
        What it has to exceed.

    Returns
    -------
    array of Answer codes, shape (n,) [-]
        YES; NO; CANNOT_TELL where the rise is within the test's precision, the new oil is not
        known, or a reporting limit lies too high; NOT_ASKED where not measured.

    Examples
    --------
    >>> oils = oil_readings([[80.0], [30.0], [80.0]], [[5.0], [5.0], [np.nan]], u=3.0,
    ...                     u_fresh=4.0, symbols=["Na"])
    >>> [Answer(code).name for code in risen(rise_of(oils, "Na"), 50.0)]
    ['YES', 'NO', 'CANNOT_TELL']
    """
    exact, level = ~np.isnan(rise.value), np.asarray(least, dtype=float)
    yes = np.where(exact, (rise.value > level) & (rise.low > 0.0), rise.low > level)
    no = np.where(exact, rise.value <= level, rise.high <= level)
    answer = np.select([np.isnan(rise.low), yes, no],
                       [Answer.NOT_ASKED, Answer.YES, Answer.NO], Answer.CANNOT_TELL)
    return answer.astype(np.int8)


def real_change(rise: Rise) -> NDArray[np.bool_]:
    """Say where a measurand has moved, up or down, by more than the test's precision.

    Equation: the range of the rise does not hold 0.

    Parameters
    ----------
    rise : Rise, arrays of shape (n,) [any]
        Rise above the new oil.

    Returns
    -------
    array of bool, shape (n,) [-]
        True where it has; False where it has not and where nothing is known.

    Examples
    --------
    >>> oils = oil_readings([[900.0], [2500.0]], 2400.0, u=50.0, u_fresh=50.0, symbols=["Ca"])
    >>> real_change(rise_of(oils, "Ca"))
    array([ True, False])
    """
    return np.asarray((rise.low > 0.0) | (rise.high < 0.0))
