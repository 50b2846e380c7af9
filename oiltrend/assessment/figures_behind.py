"""The figures behind the verdicts: only worked out for those who ask for them."""

from __future__ import annotations

from dataclasses import dataclass

from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.layers_left import layers_left
from oiltrend.assessment.metal_sources import engine_shells, latest_sources
from oiltrend.assessment.own_history import Trends, trends_by_engine
from oiltrend.assessment.results import Figures, IntervalFigures, Rate
from oiltrend.assessment.values import known_numbers
from oiltrend.assessment.work import Worked
from oiltrend.nomenclature import MEASURANDS, PANEL

__all__ = ["figures_behind"]

_FIGURED = [i for i, m in enumerate(MEASURANDS)
            if m.unit == "mg/kg" and m.kind in ("wear", "contaminant")]
_RATED = [i for i, m in enumerate(MEASURANDS) if m.kind == "wear"]

Known = list[list[float | None]]


@dataclass(frozen=True, slots=True)
class _Columns:
    """Arrays of the judged rows as plain lists, so that the loop over engines stays cheap."""

    value: Known
    per_1000: Known
    start: Known
    mid: Known
    rate: Known
    low: Known
    high: Known
    below: list[list[bool]]
    measured: list[list[bool]]


def _columns(worked: Worked) -> tuple[_Columns, dict[int, int]]:
    rows = worked.latest[worked.latest >= 0]
    ledger, readings = worked.ledger, worked.readings
    picked = _Columns(
        value=known_numbers(readings.value[rows]), per_1000=known_numbers(ledger.per_1000[rows]),
        start=known_numbers(ledger.start[rows]), mid=known_numbers(ledger.mid_fill_per_1000[rows]),
        rate=known_numbers(ledger.wear.rate[rows]), low=known_numbers(ledger.wear.low[rows]),
        high=known_numbers(ledger.wear.high[rows]), below=readings.below[rows].tolist(),
        measured=readings.measured[rows].tolist())
    return picked, {int(row): place for place, row in enumerate(rows)}


def _interval(picked: _Columns, place: int) -> dict[str, IntervalFigures]:
    value, measured = picked.value[place], picked.measured[place]
    below, per_1000 = picked.below[place], picked.per_1000[place]
    start, mid = picked.start[place], picked.mid[place]
    return {PANEL[i]: IntervalFigures(value[i], per_1000[i], below[i], start[i], mid[i])
            for i in _FIGURED if measured[i]}


def _rates(picked: _Columns, place: int, unit: str) -> dict[str, Rate]:
    measured = picked.measured[place]
    rate, low, high = picked.rate[place], picked.low[place], picked.high[place]
    return {PANEL[i]: Rate(rate[i], low[i], high[i], unit) for i in _RATED if measured[i]}


def figures_behind(fleet: FleetInput, worked: Worked, trends: Trends | None) -> list[Figures]:
    """Work out the figures behind every verdict of a fleet.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    trends : Trends or None [-]
        Its trends.

    Returns
    -------
    list of Figures [-]
        In the order of the engine table; empty where there is no sample.
    """
    shells = engine_shells(fleet)
    picked, places = _columns(worked)
    sources = latest_sources(fleet, worked, shells)
    layers = layers_left(fleet, worked, shells)
    followed = trends_by_engine(trends, worked) if trends is not None else {}
    found = []
    for engine, unit in enumerate(fleet.engines.meter_unit.tolist()):
        place = places.get(int(worked.latest[engine]), -1)
        per = f"mg per 1000 {'h' if unit == 'h' else 'km'}"
        found.append(Figures(
            _rates(picked, place, per) if place >= 0 else {},
            _interval(picked, place) if place >= 0 else {}, followed.get(engine, {}),
            sources.get(engine), layers.get(engine, ())))
    return found
