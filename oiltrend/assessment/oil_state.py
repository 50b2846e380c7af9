"""State of the oil at some samples: viscosity, drift from new, fuel, reserve, contamination."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.readings import Readings
from oiltrend.assessment.values import number_or_none
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import Bounds, bounds
from oiltrend.oil.contamination import (
    CoolantCode,
    CopperCode,
    DirtCode,
    coolant_signs,
    copper_signs,
    dirt_signs,
)
from oiltrend.oil.dilution import DilutionState, Viscosities, fuel_dilution
from oiltrend.oil.drift import DRIFT_ROWS, DriftRow, absolute_drift, beyond, relative_drift
from oiltrend.oil.grades import grades_of
from oiltrend.oil.reserve import acid_reaches_base
from oiltrend.oil.rises import OilReadings, oil_readings
from oiltrend.oil.signs import Signs
from oiltrend.oil.viscosity import viscosity_at, walther
from oiltrend.oil.viscosity_index import viscosity_index

__all__ = ["DriftFound", "OilState", "SignFound", "drifts", "oil_readings_of", "oil_states",
           "range_of", "signs_of"]

_CODES: dict[str, type[CoolantCode] | type[DirtCode] | type[CopperCode]] = {
    "coolant": CoolantCode, "dirt": DirtCode, "copper": CopperCode}


@dataclass(frozen=True, slots=True)
class DriftFound:
    """Change of one measurand against the product's new oil; ``far`` by the row's rule."""

    measurand: str
    used: float | None
    fresh: float | None
    change: float | None
    low: float | None
    high: float | None
    unit: str
    far: bool
    limit: float
    source: str


@dataclass(frozen=True, slots=True)
class SignFound:
    """A pattern that points to contamination, what supports it and what else it may be."""

    sign: str
    code: str
    strength: float | None
    supports: tuple[str, ...]
    confounders: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OilState:
    """The oil of one sample. Numbers are None where they were not measured or cannot be had.

    ``at_temperature`` and ``new_at_temperature`` are viscosities at ``temperature_c``;
    ``grades`` are the high-temperature grades that the viscosity fits; ``fuel_low`` to
    ``fuel_high`` is what the viscosity cannot exclude, in per cent by mass.
    """

    sample: int
    product: str
    grade: str
    viscosity_index: int | None
    temperature_c: float
    at_temperature: float | None
    new_at_temperature: float | None
    grades: tuple[str, ...]
    drifts: tuple[DriftFound, ...]
    fuel: float | None
    fuel_low: float | None
    fuel_high: float | None
    fuel_state: str
    acid_reaches_base: bool | None
    signs: tuple[SignFound, ...]


def oil_readings_of(rows: NDArray[np.int64], fleet: FleetInput, readings: Readings
                    ) -> OilReadings:
    """Put the readings of some samples beside their new oil.

    Parameters
    ----------
    rows : array, shape (j,) [-]
        Sample rows.
    fleet : FleetInput [-]
        The fleet.
    readings : Readings [-]
        Its readings.

    Returns
    -------
    OilReadings [-]
        One row per sample, one column per measurand of the panel.
    """
    return oil_readings(
        fleet.samples.value[rows], readings.fresh[rows], u=readings.uncertainty[rows],
        u_fresh=readings.fresh_uncertainty[rows], below=readings.below[rows],
        above=np.isposinf(readings.high[rows]), symbols=PANEL)


def signs_of(oil: OilReadings, *, coolant_rise: float) -> dict[str, Signs]:
    """Look for the signs of contamination in some samples.

    Parameters
    ----------
    oil : OilReadings [-]
        Readings beside new oil.
    coolant_rise : float [mg/kg]
        Rise of sodium or potassium that points to coolant.

    Returns
    -------
    dict [-]
        coolant, dirt and copper.
    """
    return {"coolant": coolant_signs(oil, least_rise=coolant_rise), "dirt": dirt_signs(oil),
            "copper": copper_signs(oil)}


def range_of(oil: OilReadings, place: int) -> Bounds:
    """Give from where to where a measurand may lie in some samples.

    Parameters
    ----------
    oil : OilReadings [-]
        Readings.
    place : int [-]
        Column.

    Returns
    -------
    Bounds [-]
        Low and high end per sample.
    """
    return bounds(oil.value[:, place], oil.u[:, place], below=oil.below[:, place],
                  above=oil.above[:, place])


def drifts(oil: OilReadings) -> list[tuple[DriftRow, NDArray[np.float64], NDArray[np.float64],
                                           NDArray[np.float64], NDArray[np.int8]]]:
    """Compare some samples with their new oil, rule by rule.

    Parameters
    ----------
    oil : OilReadings [-]
        Readings beside new oil.

    Returns
    -------
    list of tuple [-]
        Rule, change, its low and high end, and the answer whether it is far.
    """
    found = []
    for row in DRIFT_ROWS:
        place = oil.symbols.index(row.measurand)
        compare = relative_drift if row.quantity == "relative" else absolute_drift
        drift = compare(oil.value[:, place], oil.fresh[:, place], u=oil.u[:, place],
                        u_fresh=oil.u_fresh[:, place], below=oil.below[:, place],
                        above=oil.above[:, place])
        found.append((row, drift.value, drift.low, drift.high, beyond(drift, row)))
    return found


def _viscosities(value: NDArray[np.float64], u: NDArray[np.float64]) -> Viscosities:
    cold, hot = PANEL_INDEX["KV40"], PANEL_INDEX["KV100"]
    return Viscosities(value[:, cold], value[:, hot], u[:, cold], u[:, hot])


def oil_states(rows: NDArray[np.int64], fleet: FleetInput, readings: Readings) -> list[OilState]:
    """Describe the oil of some samples.

    Parameters
    ----------
    rows : array, shape (j,) [-]
        Sample rows.
    fleet : FleetInput [-]
        The fleet.
    readings : Readings [-]
        Its readings.

    Returns
    -------
    list of OilState [-]
        One per row.
    """
    oil = oil_readings_of(rows, fleet, readings)
    exact = np.where(oil.below | oil.above, np.nan, oil.value)
    used, fresh = _viscosities(exact, oil.u), _viscosities(oil.fresh, oil.u_fresh)
    fuel = fuel_dilution(used, fresh)
    warm = fleet.settings.oil_temperature_c
    # Where one of two viscosities was measured, the new oil's own slope carries it over.
    slope = walther(fresh.kv40, fresh.kv100).slope
    now = viscosity_at(warm, used.kv40, used.kv100, slope=slope).value
    new = viscosity_at(warm, fresh.kv40, fresh.kv100).value
    index = viscosity_index(used.kv40, used.kv100).reported
    base, acid = PANEL_INDEX["base_number"], PANEL_INDEX["acid_number"]
    crossed = acid_reaches_base(range_of(oil, base), range_of(oil, acid))
    compared = drifts(oil)
    signs = signs_of(oil, coolant_rise=fleet.settings.coolant_rise_ppm)
    products = fleet.samples.oil_product[rows].tolist()
    return [OilState(
        sample=int(fleet.sample_id[row]), product=products[place],
        grade=fleet.fresh.grade.get(products[place], ""),
        viscosity_index=int(index[place]) if np.isfinite(index[place]) else None,
        temperature_c=warm, at_temperature=number_or_none(now[place]),
        new_at_temperature=number_or_none(new[place]), grades=_grades(exact[place]),
        drifts=_drifts_at(compared, oil, place), fuel=number_or_none(fuel.value[place]),
        fuel_low=number_or_none(fuel.low[place]), fuel_high=number_or_none(fuel.high[place]),
        fuel_state=DilutionState(int(fuel.state[place])).name.lower(),
        acid_reaches_base={Answer.YES: True, Answer.NO: False}.get(Answer(int(crossed[place]))),
        signs=_signs_at(signs, place)) for place, row in enumerate(rows.tolist())]


def _grades(value: NDArray[np.float64]) -> tuple[str, ...]:
    hot, shear = value[PANEL_INDEX["KV100"]], value[PANEL_INDEX["HTHS"]]
    if not np.isfinite(hot):
        return ()
    return grades_of(float(hot), hths=float(shear) if np.isfinite(shear) else None)


def _drifts_at(compared: Sequence[tuple[DriftRow, NDArray[np.float64], NDArray[np.float64],
                                        NDArray[np.float64], NDArray[np.int8]]],
               oil: OilReadings, place: int) -> tuple[DriftFound, ...]:
    found = []
    for row, value, low, high, answer in compared:
        column = oil.symbols.index(row.measurand)
        if np.isfinite(oil.value[place, column]) and np.isfinite(oil.fresh[place, column]):
            found.append(DriftFound(
                row.measurand, number_or_none(oil.value[place, column]),
                number_or_none(oil.fresh[place, column]), number_or_none(value[place]),
                number_or_none(low[place]), number_or_none(high[place]), row.unit,
                bool(answer[place] == Answer.YES), row.size, row.source))
    return tuple(found)


def _signs_at(signs: dict[str, Signs], place: int) -> tuple[SignFound, ...]:
    found = []
    for name, sign in signs.items():
        code = _CODES[name](int(sign.code[place]))
        if code > 0:
            found.append(SignFound(
                name, code.name.lower(), number_or_none(sign.strength[place]),
                tuple(s for s, on in zip(sign.supports, sign.support[place], strict=True) if on),
                tuple(c for c, on in zip(sign.confounders, sign.confounder[place], strict=True)
                      if on)))
    return tuple(found)
