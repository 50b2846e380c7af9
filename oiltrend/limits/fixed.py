"""Fixed limits: is a reading beyond a number, and the numbers of a published handbook.

The operator of a limit is kept: a reading of 25 is not above "> 25".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused
from oiltrend.limits.answers import Answer

__all__ = ["HANDBOOK", "HANDBOOK_SOURCE", "OPERATORS", "HandbookRow", "exceeds",
           "handbook_levels"]

OPERATORS = (">", ">=", "<", "<=")

HANDBOOK_SOURCE = ("lubricants handbook of an oil company, 2004, motor-oil degradation limits, "
                   "gasoline engines")


@dataclass(frozen=True, slots=True)
class HandbookRow:
    """One published warning level.

    Parameters
    ----------
    measurand : str [-]
        Symbol of the nomenclature.
    quantity : str [-]
        ``level`` for the reading itself, ``change_from_new`` for the change against the fresh
        oil, up or down, as a share of the fresh oil's value.
    operator : str [-]
        As printed.
    value : float [any]
        The level, in ``unit``.
    unit : str [-]
        Unit of the value.
    applies_to : str [-]
        ``""`` for every engine of the handbook's scope, else the case that it is for.
    note : str [-]
        What the handbook leaves open.
    source : str [-]
        Where the number stands.
    """

    measurand: str
    quantity: Literal["level", "change_from_new"]
    operator: Literal[">", ">=", "<", "<="]
    value: float
    unit: str
    applies_to: str = ""
    note: str = ""
    source: str = HANDBOOK_SOURCE


HANDBOOK: tuple[HandbookRow, ...] = (
    HandbookRow("Fe", "level", ">", 100.0, "mg/kg"),
    HandbookRow("Cr", "level", ">", 10.0, "mg/kg"),
    HandbookRow("Cu", "level", ">", 20.0, "mg/kg"),
    HandbookRow("Pb", "level", ">", 25.0, "mg/kg",
                note="without meaning where the fuel is leaded"),
    HandbookRow("Sn", "level", ">", 10.0, "mg/kg"),
    HandbookRow("Al", "level", ">", 20.0, "mg/kg"),
    HandbookRow("Al", "level", ">", 80.0, "mg/kg", applies_to="aluminium block"),
    HandbookRow("Si", "level", ">", 20.0, "mg/kg"),
    HandbookRow("B", "level", ">", 20.0, "mg/kg"),
    HandbookRow("water_pct", "level", ">", 0.1, "%"),
    HandbookRow("fuel_pct", "level", ">", 5.0, "%", note="mass or volume is not said"),
    HandbookRow("acid_number", "level", ">", 5.0, "mg KOH/g"),
    HandbookRow("glycol_pct", "level", ">", 0.0, "%", note="any positive identification"),
    HandbookRow("KV40", "change_from_new", ">", 25.0, "%", note="operator assumed"),
    HandbookRow("KV100", "change_from_new", ">", 15.0, "%", note="operator assumed"),
)


def handbook_levels(symbols: Sequence[str], *,
                    aluminium_block: bool = False) -> NDArray[np.float64]:
    """Lay the handbook's levels out along a list of measurands. All of them read ``>``.

    Parameters
    ----------
    symbols : sequence of str [-]
        Measurands, in the order wanted.
    aluminium_block : bool [-]
        Take the level for aluminium blocks where there is one.

    Returns
    -------
    array, shape (m,) [any]
        Level in the measurand's unit, NaN where the handbook has none.

    Examples
    --------
    >>> handbook_levels(["Fe", "Al", "Ag"])
    array([100.,  20.,  nan])
    >>> handbook_levels(["Fe", "Al", "Ag"], aluminium_block=True)
    array([100.,  80.,  nan])
    """
    cases = ("", "aluminium block") if aluminium_block else ("",)
    # A later row for a special case replaces the general one.
    level = {row.measurand: row.value for case in cases for row in HANDBOOK
             if row.quantity == "level" and row.applies_to == case}
    return np.array([level.get(symbol, np.nan) for symbol in symbols], dtype=float)


def exceeds(value: ArrayLike, operator: ArrayLike, limit: ArrayLike, *,
            below: ArrayLike = False, above: ArrayLike = False) -> NDArray[np.int8]:
    """Compare readings with limits, exactly and with three answers.

    Equation: ``value operator limit``. A reading "<v" is some number below v: it is beyond an
    upper limit never when v ≤ limit, and perhaps otherwise; a reading ">v" the other way round.
    The comparison is exact; round a computed value first where its last digits mean nothing.

    Parameters
    ----------
    value : array [any]
        Numbers, for "<v" and ">v" the bound v; NaN where there is none.
    operator : str or array of str [-]
        One of ``>``, ``>=``, ``<``, ``<=``, broadcast against the value.
    limit : array [any]
        Limits in the unit of the value, broadcast; NaN where there is no limit.
    below : bool or array of bool [-]
        True where the reading was "<v"; with NaN value, "not detected" without a bound.
    above : bool or array of bool [-]
        True where the reading was ">v".

    Returns
    -------
    array of Answer codes [-]
        YES, NO, CANNOT_TELL; NOT_ASKED without a reading or without a limit.

    Raises
    ------
    ValueRefused
        When an operator is not one of the four.

    Examples
    --------
    >>> [Answer(code).name for code in exceeds([25, 26, 30, 20], ">", 25,
    ...                                        below=[False, False, True, True])]
    ['NO', 'YES', 'CANNOT_TELL', 'NO']
    """
    sign = np.asarray(operator, dtype=str)
    for found in np.unique(sign):
        if found not in OPERATORS:
            raise ValueRefused(f"operator: must be one of {', '.join(OPERATORS)}, found '{found}'",
                               hint="correct the limit")
    number, bound, low, high, sign = np.broadcast_arrays(
        np.asarray(value, dtype=float), np.asarray(limit, dtype=float),
        np.asarray(below, dtype=bool), np.asarray(above, dtype=bool), sign)
    upper = (sign == ">") | (sign == ">=")
    over = np.where(upper, number > bound, number < bound)
    beyond = over | ((number == bound) & ((sign == ">=") | (sign == "<=")))
    # A censored reading is strictly on one side of its own bound, so a bound equal to the limit
    # decides, whatever the operator.
    away = np.where(low, number <= bound, number >= bound)
    censored = np.where(away, upper == high, Answer.CANNOT_TELL)
    answer = np.where(low | high, censored, beyond)
    absent = np.isnan(bound) | (np.isnan(number) & ~low & ~high)
    return np.where(absent, Answer.NOT_ASKED, answer).astype(np.int8)
