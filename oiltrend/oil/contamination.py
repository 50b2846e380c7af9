"""Signs of contamination in the elements: coolant, dirt, and copper that comes alone.

Each answers with a code, a strength, what speaks for it and what else it may be
(:mod:`oiltrend.oil.signs`). A sign is a reason to look, not a finding of the part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from oiltrend.oil.answers import Answer
from oiltrend.oil.rises import OilReadings, real_change, rise_of, risen
from oiltrend.oil.signs import Signs, signs

__all__ = ["ALUMINIUM_RATIO", "COOLANT_RISE", "COPPER_RISE", "COPPER_SHARES", "DIRT_RISE",
           "DUST_COMPOSITION", "DUST_RATIO", "SUPPORT_RISE", "WATER_LEVEL", "CoolantCode",
           "CopperCode", "DirtCode", "DustRow", "ElementRatio", "coolant_signs", "copper_signs",
           "dirt_signs", "silicon_aluminium_ratio"]

COOLANT_RISE = 50.0
"""Rise of sodium or potassium that points to coolant [mg/kg]. Common practice, no source."""

SUPPORT_RISE = 5.0
"""Rise of boron, silicon, molybdenum or phosphorus that supports it [mg/kg]. Assumed."""

WATER_LEVEL = 0.1
"""Water above this is too much [%]. Lubricants handbook of an oil company, 2004."""

DIRT_RISE = 10.0
"""Rise of silicon, or of aluminium, from which their ratio is asked for [mg/kg]. Assumed."""

COPPER_RISE = 10.0
"""Rise of copper from which its company is asked for [mg/kg]. Assumed."""

ALUMINIUM_RATIO = 1.0
"""Silicon to aluminium at or below this is an aluminium part, not dust. Rule, no source."""


@dataclass(frozen=True, slots=True)
class DustRow:
    """One oxide of the test dust that stands for road dust.

    Parameters
    ----------
    element : str [-]
        Symbol of the element looked for.
    oxide : str [-]
        Its oxide in the dust.
    least, most : float [%]
        Share of the oxide in the dust.
    element_share : float [-]
        Share of the element in the oxide's mass.
    source : str [-]
        Where the shares stand.
    """

    element: str
    oxide: str
    least: float
    most: float
    element_share: float
    source: str


_DUST_SOURCE = "ISO 12103-1 Arizona test dust, from memory; editions differ by a per cent or two"
# Element shares: standard atomic weights, Si 28.085, Al 26.982, O 15.999 (IUPAC).
DUST_COMPOSITION: tuple[DustRow, ...] = (
    DustRow("Si", "SiO2", 68.0, 76.0, 28.085 / (28.085 + 2 * 15.999), _DUST_SOURCE),
    DustRow("Al", "Al2O3", 10.0, 15.0, 2 * 26.982 / (2 * 26.982 + 3 * 15.999), _DUST_SOURCE),
)

_SILICA, _ALUMINA = DUST_COMPOSITION
DUST_RATIO: tuple[float, float] = (
    _SILICA.least * _SILICA.element_share / (_ALUMINA.most * _ALUMINA.element_share),
    _SILICA.most * _SILICA.element_share / (_ALUMINA.least * _ALUMINA.element_share),
)
"""Silicon to aluminium by mass in dust, 4.0 to 6.7: the corners of the composition."""

COPPER_SHARES: dict[str, float] = {
    # CuPb24Sn (ISO 4383, from memory) holds at least 19 % Pb on 80 % Cu: 0.24. Assumed: 0.2.
    "Pb": 0.2,
    # A bronze such as CuSn8 (ISO 4382-2, from memory) holds 0.08 Sn on 1 Cu. Assumed: 0.05.
    "Sn": 0.05,
    # Aluminium linings hold 1 % Cu, so copper from them is outweighed many times. Assumed.
    "Al": 0.2,
}
"""Share of the copper's rise from which another metal has come with it."""


class CoolantCode(IntEnum):
    """What points to coolant, weakest first from 1."""

    NOT_MEASURED = -2
    CANNOT_TELL = -1
    NOT_SHOWN = 0
    WATER_ALONE = 1
    INHIBITOR_ALONE = 2
    INHIBITOR_SUPPORTED = 3
    GLYCOL = 4


class DirtCode(IntEnum):
    """What the ratio of silicon to aluminium points to."""

    NOT_MEASURED = -2
    CANNOT_TELL = -1
    NOT_SHOWN = 0
    SILICON_ALONE = 1
    SILICON_AND_ALUMINIUM = 2
    DUST = 3
    ALUMINIUM_PART = 4


class CopperCode(IntEnum):
    """Whether copper came alone (a cooler leaching, a bush) or with bearing metals."""

    NOT_MEASURED = -2
    CANNOT_TELL = -1
    NOT_SHOWN = 0
    COPPER_ALONE = 1
    WITH_BEARING_METALS = 2


@dataclass(frozen=True, slots=True)
class ElementRatio:
    """Ratio of two rises.

    Parameters
    ----------
    value : array, shape (n,) [-]
        Ratio; infinite where the lower element has not risen at all; NaN where unknown.
    low, high : array, shape (n,) [-]
        From where to where it may lie; NaN where one was not measured.
    """

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def coolant_signs(readings: OilReadings, *, least_rise: float = COOLANT_RISE,
                  support_rise: float = SUPPORT_RISE,
                  water_level: float = WATER_LEVEL) -> Signs:
    """Look for coolant: glycol, or the sodium and potassium of its inhibitors.

    GLYCOL: any positive identification. INHIBITOR_SUPPORTED: sodium or potassium rose by more
    than ``least_rise``, and boron, silicon, molybdenum, phosphorus or water speak for it too.
    INHIBITOR_ALONE: without that support. WATER_ALONE: water only. Engine heat drives water
    out, so its absence says nothing.

    Parameters
    ----------
    readings : OilReadings, n samples [-]
        Samples and new oils.
    least_rise : float [mg/kg]
        Rise of sodium or potassium asked for.
    support_rise : float [mg/kg]
        Rise of a supporting element asked for.
    water_level : float [%]
        Water above this counts.

    Returns
    -------
    Signs, n samples [-]
        Codes of :class:`CoolantCode`; strength is the larger rise over ``least_rise``.

    Examples
    --------
    >>> from oiltrend.oil.rises import oil_readings
    >>> oils = oil_readings([[120.0, 90.0, 40.0], [80.0, 2.0, 9.0]], [10.0, 0.0, 5.0], u=3.0,
    ...                     u_fresh=1.0, symbols=["Na", "K", "Si"])
    >>> found = coolant_signs(oils)
    >>> [CoolantCode(code).name for code in found.code]
    ['INHIBITOR_SUPPORTED', 'INHIBITOR_ALONE']
    >>> found.support_of(0), found.confounders_of(1)
    (('Na', 'K', 'Si'), ('road_salt',))

    References
    ----------
    Sodium, boron and silicon as signs of coolant: US Army TM 10-6640-233-10, table 2-13.
    Glycol and water: lubricants handbook of an oil company, 2004. The rest is common practice.
    """
    salts = {symbol: rise_of(readings, symbol) for symbol in ("Na", "K")}
    told = {symbol: risen(rise, least_rise) for symbol, rise in salts.items()}
    helpers = {symbol: risen(rise_of(readings, symbol), support_rise) == Answer.YES
               for symbol in ("B", "Si", "Mo", "P")}
    water, glycol = _above(readings, "water_pct", water_level), _above(readings, "glycol_pct", 0.0)
    support = {**{symbol: answer == Answer.YES for symbol, answer in told.items()}, **helpers,
               "water_pct": water == Answer.YES, "glycol_pct": glycol == Answer.YES}
    salt = support["Na"] | support["K"]
    helped = np.any(list(helpers.values()), axis=0)
    asked = (told["Na"], told["K"], glycol)
    code = np.select(
        [support["glycol_pct"], salt & (helped | support["water_pct"]), salt,
         support["water_pct"], _any(asked, Answer.CANNOT_TELL), _any(asked, Answer.NO)],
        [CoolantCode.GLYCOL, CoolantCode.INHIBITOR_SUPPORTED, CoolantCode.INHIBITOR_ALONE,
         CoolantCode.WATER_ALONE, CoolantCode.CANNOT_TELL, CoolantCode.NOT_SHOWN],
        CoolantCode.NOT_MEASURED)
    confounder = {
        "additive": _new_oil_unknown(readings, "Na", "K") & ~salt,
        "other_oil": _additives_moved(readings),
        "road_salt": support["Na"] & (told["K"] == Answer.NO),
        "silicon_source": helpers["Si"] & salt & ~(helpers["B"] | helpers["Mo"] | helpers["P"]
                                                   | support["water_pct"]),
        "condensation": code == CoolantCode.WATER_ALONE,
        "glycol_test": support["glycol_pct"] & (told["Na"] == Answer.NO)
        & (told["K"] == Answer.NO),
    }
    strength = np.fmax(salts["Na"].value, salts["K"].value) / least_rise
    shows = (code > 0) | (code == CoolantCode.CANNOT_TELL)
    return signs(code, strength, support, confounder, asked=shows)


def silicon_aluminium_ratio(readings: OilReadings) -> ElementRatio:
    """Give the mass ratio of silicon to aluminium, both above the new oil.

    Equation: ``rise(Si) / rise(Al)``; range from the least silicon over the most aluminium to
    the other way round. A rise below 0 counts as 0.

    Parameters
    ----------
    readings : OilReadings, n samples [-]
        Samples and new oils.

    Returns
    -------
    ElementRatio, arrays of shape (n,) [-]
        Ratio and its range.

    Examples
    --------
    >>> from oiltrend.oil.rises import oil_readings
    >>> oils = oil_readings([[35.0, 6.0]], [5.0, 0.0], u=1.0, u_fresh=0.0, symbols=["Si", "Al"])
    >>> ratio = silicon_aluminium_ratio(oils)
    >>> ratio.value, ratio.low.round(1), ratio.high.round(1)
    (array([5.]), array([3.5]), array([8.]))
    """
    silicon, aluminium = rise_of(readings, "Si"), rise_of(readings, "Al")
    return ElementRatio(_quotient(silicon.value, aluminium.value),
                        _quotient(silicon.low, aluminium.high),
                        _quotient(silicon.high, aluminium.low))


def dirt_signs(readings: OilReadings, *, least_rise: float = DIRT_RISE) -> Signs:
    """Look for dust by the ratio of silicon to aluminium, once one of them has risen.

    DUST: within :data:`DUST_RATIO`. SILICON_ALONE: above it, which points to sealant or
    antifoam. SILICON_AND_ALUMINIUM: between an aluminium part and dust; both may be at work.
    ALUMINIUM_PART: at or below :data:`ALUMINIUM_RATIO`, which points to a piston, a bearing or
    another aluminium part. Zones that the ratio's own range reaches are named as confounders.

    Parameters
    ----------
    readings : OilReadings, n samples [-]
        Samples and new oils.
    least_rise : float [mg/kg]
        Rise of silicon or aluminium asked for.

    Returns
    -------
    Signs, n samples [-]
        Codes of :class:`DirtCode`; strength is the larger rise over ``least_rise``. Iron and
        chromium in support mean that rings and bores wear along.

    Examples
    --------
    >>> from oiltrend.oil.rises import oil_readings
    >>> oils = oil_readings([[35.0, 6.0], [35.0, 0.5], [6.0, 30.0]], [5.0, 0.0], u=0.5,
    ...                     u_fresh=0.0, symbols=["Si", "Al"])
    >>> [DirtCode(code).name for code in dirt_signs(oils).code]
    ['DUST', 'SILICON_ALONE', 'ALUMINIUM_PART']

    References
    ----------
    ISO 12103-1 for the dust; the use of the ratio is common practice, no source.
    """
    silicon, aluminium = rise_of(readings, "Si"), rise_of(readings, "Al")
    told_si, told_al = (risen(rise, least_rise) for rise in (silicon, aluminium))
    trigger = (told_si == Answer.YES) | (told_al == Answer.YES)
    ratio = silicon_aluminium_ratio(readings)
    # Without a number for one of the two, the bounds of the ratio may still decide.
    open_ratio = np.isnan(ratio.value)
    place = np.select([open_ratio & (ratio.low > DUST_RATIO[1]),
                       open_ratio & (ratio.high <= ALUMINIUM_RATIO)], [np.inf, 0.0], ratio.value)
    code = np.select(
        [trigger & np.isnan(place), trigger & (place > DUST_RATIO[1]),
         trigger & (place >= DUST_RATIO[0]), trigger & (place > ALUMINIUM_RATIO), trigger,
         told_si == Answer.CANNOT_TELL, told_si == Answer.NO],
        [DirtCode.CANNOT_TELL, DirtCode.SILICON_ALONE, DirtCode.DUST,
         DirtCode.SILICON_AND_ALUMINIUM, DirtCode.ALUMINIUM_PART, DirtCode.CANNOT_TELL,
         DirtCode.NOT_SHOWN], DirtCode.NOT_MEASURED)
    support = {symbol: risen(rise_of(readings, symbol), 0.0) == Answer.YES
               for symbol in ("Si", "Al", "Fe", "Cr")}
    confounder = {
        "additive": _new_oil_unknown(readings, "Si"),
        "sealant": (told_si == Answer.YES) & ~support["Cr"],
        "dust": trigger & (code != DirtCode.DUST) & (ratio.low <= DUST_RATIO[1])
        & (ratio.high >= DUST_RATIO[0]),
        "aluminium_part": trigger & (code != DirtCode.ALUMINIUM_PART)
        & (ratio.low <= ALUMINIUM_RATIO),
        "aluminium_not_measured": np.isnan(aluminium.value)
        & ~_new_oil_unknown(readings, "Al"),
        "coolant": _salt_risen(readings),
    }
    strength = np.fmax(silicon.value, aluminium.value) / least_rise
    shows = (code > 0) | (code == DirtCode.CANNOT_TELL)
    return signs(code, strength, support, confounder, asked=shows)


def copper_signs(readings: OilReadings, *, least_rise: float = COPPER_RISE) -> Signs:
    """Say whether risen copper came alone or with lead, tin or aluminium.

    COPPER_ALONE: lead, tin and aluminium were measured and stayed below their share of the
    copper (:data:`COPPER_SHARES`): a copper oil cooler that leaches, a bush, a fitting.
    WITH_BEARING_METALS: one of them rose along. Look into the filter as well: leaching leaves
    no metal there.

    Parameters
    ----------
    readings : OilReadings, n samples [-]
        Samples and new oils.
    least_rise : float [mg/kg]
        Rise of copper asked for.

    Returns
    -------
    Signs, n samples [-]
        Codes of :class:`CopperCode`; strength is the copper's rise over ``least_rise``.

    Examples
    --------
    >>> from oiltrend.oil.rises import oil_readings
    >>> oils = oil_readings([[80.0, 2.0, 0.5, 3.0], [80.0, 30.0, 4.0, 3.0]], 0.0, u=0.2,
    ...                     u_fresh=0.3, symbols=["Cu", "Pb", "Sn", "Al"])
    >>> found = copper_signs(oils)
    >>> [CopperCode(code).name for code in found.code], found.support_of(1)
    (['COPPER_ALONE', 'WITH_BEARING_METALS'], ('Cu', 'Pb'))

    References
    ----------
    Leaching is copper without lead, tin, aluminium and without metal in the filter: trade
    teaching page on cooler leaching. The shares are assumed.
    """
    copper = rise_of(readings, "Cu")
    told = risen(copper, least_rise)
    company = {symbol: rise_of(readings, symbol) for symbol in COPPER_SHARES}
    along = {symbol: risen(rise, COPPER_SHARES[symbol] * copper.value)
             for symbol, rise in company.items()}
    rose = told == Answer.YES
    # ">v" copper has risen, but the share of the others cannot be formed.
    known = rose & ~np.isnan(copper.value)
    answers = tuple(along.values())
    code = np.select(
        [known & _any(answers, Answer.YES), known & (np.stack(answers) == Answer.NO).all(axis=0),
         rose | (told == Answer.CANNOT_TELL), told == Answer.NO],
        [CopperCode.WITH_BEARING_METALS, CopperCode.COPPER_ALONE, CopperCode.CANNOT_TELL,
         CopperCode.NOT_SHOWN], CopperCode.NOT_MEASURED)
    support = {"Cu": rose, **{symbol: known & (answer == Answer.YES)
                              for symbol, answer in along.items()}}
    alone = code == CopperCode.COPPER_ALONE
    near = np.any([rise.high > COPPER_SHARES[symbol] * np.maximum(copper.low, 0.0)
                   for symbol, rise in company.items()], axis=0)
    confounder = {
        "additive": _new_oil_unknown(readings, "Cu"),
        "lead_free_lining": alone,
        "bush": alone,
        "lining": alone & near,
        "company_not_measured": rose & _any(answers, Answer.NOT_ASKED),
        "coolant": _salt_risen(readings),
    }
    shows = (code > 0) | (code == CopperCode.CANNOT_TELL)
    return signs(code, copper.value / least_rise, support, confounder, asked=shows)


def _any(answers: Sequence[NDArray[np.int8]], wanted: Answer) -> NDArray[np.bool_]:
    return np.asarray((np.stack(answers) == wanted).any(axis=0))


def _above(readings: OilReadings, symbol: str, level: float) -> NDArray[np.int8]:
    """Say where a share lies above a level that is meant as printed, without precision."""
    if symbol not in readings.symbols:
        return np.full(len(readings.value), Answer.NOT_ASKED, dtype=np.int8)
    place = readings.symbols.index(symbol)
    value, below = readings.value[:, place], readings.below[:, place]
    above = readings.above[:, place]
    # "<v" is not above a level of v or more; at level 0 any "<v" is "not found".
    no = np.where(below, (value <= level) | (level == 0.0), ~above & (value <= level))
    yes = np.where(above, value >= level, ~below & (value > level))
    answer = np.select([np.isnan(value) & ~below & ~above, yes, no],
                       [Answer.NOT_ASKED, Answer.YES, Answer.NO], Answer.CANNOT_TELL)
    return answer.astype(np.int8)


def _quotient(over: NDArray[np.float64], under: NDArray[np.float64]) -> NDArray[np.float64]:
    top, bottom = np.maximum(over, 0.0), np.maximum(under, 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = top / bottom
    unknown = np.isnan(top) | np.isnan(bottom)
    # Over 0 there is no upper bound, also for 0 itself; over infinity nothing is left.
    return np.select([unknown, bottom == 0.0, np.isinf(bottom)], [np.nan, np.inf, 0.0], ratio)


def _new_oil_unknown(readings: OilReadings, *names: str) -> NDArray[np.bool_]:
    unknown = np.zeros(len(readings.value), dtype=bool)
    for symbol in names:
        if symbol in readings.symbols:
            place = readings.symbols.index(symbol)
            unknown |= np.isnan(readings.fresh[:, place]) & ~np.isnan(readings.value[:, place])
    return unknown


def _salt_risen(readings: OilReadings) -> NDArray[np.bool_]:
    return _any([risen(rise_of(readings, symbol), COOLANT_RISE) for symbol in ("Na", "K")],
                Answer.YES)


def _additives_moved(readings: OilReadings) -> NDArray[np.bool_]:
    moved = [real_change(rise_of(readings, symbol)) for symbol in ("Ca", "Mg", "Zn")]
    return np.asarray(np.sum(moved, axis=0) >= 2)
