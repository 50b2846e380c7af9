"""The table behind a figure, and numbers as a reader writes them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from oiltrend.wording import number_text

__all__ = ["Cell", "FigureTable", "as_date", "show", "show_use"]

Cell = float | str | date | None

_THIN = "\u202f"


@dataclass(frozen=True, slots=True)
class FigureTable:
    """The numbers that a figure draws, row by row.

    Parameters
    ----------
    caption : str [-]
        What the rows are.
    columns : tuple of str [-]
        Headings with units.
    rows : tuple of tuple [-]
        Cells as numbers, dates or text, in the reader's unit; None where nothing is known.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def show(value: float | None, *, decimal: str = ".") -> str:
    r"""Write a measured number as the reader does, with three significant digits.

    Parameters
    ----------
    value : float or None [-]
        The number; None or NaN when it is not known.
    decimal : str [-]
        Decimal sign of the reader.

    Returns
    -------
    str [-]
        The number, thousands apart by a thin space; a dash when it is not known.

    Examples
    --------
    >>> show(12.34), show(1234.5), show(None), show(0.5, decimal=",")
    ('12.3', '1\u202f234', '–', '0,5')
    """
    whole, point, rest = number_text(value).partition(".")
    if len(whole.lstrip("-")) > 3:
        whole = f"{int(whole):,}".replace(",", _THIN)
    return whole + (decimal + rest if point else "")


def show_use(value: float | None, unit: str) -> str:
    r"""Write a distance or running time with its unit, in whole numbers.

    Parameters
    ----------
    value : float or None [-]
        In the unit given.
    unit : str [-]
        km, mi or h.

    Returns
    -------
    str [-]
        For instance ``48 210 km``; a dash when it is not known.

    Examples
    --------
    >>> show_use(48210.4, "km")
    '48\u202f210 km'
    """
    if value is None or not math.isfinite(value):
        return "–"
    return f"{value:,.0f}".replace(",", _THIN) + f" {unit}"


def as_date(day: np.datetime64) -> date | None:
    """Take a day out of an array.

    Parameters
    ----------
    day : datetime64 [d]
        A day, or NaT.

    Returns
    -------
    date or None [-]
        None when it is not known.

    Examples
    --------
    >>> as_date(np.datetime64("2025-03-04")), as_date(np.datetime64("NaT"))
    (datetime.date(2025, 3, 4), None)
    """
    if np.isnat(day):
        return None
    found: date = day.astype("datetime64[D]").item()
    return found
