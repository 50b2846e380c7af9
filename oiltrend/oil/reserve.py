"""Base number against acid number: how much of the new oil's reserve is left, and the crossing.

Only what was measured is compared. How far the oil will still go is not predicted here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import Bounds, bounds

__all__ = ["BaseMethod", "Reserve", "ReserveState", "acid_reaches_base", "base_method",
           "base_reserve"]


class BaseMethod(IntEnum):
    """Test method of a base number. D4739 reads lower on used oil: the two are never mixed."""

    UNKNOWN = 0
    D2896 = 1
    D4739 = 2


class ReserveState(IntEnum):
    """Whether used and new base number may be compared."""

    METHODS_DIFFER = -1
    NOT_KNOWN = 0
    COMPARED = 1
    METHOD_UNKNOWN = 2


@dataclass(frozen=True, slots=True)
class Reserve:
    """Share of the new oil's base number that is left.

    Parameters
    ----------
    value : array, any shape [%]
        Share left; NaN where there is none, and for a base number below its reporting limit.
    low, high : array, same shape [%]
        From where to where it may lie; low is never below 0.
    state : array of ReserveState codes, same shape [-]
        COMPARED; METHOD_UNKNOWN: compared, but the method of one of them was not recorded, so
        the share may be wrong; METHODS_DIFFER: not compared; NOT_KNOWN: one is missing.
    """

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    state: NDArray[np.int8]


def base_method(text: str) -> BaseMethod:
    """Find the base-number method that a report names.

    Parameters
    ----------
    text : str [-]
        Method as written, such as ``ASTM D2896`` or ``ISO 3771``.

    Returns
    -------
    BaseMethod [-]
        The method; UNKNOWN when it is neither, or both.

    Examples
    --------
    >>> base_method("ASTM D 2896-21").name, base_method("ISO 3771").name, base_method("").name
    ('D2896', 'D2896', 'UNKNOWN')

    References
    ----------
    ASTM D2896 (perchloric acid; ISO 3771 is the same titration, from memory), ASTM D4739
    (hydrochloric acid).
    """
    strong = re.search(r"D\s*-?\s*2896(?!\d)|ISO\s*-?\s*3771(?!\d)", text, re.IGNORECASE)
    weak = re.search(r"D\s*-?\s*4739(?!\d)", text, re.IGNORECASE)
    if bool(strong) == bool(weak):
        return BaseMethod.UNKNOWN
    return BaseMethod.D2896 if strong else BaseMethod.D4739


def base_reserve(used: ArrayLike, fresh: ArrayLike, *, u_used: ArrayLike, u_fresh: ArrayLike,
                 used_method: ArrayLike, fresh_method: ArrayLike,
                 below: ArrayLike = False) -> Reserve:
    """Give the share of the new oil's base number that is left.

    Equation: ``share = 100 · used / fresh``, with
    ``u² = (100/fresh)² · (u_used² + (used/fresh)² · u_fresh²)`` and a range of ±2u. A base
    number "<v" gives a range from 0 to the share of v.

    Parameters
    ----------
    used, fresh : array, broadcastable [mg KOH/g]
        Base number of the sample and of the product's new oil.
    u_used, u_fresh : array, broadcastable [mg KOH/g]
        One standard uncertainty of each.
    used_method, fresh_method : array of BaseMethod codes, broadcastable [-]
        How each was measured.
    below : array of bool, broadcastable [-]
        True where the sample's base number was "<v".

    Returns
    -------
    Reserve [-]
        Share, range and whether the two may be compared.

    Examples
    --------
    >>> left = base_reserve([4.0, 4.0], 10.0, u_used=0.2, u_fresh=0.1,
    ...                     used_method=BaseMethod.D2896,
    ...                     fresh_method=[BaseMethod.D2896, BaseMethod.D4739])
    >>> left.value, [ReserveState(code).name for code in left.state]
    (array([40., nan]), ['COMPARED', 'METHODS_DIFFER'])

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2, for the uncertainty of a ratio.
    """
    number, new, s, s_new, censored = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (used, fresh, u_used, u_fresh)),
        np.asarray(below, dtype=bool))
    how, how_new = (np.asarray(a, dtype=int) for a in (used_method, fresh_method))
    known = ~np.isnan(number) & (new > 0.0)
    differ = (how != how_new) & (how != BaseMethod.UNKNOWN) & (how_new != BaseMethod.UNKNOWN)
    unsure = (how == BaseMethod.UNKNOWN) | (how_new == BaseMethod.UNKNOWN)
    state = np.select([~known, differ, unsure],
                      [ReserveState.NOT_KNOWN, ReserveState.METHODS_DIFFER,
                       ReserveState.METHOD_UNKNOWN], ReserveState.COMPARED)
    usable = state > 0
    scale = 100.0 / np.where(usable, new, np.nan)
    share = scale * number
    # "<v" carries no uncertainty of its own: v is a bound, and only the new oil's counts.
    u = np.hypot(scale * np.where(censored, 0.0, s), share / 100.0 * scale * s_new)
    reach = bounds(share, u)
    return Reserve(np.where(censored, np.nan, share),
                   np.where(censored & usable, 0.0, np.maximum(reach.low, 0.0)),
                   reach.high, state.astype(np.int8))


def acid_reaches_base(base: Bounds, acid: Bounds) -> NDArray[np.int8]:
    """Say whether the acid number has reached the base number.

    Equation: ``acid ≥ base``, answered only where the ranges of the two do not overlap. By
    D4739 the base number reads lower on used oil than by D2896, so the crossing comes earlier:
    the method belongs to the answer.

    Parameters
    ----------
    base, acid : Bounds, arrays broadcastable [mg KOH/g]
        Base and acid number as ranges (:func:`oiltrend.oil.bounds.bounds`).

    Returns
    -------
    array of Answer codes [-]
        YES, NO, CANNOT_TELL where the ranges overlap; NOT_ASKED where one was not measured.

    Examples
    --------
    >>> base = bounds([2.0, 5.0, 3.0], 0.2)
    >>> acid = bounds([3.0, 1.5, 3.1], 0.2)
    >>> [Answer(code).name for code in acid_reaches_base(base, acid)]
    ['YES', 'NO', 'CANNOT_TELL']

    References
    ----------
    Common practice, no source.
    """
    missing = np.isnan(base.low) | np.isnan(acid.low)
    answer = np.select([missing, acid.low >= base.high, acid.high < base.low],
                       [Answer.NOT_ASKED, Answer.YES, Answer.NO], Answer.CANNOT_TELL)
    return answer.astype(np.int8)
