"""How far an oil has moved from its own new-oil figures, in per cent or in its unit.

"Own" matters: new oils of one grade differ by more than the changes looked for here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import bounds

__all__ = ["DRIFT_ROWS", "HANDBOOK_SOURCE", "PRACTICE_SOURCE", "Drift", "DriftRow",
           "absolute_drift", "beyond", "changed", "relative_drift"]

HANDBOOK_SOURCE = ("lubricants handbook of an oil company, 2004, motor-oil degradation limits, "
                   "gasoline engines; operator assumed")
PRACTICE_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class DriftRow:
    """How far from new is far.

    Parameters
    ----------
    measurand : str [-]
        Symbol of the nomenclature.
    quantity : str [-]
        ``relative`` for per cent of the new oil's figure, ``absolute`` for the plain difference.
    direction : str [-]
        ``up``, ``down`` or ``either``.
    size : float [any]
        Size of the change that is far, in ``unit``; it must be exceeded.
    unit : str [-]
        Unit of the size.
    source : str [-]
        Where the number stands.
    note : str [-]
        What it leaves open.
    """

    measurand: str
    quantity: Literal["relative", "absolute"]
    direction: Literal["up", "down", "either"]
    size: float
    unit: str
    source: str
    note: str = ""


DRIFT_ROWS: tuple[DriftRow, ...] = (
    DriftRow("KV40", "relative", "either", 25.0, "%", HANDBOOK_SOURCE),
    DriftRow("KV100", "relative", "either", 15.0, "%", HANDBOOK_SOURCE),
    DriftRow("base_number", "relative", "down", 50.0, "%", PRACTICE_SOURCE,
             note="half of the new oil's base number is gone; both by one method"),
    DriftRow("oxidation", "absolute", "up", 20.0, "Abs/cm", PRACTICE_SOURCE,
             note="20 to 25, for peak heights by DIN 51453; areas by ASTM are other numbers"),
    DriftRow("nitration", "absolute", "up", 20.0, "Abs/cm", PRACTICE_SOURCE,
             note="20 to 25, for peak heights by DIN 51453; areas by ASTM are other numbers"),
)


@dataclass(frozen=True, slots=True)
class Drift:
    """Change against new oil.

    Parameters
    ----------
    value : array, any shape [any]
        Change, in per cent or in the measurand's unit; NaN where there is none, and for a
        reading "<v" or ">v".
    low, high : array, same shape [any]
        From where to where it may lie; NaN where not measured.
    """

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def absolute_drift(value: ArrayLike, fresh: ArrayLike, *, u: ArrayLike, u_fresh: ArrayLike,
                   below: ArrayLike = False, above: ArrayLike = False) -> Drift:
    """Give the difference to the new oil.

    Equation: ``d = value − fresh``, ``u_d² = u² + u_fresh²``, range ±2 u_d.

    Parameters
    ----------
    value, fresh : array, broadcastable [any]
        Sample and new oil of its product; for "<v" and ">v" the number v.
    u, u_fresh : array, broadcastable [any]
        One standard uncertainty of each.
    below, above : array of bool, broadcastable [-]
        True where the sample's reading was "<v", or ">v".

    Returns
    -------
    Drift [any]
        Difference and its range.

    Examples
    --------
    >>> moved = absolute_drift([12.0, 2.0], 1.0, u=0.5, u_fresh=0.0, below=[False, True])
    >>> moved.value, moved.low, moved.high
    (array([11., nan]), array([ 10., -inf]), array([12.,  1.]))
    """
    number, new, s, s_new, low, high = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (value, fresh, u, u_fresh)),
        np.asarray(below, dtype=bool), np.asarray(above, dtype=bool))
    exact = ~(low | high)
    # "<v" carries no uncertainty of its own: v is a bound. The new oil's still counts.
    spread = np.hypot(np.where(exact, s, 0.0), s_new)
    difference = number - new
    reach = bounds(difference, spread)
    known = ~np.isnan(new)
    unbounded = np.isnan(number)
    least = np.where(low | (high & unbounded), np.where(known, -np.inf, np.nan), reach.low)
    most = np.where(high | (low & unbounded), np.where(known, np.inf, np.nan), reach.high)
    return Drift(np.where(exact, difference, np.nan), least, most)


def relative_drift(value: ArrayLike, fresh: ArrayLike, *, u: ArrayLike, u_fresh: ArrayLike,
                   below: ArrayLike = False, above: ArrayLike = False) -> Drift:
    """Give the change against the new oil in per cent.

    Equation: ``d = 100 (value/fresh − 1)``,
    ``u_d = 100/fresh · √(u² + (value/fresh)² u_fresh²)``, range ±2 u_d.

    Parameters
    ----------
    value, fresh : array, broadcastable [any]
        Sample and new oil of its product, in one unit; for "<v" and ">v" the number v.
    u, u_fresh : array, broadcastable [any]
        One standard uncertainty of each, in the same unit.
    below, above : array of bool, broadcastable [-]
        True where the sample's reading was "<v", or ">v".

    Returns
    -------
    Drift [%]
        Change and its range; NaN where the new oil's figure is not above 0.

    Examples
    --------
    >>> moved = relative_drift([12.6, 11.0], 14.0, u=0.07, u_fresh=0.07)
    >>> moved.value.round(1), moved.low.round(1), moved.high.round(1)
    (array([-10. , -21.4]), array([-11.3, -22.7]), array([ -8.7, -20.2]))
    """
    number, new = np.asarray(value, dtype=float), np.asarray(fresh, dtype=float)
    new = np.where(new > 0.0, new, np.nan)
    ratio = number / new
    # Without a number ("not detected") the share of the new oil's uncertainty is of no account.
    share = np.where(np.isnan(ratio), 1.0, ratio)
    return absolute_drift(
        100.0 * ratio, np.where(np.isnan(new), np.nan, 100.0),
        u=100.0 * np.asarray(u, dtype=float) / new,
        u_fresh=100.0 * share * np.asarray(u_fresh, dtype=float) / new, below=below, above=above)


def changed(drift: Drift) -> NDArray[np.int8]:
    """Say whether the oil has changed by more than the test's own precision.

    Equation: YES where the range of the change does not hold 0.

    Parameters
    ----------
    drift : Drift [any]
        Change against new oil.

    Returns
    -------
    array of Answer codes [-]
        YES; CANNOT_TELL where the change is smaller than the precision; NOT_ASKED.

    Examples
    --------
    >>> moved = relative_drift([12.6, 13.95], 14.0, u=0.07, u_fresh=0.07)
    >>> [Answer(code).name for code in changed(moved)]
    ['YES', 'CANNOT_TELL']
    """
    clear = (drift.low > 0.0) | (drift.high < 0.0)
    return np.where(np.isnan(drift.low), Answer.NOT_ASKED,
                    np.where(clear, Answer.YES, Answer.CANNOT_TELL)).astype(np.int8)


def beyond(drift: Drift, row: DriftRow) -> NDArray[np.int8]:
    """Say whether a change is beyond one row of :data:`DRIFT_ROWS`.

    Equation: ``change > size`` (up), ``change < −size`` (down), or either. A reading "<v" or
    ">v" is answered where its bound decides.

    Parameters
    ----------
    drift : Drift [any]
        Change against new oil, of the row's quantity.
    row : DriftRow [-]
        How far is far.

    Returns
    -------
    array of Answer codes [-]
        YES or NO; CANNOT_TELL where a bound does not decide; NOT_ASKED where nothing was
        measured.

    Examples
    --------
    >>> moved = relative_drift([12.6, 11.0], 14.0, u=0.07, u_fresh=0.07)
    >>> [Answer(code).name for code in beyond(moved, DRIFT_ROWS[1])]
    ['NO', 'YES']
    """
    # Rounded, because 11.9 of 14.0 must be 15 % less and not a last binary digit more.
    value = np.round(drift.value, 9)
    exact = ~np.isnan(value)
    low, high = np.where(exact, value, drift.low), np.where(exact, value, drift.high)
    up, down = row.direction in ("up", "either"), row.direction in ("down", "either")
    yes = ((low > row.size) & up) | ((high < -row.size) & down)
    no = ((high <= row.size) | (not up)) & ((low >= -row.size) | (not down))
    answer = np.select([np.isnan(drift.low) | np.isnan(drift.high), yes, no],
                       [Answer.NOT_ASKED, Answer.YES, Answer.NO], Answer.CANNOT_TELL)
    return answer.astype(np.int8)
