"""Units at the border: inside, every quantity has one unit, fixed in the nomenclature.

Distance is km, concentration mg/kg, length mm (layers µm), viscosity mm²/s. Miles, inches
and millilitres exist in files and on screens only. A unit that is not listed is refused,
never guessed; mg/L is not mg/kg, because the density stands between them.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from oiltrend.errors import ValueRefused

__all__ = ["UNITS", "Unit", "convert", "known_unit", "parse_unit"]


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: ``base value = value × scale + offset``, within one dimension.

    Parameters
    ----------
    symbol : str [-]
        As written in the nomenclature, in docstrings and on axes.
    dimension : str [-]
        What may be converted into what.
    scale : float [-]
        Factor to the base unit of the dimension.
    offset : float [-]
        Added after scaling; zero but for °F.
    spellings : tuple of str [-]
        Other ways files write it, compared without case and spaces.
    """

    symbol: str
    dimension: str
    scale: float = 1.0
    offset: float = 0.0
    spellings: tuple[str, ...] = ()


# Factors: international mile and inch (exact by definition, 1959 agreement); US gallon and
# quart from 231 in³. The rest are powers of ten.
_TABLE = (
    Unit("-", "number", spellings=("", "1")),
    Unit("mg/kg", "mass fraction", spellings=("ppm", "ppm(m/m)", "ppmw", "µg/g", "ug/g", "mgkg")),
    Unit("%", "mass fraction", 1e4, spellings=("pct", "%m/m", "%(m/m)", "masse-%", "mass%", "wt%",
                                              "%wt", "%mass", "m-%", "gew.-%", "gew%", "ma.-%")),
    Unit("% (V/V)", "volume fraction", spellings=("vol%", "vol-%", "vol.-%", "%vol", "%v/v",
                                                  "%(vol)", "volume%", "%volume")),
    Unit("mm²/s", "viscosity", spellings=("mm2/s", "cst", "mm^2/s", "mm²/sec")),
    Unit("mPa·s", "dynamic viscosity", spellings=("mpas", "mpa.s", "mpa*s", "cp")),
    Unit("mg KOH/g", "acid or base", spellings=("mgkoh/g", "mgkohg", "mgkoh")),
    Unit("Abs/cm", "absorbance", spellings=("a/cm", "abs/1cm", "abscm", "e/cm", "1/cm")),
    Unit("Abs/0.1 mm", "absorbance", 100.0, spellings=("abs/0.1mm", "a/0.1mm", "abs/.1mm",
                                                       "abs/0,1mm")),
    Unit("km", "distance", spellings=("kilometre", "kilometres", "kilometer", "kilometers",
                                      "kms")),
    Unit("mi", "distance", 1.609344, spellings=("mile", "miles", "mls", "meilen")),
    Unit("h", "running time", spellings=("hr", "hrs", "hour", "hours", "std", "bh", "stunden",
                                         "heures", "horas")),
    Unit("m", "length", 1e3),
    Unit("mm", "length", spellings=("millimetre", "millimeter")),
    Unit("µm", "length", 1e-3, spellings=("um", "micron", "microns", "μm")),
    Unit("in", "length", 25.4, spellings=("inch", "inches", '"')),
    Unit("mm²", "area", spellings=("mm2",)),
    Unit("L", "volume", spellings=("litre", "litres", "liter", "liters", "l", "ltr")),
    Unit("mL", "volume", 1e-3, spellings=("ml",)),
    Unit("qt", "volume", 0.946352946, spellings=("quart", "quarts", "usqt")),
    Unit("kg", "mass"),
    Unit("mg", "mass", 1e-6),
    Unit("kg/L", "density", spellings=("g/ml", "g/cm3", "g/cm³", "kg/l")),
    Unit("bar", "pressure"),
    Unit("psi", "pressure", 0.0689475729, spellings=("lbf/in2",)),
    Unit("kPa", "pressure", 0.01),
    Unit("°C", "temperature", spellings=("c", "degc", "celsius")),
    Unit("°F", "temperature", 5 / 9, -160 / 9, spellings=("f", "degf", "fahrenheit")),
    Unit("d", "time", spellings=("day", "days")),
    Unit("deg", "angle", spellings=("°", "degrees")),
    # Compound units of the maths; they are never read from a file. A use is km or h,
    # whichever the engine's meter counts.
    # "any" is one unit of the caller's choice, the same throughout a call: statistics do not
    # care whether they rank mg/kg or mg per 1000 km.
    Unit("any", "any"),
    Unit("any/use", "any per use"),
    Unit("use", "use"),
    Unit("kg/use", "mass per use"),
    Unit("kg/(1000 use)", "mass per thousand"),
    Unit("mg/use", "metal per use"),
    Unit("mg/(1000 use)", "metal per thousand"),
    Unit("mg/(1000 km)", "metal per distance"),
    Unit("mg/(1000 h)", "metal per running time"),
    Unit("mg/kg/(1000 use)", "concentration per thousand"),
    Unit("mg/kg/use", "concentration per use"),
    Unit("mg/kg/(1000 km)", "concentration per distance"),
    Unit("mg/kg/(1000 h)", "concentration per running time"),
    Unit("use/kg", "use per mass"),
    Unit("1/kg", "per mass"),
)

UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _TABLE}


def _key(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text).replace("μ", "µ").casefold()
    return "".join(folded.split())


_BY_SPELLING: dict[str, str] = {
    _key(spelling): unit.symbol
    for unit in _TABLE
    for spelling in (unit.symbol, *unit.spellings)
}


def known_unit(symbol: str) -> bool:
    """Say whether the nomenclature knows this unit symbol.

    Parameters
    ----------
    symbol : str [-]
        A unit as written in a docstring or a header.

    Returns
    -------
    bool [-]
        True when the symbol is listed.

    Examples
    --------
    >>> known_unit("mg/kg"), known_unit("furlong")
    (True, False)
    """
    return symbol in UNITS


def parse_unit(text: str) -> str | None:
    """Find the unit that a header or a cell writes in its own way.

    Parameters
    ----------
    text : str [-]
        A spelling such as ``ppm``, ``cSt`` or ``mm2/s``.

    Returns
    -------
    str or None [-]
        The house symbol, or None when the spelling is not known.

    Examples
    --------
    >>> parse_unit("ppm"), parse_unit(" cSt "), parse_unit("mg/L")
    ('mg/kg', 'mm²/s', None)
    """
    return _BY_SPELLING.get(_key(text))


def convert(value: float, found: str, wanted: str) -> float:
    """Convert a value between two units of one dimension.

    Equation: ``wanted = (value · scale_found + offset_found − offset_wanted) / scale_wanted``.

    Parameters
    ----------
    value : float [-]
        The number in the unit found.
    found : str [-]
        Unit symbol of the value.
    wanted : str [-]
        Unit symbol of the result.

    Returns
    -------
    float [-]
        The number in the unit wanted.

    Raises
    ------
    ValueRefused
        When one of the units is unknown or the two measure different things.

    Examples
    --------
    >>> convert(100.0, "mi", "km")
    160.9344
    >>> round(convert(212.0, "°F", "°C"), 9)
    100.0
    """
    for symbol in (found, wanted):
        if symbol not in UNITS:
            raise ValueRefused(f"unit: must be a known unit, found '{symbol}'",
                               hint="use one of " + ", ".join(UNITS))
    source, target = UNITS[found], UNITS[wanted]
    if source.dimension != target.dimension:
        raise ValueRefused(
            f"unit: {found} measures {source.dimension}, {wanted} measures {target.dimension}",
            hint="give the value in a unit of the same kind")
    if source is target:
        return value
    return (value * source.scale + source.offset - target.offset) / target.scale
