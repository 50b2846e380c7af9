"""Array entries as plain values: NaN and NaT become None."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
from numpy.typing import NDArray

__all__ = ["day_or_none", "known_numbers", "number_or_none"]


def number_or_none(value: float) -> float | None:
    """Give a number, or None where it is not known.

    Parameters
    ----------
    value : float [-]
        A number, NaN or infinite.

    Returns
    -------
    float or None [-]
        The finite number.

    Examples
    --------
    >>> number_or_none(2.5), number_or_none(float("nan"))
    (2.5, None)
    """
    return float(value) if math.isfinite(value) else None


def known_numbers(array: NDArray[np.float64]) -> list[list[float | None]]:
    """Give a table of numbers as plain lists, with None where a number is not known.

    Parameters
    ----------
    array : array, shape (n, m) [-]
        Numbers, NaN and infinite ones among them.

    Returns
    -------
    list of list [-]
        Rows.

    Examples
    --------
    >>> known_numbers(np.array([[1.5, np.nan]]))
    [[1.5, None]]
    """
    known = array.astype(object)
    known[~np.isfinite(array)] = None
    return list(known.tolist())


def day_or_none(value: np.datetime64) -> date | None:
    """Give a date, or None where it is not known.

    Parameters
    ----------
    value : datetime64 [-]
        A day or NaT.

    Returns
    -------
    date or None [-]
        The day.

    Examples
    --------
    >>> day_or_none(np.datetime64("2025-03-05")), day_or_none(np.datetime64("NaT"))
    (datetime.date(2025, 3, 5), None)
    """
    found = value.astype("datetime64[D]").astype(object)
    return found if isinstance(found, date) else None
