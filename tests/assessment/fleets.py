"""Small fleets made by hand, each with one known story, ready to be assessed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from oiltrend.assessment.inputs import EngineTable, EventTable, FleetInput, FreshOil, ShellTable
from oiltrend.assessment.settings import Settings
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import Limit, Qualifier, SampleTable, empty_samples

NAT = np.datetime64("NaT", "D")

# Four oil fills of two mining engines, facts from a data set published with a Brazilian
# maintenance congress paper of 2021: oil hours, iron, copper [mg/kg]; blanks were not given.
# The meter is made by laying the fills end to end; the oil fill of 150 L is assumed.
PUBLISHED_FILLS: dict[str, list[tuple[str, int, list[tuple[int, float, float | None]]]]] = {
    "A": [("A6", 0, [(61, 8, 46), (96, 9, 48), (201, 6, 55), (239, 8, 59), (345, 2, 0),
                     (408, 16, 119), (468, 18, 139)]),
          ("A7", 468, [(88, 7, 35), (159, 9, 39), (241, 10, 30), (362, 11, 26), (445, 14, 28),
                       (524, 16, 31)])],
    "B": [("B6", 0, [(85, 5, 1), (147, 6, 1), (226, 7, 2), (273, 9, 2), (288, 9, 2),
                     (427, 12, 3), (514, 15, 3)]),
          ("B8", 514, [(137, 0, None), (201, 1, None), (280, 8, None), (452, 46, None)])],
}


def rows(entries: Sequence[dict[str, object]]) -> SampleTable:
    """Make samples from dicts: column names, and measurand symbols with a number or "<1"."""
    table = empty_samples(len(entries))
    for row, entry in enumerate(entries):
        for name, value in entry.items():
            if name in PANEL_INDEX:
                place = PANEL_INDEX[name]
                below = isinstance(value, str)
                table.value[row, place] = float(str(value).lstrip("<"))
                table.qualifier[row, place] = Qualifier.BELOW if below else Qualifier.EXACT
            elif name == "sample_date":
                table.sample_date[row] = np.datetime64(str(value))
            else:
                getattr(table, name)[row] = value
    return table


def fleet(entries: Sequence[dict[str, object]], *, family: str = "AQ-V8-40",
          meter_unit: str = "km", oil_fill_l: float = 5.0, limits: Sequence[Limit] = (),
          events: EventTable | None = None, fresh: FreshOil | None = None,
          settings: Settings | None = None, as_of: date = date(2026, 1, 1),
          set_fitted: dict[str, str] | None = None,
          shells: ShellTable | None = None) -> FleetInput:
    """Put a fleet together; entries must be sorted by engine, then date and meter."""
    table = rows(entries)
    names = list(dict.fromkeys(table.engine.tolist()))
    count = len(names)
    fitted = [np.datetime64((set_fitted or {}).get(name, "NaT"), "D") for name in names]

    def text(value: str) -> np.ndarray:
        return np.full(count, value, dtype=object)

    named = np.empty(count, dtype=object)
    named[:] = names
    engines = EngineTable(named, text(family), text(""), text(meter_unit),
                          np.full(count, oil_fill_l), np.full(count, 0.85), np.full(count, 0.10),
                          np.array(fitted, dtype="datetime64[D]"), np.full(count, np.nan))
    return FleetInput(
        engines=engines, samples=table, sample_id=np.arange(1, len(entries) + 1),
        engine_of=np.array([names.index(name) for name in table.engine.tolist()], dtype=np.int64),
        answered=np.full(len(entries), "", dtype=object),
        events=events or no_events(), shells=shells or no_shells(),
        fresh=fresh or FreshOil((), np.zeros((0, len(PANEL))), {}),
        limits=tuple(limits), settings=settings or Settings(), as_of=as_of)


def no_events() -> EventTable:
    """An event table without entries."""
    none = np.zeros(0)
    text = np.zeros(0, dtype=object)
    return EventTable(np.zeros(0, dtype=np.int64), text, np.zeros(0, dtype="datetime64[D]"),
                      none, none, none, text)


def no_shells() -> ShellTable:
    """A shell table without entries."""
    none, text = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=object)
    return ShellTable(none, none, text, text, none, np.zeros(0), np.zeros(0))


def eight_shells(material: str, *, fitting: int = -1, area: float = 1000.0,
                 overlay_um: float = 16.0, rods: int = 4) -> ShellTable:
    """Both halves of four rods of engine 0, all alike."""
    places = [(rod, half) for rod in range(1, rods + 1) for half in ("rod", "cap")]
    text = np.array([half for _, half in places], dtype=object)
    return ShellTable(
        np.zeros(len(places), dtype=np.int64), np.array([rod for rod, _ in places]), text,
        np.full(len(places), material, dtype=object), np.full(len(places), fitting),
        np.full(len(places), area), np.full(len(places), overlay_um))


def one_event(kind: str, *, on: str = "NaT", meter: float = np.nan, litres: float = np.nan,
              new_meter: float = np.nan, engine: int = 0) -> EventTable:
    """An event table with one entry."""
    text = np.array([""], dtype=object)
    kinds = np.array([kind], dtype=object)
    return EventTable(np.array([engine]), kinds, np.array([np.datetime64(on, "D")]),
                      np.array([meter]), np.array([litres]), np.array([new_meter]), text)


def published(*, without_last: bool = False) -> FleetInput:
    """The published fills as a fleet of two engines counted in hours."""
    entries: list[dict[str, object]] = []
    for engine, fills in PUBLISHED_FILLS.items():
        for name, offset, points in fills:
            for place, (hours, iron, copper) in enumerate(points):
                entry: dict[str, object] = {
                    "engine": engine, "sample_id": f"{name}-{hours}", "meter": offset + hours,
                    "meter_unit": 1, "oil_distance": hours, "Fe": iron,
                    "oil_changed": int(place == len(points) - 1)}
                if copper is not None:
                    entry["Cu"] = copper
                entries.append(entry)
    made = fleet(entries[:-1] if without_last else entries, family="mining", meter_unit="h",
                 oil_fill_l=150.0)
    return replace(made, as_of=date(2021, 6, 1))
