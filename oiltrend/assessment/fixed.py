"""Fixed limits of the fleet as arrays: the family's own set, else the set for every family."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import LIMIT_QUANTITIES, Limit

__all__ = ["LEVELS", "FixedLimits", "fixed_limits", "limits_in_force"]

LEVELS = ("alert", "alarm")


@dataclass(frozen=True, slots=True)
class FixedLimits:
    """``bound[family, quantity, level, side, measurand]``, NaN where there is no limit.

    Side 0 is an upper bound (> or >=), side 1 a lower one; ``inclusive`` says whether the
    bound itself counts; ``row`` points into ``limits``.
    """

    families: tuple[str, ...]
    bound: NDArray[np.float64]
    inclusive: NDArray[np.bool_]
    row: NDArray[np.int64]
    limits: tuple[Limit, ...]


def limits_in_force(limits: Sequence[Limit], family: str, as_of: date) -> list[Limit]:
    """List the limits that hold for a family on a day.

    Where the family has any limit for a measurand and quantity, it replaces what is set for
    every family (``*``) there; of several for one place the newest ``valid_from`` counts.

    Parameters
    ----------
    limits : sequence of Limit [-]
        The limits of the version in force.
    family : str [-]
        Family code.
    as_of : date [-]
        The day.

    Returns
    -------
    list of Limit [-]
        In the order of panel, quantity and level.

    Examples
    --------
    >>> day = date(2025, 1, 1)
    >>> common = Limit("*", "Pb", "level", "alert", ">", 25, "handbook", day)
    >>> own = Limit("AQ-V8-40", "Pb", "level", "alert", ">", 12, "our openings", day)
    >>> [limit.value for limit in limits_in_force([common, own], "AQ-V8-40", day)]
    [12]
    >>> [limit.value for limit in limits_in_force([common, own], "AQ-I6-32", day)]
    [25]
    """
    newest: dict[tuple[str, str, str, str, str], Limit] = {}
    for limit in sorted(limits, key=lambda entry: entry.valid_from):
        if limit.family in (family, "*") and limit.valid_from <= as_of:
            side = limit.operator[0]
            newest[limit.family, limit.measurand, limit.quantity, limit.level, side] = limit
    owned = {(m, q) for f, m, q, _, _ in newest if f != "*"}
    chosen = [limit for (f, m, q, _, _), limit in newest.items()
              if f != "*" or (m, q) not in owned]
    return sorted(chosen, key=lambda limit: (
        PANEL_INDEX[limit.measurand], LIMIT_QUANTITIES.index(limit.quantity),
        LEVELS.index(limit.level), limit.operator))


def fixed_limits(limits: Sequence[Limit], families: Sequence[str], as_of: date) -> FixedLimits:
    """Lay the limits of all families out as arrays.

    Parameters
    ----------
    limits : sequence of Limit [-]
        The limits of the version in force.
    families : sequence of str [-]
        Family codes.
    as_of : date [-]
        The day.

    Returns
    -------
    FixedLimits [-]
        Arrays over family, quantity, level, side and measurand.
    """
    shape = (len(families), len(LIMIT_QUANTITIES), len(LEVELS), 2, len(PANEL))
    bound = np.full(shape, np.nan)
    inclusive = np.zeros(shape, dtype=bool)
    row = np.full(shape, -1, dtype=np.int64)
    kept = tuple(limits)
    number = {id(limit): index for index, limit in enumerate(kept)}
    for place, family in enumerate(families):
        for limit in limits_in_force(kept, family, as_of):
            cell = (place, LIMIT_QUANTITIES.index(limit.quantity), LEVELS.index(limit.level),
                    0 if limit.operator[0] == ">" else 1, PANEL_INDEX[limit.measurand])
            bound[cell] = limit.value
            inclusive[cell] = limit.operator.endswith("=")
            row[cell] = number[id(limit)]
    return FixedLimits(tuple(families), bound, inclusive, row, kept)
