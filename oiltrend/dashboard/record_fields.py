"""The workshop's records as forms: the fields of each, and what was typed made into a record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import dash_mantine_components as dmc

from oiltrend.dashboard.books import family_names
from oiltrend.dashboard.context import decimal_sign
from oiltrend.dashboard.inputs import short_text
from oiltrend.dashboard.typed import typed_number
from oiltrend.errors import ValueRefused
from oiltrend.figures.table import show
from oiltrend.records import Car, Engine, Family, Lab, OilProduct

__all__ = ["FIELD", "KINDS", "Field", "RecordKind", "record_form", "typed_record"]

FIELD = "book-field"


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a record.

    Parameters
    ----------
    name, label : str [-]
        House name, and what stands above the field.
    number : bool [-]
        A number; otherwise text.
    choices : callable or None [-]
        Gives value and label of what may be chosen.
    whole : bool [-]
        A number without decimals.
    """

    name: str
    label: str
    number: bool = False
    choices: Callable[[], list[tuple[str, str]]] | None = None
    whole: bool = False


@dataclass(frozen=True, slots=True)
class RecordKind:
    """A kind of record: its class, its key, its words and its fields."""

    record: type[Any]
    key: str
    one: str
    many: str
    fields: tuple[Field, ...]
    empty: dict[str, Any]


def _families() -> list[tuple[str, str]]:
    return [(name, name) for name in family_names()]


def _pairs(*pairs: tuple[str, str]) -> Callable[[], list[tuple[str, str]]]:
    return lambda: list(pairs)


KINDS: dict[str, RecordKind] = {
    "engine": RecordKind(Engine, "engine", "engine", "Engines", (
        Field("engine", "Engine"), Field("family", "Family", choices=_families),
        Field("meter_unit", "Counted in", choices=_pairs(
            ("km", "kilometres"), ("mi", "miles"), ("h", "running hours"))),
        Field("car", "Car"), Field("built", "Built"),
        Field("oil_fill_l", "Oil fill, if unlike the family's [L]", number=True),
        Field("shell_material", "Shells"),
        Field("set_fitted_meter", "Shells fitted at [km or h]", number=True),
        Field("note", "Note")), {"engine": "", "family": ""}),
    "family": RecordKind(Family, "family", "engine family", "Engine families", (
        Field("family", "Family"), Field("rods", "Rods", number=True, whole=True),
        Field("crankpins", "Rods on each crankpin, such as 1+5;2+6"),
        Field("pin_mm", "Crankpin [mm]", number=True),
        Field("shell_width_mm", "Shell width [mm]", number=True),
        Field("mains", "Main bearings", number=True, whole=True),
        Field("main_pin_mm", "Main journal [mm]", number=True),
        Field("main_width_mm", "Main shell width [mm]", number=True),
        Field("oil_fill_l", "Oil in circulation [L]", number=True),
        Field("residue_fraction", "Share that stays at a drain [-]", number=True),
        Field("density_kg_l", "Oil density [kg/L]", number=True),
        Field("layer_structure", "Layers of the rod shells", choices=_pairs(
            ("trimetal", "three layers"), ("bimetal", "two layers"),
            ("polymer", "polymer coat"))),
        Field("overlay", "Overlay"), Field("overlay_um", "Overlay [µm]", number=True),
        Field("lining", "Lining"), Field("main_overlay", "Overlay of the mains"),
        Field("main_lining", "Lining of the mains"),
        Field("clearance_min_mm", "Least clearance, maker's [mm]", number=True),
        Field("clearance_max_mm", "Largest clearance, maker's [mm]", number=True),
        Field("note", "Note")), {"family": ""}),
    "car": RecordKind(Car, "car", "car", "Cars", (
        Field("car", "Job number"), Field("note", "Note")), {"car": ""}),
    "lab": RecordKind(Lab, "lab", "laboratory", "Laboratories", (
        Field("lab", "Laboratory"), Field("date_order", "Writes dates", choices=_pairs(
            ("ymd", "year, month, day"), ("dmy", "day, month, year"),
            ("mdy", "month, day, year"))),
        Field("decimal", "Writes decimals", choices=_pairs(
            ("point", "with a point"), ("comma", "with a comma"))),
        Field("method", "Test method of the elements"), Field("note", "Note")), {"lab": ""}),
    "oil": RecordKind(OilProduct, "oil_product", "oil", "Oils", (
        Field("oil_product", "Product"), Field("grade", "SAE grade, such as 10W-60"),
        Field("note", "Note")), {"oil_product": ""}),
}


def record_form(kind: RecordKind, record: Any | None) -> list[Any]:
    """Lay out the fields of a record.

    Parameters
    ----------
    kind : RecordKind [-]
        The kind.
    record : record or None [-]
        What stands in the fields; None for a new one.

    Returns
    -------
    list of component [-]
        The fields.
    """
    return [_field(field, getattr(record, field.name, None)) for field in kind.fields]


def _field(field: Field, value: Any) -> Any:
    ident = {"type": FIELD, "name": field.name}
    if field.choices is not None:
        pairs = field.choices()
        return dmc.Select(id=ident, label=field.label, value=value or None, clearable=True,
                          placeholder="not said", searchable=len(pairs) > 8,
                          data=[{"value": v, "label": label} for v, label in pairs])
    if field.number:
        text = "" if value is None else show(float(value), decimal=decimal_sign())
        return dmc.TextInput(id=ident, label=field.label, value=text,
                             inputProps={"inputMode": "decimal"})
    return dmc.TextInput(id=ident, label=field.label, value=value or "")


def typed_record(kind: RecordKind, typed: Mapping[str, object], before: Any | None) -> Any:
    """Make a record of what was typed.

    Parameters
    ----------
    kind : RecordKind [-]
        The kind.
    typed : mapping of str to object [-]
        Field to its content, as received.
    before : record or None [-]
        The record that is changed; what the form does not show stays.

    Returns
    -------
    record [-]
        The new record.

    Raises
    ------
    ValueRefused
        When a field cannot be read, or a value breaks its rule.
    """
    values: dict[str, Any] = {}
    for field in kind.fields:
        text = short_text(typed.get(field.name), most=1000)
        values[field.name] = _number(field, text) if field.number else text
    if "family" in values and kind.key == "engine" and not values["family"]:
        raise ValueRefused("family: an engine must belong to a family, found none",
                           hint="choose one, or make the family first")
    if kind.key == "engine":
        values["meter_unit"] = values["meter_unit"] or "km"
    return replace(before if before is not None else kind.record(**kind.empty), **values)


def _number(field: Field, text: str) -> float | int | None:
    value = typed_number(text, where=field.label, decimal=decimal_sign())
    if value is None or not field.whole:
        return value
    if value != int(value):
        raise ValueRefused(f"{field.label}: must be a whole number, found '{text}'",
                           hint="count them")
    return int(value)
