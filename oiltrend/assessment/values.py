"""Array entries as plain values: NaN and NaT become None."""

from __future__ import annotations

import math
from datetime import date

import numpy as np

__all__ = ["day_or_none", "number_or_none"]


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
