"""Small invented files that can be imported: one per layout, and what belongs to them.

They come from a second workshop whose engines carry numbers above 100, so that they can be
read into an empty store as well as beside the demo. The folder ``sample_reports`` holds them
as written here; a test proves it.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import fields
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from oiltrend.demo.families import unit_number
from oiltrend.demo.laboratory import report_texts
from oiltrend.demo.workshop import Workshop, simulate
from oiltrend.nomenclature import PANEL
from oiltrend.records import (
    FILTER_FINDINGS,
    LEVELS_AT_SAMPLING,
    Engine,
    Event,
    Family,
    Mapping,
    NewOil,
    ShellFinding,
    Teardown,
)
from oiltrend.units import convert

__all__ = ["LAB_A_MAPPING", "LAB_B_HEADINGS", "SAMPLE_ENGINES", "lab_b_mapping",
           "sample_reports", "write_sample_reports"]

# The workshop behind the files, the last two years of it, and who stands in which file:
# picked for the stories they tell.
_SEED = 19
_TODAY = date(2026, 10, 1)
_SINCE = _TODAY - timedelta(days=730)
_RENUMBERED = 100
_CHOSEN: dict[str, tuple[str, ...]] = {
    "own_wide.csv": ("V8-007", "V8-014", "I6-004", "F4-004"),
    "own_long.csv": ("V8-003", "V8-016", "V8-029", "I6-009"),
    "lab_a_german.csv": ("V8-001", "V8-019", "V8-021", "I6-008", "F4-002", "F4-007"),
    "lab_b_miles.csv": ("V8-018", "V8-020", "V8-022", "I6-001", "I6-003"),
}

# Lab A: German headings, semicolons, decimal commas. Headings are plain words of the trade.
_LAB_A_HEADINGS: dict[str, str] = {
    "sample_id": "Labornummer", "engine": "Motor", "sample_date": "Probendatum",
    "odometer_km": "Kilometerstand", "oil_distance_km": "Öllaufleistung [km]",
    "oil_changed": "Ölwechsel", "top_up_l": "Nachfüllmenge [L]", "oil_product": "Ölsorte",
    "method": "Prüfverfahren", "Fe": "Eisen", "Cu": "Kupfer", "Pb": "Blei", "Sn": "Zinn",
    "Al": "Aluminium", "Cr": "Chrom", "Ni": "Nickel", "Ag": "Silber", "Si": "Silizium",
    "Na": "Natrium", "K": "Kalium", "B": "Bor", "Mg": "Magnesium", "Ca": "Calcium",
    "P": "Phosphor", "Zn": "Zink", "Mo": "Molybdän", "KV100": "Viskosität 100 °C [mm²/s]",
    "base_number": "Basenzahl", "fuel_pct": "Kraftstoff [%]", "water_pct": "Wasser [%]",
    "oxidation": "Oxidation [A/cm]", "nitration": "Nitration [A/cm]",
}
LAB_A_MAPPING = Mapping("Lab A", columns={}, engines={}, units={}, lab="Lab A", date_order="dmy",
                        decimal="comma", meter="km")

# Lab B: miles, US quarts, its own unit number for the engine, and eight headings that no
# table of names knows, so that they are asked.
LAB_B_HEADINGS: dict[str, str] = {
    "engine": "Rig", "sample_id": "Ticket", "sample_date": "Pulled", "odometer_mi": "Clock (mi)",
    "oil_distance_mi": "Lube miles", "oil_changed": "Dumped", "top_up_l": "Makeup (qt)",
    "oil_product": "Lubricant", "Fe": "Iron", "Cu": "Copper", "Pb": "Lead", "Sn": "Tin",
    "Al": "Alum", "Cr": "Chrome", "Ni": "Nickel", "In": "Indium", "Mn": "Manganese",
    "Ti": "Titanium", "Si": "Silicon", "Na": "Sodium", "K": "Potassium", "B": "Boron",
    "Mg": "Magnesium", "Ca": "Calcium", "P": "Phosphorus", "Zn": "Zinc", "Mo": "Moly",
    "S": "Sulfur", "KV40": "Visc @40C cSt", "KV100": "Visc @100C cSt", "base_number": "TBN",
    "acid_number": "TAN", "fuel_pct": "Fuel %", "glycol_pct": "Antifreeze %",
}
_LAB_B_UNITS = {"Makeup (qt)": "qt", "Clock (mi)": "mi"}
_OWN_FACTS = ("engine", "sample_date", "odometer_km", "hours", "oil_distance_km", "oil_hours",
              "oil_changed", "top_up_l", "level_at_sampling", "refill_l", "oil_product",
              "refill_product", "lab", "method", "sample_id", "note", "filter_finding",
              "hot_oil_pressure_bar", "noise", "glitter")

# Which measurands the long file carries: a small bench-top test, to keep it short.
_LONG_MEASURANDS = ("Fe", "Cu", "Pb")
_LONG_FACTS = ("engine", "sample_date", "odometer_km", "oil_distance_km", "oil_changed",
               "top_up_l", "oil_product", "lab", "method", "sample_id")


def lab_b_mapping(engines: Sequence[str]) -> Mapping:
    """Give the remembered way to read Lab B's files, as someone confirmed it once.

    Parameters
    ----------
    engines : sequence of str [-]
        Our engines, whose unit numbers Lab B uses.

    Returns
    -------
    Mapping [-]
        Headings, units and unit numbers.

    Examples
    --------
    >>> lab_b_mapping(["V8-101"]).engines
    {'U80101': 'V8-101'}
    """
    return Mapping("Lab B", columns={heading: house for house, heading in LAB_B_HEADINGS.items()},
                   engines={unit_number(engine): engine for engine in engines},
                   units=dict(_LAB_B_UNITS), lab="Lab B", date_order="mdy", decimal="point",
                   meter="mi")


def write_sample_reports(folder: Path) -> tuple[Path, ...]:
    """Write the sample files into a folder, over whatever is there.

    Parameters
    ----------
    folder : Path [-]
        An existing folder.

    Returns
    -------
    tuple of Path [-]
        The files written.
    """
    written = []
    for name, text in sample_reports().items():
        path = folder / name
        path.write_bytes(text.encode("utf-8"))
        written.append(path)
    return tuple(written)


def sample_reports() -> dict[str, str]:
    """Make the text of every sample file.

    Returns
    -------
    dict of str to str [-]
        File name to content.
    """
    works = simulate(today=_TODAY, seed=_SEED)
    rows = {name: _sample_rows(works, engines) for name, engines in _CHOSEN.items()}
    chosen = {engine for engines in _CHOSEN.values() for engine in engines}
    return {
        "families.csv": _text(_records(works.families, Family)),
        "engines.csv": _text(_records((e for e in works.engines if e.engine in chosen), Engine)),
        "new_oil.csv": _text(_new_oils(works.new_oils)),
        "own_wide.csv": _text(_filled(rows["own_wide.csv"], (*_OWN_FACTS, *PANEL))),
        "own_long.csv": _text(_long(rows["own_long.csv"])),
        "lab_a_german.csv": _lab_a(rows["lab_a_german.csv"]),
        "lab_b_miles.csv": _lab_b(rows["lab_b_miles.csv"]),
        "events.csv": _text(_events(
            (e for e in works.events if e.engine in chosen), _in_hours(works))),
        "teardowns.csv": _text(_teardowns(
            (t for t in works.teardowns if t.engine in chosen), _in_hours(works))),
    }


def _renumbered(engine: str) -> str:
    family, _, number = engine.partition("-")
    return f"{family}-{int(number) + _RENUMBERED:03d}"


SAMPLE_ENGINES: tuple[str, ...] = tuple(
    _renumbered(engine) for engines in _CHOSEN.values() for engine in engines)


def _car(car: str) -> str:
    return f"J-{int(car.partition('-')[2]) + _RENUMBERED}" if car else ""


def _text(rows: Sequence[dict[str, str]], *, delimiter: str = ",") -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), delimiter=delimiter, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def _cell(value: Any) -> str:
    """Write one value of a record: blank for unknown, yes and no, plain numbers."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ";".join(value)
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _filled(rows: Sequence[dict[str, str]], order: Iterable[str]) -> list[dict[str, str]]:
    """Keep the columns in which at least one row says something, in the order given."""
    kept = [name for name in order if any(row.get(name) for row in rows)]
    return [{name: row.get(name, "") for name in kept} for row in rows]


def _records(records: Iterable[Any], kind: type) -> list[dict[str, str]]:
    """Write records whose fields are the columns of their file."""
    rows = [{f.name: _cell(getattr(record, f.name)) for f in fields(kind)} for record in records]
    for row in rows:
        if "engine" in row:
            row["engine"], row["car"] = _renumbered(row["engine"]), _car(row["car"])
    return _filled(rows, [f.name for f in fields(kind)])


def _sample_rows(works: Workshop, engines: Sequence[str]) -> list[dict[str, str]]:
    """Write the samples of the last two years under house names, results as reported."""
    table = works.samples
    recent = (table.sample_date >= np.datetime64(_SINCE)) & ~table.awaited
    table = table.take(np.isin(table.engine.astype(str), engines) & recent)
    results, rows = report_texts(table), []
    # A loop over the few rows of a small file.
    for row in range(len(table)):
        hours = table.meter_unit[row] == 1
        meter, used = float(table.meter[row]), float(table.oil_distance[row])
        rows.append({
            "engine": _renumbered(str(table.engine[row])),
            "sample_date": str(table.sample_date[row]),
            "odometer_km": "" if hours else _cell(meter), "hours": _cell(meter) if hours else "",
            "oil_distance_km": "" if hours else _cell(used),
            "oil_hours": _cell(used) if hours else "",
            "oil_changed": _cell(bool(table.oil_changed[row] == 1)),
            "top_up_l": _number(table.top_up_l[row]),
            "level_at_sampling": LEVELS_AT_SAMPLING[table.level_at_sampling[row]],
            "refill_l": _number(table.refill_l[row]),
            "filter_finding": FILTER_FINDINGS[table.filter_finding[row]],
            "hot_oil_pressure_bar": _number(table.hot_oil_pressure_bar[row]),
            "noise": _known(int(table.noise[row])), "glitter": _known(int(table.glitter[row])),
            **{name: str(getattr(table, name)[row]) for name in (
                "oil_product", "refill_product", "lab", "method", "sample_id", "note")},
            **json.loads(results[row])})
    return rows


def _number(value: float) -> str:
    return "" if np.isnan(value) else _cell(float(value))


def _known(code: int) -> str:
    return {1: "yes", 0: "no"}.get(code, "")


def _long(rows: Sequence[dict[str, str]]) -> list[dict[str, str]]:
    """Turn one row a sample into one row a reading."""
    return [{**{name: row[name] for name in _LONG_FACTS}, "measurand": symbol,
             "value": row[symbol], "unit": "mg/kg"}
            for row in rows for symbol in _LONG_MEASURANDS]


def _lab_a(rows: Sequence[dict[str, str]]) -> str:
    """Write as Lab A does: its headings, dates 31.12.2025, decimal commas, semicolons."""
    words = {"yes": "ja", "no": "nein"}
    written = []
    for row in rows:
        year, month, day = row["sample_date"].split("-")
        cells = {**row, "sample_date": f"{day}.{month}.{year}",
                 "oil_changed": words[row["oil_changed"]]}
        written.append({
            heading: cells.get(name, "") if name in _PLAIN_TEXT
            else cells.get(name, "").replace(".", ",")
            for name, heading in _LAB_A_HEADINGS.items()})
    return _text(written, delimiter=";")


_PLAIN_TEXT = ("sample_id", "engine", "sample_date", "oil_changed", "oil_product", "method")


def _lab_b(rows: Sequence[dict[str, str]]) -> str:
    """Write as Lab B does: its headings, dates 12/31/2025, miles, quarts, unit numbers."""
    written = []
    for row in rows:
        year, month, day = row["sample_date"].split("-")
        cells = {**row, "engine": unit_number(row["engine"]),
                 "sample_date": f"{month}/{day}/{year}",
                 "odometer_mi": _miles(row["odometer_km"]),
                 "oil_distance_mi": _miles(row["oil_distance_km"]),
                 "oil_changed": row["oil_changed"][0].upper(),
                 "top_up_l": _quarts(row["top_up_l"])}
        written.append({heading: cells.get(name, "") for name, heading in LAB_B_HEADINGS.items()})
    return _text(written)


def _miles(km: str) -> str:
    return f"{convert(float(km), 'km', 'mi'):.0f}"


def _quarts(litres: str) -> str:
    return f"{convert(float(litres), 'L', 'qt'):.2f}" if litres else ""


def _new_oils(oils: Iterable[NewOil]) -> list[dict[str, str]]:
    rows = [{"oil_product": oil.oil_product, "batch": oil.batch, "lab": oil.lab,
             "method": oil.method, "sample_date": _cell(oil.sample_date),
             **{symbol: reading.raw for symbol, reading in oil.readings.items()}}
            for oil in oils]
    return _filled(rows, ("oil_product", "batch", "lab", "method", "sample_date", *PANEL))


def _in_hours(works: Workshop) -> frozenset[str]:
    return frozenset(e.engine for e in works.engines if e.meter_unit == "h")


def _meter(record: Event | Teardown, in_hours: frozenset[str]) -> dict[str, str]:
    return {"hours" if record.engine in in_hours else "odometer_km": _cell(record.meter)}


def _events(events: Iterable[Event], in_hours: frozenset[str]) -> list[dict[str, str]]:
    rows = [{**_fields(event, Event), "engine": _renumbered(event.engine),
             "car": _car(event.car), **_meter(event, in_hours)}
            for event in events if event.date is not None and event.date >= _SINCE]
    return _filled(rows, ("engine", "event", "date", "odometer_km", "hours", "litres",
                          "oil_product", "car", "new_meter", "note"))


def _fields(record: Any, kind: type) -> dict[str, str]:
    return {f.name: _cell(getattr(record, f.name)) for f in fields(kind)}


def _teardowns(teardowns: Iterable[Teardown], in_hours: frozenset[str]
               ) -> list[dict[str, str]]:
    """Write one row a half; what holds for the whole opening stands in each of its rows."""
    order = ("engine", "teardown_date", "odometer_km", "hours", "rod", "half", "reason",
             "oil_verdict_seen", "wear_stage", "failed", "layer_pct", "wall_crown_mm",
             "wall_end_mm", "wall_new_mm", "clearance_mm", "journal_mm", "journal_surface",
             "damage", "material", "action", "new_material", "new_clearance_mm", "oil_changed",
             "refill_l", "refill_product", "filter_finding", "note")
    rows = []
    for teardown in teardowns:
        if teardown.teardown_date < _SINCE:
            continue
        for finding in teardown.findings:
            row = {**_fields(finding, ShellFinding), **{
                name: _cell(getattr(teardown, name)) for name in (
                    "teardown_date", "reason", "oil_verdict_seen", "oil_changed", "refill_l",
                    "refill_product", "filter_finding", "note")}}
            row |= {"engine": _renumbered(teardown.engine), "rod": str(finding.number),
                    **_meter(teardown, in_hours)}
            if finding.not_scorable:
                row["wear_stage"] = "not_scorable"
            rows.append(row)
    return _filled(rows, order)
