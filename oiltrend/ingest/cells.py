"""The distinct texts of one column to values, each with the rule it breaks or the note it needs."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.ingest.columns import Column
from oiltrend.ingest.dates import read_date
from oiltrend.ingest.numbers import NumberRead, odd_texts, read_number, read_reading
from oiltrend.ingest.protect import unprotect
from oiltrend.ingest.words import choice_of, yes_no_of
from oiltrend.records import Qualifier
from oiltrend.units import UNITS

__all__ = ["Locale", "Understood", "understand", "understand_numbers"]

_BEARING = re.compile(r"(main|hauptlager|palier|rod|pleuel|bielle)?\s*#?\s*(\d{1,2})",
                      re.ASCII | re.IGNORECASE)
_MAIN_WORDS = ("main", "hauptlager", "palier")
# What spreadsheets make of numbers such as 1000000000000 and 5-3.
_DAMAGED_ID = re.compile(
    r"\d(?:[.,]\d+)?E[+-]?\d+"
    r"|\d{1,2}[-.]\s?(?:jan|feb|m[aä]r|apr|ma[iy]|jun|jul|aug|sep|o[ck]t|nov|de[cz])"
    r"|(?:jan|feb|m[aä]r|apr|ma[iy]|jun|jul|aug|sep|o[ck]t|nov|de[cz])[-.]\s?\d{2}",
    re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Locale:
    """How the numbers and dates of one file are written."""

    decimal: str
    date_order: str
    today: date


@dataclass(frozen=True, slots=True)
class Understood:
    """What each distinct text of a column says.

    Parameters
    ----------
    values : array [-]
        One value for each text; its type depends on the column's.
    qualifiers : array of int or None [-]
        For readings, a :class:`oiltrend.records.Qualifier` for each text.
    problems : dict of int to tuple of str [-]
        Number of the text to rule and hint.
    notes : dict of int to str [-]
        Number of the text to what should be looked at.
    odd : tuple of int [-]
        For numbers, the texts that are not plain digits.
    """

    values: NDArray[Any]
    qualifiers: NDArray[np.int8] | None = None
    problems: dict[int, tuple[str, str]] = field(default_factory=dict)
    notes: dict[int, str] = field(default_factory=dict)
    odd: tuple[int, ...] = ()


def understand(column: Column, texts: Sequence[str], *, unit: str, locale: Locale) -> Understood:
    """Read the distinct texts of a column by the column's type.

    Parameters
    ----------
    column : Column [-]
        What the column holds.
    texts : sequence of str [-]
        Distinct cells.
    unit : str [-]
        Unit of the cells.
    locale : Locale [-]
        Decimal sign and order of dates.

    Returns
    -------
    Understood [-]
        Floats for numbers and readings, dates, 1/0/-1 for yes and no, text for the rest;
        (kind, number) for a bearing.

    Examples
    --------
    >>> from oiltrend.ingest.columns import columns_of
    >>> fe = next(c for c in columns_of("samples") if c.name == "Fe")
    >>> found = understand(fe, ["12", "x"], unit="mg/kg",
    ...                    locale=Locale("point", "", date(2026, 1, 1)))
    >>> float(found.values[0]), found.problems[1][0]
    (12.0, 'must be a number')
    """
    if column.type in ("number", "count", "meter", "reading"):
        found = understand_numbers(column, texts, unit=unit, decimal=locale.decimal)
    elif column.type == "date":
        found = _dates(column, texts, locale)
    elif column.type == "yes_no":
        found = _words(texts, yes_no_of, "must be yes or no")
        found = Understood(np.array([-1 if v is None else v for v in found.values],
                                    dtype=np.int8), problems=found.problems)
    elif column.type == "choice":
        found = _words(texts, lambda text: choice_of(column, text),
                       "must be one of " + ", ".join(column.allowed))
    elif column.type == "bearing":
        found = _words(texts, _bearing, "must be a rod number, or main with a number")
    else:
        found = _texts(texts, ids=column.type == "id")
    if column.required:
        for code, text in enumerate(texts):
            if not text.strip():
                found.problems[code] = ("must not be blank", "fill it in")
    return found


def understand_numbers(column: Column, texts: Sequence[str], *, unit: str,
                       decimal: str) -> Understood:
    """Read distinct texts as numbers in the column's unit inside.

    Parameters
    ----------
    column : Column [-]
        A column of type number, count, meter or reading.
    texts : sequence of str [-]
        Distinct cells.
    unit : str [-]
        Unit of the cells.
    decimal : str [-]
        point or comma.

    Returns
    -------
    Understood [-]
        Floats, NaN for blank; readings with their qualifiers.

    Examples
    --------
    >>> from oiltrend.ingest.columns import columns_of
    >>> cu = next(c for c in columns_of("samples") if c.name == "Cu")
    >>> understand_numbers(cu, ["0.0004"], unit="%", decimal="point").values.tolist()
    [4.0]
    """
    read = read_reading if column.type == "reading" else read_number
    values, qualifiers, odd = _bulk(texts, read, decimal)
    problems = {code: (r.problem, r.hint) for code, r in odd.items() if r.problem}
    notes = {code: r.note for code, r in odd.items() if r.note}
    if unit not in ("-", column.inside) and not unit.endswith("(V/V)") and column.inside != "-":
        values = _converted(values, unit, column.inside)
    _check_range(column, values, problems)
    if column.type == "count":
        for code in np.flatnonzero(np.isfinite(values) & (values != np.floor(values))).tolist():
            problems[code] = ("must be a whole number", "correct it")
    return Understood(values, qualifiers if column.type == "reading" else None, problems, notes,
                      tuple(odd))


def _bulk(texts: Sequence[str], read: Callable[[str, str], NumberRead], decimal: str,
          ) -> tuple[NDArray[np.float64], NDArray[np.int8], dict[int, NumberRead]]:
    """Take plain numbers at once; only what is not plain goes through the careful reader."""
    odd = {code: read(texts[code], decimal) for code in odd_texts(texts, decimal)}
    numbers = list(texts)
    for code in odd:
        numbers[code] = "nan"
    if decimal == "comma":
        numbers = [text.replace(",", ".") for text in numbers]
    values = np.fromiter(map(float, numbers), dtype=np.float64, count=len(numbers))
    qualifiers = np.full(len(texts), Qualifier.EXACT, dtype=np.int8)
    for code, one in odd.items():
        values[code], qualifiers[code] = one.value, one.qualifier
    return values, qualifiers, odd


def _converted(values: NDArray[np.float64], found: str, wanted: str) -> NDArray[np.float64]:
    source, target = UNITS[found], UNITS[wanted]
    return (values * source.scale + source.offset - target.offset) / target.scale


def _check_range(column: Column, values: NDArray[np.float64],
                 problems: dict[int, tuple[str, str]]) -> None:
    with np.errstate(invalid="ignore"):
        outside = np.flatnonzero((values < column.low) | (values > column.high))
    if math.isinf(column.high):
        rule = f"must be {column.low:.15g} or more"
    else:
        rule = f"must be from {column.low:.15g} to {column.high:.15g}"
    unit = f" {column.inside}" if column.inside != "-" else ""
    for code in outside.tolist():
        problems.setdefault(code, (rule + unit, "check the number and its unit"))


def _dates(column: Column, texts: Sequence[str], locale: Locale) -> Understood:
    read = [read_date(text, locale.date_order, today=locale.today, later=column.later)
            for text in texts]
    values = np.array([r.value or "NaT" for r in read], dtype="datetime64[D]")
    return Understood(values,
                      problems={c: (r.problem, r.hint) for c, r in enumerate(read) if r.problem},
                      notes={c: r.note for c, r in enumerate(read) if r.note})


def _words(texts: Sequence[str], read: Callable[[str], Any], rule: str) -> Understood:
    found = [read(text) for text in texts]
    values = np.empty(len(texts), dtype=object)
    values[:] = found
    problems = {code: (rule, "correct the word, or leave it blank when not known")
                for code, value in enumerate(found) if value is None}
    return Understood(values, problems=problems)


def _bearing(text: str) -> str | None:
    """Read ``3`` or ``main 3``; the kind and the number in one word, blank stays blank."""
    plain = text.strip()
    if not plain:
        return ""
    found = _BEARING.fullmatch(plain)
    if found is None or int(found.group(2)) == 0:
        return None
    kind = "main" if (found.group(1) or "").casefold() in _MAIN_WORDS else "rod"
    return f"{kind} {int(found.group(2))}"


def _texts(texts: Sequence[str], *, ids: bool) -> Understood:
    values = np.empty(len(texts), dtype=object)
    notes: dict[int, str] = {}
    for code, text in enumerate(texts):
        value = unprotect(text).strip()
        if ids:
            value = unicodedata.normalize("NFC", value)
            note = _id_note(value)
            if note:
                notes[code] = note
        values[code] = value
    return Understood(values, notes=notes)


def _id_note(value: str) -> str:
    if _DAMAGED_ID.fullmatch(value):
        return "a spreadsheet may have changed this name; it was kept as it stands"
    if value.isascii() and value.isprintable():
        return ""
    hidden = [c for c in value if unicodedata.category(c) in ("Cf", "Cc", "Co", "Zl", "Zp")]
    if hidden:
        shown = "".join(f"<U+{ord(c):04X}>" if c in hidden else c for c in value)
        return f"this name holds characters that cannot be seen: {shown[:200]}"
    return ""
