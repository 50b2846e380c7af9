"""Test precision: do two results differ, is a result above a limit, how uncertain is one result.

The equations are those of the test methods, ``r = a·X^b`` and ``R = c·X^d`` at 95 %. Weeks apart
in one laboratory, which is how an engine is trended, the spread lies between the two.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused
from oiltrend.limits.answers import Answer
from oiltrend.nomenclature import MEASURANDS, PANEL, PANEL_INDEX

__all__ = [
    "ABOVE_LIMIT_FACTOR", "ASSUMED_RELATIVE_REPRODUCIBILITY", "FLOOR_SHARE", "SITE_SHARE",
    "TWO_RESULTS_FACTOR", "Coefficients", "RangeState", "above_limit_with_confidence",
    "coefficients", "differs", "range_state", "repeatability", "reproducibility",
    "rounding_standard_uncertainty", "site_standard_uncertainty",
]

TWO_RESULTS_FACTOR = 1.959963984540054 * math.sqrt(2.0)
"""r or R over its standard deviation: 1.96·√2 = 2.7719 (ISO 4259, ASTM D6300)."""

ABOVE_LIMIT_FACTOR = 0.59
"""Share of R that one result must exceed a limit by, 95 % one-sided (ISO 4259, from memory)."""

SITE_SHARE = 0.6
"""Spread weeks apart in one laboratory as a share of R. Assumed; it lies between r and R."""

FLOOR_SHARE = 0.25
"""Below this share of the validated range's low end, r and R stop shrinking. Assumed."""

ASSUMED_RELATIVE_REPRODUCIBILITY = 0.35
"""R over the value where a measurand carries no statement. Assumed: the median of the 22
elements of D5185, each in the middle (geometric mean) of its validated range."""

# Two decimals that differ by exactly r differ by r plus or minus a few last binary digits.
_SAME_DECIMAL = 1e-9


class RangeState(IntEnum):
    """Where a value lies against the range in which the precision statement was validated."""

    NO_STATEMENT = -2
    BELOW = -1
    WITHIN = 0
    ABOVE = 1


@dataclass(frozen=True, slots=True)
class Coefficients:
    """Precision statements as arrays, one entry per measurand, NaN where there is none.

    Parameters
    ----------
    repeatability_factor, repeatability_power : array, shape (m,) [-]
        a and b of ``r = a·X^b``, X in the measurand's unit.
    reproducibility_factor, reproducibility_power : array, shape (m,) [-]
        c and d of ``R = c·X^d``.
    low, high : array, shape (m,) [any]
        Validated range, in the measurand's unit.
    """

    repeatability_factor: NDArray[np.float64]
    repeatability_power: NDArray[np.float64]
    reproducibility_factor: NDArray[np.float64]
    reproducibility_power: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def coefficients(*, symbols: Sequence[str] = PANEL) -> Coefficients:
    """Collect the precision statements of the nomenclature as arrays.

    Parameters
    ----------
    symbols : sequence of str [-]
        Measurands wanted, in the order wanted; by default the whole panel.

    Returns
    -------
    Coefficients [-]
        Arrays with one entry per symbol.

    Raises
    ------
    ValueRefused
        When a symbol is not a known measurand.

    Examples
    --------
    >>> coefficients(symbols=["Pb", "Sb"]).low
    array([10., nan])
    """
    for symbol in symbols:
        if symbol not in PANEL_INDEX:
            raise ValueRefused(f"measurand: must be a known measurand, found '{symbol}'",
                               hint="use one of " + ", ".join(PANEL))
    table = np.full((6, len(symbols)), np.nan)
    for column, symbol in enumerate(symbols):
        statement = MEASURANDS[PANEL_INDEX[symbol]].precision
        if statement is not None:
            table[:, column] = (
                statement.repeatability_factor, statement.repeatability_power,
                statement.reproducibility_factor, statement.reproducibility_power,
                statement.low, statement.high)
    return Coefficients(*table)


def _at(value: ArrayLike, factor: NDArray[np.float64], power: NDArray[np.float64],
        low: NDArray[np.float64]) -> NDArray[np.float64]:
    level = np.maximum(value, FLOOR_SHARE * low)
    # NaN ** 0 is 1: a constant precision must still be NaN without a value.
    return np.where(np.isnan(level), np.nan, factor * level ** power)


def repeatability(value: ArrayLike, statement: Coefficients) -> NDArray[np.float64]:
    """Difference that two results of one operator on one day exceed in 1 case of 20.

    Equation: ``r = a · max(X, low/4)^b``. Below a quarter of the validated low end r is held
    constant (assumed), because a power law would let it shrink to nothing.

    Parameters
    ----------
    value : array, shape (..., m) [any]
        The result, or the mean of the two results compared.
    statement : Coefficients, arrays of shape (m,) [-]
        Precision statements.

    Returns
    -------
    array, shape (..., m) [any]
        r in the unit of the value; NaN without a statement or without a value.

    Examples
    --------
    >>> repeatability(16.0, coefficients(symbols=["Pb"])).round(3)
    array([3.885])

    References
    ----------
    ISO 4259-1, ASTM D6300. Coefficients: see the source of each measurand.
    """
    return _at(value, statement.repeatability_factor, statement.repeatability_power,
               statement.low)


def reproducibility(value: ArrayLike, statement: Coefficients) -> NDArray[np.float64]:
    """Difference that two results of two laboratories exceed in 1 case of 20.

    Equation: ``R = c · max(X, low/4)^d``, held constant below a quarter of the low end
    (assumed), as :func:`repeatability`.

    Parameters
    ----------
    value : array, shape (..., m) [any]
        The result, or the mean of the two results compared.
    statement : Coefficients, arrays of shape (m,) [-]
        Precision statements.

    Returns
    -------
    array, shape (..., m) [any]
        R in the unit of the value; NaN without a statement or without a value.

    Examples
    --------
    >>> reproducibility([[16.0], [1.0], [0.0]], coefficients(symbols=["Pb"])).round(3).tolist()
    [[8.14], [4.172], [4.172]]

    References
    ----------
    ISO 4259-1, ASTM D6300. Coefficients: see the source of each measurand.
    """
    return _at(value, statement.reproducibility_factor, statement.reproducibility_power,
               statement.low)


def range_state(value: ArrayLike, statement: Coefficients) -> NDArray[np.int8]:
    """Say whether the precision statement was validated at this value.

    Parameters
    ----------
    value : array, shape (..., m) [any]
        Results.
    statement : Coefficients, arrays of shape (m,) [-]
        Precision statements.

    Returns
    -------
    array of RangeState codes, shape (..., m) [-]
        BELOW, WITHIN, ABOVE; NO_STATEMENT where there is none or the value is NaN.

    Examples
    --------
    >>> told = range_state([4.0, 4.0], coefficients(symbols=["Pb", "Fe"]))
    >>> [RangeState(code).name for code in told]
    ['BELOW', 'WITHIN']
    """
    value = np.asarray(value, dtype=float)
    state = (value > statement.high).astype(np.int8) - (value < statement.low).astype(np.int8)
    nothing = np.isnan(value) | np.isnan(statement.low)
    return np.where(nothing, RangeState.NO_STATEMENT, state).astype(np.int8)


def site_standard_uncertainty(
    value: ArrayLike, statement: Coefficients, *, share: float = SITE_SHARE,
    without_statement: float = ASSUMED_RELATIVE_REPRODUCIBILITY,
) -> NDArray[np.float64]:
    """Give one standard uncertainty of a result, weeks apart in one laboratory.

    Equation: ``u = share · R(X) / 2.7719``. The share 0.6 is assumed; the shop's own duplicate
    samples replace it. Between two laboratories the share is 1.

    Parameters
    ----------
    value : array, shape (..., m) [any]
        Results.
    statement : Coefficients, arrays of shape (m,) [-]
        Precision statements.
    share : float [-]
        Spread in one laboratory as a share of the reproducibility.
    without_statement : float [-]
        R over the value where a measurand carries no statement (assumed).

    Returns
    -------
    array, shape (..., m) [any]
        Standard uncertainty in the unit of the value; NaN without a value.

    Examples
    --------
    >>> site_standard_uncertainty([16.0, 16.0], coefficients(symbols=["Pb", "Sb"])).round(3)
    array([1.762, 1.212])

    References
    ----------
    ISO 4259-1; ASTM D6299 (site precision), from memory.
    """
    spread = np.where(np.isnan(statement.low),
                      without_statement * np.abs(np.asarray(value, dtype=float)),
                      reproducibility(value, statement))
    return share * spread / TWO_RESULTS_FACTOR


def rounding_standard_uncertainty(step: ArrayLike) -> NDArray[np.float64]:
    """Give one standard uncertainty of a number that was rounded to a step.

    Equation: ``u = step / √12`` (uniform within one step).

    Parameters
    ----------
    step : array [any]
        Reporting step: 1 for whole numbers, 0.1 for one decimal.

    Returns
    -------
    array [any]
        Standard uncertainty in the unit of the step.

    Examples
    --------
    >>> float(rounding_standard_uncertainty(1.0))
    0.2886751

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.7.
    """
    return np.asarray(step, dtype=float) / math.sqrt(12.0)


def differs(first: ArrayLike, second: ArrayLike, statement: Coefficients, *,
            same_operator: bool) -> NDArray[np.int8]:
    """Say whether two results differ by more than the test's own precision.

    Equation: ``|x1 − x2| > r`` (one operator, one day) or ``> R`` (two laboratories), evaluated
    at the mean of the two. A difference equal to r or R is acceptable.

    Parameters
    ----------
    first, second : array, shape (..., m) [any]
        The two results.
    statement : Coefficients, arrays of shape (m,) [-]
        Precision statements.
    same_operator : bool [-]
        True for r, False for R.

    Returns
    -------
    array of Answer codes, shape (..., m) [-]
        YES or NO; CANNOT_TELL without a statement; NOT_ASKED without one of the values.

    Examples
    --------
    >>> acid = coefficients(symbols=["acid_number"])
    >>> [Answer(differs(3.0, 4.0, acid, same_operator=same)[0]).name for same in (True, False)]
    ['YES', 'NO']

    References
    ----------
    ISO 4259-2 and ASTM D3244, from memory; "x is the average of the results being compared":
    ASTM D664 section 15.
    """
    first, second = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    allowed = (repeatability if same_operator else reproducibility)((first + second) / 2,
                                                                    statement)
    further = np.abs(first - second) > allowed * (1.0 + _SAME_DECIMAL)
    answer = np.where(np.isnan(allowed), Answer.CANNOT_TELL, further)
    return np.where(np.isnan(first + second), Answer.NOT_ASKED, answer).astype(np.int8)


def above_limit_with_confidence(value: ArrayLike, limit: ArrayLike,
                                spread: ArrayLike) -> NDArray[np.int8]:
    """Say whether one result shows with 95 % confidence that the true value is above a limit.

    Equation: ``x > limit + 0.59 R``.

    Parameters
    ----------
    value : array [any]
        One result each.
    limit : array [any]
        The limit, in the unit of the value.
    spread : array [any]
        Reproducibility R at the limit.

    Returns
    -------
    array of Answer codes [-]
        YES or NO; CANNOT_TELL where R is NaN; NOT_ASKED without a value or a limit.

    Examples
    --------
    >>> R = reproducibility(25.0, coefficients(symbols=["Pb"]))
    >>> [Answer(above_limit_with_confidence(x, 25.0, R)[0]).name for x in (30.0, 31.0)]
    ['NO', 'YES']

    References
    ----------
    ISO 4259-2, from memory; 0.59 = 1.645 / (1.96·√2).
    """
    value, limit = np.asarray(value, dtype=float), np.asarray(limit, dtype=float)
    spread = np.asarray(spread, dtype=float)
    answer = np.where(np.isnan(spread), Answer.CANNOT_TELL,
                      value > limit + ABOVE_LIMIT_FACTOR * spread)
    return np.where(np.isnan(value + limit), Answer.NOT_ASKED, answer).astype(np.int8)
