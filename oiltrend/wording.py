"""Codes to sentences: one list for screen, paper and command line.

No sentence ever says that an engine is fit to run; the lowest level reads "no alarm in what
was measured".
"""

from __future__ import annotations

from collections.abc import Sequence

from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX

__all__ = ["CAUTIONS", "DATA_WORDS", "DOUBT_SENTENCES", "LEVEL_WORDS", "LIMITS_OF_USE",
           "STOP_SIGNS", "TREND_WORDS", "doubt_text", "measurand_name", "number_text",
           "quantity_unit", "reason_text"]

LEVEL_WORDS: dict[str | None, str] = {
    "no_alarm": "no alarm in what was measured",
    "alert": "alert",
    "alarm": "alarm",
    None: "no verdict yet",
}

DATA_WORDS: dict[str, str] = {
    "enough": "enough data",
    "little": "little data",
    "out_of_date": "out of date",
}

TREND_WORDS: dict[str, str] = {
    "rising": "rising",
    "falling": "falling",
    "level": "no trend shown",
    "too_few": "too few intervals for a trend",
    "below_limit": "too many results below the reporting limit for a trend",
}

STOP_SIGNS: str = (
    "Whatever the last oil result says: if the oil-pressure warning comes on, the engine knocks, "
    "coolant shows in the oil, the oil level falls fast, metal flakes appear or the engine "
    "overheats, stop it as soon as traffic allows, do not restart it, and have it towed and "
    "inspected.")

LIMITS_OF_USE: str = (
    "A decision aid. It depends on the sample, and oil analysis can miss sudden failures: "
    "large flakes are hardly seen in it. It does not replace inspection, the maker's schedule "
    "or a qualified person, and is not for aircraft, marine or other safety-critical engines.")

CAUTIONS: dict[str, str] = {
    "sampling": ("Hot oil burns: let it cool. Wear gloves, wash skin that oil has touched, put no "
                 "oily rag in a pocket. Collect and recycle used oil by local rules."),
    "supported_vehicle": ("Level ground, wheels chocked, vehicle on stands, never only on a jack; "
                          "battery and ignition off."),
    "fasteners": ("Follow the maker's data for torque; where it says that a bolt is tightened "
                  "to yield or used once, fit a new one. Qualified people and local rules come "
                  "first."),
}

DOUBT_SENTENCES: dict[str, str] = {
    "metals_fell_together": (
        "all wear metals fell together on one oil fill, further than a top-up explains: a mixed-up "
        "bottle, or an oil change that was not recorded. If the next sample of this fill goes on "
        "from the earlier figures it was the bottle"),
    "metals_rose_together": (
        "all wear metals jumped by more than three times together: a mixed-up bottle, or a sample "
        "from the bottom of the sump. Take a new sample now"),
    "additives_differ": "three or more additives do not fit the oil that is said to be in the "
                        "engine",
    "other_oil": "viscosity and additives together do not fit the oil that is said to be in the "
                 "engine: another oil, or another engine's bottle",
    "meter_backwards": "the meter reading does not lie between those before and after it",
    "oil_distance_too_long": "the distance on the oil is longer than the distance since the last "
                             "change",
    "identical_results": "every result repeats the sample before to the digit: a report sent "
                         "twice, or the same bottle",
}

_KIND_WORDS = {"fixed": "fixed limit", "population": "limit from this shop's own engines",
               "own": "this engine's own history", "finding": "finding"}

_FINDINGS: dict[str, str] = {
    "finding_flakes": "metal flakes in the filter: suffices by itself, whatever the ppm",
    "finding_noise": "knocking noise noted: suffices by itself, whatever the ppm",
    "finding_glitter": "glitter in the drained oil: suffices by itself, whatever the ppm",
}


def measurand_name(symbol: str) -> str:
    """Give the full name of a measurand.

    Parameters
    ----------
    symbol : str [-]
        Symbol such as Pb.

    Returns
    -------
    str [-]
        Name such as lead; the symbol itself when it is not known.

    Examples
    --------
    >>> measurand_name("Pb"), measurand_name("KV100")
    ('lead', 'kinematic viscosity at 100 °C')
    """
    place = PANEL_INDEX.get(symbol)
    return symbol if place is None else MEASURANDS[place].name


def number_text(value: float | None) -> str:
    """Write a number with three significant digits, no exponent, a dash when unknown.

    Parameters
    ----------
    value : float or None [-]
        The number.

    Returns
    -------
    str [-]
        Its text.

    Examples
    --------
    >>> number_text(12.3456), number_text(0.01234), number_text(1234.5), number_text(None)
    ('12.3', '0.0123', '1234', '–')
    """
    if value is None or value != value:
        return "–"
    size = abs(value)
    if size >= 100:
        return f"{value:.0f}"
    text = f"{value:.3g}"
    return text if "e" not in text else f"{value:.6f}".rstrip("0").rstrip(".")


def quantity_unit(measurand: str, quantity: str, meter_unit: str) -> str:
    """Give the unit in which a quantity of a measurand is told.

    Parameters
    ----------
    measurand : str [-]
        Symbol.
    quantity : str [-]
        level, per_1000 or wear_rate.
    meter_unit : str [-]
        km, mi or h; miles are told per 1000 km inside and converted on screen.

    Returns
    -------
    str [-]
        Unit text.

    Examples
    --------
    >>> quantity_unit("Pb", "per_1000", "km"), quantity_unit("Pb", "wear_rate", "h")
    ('mg/kg per 1000 km', 'mg per 1000 h')
    """
    use = "h" if meter_unit == "h" else "km"
    if quantity == "wear_rate":
        return f"mg per 1000 {use}"
    place = PANEL_INDEX.get(measurand)
    unit = "" if place is None else MEASURANDS[place].unit
    return f"{unit} per 1000 {use}" if quantity == "per_1000" else unit


def reason_text(code: str, *, measurand: str | None, quantity: str, value: float | None,
                unit: str | None, operator: str, limit: float | None, limit_kind: str,
                limit_source: str, n: int | None) -> str:
    """Say one reason of a verdict in a sentence.

    Parameters
    ----------
    code : str [-]
        Reason code.
    measurand : str or None [-]
        Symbol.
    quantity : str [-]
        level, per_1000, wear_rate or finding.
    value : float or None [-]
        The figure found.
    unit : str or None [-]
        Its unit.
    operator : str [-]
        >, >=, < or <=.
    limit : float or None [-]
        The limit.
    limit_kind : str [-]
        fixed, population, own or finding.
    limit_source : str [-]
        Where the limit comes from.
    n : int or None [-]
        Engines or intervals behind the limit.

    Returns
    -------
    str [-]
        The sentence, without a full stop.

    Examples
    --------
    >>> reason_text("fixed", measurand="Pb", quantity="level", value=31, unit="mg/kg",
    ...             operator=">", limit=25, limit_kind="fixed", limit_source="our own", n=None)
    'lead 31 mg/kg is above 25 mg/kg (fixed limit: our own)'
    """
    if code in _FINDINGS:
        return _FINDINGS[code]
    name = measurand_name(measurand) if measurand else "oil pressure, hot, at idle"
    found = f"{name} {_quantity_word(quantity)}{number_text(value)} {unit or ''}".rstrip()
    if code == "trend_rising":
        return (f"{name}: the wear rate rises over the last {n} intervals "
                f"(rank test p {number_text(value)}, {_KIND_WORDS['own']})")
    if code == "oil_acid":
        return f"acid number {number_text(value)} has reached the base number {number_text(limit)}"
    bound = f"{number_text(limit)} {unit or ''}".rstrip()
    side = {">": "is above", ">=": "reaches", "<": "is below", "<=": "is down to"}[operator]
    basis = _basis(limit_kind, limit_source, n)
    if code == "finding_oil_pressure":
        return f"{found} {side} {bound}: suffices by itself, whatever the ppm ({limit_source})"
    return f"{found} {side} {bound} ({basis})"


def _quantity_word(quantity: str) -> str:
    return {"wear_rate": "wear rate ", "per_1000": ""}.get(quantity, "")


def _basis(kind: str, source: str, n: int | None) -> str:
    word = _KIND_WORDS.get(kind, kind)
    if kind == "population":
        return f"{word}, {source}, from {n} engines"
    if kind == "own":
        return f"{word}, {source}, from {n} earlier intervals"
    return f"{word}: {source}"


def doubt_text(codes: Sequence[str]) -> str:
    """Say why a sample is doubted.

    Parameters
    ----------
    codes : sequence of str [-]
        Doubt codes.

    Returns
    -------
    str [-]
        The sentences, joined.

    Examples
    --------
    >>> doubt_text(["meter_backwards"])
    'the meter reading does not lie between those before and after it'
    """
    return "; ".join(DOUBT_SENTENCES[code] for code in codes)
