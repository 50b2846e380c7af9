"""Rows of the smaller kinds to records: events, engines, families, new oil and limits."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from oiltrend.errors import ValueRefused
from oiltrend.ingest.cells import Locale
from oiltrend.ingest.engines import RowEngines, find_engines, read_use
from oiltrend.ingest.fields import Fields, read_fields
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.headings import measurand_named
from oiltrend.ingest.items import item_hash, item_key
from oiltrend.ingest.matching import Plan
from oiltrend.ingest.model import Item, Known, ReadOptions
from oiltrend.ingest.repeats import look_up, mark_groups
from oiltrend.ingest.samples import VOLUME_METHOD
from oiltrend.ingest.sheet import Sheet
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import Engine, Event, Family, Limit, NewOil, Qualifier, Reading

__all__ = ["read_register", "row_reader"]

_CRANKPINS = re.compile(r"\d+(?:\+\d+)*(?:;\d+(?:\+\d+)*)*", re.ASCII)


def read_register(sheet: Sheet, plan: Plan, findings: Findings, *, kind: str, locale: Locale,
                  options: ReadOptions, known: Known) -> tuple[Item, ...]:
    """Read a file of events, engines, families, new oil or limits.

    Parameters
    ----------
    sheet : Sheet [-]
        Rows of text.
    plan : Plan [-]
        Which column is which.
    findings : Findings [-]
        Takes rejects, held rows, duplicates and notes.
    kind : str [-]
        Kind of file.
    locale : Locale [-]
        Decimal sign and order of dates.
    options : ReadOptions [-]
        Engine and laboratory of rows that name none.
    known : Known [-]
        What the store holds.

    Returns
    -------
    tuple of records [-]
        The accepted rows.
    """
    fields = read_fields(sheet, plan, findings, locale=locale)
    make = _MAKERS[kind](fields, plan, findings, options, known)
    made: dict[int, Item] = {}
    for row in np.flatnonzero(~findings.bad & ~findings.unknown).tolist():
        try:
            item = make(row)
        except ValueRefused as error:
            findings.row(row, "", error.message, error.hint)
        else:
            made[row] = item
    keys = {row: item_key(item) for row, item in made.items()}
    groups: defaultdict[str, list[int]] = defaultdict(list)
    for row, key in keys.items():
        groups[key].append(row)
    mark_groups(groups, {row: item_hash(item) for row, item in made.items()},
                look_up(known.stored_items, list(groups)), findings, what=kind.rstrip("s"))
    return tuple(item for row, item in made.items() if findings.accepted[row])


def row_reader(fields: Fields) -> Callable[[str, int], Any]:
    """Give single values of a row as records take them: None for what is not known.

    Parameters
    ----------
    fields : Fields [-]
        The columns as read.

    Returns
    -------
    function of a column and a row [-]
        Text, number, date or yes/no of the cell; ``""`` for a text column the file lacks.
    """
    def get(name: str, row: int) -> Any:
        array = fields.values.get(name)
        if array is None:
            return None
        value = array[row]
        if array.dtype.kind == "f":
            return None if np.isnan(value) else float(value)
        if array.dtype.kind == "M":
            return None if np.isnat(value) else value.astype(object)
        if array.dtype.kind == "i":
            return None if value < 0 else bool(value)
        return value
    return get


Maker = Callable[[Fields, Plan, Findings, ReadOptions, Known], Callable[[int], Item]]


def _events(fields: Fields, plan: Plan, findings: Findings, options: ReadOptions,
            known: Known) -> Callable[[int], Item]:
    engines = find_engines(fields, findings, options=options, known=known)
    meter = read_use(fields, findings, plan, engines)
    new_meter = _own_unit(fields, plan, findings, engines, "new_meter")
    get = row_reader(fields)

    def make(row: int) -> Event:
        return Event(engine=str(engines.name[row]), event=get("event", row),
                     date=get("date", row), meter=_known(meter[row]), litres=get("litres", row),
                     oil_product=get("oil_product", row) or "", car=get("car", row) or "",
                     new_meter=_known(new_meter[row]), note=get("note", row) or "")
    return make


def _own_unit(fields: Fields, plan: Plan, findings: Findings, engines: RowEngines,
              name: str) -> Any:
    """Give a reading in the engine's own unit, miles as km."""
    numbers = fields.numbers(name).copy()
    if name not in plan.position:
        return numbers
    given = plan.unit(name)
    wrong = {"h": ~engines.hours, "km": engines.hours, "mi": engines.hours}.get(given)
    if wrong is not None:
        findings.rows(wrong & (engines.unit >= 0) & ~np.isnan(numbers), plan.heading(name),
                      "the reading must be in the unit in which this engine is counted",
                      "correct it, or correct the engine's meter unit")
    miles = engines.unit == 1 if given == "-" else np.full(len(numbers), given == "mi")
    numbers[miles] *= 1.609344  # international mile, exact
    return numbers


def _known(number: float) -> float | None:
    return None if np.isnan(number) else float(number)


def _engines(fields: Fields, plan: Plan, findings: Findings, options: ReadOptions,
             known: Known) -> Callable[[int], Item]:
    get = row_reader(fields)
    units = fields.texts("meter_unit", default="km")
    codes = np.array([("km", "mi", "h").index(u) if u in ("km", "mi", "h") else -1
                      for u in units.tolist()], dtype=np.int8)
    fitted = _own_unit(fields, plan, findings, RowEngines(fields.texts("engine"), codes),
                       "set_fitted_meter")
    _check_family(fields, plan, findings, known.families)

    def make(row: int) -> Engine:
        return Engine(engine=get("engine", row), family=get("family", row),
                      meter_unit=units[row], built=get("built", row) or "",
                      oil_fill_l=get("oil_fill_l", row),
                      shell_material=get("shell_material", row) or "",
                      set_fitted_meter=_known(fitted[row]), car=get("car", row) or "",
                      owner=get("owner", row) or "", note=get("note", row) or "")
    return make


def _check_family(fields: Fields, plan: Plan, findings: Findings,
                  families: frozenset[str]) -> None:
    known = np.array([name in families for name in fields.texts("family").tolist()], dtype=bool)
    findings.rows(~known, plan.heading("family"), "must be an engine family that is known",
                  "import or enter the family first")


def _families(fields: Fields, plan: Plan, findings: Findings, options: ReadOptions,
              known: Known) -> Callable[[int], Item]:
    get = row_reader(fields)
    texts = ("main_overlay", "main_lining", "overlay", "lining", "layer_structure", "note")
    numbers = ("pin_mm", "shell_width_mm", "main_pin_mm", "main_width_mm", "oil_fill_l",
               "residue_fraction", "density_kg_l", "overlay_um", "clearance_min_mm",
               "clearance_max_mm")

    def make(row: int) -> Family:
        rods, mains = get("rods", row), get("mains", row)
        low, high = get("clearance_min_mm", row), get("clearance_max_mm", row)
        if low is not None and high is not None and low > high:
            raise ValueRefused(f"clearance_min_mm: must not be above clearance_max_mm, found {low} "
                               f"and {high}", hint="correct one of the two")
        rest: dict[str, Any] = {**{name: get(name, row) for name in numbers},
                                **{name: get(name, row) or "" for name in texts}}
        return Family(family=get("family", row), rods=None if rods is None else int(rods),
                      mains=None if mains is None else int(mains),
                      crankpins=_crankpins(get("crankpins", row) or "", rods), **rest)
    return make


def _crankpins(text: str, rods: float | None) -> str:
    plain = "".join(text.split())
    if not plain:
        return ""
    if not _CRANKPINS.fullmatch(plain):
        raise ValueRefused(f"crankpins: must be like 1+5;2+6;3+7;4+8, found '{text}'",
                           hint="rods on one crankpin joined by +, crankpins separated by ;")
    numbers = sorted(int(number) for number in re.findall(r"\d+", plain))
    if len(set(numbers)) < len(numbers) or (rods is not None and
                                            numbers != list(range(1, int(rods) + 1))):
        raise ValueRefused(f"crankpins: must name each rod once, found '{text}'",
                           hint="check the rod numbers against the number of rods")
    return plain


def _new_oil(fields: Fields, plan: Plan, findings: Findings, options: ReadOptions,
             known: Known) -> Callable[[int], Item]:
    get = row_reader(fields)
    symbols = [name for name in plan.position if name in PANEL_INDEX]
    volume = [s for s in symbols if plan.unit(s).endswith("(V/V)")]
    lab = options.lab or (options.mapping.lab if options.mapping else "")

    def reading(symbol: str, row: int) -> Reading:
        found, cells = fields.understood[symbol], fields.cells[symbol]
        qualifiers = found.qualifiers
        code = Qualifier.MISSING if qualifiers is None else qualifiers[cells.codes[row]]
        return Reading(get(symbol, row), Qualifier(code), cells.text(row).strip())

    def make(row: int) -> NewOil:
        found = {symbol: reading(symbol, row) for symbol in symbols}
        found = {s: r for s, r in found.items() if r.qualifier != Qualifier.MISSING}
        if not found:
            raise ValueRefused("new oil: a row must have at least one reading, found none",
                               hint="give the results of the fresh oil")
        method = [get("method", row) or options.method]
        method += [f"{s} {VOLUME_METHOD}" for s in volume if s in found]
        return NewOil(oil_product=get("oil_product", row), readings=found,
                      batch=get("batch", row) or "", lab=get("lab", row) or lab,
                      method=", ".join(filter(None, method)), sample_date=get("sample_date", row))
    return make


def _limits(fields: Fields, plan: Plan, findings: Findings, options: ReadOptions,
            known: Known) -> Callable[[int], Item]:
    get = row_reader(fields)
    _check_family(fields, plan, findings, known.families | {"*"})
    cells = fields.cells["measurand"]
    symbols = [measurand_named(text)[0] for text in cells.texts]
    findings.cells(plan.heading("measurand"), cells, {
        code: ("must be a known measurand", "use a symbol such as Pb or KV100")
        for code, symbol in enumerate(symbols) if not symbol})

    def make(row: int) -> Limit:
        return Limit(family=get("family", row), measurand=symbols[int(cells.codes[row])],
                     quantity=get("quantity", row), level=get("level", row),
                     operator=get("operator", row), value=get("value", row),
                     source=get("source", row) or "", valid_from=get("valid_from", row))
    return make


_MAKERS: Mapping[str, Maker] = {
    "events": _events, "engines": _engines, "families": _families, "new-oil": _new_oil,
    "limits": _limits,
}
