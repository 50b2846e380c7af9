"""SAE J300 viscosity grades: which grades a measured viscosity fits.

J300 classifies new oil. Asking whether used oil has left its grade is common practice, not
part of the standard.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["GRADES", "grade_range", "grades_of", "outside_grade"]

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
