"""Text to dates: ISO is read as it stands, other orders are decided by the file or asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from oiltrend.errors import FileRefused

__all__ = ["DateRead", "OrderChoice", "choose_order", "read_date"]

EARLIEST = date(1950, 1, 1)  # assumed: no engine oil was analysed by spectrometer before
_TIME = re.compile(r"[T ]\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?\s*(?:Z|[+-]\d{2}:?\d{2}|[AaPp][Mm])?",
                   re.ASCII)
_ISO = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})|(\d{4})(\d{2})(\d{2})", re.ASCII)
_PARTS = re.compile(r"(\d{1,2})\s*([-/. ])\s*(\d{1,2})\s*\2\s*(\d{4}|\d{2})", re.ASCII)
_NAMED = re.compile(r"(\d{1,2})\.?[-/. ]*([^\W\d_]+)\.?[-/., ]*(\d{4})")
_NAME_FIRST = re.compile(r"([^\W\d_]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})")
_SERIAL = re.compile(r"\d{4,6}(?:[.,]\d+)?", re.ASCII)
_DAMAGED = re.compile(r"\d{1,2}[-. ][^\W\d_]{3,5}|[^\W\d_]{3,5}[-. ]\d{2}")
# Month names and their usual short forms in English, German, French, Italian, Spanish,
# Portuguese, Dutch, Polish, Swedish and Czech.
_MONTHS: dict[str, int] = {name: number for number, names in enumerate((
    "jan jän january januar jänner janvier janv gennaio gen enero ene janeiro januari stycznia "
    "styczeń sty ledna leden led",
    "feb february februar fév févr février febbraio febrero fev fevereiro februari lutego luty "
    "lut února únor úno",
    "mar mär mrz march märz mars marzo março maart mrt marca marzec března březen bře",
    "apr april avr avril aprile abr abril kwietnia kwiecień kwi dubna duben dub",
    "may mai mag maggio mayo maio mei maj maja května květen kvě",
    "jun june juni juin giu giugno junio junho czerwca czerwiec cze června červen",
    "jul july juli juil juillet lug luglio julio julho lipca lipiec lip července červenec",
    "aug august aoû août ago agosto augustus augusti sierpnia sierpień sie srpna srpen srp",
    "sep sept september septembre settembre set septiembre setembro września wrzesień wrz "
    "září zář",
    "oct oct october okt oktober octobre ottobre ott octubre out outubro października "
    "październik paź října říjen říj",
    "nov november novembre noviembre novembro listopada listopad listopadu lis",
    "dec december dez dezember déc décembre dicembre dic diciembre dezembro grudnia grudzień "
    "gru prosince prosinec pro"), start=1) for name in names.split()}
_ORDERS = {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}
_RULE = "must be a date"
_HINT = "write it as 2025-03-31"


@dataclass(frozen=True, slots=True)
class DateRead:
    """What one text says as a date.

    Parameters
    ----------
    value : date or None [-]
        The date, None when the cell is blank or cannot be read.
    problem, hint : str [-]
        The rule it breaks and what to do, ``""`` when it was read.
    note : str [-]
        What should be looked at although it was read.
    """

    value: date | None = None
    problem: str = ""
    hint: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class OrderChoice:
    """How the dates of a file are ordered.

    Parameters
    ----------
    order : str [-]
        ymd, dmy or mdy; ``""`` when no cell depends on it or it must be asked.
    choices : tuple of str [-]
        Orders to choose from when it must be asked.
    examples : tuple of str [-]
        A cell, and what each choice makes of it.
    """

    order: str = ""
    choices: tuple[str, ...] = ()
    examples: tuple[str, ...] = ()


def choose_order(texts: Sequence[str], *, given: str, today: date, where: str) -> OrderChoice:
    """Decide in which order a file writes its dates, or find that it must be asked.

    Parameters
    ----------
    texts : sequence of str [-]
        Distinct cells of all date columns.
    given : str [-]
        Order said or remembered, ``""`` when there is none.
    today : date [-]
        For two-digit years.
    where : str [-]
        File name, for the message.

    Returns
    -------
    OrderChoice [-]
        The order, or the choices.

    Raises
    ------
    FileRefused
        When some dates can only be day first and others only month first.

    Examples
    --------
    >>> today = date(2026, 1, 1)
    >>> choose_order(["25/03/2024"], given="", today=today, where="a.csv").order
    'dmy'
    >>> choose_order(["03/04/2024"], given="", today=today, where="a.csv").choices
    ('dmy', 'mdy')
    """
    if given:
        return OrderChoice(given)
    shaped = [(text, found.group(1, 3, 4)) for text in texts
              if (found := _PARTS.fullmatch(_without_time(text.strip())[0]))]
    possible = {order: [text for text, parts in shaped if _fits(parts, order)]
                for order in _ORDERS}
    if any(len(parts[2]) == 2 for _, parts in shaped):
        return _two_digits(shaped, possible, today)
    first = [text for text in possible["dmy"] if text not in possible["mdy"]]
    second = [text for text in possible["mdy"] if text not in possible["dmy"]]
    if first and second:
        raise FileRefused(f"{where}: all dates must be in one order, found '{first[0]}' and "
                          f"'{second[0]}'", hint="write every date as 2025-03-31")
    if first or second:
        return OrderChoice("dmy" if first else "mdy")
    doubtful = [text for text, (a, b, _) in shaped if int(a) != int(b)]
    if not doubtful:
        # Day and month are equal in every cell, or there is no such cell.
        return OrderChoice("dmy" if shaped else "")
    return OrderChoice("", ("dmy", "mdy"), _shown(doubtful[0], ("dmy", "mdy"), today))


def _two_digits(shaped: Sequence[tuple[str, tuple[str, ...]]], possible: dict[str, list[str]],
                today: date) -> OrderChoice:
    """Ask for the order whenever a year has two digits: those that fit most cells."""
    most = max(len(texts) for texts in possible.values())
    choices = tuple(order for order in ("dmy", "mdy", "ymd") if len(possible[order]) == most)
    text = next(text for text, parts in shaped if len(parts[2]) == 2)
    return OrderChoice("", choices, _shown(text, choices, today))


def _shown(text: str, choices: Sequence[str], today: date) -> tuple[str, ...]:
    read = ((order, read_date(text, order, today=today).value) for order in choices)
    return (text, *(f"{order}: {value.isoformat()}" for order, value in read if value))


def _fits(parts: Sequence[str], order: str) -> bool:
    year, month, day = (parts[i] for i in _ORDERS[order])
    if order == "ymd" and len(parts[2]) == 4:
        return False
    return len(year) in (2, 4) and 1 <= int(month) <= 12 and 1 <= int(day) <= 31


def read_date(text: str, order: str, *, today: date, later: bool = False) -> DateRead:
    """Read one date.

    Parameters
    ----------
    text : str [-]
        A cell.
    order : str [-]
        ymd, dmy or mdy for dates that do not begin with a four-digit year.
    today : date [-]
        A later date is in the future.
    later : bool [-]
        Whether a date in the future is allowed.

    Returns
    -------
    DateRead [-]
        The date, or the problem.

    Examples
    --------
    >>> today = date(2026, 1, 1)
    >>> read_date("31.12.2024", "dmy", today=today).value
    datetime.date(2024, 12, 31)
    >>> read_date("2025-02-30", "ymd", today=today).problem
    'must be a day that exists'
    """
    text = text.strip()
    if not text:
        return DateRead()
    plain, note = _plain(text)
    plain, time = _without_time(plain)
    if time and not re.fullmatch(r"[T ]0{1,2}:00(:00(\.0+)?)?Z?", time):
        note = note or "the time of day was left out"
    parts = _year_month_day(plain, order, today)
    if isinstance(parts, DateRead):
        return parts
    try:
        value = date(*parts)
    except ValueError:
        return DateRead(problem="must be a day that exists", hint=_HINT)
    if value < EARLIEST:
        return DateRead(problem=f"must not be before {EARLIEST.year}", hint="correct the year")
    if value > today and not later:
        return DateRead(problem=f"must not be in the future (today is {today.isoformat()})",
                        hint="correct the date, or check the order of day and month")
    return DateRead(value, note=note)


def _plain(text: str) -> tuple[str, str]:
    if text.isascii():
        return text, ""
    digits = "".join(str(int(c)) if c.isdecimal() else c for c in text)
    plain = re.sub(r"[\u00a0\u202f\u2009]", " ", re.sub(r"[\u2010-\u2015\u2212]", "-", digits))
    changed = any(a != b for a, b in zip(text, plain, strict=True) if b != " ")
    return plain, f"unusual characters were read as '{plain}'" if changed else ""


def _without_time(text: str) -> tuple[str, str]:
    found = _TIME.search(text)
    if found and found.end() == len(text):
        return text[:found.start()].strip(), found.group(0)
    return text, ""


def _year_month_day(text: str, order: str, today: date) -> tuple[int, int, int] | DateRead:
    iso = _ISO.fullmatch(text)
    if iso:
        year, month, day = iso.group(1, 3, 4) if iso.group(1) else iso.group(5, 6, 7)
        return int(year), int(month), int(day)
    found = _PARTS.fullmatch(text)
    if found:
        return _by_order(found.group(1, 3, 4), order, today)
    for pattern, at in ((_NAMED, (3, 2, 1)), (_NAME_FIRST, (3, 1, 2))):
        named = pattern.fullmatch(text)
        if named:
            year, name, day = named.group(*at)
            return _by_name(year, name, day)
    return _no_date(text)


def _by_order(parts: tuple[str, ...], order: str, today: date) -> tuple[int, int, int] | DateRead:
    if not order or (order == "ymd" and len(parts[2]) == 4):
        return DateRead(problem="must have the year first in this file", hint=_HINT)
    year, month, day = (int(parts[i]) for i in _ORDERS[order])
    if len(parts[2]) == 2:
        # Confirmed by the user together with the order: 70 to 99 are years of the last century.
        year += 1900 if year >= 70 else 2000
    if month > 12 and day <= 12:
        return DateRead(problem=f"must be in the order {order} of this file", hint=_HINT)
    return year, month, day


def _by_name(year: str, name: str, day: str) -> tuple[int, int, int] | DateRead:
    month = _MONTHS.get(name.casefold())
    if month is None:
        return DateRead(problem="must name a month that is known", hint=_HINT)
    return int(year), month, int(day)


def _no_date(text: str) -> DateRead:
    if _SERIAL.fullmatch(text):
        serial = int(re.split(r"[.,]", text)[0])
        # Day 1 of the 1900 system is 1900-01-01, and it counts a 29 February 1900 that was not.
        shown = (date(1899, 12, 30) + timedelta(days=serial)).isoformat()
        return DateRead(problem="must be a date, found what may be a spreadsheet's day number",
                        hint=f"it could mean {shown}; show the column as a date and export again")
    if _DAMAGED.fullmatch(text):
        return DateRead(problem="must be a date with its year",
                        hint="a spreadsheet may have changed it; " + _HINT)
    return DateRead(problem=_RULE, hint=_HINT)
