"""SAE J300 viscosity grades: which grades a measured viscosity fits.

J300 classifies new oil. Asking whether used oil has left its grade is common practice, not
part of the standard.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import bounds

__all__ = ["EARLY_WINTER", "GRADES", "LATE_40_SHEAR", "WINTER_LEAST", "GradeBounds",
           "edge_distance", "grade_bounds", "grade_range", "grades_fitting", "grades_of",
           "left_grade", "outside_grade", "winter_grades_fitting"]

# Grade: kinematic viscosity at 100 °C, least (included) and upper bound (excluded) [mm²/s];
# least HTHS viscosity at 150 °C [mPa·s]. SAE J300, January 2015 table, as reprinted in a public
# copy of it. 40 has two HTHS bounds by winter grade; the lower is kept, so that fewer oils
# are called out of grade.
GRADES: dict[str, tuple[float, float, float]] = {
    "8": (4.0, 6.1, 1.7),
    "12": (5.0, 7.1, 2.0),
    "16": (6.1, 8.2, 2.3),
    "20": (6.9, 9.3, 2.6),
    "30": (9.3, 12.5, 2.9),
    "40": (12.5, 16.3, 3.5),
    "50": (16.3, 21.9, 3.7),
    "60": (21.9, 26.1, 3.7),
}

# Winter grade: least kinematic viscosity at 100 °C [mm²/s]. The grade itself is given by cold
# cranking and pumping, which no used-oil report carries. Same table.
WINTER_LEAST: dict[str, float] = {
    "0W": 3.8, "5W": 3.8, "10W": 4.1, "15W": 5.6, "20W": 5.6, "25W": 9.3,
}

EARLY_WINTER = ("0W", "5W", "10W")
"""Winter grades whose 40 oils need 3.5 mPa·s at high shear. Same table."""

LATE_40_SHEAR = 3.7
"""Least HTHS viscosity of the other 40 oils: 15W-, 20W-, 25W-40 and plain 40 [mPa·s]."""


@dataclass(frozen=True, slots=True)
class GradeBounds:
    """What J300 asks of one grade as written on the can.

    Parameters
    ----------
    winter, summer : str [-]
        Winter grade such as ``5W`` and high-temperature grade such as ``40``; empty when the
        can names none.
    kv100_least, kv100_upper : float [mm²/s]
        Viscosity at 100 °C: least (included) and upper bound (excluded; infinite where there is
        none).
    hths_least : float [mPa·s]
        Least HTHS viscosity at 150 °C; NaN where none is asked for.
    """

    winter: str
    summer: str
    kv100_least: float
    kv100_upper: float
    hths_least: float


_WRITTEN = re.compile(r"(?:SAE\s*)?(?:(\d+)\s*W(?:\s*[-/ ]?\s*(\d+))?|(\d+))", re.IGNORECASE)
_TABLE = np.array(list(GRADES.values()))


def grades_of(kv100: float, *, hths: float | None = None) -> tuple[str, ...]:
    """List the high-temperature grades that a viscosity fits; some overlap.

    Parameters
    ----------
    kv100 : float [mm²/s]
        Kinematic viscosity at 100 °C.
    hths : float or None [mPa·s]
        High-shear viscosity at 150 °C, where measured.

    Returns
    -------
    tuple of str [-]
        Grades, thinnest first; empty when none fits.

    Examples
    --------
    >>> grades_of(7.0), grades_of(7.0, hths=2.4), grades_of(12.5)
    (('12', '16', '20'), ('12', '16'), ('40',))

    References
    ----------
    SAE J300, 2015-01 table.
    """
    return tuple(grade for grade, (least, upper, shear) in GRADES.items()
                 if least <= kv100 < upper and (hths is None or hths >= shear))


def grade_range(grade: str) -> tuple[float, float] | None:
    """Give the 100 °C viscosity range of a grade such as ``5W-40``, ``40`` or ``SAE 40``.

    Parameters
    ----------
    grade : str [-]
        Grade as written on the can.

    Returns
    -------
    tuple of float or None [mm²/s]
        Least (included) and upper bound (excluded); None when the grade is not understood.

    Examples
    --------
    >>> grade_range("5W-40"), grade_range("soft")
    ((12.5, 16.3), None)
    """
    found = re.fullmatch(r"(?:SAE\s*)?(?:\d+\s*W\s*[-/ ]?\s*)?(\d+)", grade.strip(), re.IGNORECASE)
    if found is None or found.group(1) not in GRADES:
        return None
    least, upper, _ = GRADES[found.group(1)]
    return least, upper


def outside_grade(kv100: ArrayLike, least: ArrayLike, upper: ArrayLike) -> NDArray[np.int8]:
    """Say on which side of its grade's range a viscosity lies.

    Parameters
    ----------
    kv100 : array, any shape [mm²/s]
        Measured viscosity.
    least, upper : array, broadcastable [mm²/s]
        Range of the grade: ``least <= kv100 < upper`` is inside.

    Returns
    -------
    array of int8 [-]
        -1 below, 0 inside or not known, 1 above.

    Examples
    --------
    >>> outside_grade([12.4, 12.5, 16.3], 12.5, 16.3).tolist()
    [-1, 0, 1]
    """
    value, low, high = (np.asarray(a, dtype=float) for a in (kv100, least, upper))
    return (np.where(value >= high, 1, 0) - np.where(value < low, 1, 0)).astype(np.int8)


def grade_bounds(grade: str) -> GradeBounds | None:
    """Give all that J300 asks of a grade such as ``5W-40``, ``SAE 40`` or ``10W``.

    A multigrade oil has to meet both of its halves; 40 asks for more high-shear viscosity as
    15W-40, 20W-40, 25W-40 or plain 40.

    Parameters
    ----------
    grade : str [-]
        Grade as written on the can.

    Returns
    -------
    GradeBounds or None [-]
        The bounds; None when the grade is not understood or its halves exclude each other.

    Examples
    --------
    >>> grade_bounds("10W-40").hths_least, grade_bounds("15W-40").hths_least
    (3.5, 3.7)
    >>> grade_bounds("25W").kv100_least, grade_bounds("soft")
    (9.3, None)

    References
    ----------
    SAE J300, 2015-01 table.
    """
    found = _WRITTEN.fullmatch(grade.strip())
    if found is None:
        return None
    winter = f"{found.group(1)}W" if found.group(1) else ""
    summer = found.group(2) or found.group(3) or ""
    if (winter and winter not in WINTER_LEAST) or (summer and summer not in GRADES):
        return None
    least, upper, shear = GRADES.get(summer, (0.0, math.inf, math.nan))
    if summer == "40" and winter not in EARLY_WINTER:
        shear = LATE_40_SHEAR
    least = max(least, WINTER_LEAST.get(winter, 0.0))
    return GradeBounds(winter, summer, least, upper, shear) if least < upper else None


def grades_fitting(kv100: ArrayLike, *, hths: ArrayLike = np.nan) -> NDArray[np.bool_]:
    """Say for each high-temperature grade whether a measured oil fits it; some overlap.

    Parameters
    ----------
    kv100 : array, shape (...) [mm²/s]
        Kinematic viscosity at 100 °C.
    hths : array, broadcastable [mPa·s]
        High-shear viscosity at 150 °C; NaN where not measured, which excludes nothing.

    Returns
    -------
    array of bool, shape (..., 8) [-]
        One column per grade, in the order of :data:`GRADES`.

    Examples
    --------
    >>> fits = grades_fitting([7.0, 7.0], hths=[2.4, np.nan])
    >>> [[grade for grade, yes in zip(GRADES, row) if yes] for row in fits]
    [['12', '16'], ['12', '16', '20']]

    References
    ----------
    SAE J300, 2015-01 table.
    """
    value, shear = (np.asarray(a, dtype=float)[..., None] for a in (kv100, hths))
    least, upper, needed = _TABLE.T
    return np.asarray((value >= least) & (value < upper) & ~(shear < needed))


def winter_grades_fitting(kv100: ArrayLike) -> NDArray[np.bool_]:
    """Say for each winter grade whether the viscosity at 100 °C reaches its minimum.

    Reaching the minimum does not make a winter grade: cold cranking and pumping do.

    Parameters
    ----------
    kv100 : array, shape (...) [mm²/s]
        Kinematic viscosity at 100 °C.

    Returns
    -------
    array of bool, shape (..., 6) [-]
        One column per grade, in the order of :data:`WINTER_LEAST`.

    Examples
    --------
    >>> winter_grades_fitting(5.0).tolist()
    [True, True, True, False, False, False]

    References
    ----------
    SAE J300, 2015-01 table.
    """
    return np.asarray(np.asarray(kv100, dtype=float)[..., None]
                      >= np.array(list(WINTER_LEAST.values())))


def edge_distance(kv100: ArrayLike, least: ArrayLike, upper: ArrayLike) -> NDArray[np.float64]:
    """Measure how far a viscosity lies inside its grade's range.

    Equation: ``min(KV100 − least, upper − KV100)``.

    Parameters
    ----------
    kv100 : array, any shape [mm²/s]
        Measured viscosity.
    least, upper : array, broadcastable [mm²/s]
        Range of the grade.

    Returns
    -------
    array [mm²/s]
        Distance to the nearer edge; negative outside the range, NaN where not known.

    Examples
    --------
    >>> edge_distance([12.0, 13.0, 16.5], 12.5, 16.3).round(1)
    array([-0.5,  0.5, -0.2])
    """
    value, low, high = (np.asarray(a, dtype=float) for a in (kv100, least, upper))
    return np.asarray(np.minimum(value - low, high - value))


def left_grade(kv100: ArrayLike, least: ArrayLike, upper: ArrayLike, *,
               u: ArrayLike) -> NDArray[np.int8]:
    """Say whether used oil has left the range of its grade, test precision counted.

    Asking this of used oil is common practice and not part of J300.

    Parameters
    ----------
    kv100 : array, any shape [mm²/s]
        Measured viscosity.
    least, upper : array, broadcastable [mm²/s]
        Range of the grade: ``least <= kv100 < upper`` is inside.
    u : array, broadcastable [mm²/s]
        One standard uncertainty of the viscosity.

    Returns
    -------
    array of Answer codes [-]
        YES outside by more than two u; CANNOT_TELL outside by less; NO inside; NOT_ASKED where
        viscosity or grade is not known.

    Examples
    --------
    >>> [Answer(code).name for code in left_grade([12.0, 12.4, 12.5], 12.5, 16.3, u=0.1)]
    ['YES', 'CANNOT_TELL', 'NO']
    """
    value, low, high = (np.asarray(a, dtype=float) for a in (kv100, least, upper))
    reach = bounds(value, u)
    clear = (reach.high < low) | (reach.low >= high)
    outside = (value < low) | (value >= high)
    answer = np.select([np.isnan(value + low) | np.isnan(high), clear, outside],
                       [Answer.NOT_ASKED, Answer.YES, Answer.CANNOT_TELL], Answer.NO)
    return answer.astype(np.int8)
