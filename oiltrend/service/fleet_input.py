"""From the store to the arrays that an assessment takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import EngineTable, EventTable, FleetInput, FreshOil, ShellTable
from oiltrend.assessment.settings import Settings
from oiltrend.bearing.layout import loaded_area
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import (
    Engine,
    Event,
    Family,
    Limit,
    NewOil,
    OilProduct,
    Qualifier,
    Teardown,
)
from oiltrend.service.halves import Fitting, Halves, fittings, halves_in_engines, oldest_shells
from oiltrend.store import Store

__all__ = ["read_fleet_input", "read_settings"]


def read_settings(store: Store) -> Settings:
    """Read the assumptions as the shop has set them.

    Parameters
    ----------
    store : Store [-]
        The store.

    Returns
    -------
    Settings [-]
        Defaults where nothing was set.
    """
    changed = store.setting("assumptions", {})
    known = {field.name for field in fields(Settings)}
    return replace(Settings(), **{name: float(value) for name, value in changed.items()
                                  if name in known})


def read_fleet_input(store: Store, *, as_of: date, engines: Sequence[str] | None = None,
                     limits: Sequence[Limit] | None = None) -> FleetInput:
    """Read the fleet, or some engines of it, ready to be assessed.

    Parameters
    ----------
    store : Store [-]
        The store.
    as_of : date [-]
        Samples and events after this day are left out.
    engines : sequence of str or None [-]
        Only these engines; None for all.
    limits : sequence of Limit or None [-]
        Limits on trial instead of those in force.

    Returns
    -------
    FleetInput [-]
        Arrays; engines without a sample are kept.
    """
    settings = read_settings(store)
    where = {} if engines is None else {"engine": list(engines)}
    records = [entry.record for entry in store.find(Engine, where)]
    records.sort(key=lambda engine: engine.engine)
    families = {entry.record.family: entry.record for entry in store.all(Family)}
    fleet = store.fleet(engines=None if engines is None else list(engines), until=as_of,
                        texts=False)
    place = {engine.engine: row for row, engine in enumerate(records)}
    engine_of = np.array([place[name] for name in fleet.table.engine.tolist()], dtype=np.int64)
    halves = halves_in_engines(store, records, families, as_of=as_of, chosen=engines)
    fitted = fittings(halves)
    events = _event_table(store, place, where, as_of, fitted)
    return FleetInput(
        engines=_engine_table(records, families, settings, oldest_shells(records, halves)),
        samples=fleet.table, sample_id=fleet.sample, engine_of=engine_of,
        answered=fleet.doubt_answer,
        events=events,
        shells=_shell_table(place, records, families, halves, settings,
                            {key: number for number, key in enumerate(
                                fitted, start=len(events.on) - len(fitted))}),
        fresh=_fresh_oil(store),
        limits=tuple(store.limits() if limits is None else limits), settings=settings,
        as_of=as_of)


def _text(values: Sequence[str]) -> NDArray[np.object_]:
    found = np.empty(len(values), dtype=object)
    found[:] = values
    return found


def _numbers(values: Sequence[float | None]) -> NDArray[np.float64]:
    return np.array([np.nan if value is None else value for value in values], dtype=float)


def _dates(values: Sequence[date | None]) -> NDArray[np.datetime64]:
    return np.array([np.datetime64("NaT") if value is None else np.datetime64(value)
                     for value in values], dtype="datetime64[D]")


def _engine_table(engines: Sequence[Engine], families: dict[str, Family], settings: Settings,
                  fitted: dict[str, tuple[date | None, float | None]]) -> EngineTable:
    own = [families.get(engine.family, Family(engine.family)) for engine in engines]

    def first_known(*choices: float | None) -> float:
        return next(choice for choice in choices if choice is not None)

    return EngineTable(
        engine=_text([engine.engine for engine in engines]),
        family=_text([engine.family for engine in engines]),
        car=_text([engine.car for engine in engines]),
        meter_unit=_text([engine.meter_unit for engine in engines]),
        oil_fill_l=_numbers([first_known(e.oil_fill_l, f.oil_fill_l, settings.oil_fill_l)
                             for e, f in zip(engines, own, strict=True)]),
        density_kg_l=_numbers([first_known(f.density_kg_l, settings.density_kg_l) for f in own]),
        residue_fraction=_numbers([first_known(f.residue_fraction, settings.residue_fraction)
                                   for f in own]),
        set_fitted_date=_dates([fitted[engine.engine][0] for engine in engines]),
        set_fitted_meter=_numbers([fitted[engine.engine][1] for engine in engines]))


def _event_table(store: Store, place: dict[str, int], where: dict[str, list[str]],
                 as_of: date, fitted: Mapping[Fitting, int]) -> EventTable:
    """Events; teardowns as openings and oil changes; and the times at which shells went in."""
    rows: list[tuple[int, str, date | None, float | None, float | None, float | None, str]] = []
    for entry in store.find(Event, where):
        event = entry.record
        text = " ".join(filter(None, (event.car, event.oil_product, event.note)))
        rows.append((place[event.engine], event.event, event.date, event.meter, event.litres,
                     event.new_meter, text))
    for opening in store.find(Teardown, where):
        teardown = opening.record
        row = place[teardown.engine]
        rows.append((row, "teardown", teardown.teardown_date, teardown.meter, None, None,
                     teardown.reason))
        if teardown.oil_changed:
            rows.append((row, "oil_change", teardown.teardown_date, teardown.meter,
                         teardown.refill_l, None, teardown.refill_product))
    rows = [row for row in rows if row[2] is None or row[2] <= as_of]
    # Last, and in the order in which the shell table counts them.
    rows += [(place[name], "shells_fitted", on, meter, None, None, f"{count} halves")
             for (name, on, meter), count in fitted.items()]
    columns = list(zip(*rows, strict=True)) if rows else [()] * 7
    return EventTable(np.array(columns[0], dtype=np.int64), _text(columns[1]), _dates(columns[2]),
                      _numbers(columns[3]), _numbers(columns[4]), _numbers(columns[5]),
                      _text(columns[6]))


def _shell_table(place: dict[str, int], engines: Sequence[Engine], families: dict[str, Family],
                 halves: Sequence[Halves], settings: Settings, order: Mapping[Fitting, int]
                 ) -> ShellTable:
    family_of = {engine.engine: families.get(engine.family, Family(engine.family))
                 for engine in engines}
    areas = {family.family: _area(family, settings) for family in family_of.values()}
    sizes = [len(entry.places) for entry in halves]
    places = [one for entry in halves for one in entry.places]

    def each(values: NDArray[Any]) -> NDArray[Any]:
        return np.repeat(values, sizes)

    own = [family_of[entry.engine] for entry in halves]
    return ShellTable(
        engine=each(np.array([place[entry.engine] for entry in halves], dtype=np.int64)),
        number=np.array([number for number, _ in places], dtype=np.int64),
        half=_text([half for _, half in places]),
        material=each(_text([entry.material for entry in halves])),
        fitting=each(np.array([order[entry.fitting] if entry.fitting else -1
                               for entry in halves], dtype=np.int64)),
        area_mm2=each(np.array([areas[family.family] for family in own], dtype=float)),
        overlay_um=each(_numbers([family.overlay_um for family in own])))


def _area(family: Family, settings: Settings) -> float:
    if family.pin_mm is None or family.shell_width_mm is None:
        return float("nan")
    return float(loaded_area(family.pin_mm, family.shell_width_mm,
                             arc_deg=settings.loaded_arc_deg))


def _fresh_oil(store: Store) -> FreshOil:
    """Mean of the stored new-oil samples of each product; below a limit counts as not known."""
    values: dict[str, list[NDArray[np.float64]]] = {}
    for entry in store.all(NewOil):
        row = np.full(len(PANEL), np.nan)
        for symbol, reading in entry.record.readings.items():
            if reading.qualifier == Qualifier.EXACT and reading.value is not None:
                row[PANEL_INDEX[symbol]] = reading.value
        values.setdefault(entry.record.oil_product, []).append(row)
    table = np.full((len(values), len(PANEL)), np.nan)
    for place, rows in enumerate(values.values()):
        stacked = np.array(rows)
        known = np.isfinite(stacked)
        with np.errstate(invalid="ignore"):
            table[place] = np.where(known, stacked, 0.0).sum(axis=0) / known.sum(axis=0)
    grades = {entry.record.oil_product: entry.record.grade for entry in store.all(OilProduct)
              if entry.record.grade}
    return FreshOil(tuple(values), table, grades)
