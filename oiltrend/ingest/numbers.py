"""Text to numbers: decimal sign, thousands, qualifiers; nothing is repaired without a word.

A reading is (value, qualifier): ``<1`` is 1 with BELOW, ``ND`` is BELOW with no bound, blank is
MISSING and 0 is 0. What cannot be read says which rule it breaks.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from oiltrend.records import Qualifier

__all__ = ["DecimalEvidence", "NumberRead", "decimal_evidence", "join_evidence", "odd_texts",
           "read_number", "read_reading"]

NOT_DETECTED = frozenset((
    "nd", "n.d.", "n.d", "n/d", "nd.", "not detected", "none detected", "not det.", "bdl", "<dl",
    "< dl", "<lod", "< lod", "<loq", "< loq", "<rl", "< rl", "bql", "blq", "below detection",
    "below detection limit", "trace", "traces", "tr", "tr.", "neg", "neg.", "negative", "negativ",
    "nil", "n.n.", "nn", "nicht nachweisbar", "n.nachw.", "u.n.g.", "<ng", "< ng", "<bg", "< bg",
    "spur", "spuren", "non détecté", "traces.", "tracce", "non rilevato", "no detectado", "trazas",
    "não detectado", "vestígios", "niet aantoonbaar", "spoor", "nie wykryto", "ślad", "śladowe",
    "ej påvisat", "ej detekterad", "spår", "nedetekováno", "stopy", "absent"))
NOT_MEASURED = frozenset((
    "-", "n/a", "na", "n.a.", "n.a", "not tested", "not measured", "not analysed",
    "not analyzed", "nt", "n.t.", "n.b.", "nicht bestimmt", "nicht gemessen", "non mesuré",
    "non misurato", "no medido", "niet gemeten"))
_DASHES = re.compile(r"[-\u2010-\u2015\u2212]{2,}|[\u2013-\u2015]")
_SPREADSHEET_ERRORS = re.compile(r"#(?:N/A|VALUE!|REF!|DIV/0!|NUM!|NAME\?|NULL!|####*)",
                                 re.IGNORECASE)
_BELOW = ("<=", "≤", "<")
_ABOVE = (">=", "≥", ">")
_GROUP = r"[ '’]"
_SHAPES = {
    "point": re.compile(rf"([+-]?)((?:\d{{1,3}}(?:,\d{{3}})+|\d{{1,3}}(?:{_GROUP}\d{{3}})+|\d+)?"
                        r"(?:\.\d*)?)((?:[eE][+-]?\d+)?)", re.ASCII),
    "comma": re.compile(rf"([+-]?)((?:\d{{1,3}}(?:\.\d{{3}})+|\d{{1,3}}(?:{_GROUP}\d{{3}})+|\d+)?"
                        r"(?:,\d*)?)((?:[eE][+-]?\d+)?)", re.ASCII),
}
_PLAIN = {"point": re.compile(r"\d{1,15}(?:\.\d{1,15})?", re.ASCII),
          "comma": re.compile(r"\d{1,15}(?:,\d{1,15})?", re.ASCII)}
_ODD = {sign: re.compile(rf"^(?!(?:{plain.pattern})$).*$", re.ASCII | re.MULTILINE)
        for sign, plain in _PLAIN.items()}
_EDIT = {"point": str.maketrans("", "", ", '’"), "comma": str.maketrans(",", ".", ". '’")}
_MONTH = r"(?:jan|feb|m[aä]r|apr|ma[iy]|jun|jul|aug|sep|o[ck]t|nov|de[cz])"
_DAY_LIKE = re.compile(rf"\d{{1,2}}[-. ]{_MONTH}|{_MONTH}[-. ]\d{{2}}", re.ASCII | re.IGNORECASE)
_NUMBER_RULE = "must be a number"
_UNIT_HINT = "give the number alone and put the unit into the heading"


@dataclass(frozen=True, slots=True)
class NumberRead:
    """What one text says as a number.

    Parameters
    ----------
    value : float [-]
        The number, NaN when there is none.
    qualifier : int [-]
        A :class:`oiltrend.records.Qualifier`.
    problem : str [-]
        The rule it breaks, ``""`` when it was read.
    hint : str [-]
        What to do about the problem.
    note : str [-]
        What should be looked at although it was read.
    """

    value: float = math.nan
    qualifier: int = Qualifier.MISSING
    problem: str = ""
    hint: str = ""
    note: str = ""


_BLANK = NumberRead()


def odd_texts(texts: Sequence[str], decimal: str) -> list[int]:
    """Find the texts of a column that are more than digits with at most one decimal sign.

    Parameters
    ----------
    texts : sequence of str [-]
        Distinct cells.
    decimal : str [-]
        point or comma.

    Returns
    -------
    list of int [-]
        Their places. All others are plain numbers, which a whole column at once can be made of.

    Examples
    --------
    >>> odd_texts(["22,5", "<1", "8", ""], "comma")
    [1, 3]
    """
    joined = "\n".join(texts)
    if joined.count("\n") == len(texts) - 1:
        # One search over all texts at once: the pattern engine loops, not the interpreter.
        odd = set(_ODD[decimal].findall(joined))
        return [code for code, text in enumerate(texts) if text in odd] if odd else []
    plain = _PLAIN[decimal].fullmatch
    return [code for code, text in enumerate(texts) if not plain(text)]


def read_reading(text: str, decimal: str) -> NumberRead:
    """Read a result as a laboratory writes it.

    Parameters
    ----------
    text : str [-]
        A cell.
    decimal : str [-]
        point or comma; the other sign separates thousands.

    Returns
    -------
    NumberRead [-]
        Value with qualifier, or the problem.

    Examples
    --------
    >>> read_reading("< 0,5", "comma").value, read_reading("ND", "point").qualifier.name
    (0.5, 'BELOW')
    >>> read_reading("", "point").qualifier.name, read_reading("5 %", "point").problem
    ('MISSING', 'must be a number')
    """
    if _PLAIN[decimal].fullmatch(text):
        return NumberRead(float(text.replace(",", ".")), Qualifier.EXACT)
    plain, note = _plain_characters(text.strip())
    if not plain:
        return _BLANK
    word = plain.casefold()
    if word in NOT_DETECTED or _DASHES.fullmatch(text.strip()):
        return NumberRead(qualifier=Qualifier.BELOW)
    if word in NOT_MEASURED:
        return NumberRead(note=f"'{plain}' was read as not measured")
    for signs, qualifier in ((_BELOW, Qualifier.BELOW), (_ABOVE, Qualifier.ABOVE)):
        sign = next((s for s in signs if plain.startswith(s)), "")
        if sign:
            return _bound(plain[len(sign):].strip(), qualifier, decimal, note)
    return _number(plain, decimal, note)


def read_number(text: str, decimal: str) -> NumberRead:
    """Read a plain number, which may be blank but not "below" or "above".

    Parameters
    ----------
    text : str [-]
        A cell.
    decimal : str [-]
        point or comma.

    Returns
    -------
    NumberRead [-]
        Value, or the problem.

    Examples
    --------
    >>> read_number("8E3", "point").value, read_number("-0", "point").value
    (8000.0, 0.0)
    >>> read_number("<5", "point").problem
    'must be a number'
    """
    if _PLAIN[decimal].fullmatch(text):
        return NumberRead(float(text.replace(",", ".")), Qualifier.EXACT)
    plain, note = _plain_characters(text.strip())
    return _number(plain, decimal, note) if plain else _BLANK


def _plain_characters(text: str) -> tuple[str, str]:
    """Bring digits, signs and blanks of other scripts to their plain form, and say so."""
    if text.isascii():
        return text, ""
    out = []
    changed = False
    for letter in text:
        digit = unicodedata.decimal(letter, None)
        if digit is not None:
            changed = changed or not letter.isascii()
            out.append(str(digit))
        elif letter in "\u2212\u2010\u2011\u2012\ufe63\uff0d":
            changed = True
            out.append("-")
        elif letter in "\u00a0\u2009\u202f\u2007":
            out.append(" ")
        elif letter in "．，＜＞＋％":
            changed = True
            out.append(unicodedata.normalize("NFKC", letter))
        else:
            out.append(letter)
    plain = "".join(out).strip()
    return plain, f"unusual characters were read as '{plain}'" if changed else ""


def _bound(text: str, qualifier: Qualifier, decimal: str, note: str) -> NumberRead:
    read = _number(text, decimal, note)
    if read.problem:
        return read
    if read.value < 0 or (read.value == 0 and qualifier == Qualifier.BELOW):
        return NumberRead(problem="a limit must be above 0",
                          hint="write the reporting limit after <, or ND when it is not known")
    return NumberRead(read.value, qualifier, note=read.note)


def _number(plain: str, decimal: str, note: str) -> NumberRead:
    shape = _SHAPES[decimal].fullmatch(plain)
    if shape is None or not shape.group(2).strip(".,"):
        return _no_number(plain)
    sign, digits, exponent = shape.groups()
    edited = digits.translate(_EDIT[decimal])
    value = float(sign + edited + exponent) + 0.0
    if math.isinf(value):
        return NumberRead(problem="must be a number that a computer can hold",
                          hint="correct the exponent")
    if value == 0 and edited.strip("0."):
        return NumberRead(problem="must not be too small for a computer to tell from 0",
                          hint="correct the exponent")
    if not note and any(mark in digits for mark in (" ", "'", "’")):
        note = f"blanks or marks between thousands were left out: {value:.15g}"
    return NumberRead(0.0 if value == 0 else value, Qualifier.EXACT, note=note)


def _no_number(plain: str) -> NumberRead:
    lowered = plain.casefold()
    if lowered.strip("+-") in ("nan", "inf", "infinity", "1.#inf", "1.#qnan"):
        return NumberRead(problem="must be a finite number", hint="leave it blank when not known")
    if _SPREADSHEET_ERRORS.fullmatch(plain):
        return NumberRead(problem="must be a number, found a spreadsheet error",
                          hint="correct the formula in the sheet and export again")
    if _DAY_LIKE.fullmatch(plain):
        return NumberRead(problem="must be a number, found a date",
                          hint="a spreadsheet may have changed it; look it up in the lab's report")
    if re.match(r"[+-]?\d", plain, re.ASCII):
        return NumberRead(problem=_NUMBER_RULE, hint=_UNIT_HINT)
    return NumberRead(problem=_NUMBER_RULE, hint="correct it, or leave it blank when not measured")


@dataclass(frozen=True, slots=True)
class DecimalEvidence:
    """What the numbers of a file say about its decimal sign, each with one example.

    Parameters
    ----------
    point, comma : str [-]
        A text in which the sign can only be the decimal sign.
    point_thousands, comma_thousands : str [-]
        A text in which the sign can only separate thousands.
    maybe_point, maybe_comma : str [-]
        A text such as ``8.000`` or ``1,022`` that may mean either.
    """

    point: str = ""
    comma: str = ""
    point_thousands: str = ""
    comma_thousands: str = ""
    maybe_point: str = ""
    maybe_comma: str = ""

    @property
    def decided(self) -> str:
        """``point``, ``comma``, or ``""`` when the user must be asked."""
        point = bool(self.point or self.comma_thousands)
        comma = bool(self.comma or self.point_thousands)
        if point and comma:
            return ""
        if comma:
            return "" if self.maybe_point and not self.point_thousands else "comma"
        if point:
            return "" if self.maybe_comma and not self.comma_thousands else "point"
        return "" if self.maybe_point or self.maybe_comma else "point"


def join_evidence(found: Iterable[DecimalEvidence]) -> DecimalEvidence:
    """Put the evidence of several columns together.

    Parameters
    ----------
    found : iterable of DecimalEvidence [-]
        One for each column.

    Returns
    -------
    DecimalEvidence [-]
        The first example of each kind.

    Examples
    --------
    >>> join_evidence([DecimalEvidence(maybe_point="8.000"), DecimalEvidence(comma="22,5")]).comma
    '22,5'
    """
    all_found = list(found)
    first = {name: next((text for one in all_found if (text := getattr(one, name))), "")
             for name in DecimalEvidence.__slots__}
    return DecimalEvidence(**first)


def _line(pattern: str) -> re.Pattern[str]:
    return re.compile(rf"^[ \t]*(?:[<>≤≥]=?)?[ \t]*[+\-\u2212]?({pattern})[ \t]*$",
                      re.ASCII | re.MULTILINE)


def _patterns(sign: str, other: str) -> dict[str, tuple[re.Pattern[str], re.Pattern[str]]]:
    """Give a quick first look and the full pattern for each kind of evidence."""
    return {
        # Not three digits behind it, or a leading zero, or an exponent, or the other sign
        # between thousands before it.
        "decimal": (re.compile(sign), _line(
            rf"\d*{sign}(?:\d{{1,2}}|\d{{4,}})(?:[eE][+-]?\d+)?|\d*{sign}\d*[eE][+-]?\d+"
            rf"|0+{sign}\d+|\d{{4,}}{sign}\d{{3}}|\d{{1,3}}(?:{other}\d{{3}})+{sign}\d*")),
        "thousands": (re.compile(rf"{sign}\d{{3}}(?:{sign}|{other})", re.ASCII), _line(
            rf"[1-9]\d{{0,2}}(?:{sign}\d{{3}}){{2,}}(?:{other}\d*)?"
            rf"|[1-9]\d{{0,2}}{sign}\d{{3}}{other}\d*")),
        "maybe": (re.compile(rf"{sign}\d{{3}}[ \t]*$", re.ASCII | re.MULTILINE),
                  _line(rf"[1-9]\d{{0,2}}{sign}\d{{3}}")),
    }


_POINT = _patterns(r"\.", ",")
_COMMA = _patterns(",", r"\.")


def decimal_evidence(texts: Sequence[str]) -> DecimalEvidence:
    """Look for what the distinct texts of a column say about the decimal sign.

    Parameters
    ----------
    texts : sequence of str [-]
        Distinct cells of a column with numbers.

    Returns
    -------
    DecimalEvidence [-]
        One example of each kind.

    Examples
    --------
    >>> decimal_evidence(["22.5", "8"]).decided, decimal_evidence(["22,5"]).decided
    ('point', 'comma')
    >>> decimal_evidence(["8.000"]).decided, decimal_evidence(["8.000", "22,5"]).decided
    ('', '')
    >>> decimal_evidence(["1.234,5", "8.000"]).decided
    'comma'
    """
    joined = "\n".join(texts)
    point = {k: _first(*p, joined) for k, p in _POINT.items()} if "." in joined else {}
    comma = {k: _first(*p, joined) for k, p in _COMMA.items()} if "," in joined else {}
    return DecimalEvidence(
        point.get("decimal", ""), comma.get("decimal", ""), point.get("thousands", ""),
        comma.get("thousands", ""), point.get("maybe", ""), comma.get("maybe", ""))


def _first(quick: re.Pattern[str], full: re.Pattern[str], text: str) -> str:
    found = full.search(text) if quick.search(text) else None
    return found.group(0).strip() if found else ""
