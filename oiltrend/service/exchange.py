"""Everything out again: files in our own layouts, which read back, and one JSON document."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from oiltrend.errors import StoreRefused
from oiltrend.ingest import KINDS, columns_of, protect, template_headings
from oiltrend.nomenclature import PANEL
from oiltrend.records import (
    FILTER_FINDINGS,
    LEVELS_AT_SAMPLING,
    Action,
    Caller,
    Car,
    Engine,
    EngineStay,
    Event,
    Family,
    Lab,
    Mapping,
    NewOil,
    OilProduct,
    Ownership,
    Qualifier,
    Reading,
    SampleTable,
    ShellFinding,
    Teardown,
)
from oiltrend.service.access import require
from oiltrend.store import FleetSamples, Store

__all__ = ["export_csv", "export_json", "rows_of_kind"]

Row = dict[str, str]
_MARKS = {Qualifier.EXACT: "", Qualifier.BELOW: "<", Qualifier.ABOVE: ">"}
_YES_NO = {1: "yes", 0: "no"}


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, bool):
        return _YES_NO[int(value)]
    if isinstance(value, date):
        return value.isoformat()
    return repr(float(value)).removesuffix(".0") if isinstance(value, float) else str(value)


def _reading_text(value: float | None, qualifier: int) -> str:
    if qualifier == Qualifier.MISSING:
        return ""
    if value is None or np.isnan(value):
        return "ND"
    return _MARKS[Qualifier(qualifier)] + _text(float(value))


def _meter(unit: str, value: float | None) -> Row:
    return {"hours" if unit == "h" else "odometer_km": _text(value)}


def _sample_row(table: SampleTable, row: int) -> Row:
    hours = table.meter_unit[row] == 1
    day = table.sample_date[row]
    found = {
        "engine": table.engine[row], "sample_date": "" if np.isnat(day) else str(day),
        **_meter("h" if hours else "km", float(table.meter[row])),
        "oil_hours" if hours else "oil_distance_km": _text(float(table.oil_distance[row])),
        "level_at_sampling": LEVELS_AT_SAMPLING[table.level_at_sampling[row]],
        "filter_finding": FILTER_FINDINGS[table.filter_finding[row]]}
    for name in ("top_up_l", "refill_l", "hot_oil_pressure_bar"):
        found[name] = _text(float(getattr(table, name)[row]))
    for name in ("oil_product", "refill_product", "lab", "method", "sample_id", "note"):
        found[name] = getattr(table, name)[row]
    for name in ("oil_changed", "noise", "glitter"):
        found[name] = _YES_NO.get(int(getattr(table, name)[row]), "")
    for place, symbol in enumerate(PANEL):
        found[symbol] = _reading_text(table.value[row, place], table.qualifier[row, place])
    for symbol, method in (json.loads(table.methods[row]) if table.methods[row] else {}).items():
        found[f"{symbol} method"] = method
    return found


def _plain(record: object) -> Row:
    return {name: _text(value) for name, value in asdict(record).items()  # type: ignore[call-overload]
            if not isinstance(value, dict | tuple | list)}


def _event_row(event: Event, unit: str) -> Row:
    return {**_plain(event), **_meter(unit, event.meter)}


def _teardown_rows(teardown: Teardown, unit: str) -> Iterator[Row]:
    head = {**_plain(teardown), **_meter(unit, teardown.meter)}
    for finding in teardown.findings:
        yield {**head, **_finding_row(finding), "note": finding.note or teardown.note}


def _finding_row(finding: ShellFinding) -> Row:
    place = f"main {finding.number}" if finding.kind == "main" else str(finding.number)
    stage = "not_scorable" if finding.not_scorable else _text(finding.wear_stage)
    return {**_plain(finding), "rod": place, "wear_stage": stage,
            "damage": ";".join(finding.damage)}


def _new_oil_row(oil: NewOil) -> Row:
    return {**_plain(oil), **{symbol: _reading_text(reading.value, reading.qualifier)
                              for symbol, reading in oil.readings.items()}}


def rows_of_kind(store: Store, kind: str) -> Iterable[Row]:
    """Give what is stored of a kind as rows of our own layout.

    Parameters
    ----------
    store : Store [-]
        The store.
    kind : str [-]
        samples, events, teardowns, engines, families, new-oil or limits.

    Returns
    -------
    iterable of dict [-]
        Column to text. Awaited samples have no result and are not among the samples.
    """
    units = {entry.record.engine: entry.record.meter_unit for entry in store.all(Engine)}

    def samples() -> Iterator[Row]:
        table = store.fleet().table
        return (_sample_row(table, int(row)) for row in np.flatnonzero(~table.awaited))

    makers: dict[str, Callable[[], Iterable[Row]]] = {
        "samples": samples,
        "events": lambda: (_event_row(e.record, units[e.record.engine])
                           for e in store.all(Event)),
        "teardowns": lambda: (row for t in store.all(Teardown)
                              for row in _teardown_rows(t.record, units[t.record.engine])),
        "engines": lambda: (_plain(e.record) for e in store.all(Engine)),
        "families": lambda: (_plain(f.record) for f in store.all(Family)),
        "new-oil": lambda: (_new_oil_row(n.record) for n in store.all(NewOil)),
        "limits": lambda: (_plain(limit) for limit in store.limits()),
    }
    return makers[kind]()


def export_csv(store: Store, caller: Caller, folder: Path) -> dict[str, int]:
    """Write one file for each kind, in our own layouts, with a dictionary of the columns.

    Text that a spreadsheet would run as a formula is marked with ``'``; our importer takes the
    mark away again. Numbers are never marked.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who exports.
    folder : Path [-]
        A new or empty folder.

    Returns
    -------
    dict [-]
        Kind to number of rows.

    Raises
    ------
    StoreRefused
        When the folder is not empty.
    """
    require(caller, "export")
    if folder.exists() and any(folder.iterdir()):
        raise StoreRefused(f"folder: must be new or empty, found files in {folder}",
                           hint="choose another folder")
    folder.mkdir(parents=True, exist_ok=True)
    counts = {}
    for kind in KINDS:
        rows = list(rows_of_kind(store, kind))
        used = {name for row in rows for name, text in row.items() if text}
        required = {column.name for column in columns_of(kind) if column.required}
        headings = [name for name in template_headings(kind) if name in used | required]
        headings += [column.name for column in columns_of(kind)
                     if column.name in used and column.name not in headings]
        _write(folder / f"{kind}.csv", headings, rows)
        counts[kind] = len(rows)
    _write(folder / "columns.csv", ["kind", "column", "unit", "meaning"], [
        {"kind": kind, "column": column.name, "unit": column.unit, "meaning": column.meaning}
        for kind in KINDS for column in columns_of(kind)])
    return counts


_TEXT_TYPES = ("text", "id", "choice", "bearing")


def _write(path: Path, headings: list[str], rows: Iterable[Row]) -> None:
    texts = {column.name for kind in KINDS for column in columns_of(kind)
             if column.type in _TEXT_TYPES} - {"operator"} | {"meaning"}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(headings)
        for row in rows:
            writer.writerow([protect(text) if name in texts else text
                             for name in headings for text in (row.get(name, ""),)])


def export_json(store: Store, caller: Caller) -> dict[str, Any]:
    """Give everything that is stored as one document, with raw texts and nothing left out.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who exports.

    Returns
    -------
    dict [-]
        Records by kind; samples with value, qualifier and text as received; limits by version.
    """
    require(caller, "export")
    kinds: dict[str, type[Any]] = {
        "families": Family, "cars": Car, "owners": Ownership, "engines": Engine,
        "stays": EngineStay, "labs": Lab, "oil_products": OilProduct, "new_oil": NewOil,
        "mappings": Mapping, "events": Event, "teardowns": Teardown, "actions": Action}
    document: dict[str, Any] = {name: [_jsonable(entry.record) for entry in store.all(kind)]
                                for name, kind in kinds.items()}
    document["shells"] = [{"engine": shell.engine, **_jsonable(shell.slot),
                           "current": shell.current} for shell in store.shells()]
    document["limits"] = [
        {"version": version.id, "made_at": version.made_at.isoformat(), "by": version.made_by,
         "note": version.note, "state": version.state,
         "limits": [_jsonable(limit) for limit in store.limits(version=version.id)]}
        for version in store.limit_versions()]
    document["samples"] = _samples_document(store.fleet())
    return document


def _jsonable(record: Any) -> dict[str, Any]:
    def plain(value: Any) -> Any:
        if isinstance(value, date):
            return value.isoformat()
        if isinstance(value, dict):
            return {name: plain(entry) for name, entry in value.items()}
        if isinstance(value, tuple | list):
            return [plain(entry) for entry in value]
        if isinstance(value, Reading):
            return {"value": value.value, "qualifier": value.qualifier.name, "raw": value.raw}
        return int(value) if isinstance(value, Qualifier) else value

    found: dict[str, Any] = plain(asdict(record))
    return found


def _samples_document(fleet: FleetSamples) -> list[dict[str, Any]]:
    table = fleet.table
    names = [name for name in SampleTable.__dataclass_fields__
             if name not in ("value", "qualifier", "raw", "methods")]
    found = []
    for row in range(len(table)):
        entry = {name: _cell(getattr(table, name)[row]) for name in names}
        raw = json.loads(table.raw[row]) if table.raw[row] else {}
        entry["id"] = int(fleet.sample[row])
        entry["doubt_answer"] = fleet.doubt_answer[row]
        entry["methods"] = json.loads(table.methods[row]) if table.methods[row] else {}
        entry["readings"] = {
            symbol: {"value": _cell(table.value[row, place]),
                     "qualifier": Qualifier(int(table.qualifier[row, place])).name,
                     "raw": raw.get(symbol, "")}
            for place, symbol in enumerate(PANEL) if table.qualifier[row, place]}
        found.append(entry)
    return found


def _cell(value: Any) -> Any:
    if isinstance(value, np.datetime64):
        return None if np.isnat(value) else str(value)
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and np.isnan(value) else value
