"""One heading to a house column and a unit, or the question that has to be asked.

The unit may stand in brackets or as the last word ("Fe [mg/kg]", "Fe ppm"); a viscosity is
filed only under the temperature that its heading names. What is not in the tables of names
is never guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from oiltrend.ingest.columns import METHOD_SUFFIX, Column, columns_of
from oiltrend.ingest.elements import ELEMENT_NAMES, MEASURAND_NAMES
from oiltrend.ingest.model import KINDS
from oiltrend.ingest.terms import TERMS
from oiltrend.nomenclature import PANEL
from oiltrend.units import UNITS, parse_unit

__all__ = ["HeadingMatch", "fold", "heading_unit", "match_key", "measurand_named",
           "names_table", "read_heading", "units_for"]

_FILE_DIMENSIONS = frozenset((
    "mass fraction", "volume fraction", "viscosity", "dynamic viscosity", "acid or base",
    "absorbance", "distance", "running time", "length", "volume", "pressure", "density"))
_BRACKET = re.compile(r"\[([^\[\]]*)\]|\(([^()]*)\)")
_TEMPERATURE = re.compile(
    r"(?:@|\b(?:at|bei|bij|vid|à|a|při|w|bij)\s)?\s*(?<![\d.,])(40|100|104|212|150)"
    r"\s*(?:[°º˚]\s*)?([CF])?(?!\w|[.,]\d)", re.IGNORECASE)
_METHOD_WORDS = frozenset(("method", "methode", "metodo", "metoda", "metod"))
_UMLAUTS = {"ä": "ae", "ö": "oe", "ü": "ue"}
_NUMERIC = frozenset(("number", "count", "meter", "reading"))
# Endings of house names that are their unit: "Wall crown" is wall_crown_mm.
_UNIT_SUFFIXES = frozenset(("mm", "um", "l", "pct", "bar"))
_VOLUME = "% (V/V)"
_SHARES = ("fuel_pct", "water_pct", "soot_pct", "glycol_pct")
# Laboratories report absorbance per cm and per 0.1 mm, a hundredfold apart: a foreign heading
# without a unit is asked about.
_ASK_UNIT = ("oxidation", "nitration", "sulfation")


@dataclass(frozen=True, slots=True)
class HeadingMatch:
    """What a heading means.

    Parameters
    ----------
    column : str [-]
        House column, ``""`` when it is not known.
    unit : str [-]
        Unit of the cells; ``""`` when it has to be asked, ``-`` when there is none.
    question : str [-]
        column, unit or meter when something has to be asked, else ``""``.
    choices : tuple of str [-]
        Possible answers to the question.
    """

    column: str = ""
    unit: str = ""
    question: str = "column"
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Parts:
    """A heading taken apart."""

    name: str
    units: frozenset[str] = frozenset()
    strange: bool = False
    temperature: int = 0
    inner: tuple[str, ...] = ()


def fold(text: str) -> str:
    """Reduce a name to what is compared: no case, accents, dots or underscores.

    Parameters
    ----------
    text : str [-]
        A heading or a name.

    Returns
    -------
    str [-]
        The form in which two spellings of one name are equal.

    Examples
    --------
    >>> fold("Kin. Viskosität"), fold("oil_distance"), fold("Ołów")
    ('kin viskositat', 'oil distance', 'olow')
    """
    lowered = text.casefold().replace("ł", "l").replace("ø", "o")
    plain = "".join(c for c in unicodedata.normalize("NFKD", lowered)
                    if not unicodedata.combining(c))
    return " ".join(re.sub(r"[^\w%/]+|_", " ", plain).split())


def match_key(heading: str) -> str:
    """Reduce a heading to the form by which files, mappings and options name it.

    Parameters
    ----------
    heading : str [-]
        As it stands in the file.

    Returns
    -------
    str [-]
        Composed characters, one blank between words, no case.

    Examples
    --------
    >>> match_key("  Fe   PPM ") == match_key("fe ppm")
    True
    """
    return " ".join(unicodedata.normalize("NFC", heading).casefold().split())


@cache
def names_table() -> Mapping[str, str]:
    """Give every known name in its folded form with what it stands for.

    Returns
    -------
    mapping of str to str [-]
        Folded name to house column or idea (``@date``, ``@meter``, ``@oil``, ``@viscosity``).

    Examples
    --------
    >>> names_table()["eisen"], names_table()["kilometerstand"]
    ('Fe', '@meter:km')
    """
    table: dict[str, str] = {}
    for target, names in (*ELEMENT_NAMES.items(), *MEASURAND_NAMES.items(), *TERMS.items()):
        own = () if target.startswith("@") else (target,)
        for name in (*own, *names):
            lowered = name.casefold()
            spelled = "".join(_UMLAUTS.get(letter, letter) for letter in lowered)
            table[fold(lowered)] = table[fold(spelled)] = target
    return table


@cache
def _house_names() -> frozenset[str]:
    return frozenset(fold(column.name) for kind in KINDS for column in columns_of(kind))


def units_for(column: Column) -> tuple[str, ...]:
    """List the units in which a column's cells may be given.

    Parameters
    ----------
    column : Column [-]
        A column with numbers.

    Returns
    -------
    tuple of str [-]
        Unit symbols, the column's own first.

    Examples
    --------
    >>> from oiltrend.ingest.columns import columns_of
    >>> fe = next(c for c in columns_of("samples") if c.name == "Fe")
    >>> units_for(fe)
    ('mg/kg', '%')
    """
    if column.type == "meter":
        return ("km", "mi", "h")
    if column.unit == "-":
        return ()
    dimension = UNITS[column.unit].dimension
    same = [symbol for symbol, unit in UNITS.items() if unit.dimension == dimension]
    volume = [_VOLUME] if column.name in _SHARES else []
    return tuple(dict.fromkeys([column.unit, *same, *volume]))


def measurand_named(text: str) -> tuple[str, str]:
    """Find the measurand that a cell of the long layout names.

    Parameters
    ----------
    text : str [-]
        A name such as ``Fe``, ``Eisen``, ``KV 40 °C`` or ``Iron [ppm]``.

    Returns
    -------
    tuple of str [-]
        Symbol and unit, ``""`` for what it does not say.

    Examples
    --------
    >>> measurand_named("Iron"), measurand_named("Visc 40 cSt"), measurand_named("colour")
    (('Fe', ''), ('KV40', 'mm²/s'), ('', ''))
    """
    parts = _take_apart(text)
    target = _target_of(parts)
    if target == "@viscosity":
        target = {40: "KV40", 100: "KV100"}.get(parts.temperature, "")
    if target not in PANEL:
        return "", ""
    unit = next(iter(parts.units)) if len(parts.units) == 1 and not parts.strange else ""
    return target, unit


def read_heading(heading: str, *, columns: Mapping[str, Column], meter: str = "") -> HeadingMatch:
    """Say what a heading stands for in one kind of file.

    Parameters
    ----------
    heading : str [-]
        As it stands in the file.
    columns : mapping of str to Column [-]
        The columns of the kind, by name.
    meter : str [-]
        Unit of a meter or distance heading that names none.

    Returns
    -------
    HeadingMatch [-]
        Column and unit, or the question.

    Examples
    --------
    >>> from oiltrend.ingest.columns import columns_of
    >>> columns = {column.name: column for column in columns_of("samples")}
    >>> read_heading("Visc @40C (mm2/s)", columns=columns)
    HeadingMatch(column='KV40', unit='mm²/s', question='', choices=())
    >>> read_heading("Oil km", columns=columns).column
    'oil_distance_km'
    >>> read_heading("Odometer", columns=columns).question
    'meter'
    """
    named = " ".join(heading.split())
    if named in columns and columns[named].type in _NUMERIC:
        return HeadingMatch(named, columns[named].unit, "")
    method = _method_of(named, columns)
    if method:
        return HeadingMatch(method, "-", "")
    parts = _take_apart(named)
    target = _house_name(parts.name, columns) or _target_of(parts)
    if target == "@viscosity":
        return _viscosity(parts, columns)
    if parts.temperature and not (target == "HTHS" and parts.temperature == 150):
        return HeadingMatch()
    if target.startswith(("@meter", "@oil")):
        return _distance(target, parts, columns, meter)
    if target == "@date":
        target = next((c.name for c in columns.values() if c.type == "date"), "")
    if target not in columns:
        return HeadingMatch()
    return _with_unit(columns[target], parts)


def heading_unit(heading: str, column: Column) -> HeadingMatch:
    """Find the unit that a heading names for a column it was matched to by hand.

    Parameters
    ----------
    heading : str [-]
        As it stands in the file.
    column : Column [-]
        What the user matched it to.

    Returns
    -------
    HeadingMatch [-]
        The column with its unit, or with the question for the unit.

    Examples
    --------
    >>> from oiltrend.ingest.columns import columns_of
    >>> fe = next(c for c in columns_of("samples") if c.name == "Fe")
    >>> heading_unit("Eisengehalt [%]", fe).unit, heading_unit("Eisengehalt mg/l", fe).question
    ('%', 'unit')
    """
    if column.type not in _NUMERIC:
        return HeadingMatch(column.name, "-", "")
    return _with_unit(column, _take_apart(heading))


def _take_apart(text: str) -> _Parts:
    inner = tuple(word.strip() for found in _BRACKET.findall(text) for word in found
                  if word.strip())
    outside = _BRACKET.sub(" ", text).replace("_", " ")
    units: set[str] = set()
    strange = False
    temperature, outside = _cut_temperature(outside)
    names: list[str] = []
    for found in inner:
        inner_temperature, rest = _cut_temperature(found)
        unit = _file_unit(found)
        if unit:
            units.add(unit)
        elif inner_temperature and not rest.strip(" °ºC"):
            temperature = inner_temperature if temperature in (0, inner_temperature) else -1
        else:
            names.append(found)
    name, trailing, odd = _cut_unit(outside)
    if trailing:
        units.add(trailing)
    strange = odd or any(not names_table().get(fold(found)) for found in names)
    return _Parts(name, frozenset(units), strange, temperature, tuple(names))


def _cut_temperature(text: str) -> tuple[int, str]:
    found = {_celsius(int(m.group(1)), m.group(2)) for m in _TEMPERATURE.finditer(text)}
    if not found:
        return 0, text
    return (found.pop() if len(found) == 1 else -1), _TEMPERATURE.sub(" ", text)


def _celsius(number: int, scale: str | None) -> int:
    fahrenheit = {104: 40, 212: 100}
    if (scale or "").upper() == "F":
        return fahrenheit.get(number, -1)
    return -1 if number in fahrenheit else number


def _file_unit(text: str) -> str:
    unit = parse_unit(text)
    return unit if unit and UNITS[unit].dimension in _FILE_DIMENSIONS else ""


def _cut_unit(text: str) -> tuple[str, str, bool]:
    """Take a unit off the end: the name, the unit, and whether there is one we do not know."""
    words = text.split()
    if fold(text) in names_table() or fold(text) in _house_names():
        return text, "", False
    for count in (3, 2, 1):
        if len(words) > count:
            unit = _file_unit(" ".join(words[-count:]))
            if unit:
                return " ".join(words[:-count]), unit, False
    # "mg/l" looks like a unit and is none that can be read as mg/kg: it is asked about.
    if len(words) > 1 and "/" in words[-1].strip("/"):
        return " ".join(words[:-1]), "", True
    return text, "", False


def _house_name(name: str, columns: Mapping[str, Column]) -> str:
    return _folded_names(tuple(columns)).get(fold(name), "")


@cache
def _folded_names(columns: tuple[str, ...]) -> Mapping[str, str]:
    """Give the columns of a kind by their folded name, and without a unit at its end."""
    table: dict[str, str] = {}
    for column in columns:
        base, _, suffix = fold(column).rpartition(" ")
        if suffix in _UNIT_SUFFIXES:
            table.setdefault(base, column)
    table.update({fold(c): c for c in columns if not c.endswith(METHOD_SUFFIX)})
    return table


def _target_of(parts: _Parts) -> str:
    target = names_table().get(fold(parts.name), "")
    named = [names_table()[fold(found)] for found in parts.inner if fold(found) in names_table()]
    if not target and not parts.name.strip() and len(named) == 1:
        return named[0]
    # "Iron (Fe)" says one thing twice; "Iron (Cu)" says two.
    return target if all(other == target for other in named) else ""


def _method_of(named: str, columns: Mapping[str, Column]) -> str:
    words = named.replace("_", " ").split()
    if len(words) < 2 or fold(words[-1]) not in _METHOD_WORDS:
        return ""
    symbol, _ = measurand_named(" ".join(words[:-1]))
    if not symbol:
        symbol = _house_name(" ".join(words[:-1]), columns)
    column = f"{symbol}{METHOD_SUFFIX}"
    return column if column in columns else ""


def _viscosity(parts: _Parts, columns: Mapping[str, Column]) -> HeadingMatch:
    both = tuple(name for name in ("KV40", "KV100") if name in columns)
    name = {40: "KV40", 100: "KV100"}.get(parts.temperature, "")
    if name in columns:
        return _with_unit(columns[name], parts)
    return HeadingMatch(choices=both)


def _distance(target: str, parts: _Parts, columns: Mapping[str, Column],
              meter: str) -> HeadingMatch:
    idea, _, own = target.partition(":")
    units = parts.units | ({own} if own else set())
    names = ({"km": "odometer_km", "mi": "odometer_mi", "h": "hours"} if idea == "@meter" else
             {"km": "oil_distance_km", "mi": "oil_distance_mi", "h": "oil_hours"})
    if parts.strange or len(units) > 1:
        return HeadingMatch(choices=_present(names.values(), columns))
    if idea == "@oil?" and not units:
        return HeadingMatch()
    unit = next(iter(units), meter)
    if not unit:
        return HeadingMatch(question="meter", choices=("km", "mi", "h"))
    if names.get(unit, "") in columns:
        return HeadingMatch(names[unit], unit, "")
    return HeadingMatch(choices=_present(names.values(), columns))


def _present(names: Iterable[str], columns: Mapping[str, Column]) -> tuple[str, ...]:
    return tuple(name for name in names if name in columns)


def _with_unit(column: Column, parts: _Parts) -> HeadingMatch:
    if column.type not in _NUMERIC:
        return HeadingMatch() if parts.units else HeadingMatch(column.name, "-", "")
    allowed = units_for(column)
    units = set(parts.units)
    # A name such as clearance_mm says its unit itself; a bracket may not say another one. A
    # share may be of mass or of volume.
    base, _, own = fold(column.name).rpartition(" ")
    named = fold(parts.name) == fold(column.name)
    if base and named and _VOLUME not in units and _file_unit(own) == column.unit:
        units.add(column.unit)
    unasked = not units and not parts.strange
    if unasked and column.name not in _ASK_UNIT:
        return HeadingMatch(column.name, column.unit, "")
    if len(units) == 1 and not parts.strange and units <= set(allowed):
        return HeadingMatch(column.name, units.pop(), "")
    return HeadingMatch(column.name, "", "unit", allowed)
