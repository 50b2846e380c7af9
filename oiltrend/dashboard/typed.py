"""Numbers and days that somebody typed: read strictly, refused in a sentence, never guessed."""

from __future__ import annotations

import re
from datetime import date

from oiltrend.errors import ValueRefused

__all__ = ["typed_day", "typed_number"]

_NUMBER = re.compile(r"[+-]?[0-9]+(?:([.,])([0-9]+))?")


def typed_number(text: str, *, where: str, decimal: str) -> float | None:
    """Read a number.

    Parameters
    ----------
    text : str [-]
        As typed; blanks inside are taken for the gaps between thousands.
    where : str [-]
        Name of the field, for the refusal.
    decimal : str [-]
        Decimal sign of the reader; the other sign before exactly three digits may mean
        thousands and is refused.

    Returns
    -------
    float or None [-]
        None when nothing was typed.

    Raises
    ------
    ValueRefused
        When it is no number, or could be two.

    Examples
    --------
    >>> typed_number("12,5", where="alert", decimal="."), typed_number("", where="", decimal=".")
    (12.5, None)
    """
    bare = re.sub(r"[\s\u00a0\u202f]", "", text)
    if not bare:
        return None
    found = _NUMBER.fullmatch(bare)
    if found is None:
        raise ValueRefused(f"{where}: must be a number, found '{text}'",
                           hint="write digits with one decimal sign and no unit")
    sign, after = found.groups()
    if sign and sign != decimal and len(after) == 3:
        raise ValueRefused(f"{where}: must be one number, found '{text}', which may mean thousands",
                           hint=f"write '{decimal}' before decimals and nothing between thousands")
    return float(bare.replace(",", "."))


def typed_day(text: str, *, where: str) -> date | None:
    """Read a day as the date field gives it.

    Parameters
    ----------
    text : str [-]
        ISO date.
    where : str [-]
        Name of the field, for the refusal.

    Returns
    -------
    date or None [-]
        None when nothing was typed.

    Raises
    ------
    ValueRefused
        When it is no day.

    Examples
    --------
    >>> typed_day("2025-03-04", where="drawn on")
    datetime.date(2025, 3, 4)
    """
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ValueRefused(f"{where}: must be a date, found '{text}'",
                           hint="choose a day") from error
