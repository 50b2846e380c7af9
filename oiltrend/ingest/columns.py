"""Every column of every kind of file, once: the reader and the templates use the same table."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from oiltrend.errors import ValueRefused
from oiltrend.ingest.model import KINDS
from oiltrend.nomenclature import MEASURANDS, QUANTITIES
from oiltrend.records import (
    DAMAGE_FLAGS,
    EVENT_KINDS,
    FILTER_FINDINGS,
    LEVELS_AT_SAMPLING,
    LIMIT_QUANTITIES,
    OPENING_REASONS,
)

__all__ = ["LONG_COLUMNS", "METHOD_SUFFIX", "Column", "columns_of", "template_headings"]

ColumnType = Literal["text", "id", "number", "count", "meter", "date", "yes_no", "choice",
                     "reading", "measurand", "bearing"]
METHOD_SUFFIX = " method"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of one kind of file.

    Parameters
    ----------
    name : str [-]
        Heading in our own files.
    type : str [-]
        How a cell is read. ``meter`` is a number in the unit that the engine counts in,
        ``measurand`` the name of one, ``bearing`` a rod number or ``main`` with a number.
    meaning : str [-]
        One line for people.
    unit : str [-]
        Unit of the cells when the heading does not say.
    inside : str [-]
        Unit in which the number is kept.
    low, high : float [-]
        Plausible range, in the unit inside.
    allowed : tuple of str [-]
        Words a choice may have.
    required : bool [-]
        Whether a file of this kind must have it, and each row must fill it.
    later : bool [-]
        Whether a date may lie in the future.
    """

    name: str
    type: ColumnType
    meaning: str
    unit: str = "-"
    inside: str = "-"
    low: float = -math.inf
    high: float = math.inf
    allowed: tuple[str, ...] = ()
    required: bool = False
    later: bool = False


def _quantity(name: str, meaning: str = "", *, quantity: str = "", unit: str = "") -> Column:
    known = QUANTITIES[quantity or name]
    return Column(name, "number", meaning or known.meaning, unit or known.unit, known.unit,
                  known.low, known.high)


def _choice(name: str, meaning: str, allowed: tuple[str, ...], *,
            required: bool = False) -> Column:
    words = tuple(word for word in allowed if word)
    return Column(name, "choice", meaning, allowed=words, required=required)


def _id(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, "id", meaning, required=required)


def _text(name: str, meaning: str) -> Column:
    return Column(name, "text", meaning)


def _yes_no(name: str, meaning: str) -> Column:
    return Column(name, "yes_no", meaning, allowed=("yes", "no"))


_METERS = (
    _quantity("odometer_km", "meter reading, for engines counted in km or miles"),
    _quantity("odometer_mi", "the same reading where the meter shows miles",
              quantity="odometer_km", unit="mi"),
    _quantity("hours", "running-hour meter, for engines counted in hours"),
)
_ENGINE = _id("engine", "our name of the engine", required=True)
_NOTE = _text("note", "anything worth remembering")
_FILTER = _choice("filter_finding", "what the opened oil filter showed", FILTER_FINDINGS)
_REFILL = (_quantity("refill_l"), _id("refill_product", "the oil that went in"))
_READINGS = tuple(Column(m.symbol, "reading", m.name, m.unit, m.unit, m.low, m.high)
                  for m in MEASURANDS)
_METHODS = tuple(_text(f"{m.symbol}{METHOD_SUFFIX}", f"test method of {m.name} in this row")
                 for m in MEASURANDS)

LONG_COLUMNS = (
    Column("measurand", "measurand", "what was measured, one reading a row"),
    Column("value", "text", "the reading, as in a column of its own"),
    _text("unit", "unit of the reading; blank: the measurand's own"),
)
_SAMPLE_FACTS = (
    _ENGINE,
    Column("sample_date", "date", "day the sample was drawn"),
    *_METERS,
    _quantity("oil_distance_km"),
    _quantity("oil_distance_mi", "the same in miles", quantity="oil_distance_km", unit="mi"),
    _quantity("oil_hours"),
    _yes_no("oil_changed", "whether the oil was drained at this sample"),
    _quantity("top_up_l"),
    _choice("level_at_sampling", "oil level when the sample was drawn", LEVELS_AT_SAMPLING),
    _quantity("refill_l"),
    _id("oil_product", "the oil that was sampled"),
    _REFILL[1],
    _id("lab", "laboratory"),
    _text("method", "test method of all readings of the row that name none of their own"),
    _id("sample_id", "the laboratory's number of the sample"),
    _NOTE,
    _FILTER,
    _quantity("hot_oil_pressure_bar"),
    _yes_no("noise", "whether the engine knocked"),
    _yes_no("glitter", "whether the drained oil glittered"),
)

_EVENTS = (
    _ENGINE,
    _choice("event", "what happened", EVENT_KINDS, required=True),
    Column("date", "date", "day it happened"),
    *_METERS,
    _quantity("litres"),
    _id("oil_product", "the oil that went in"),
    _id("car", "car the engine was fitted to or removed from"),
    Column("new_meter", "meter", "what the new instrument shows, or the engine's own distance "
           "when fitted; in the unit the engine counts in", low=0,
           high=QUANTITIES["odometer_km"].high),
    _NOTE,
)
_TEARDOWNS = (
    _ENGINE,
    Column("teardown_date", "date", "day the engine was opened", required=True),
    *_METERS,
    Column("rod", "bearing", "rod number, or main with a number (main 3)"),
    Column("main", "count", "main bearing number, where rod is left blank", low=1, high=25),
    _choice("half", "upper half (rod) or lower half (cap)", ("rod", "cap"), required=True),
    _choice("reason", "why the engine was opened", OPENING_REASONS),
    _yes_no("oil_verdict_seen", "whether the oil verdict was known before the bench"),
    _choice("wear_stage", "wear stage of the half", ("0", "1", "2", "3", "4", "5",
                                                   "not_scorable")),
    _choice("failed", "failure flag beside the stage", DAMAGE_FLAGS),
    _quantity("layer_pct"), _quantity("back_pct"), _quantity("wall_crown_mm"),
    _quantity("wall_end_mm"), _quantity("wall_new_mm"),
    _quantity("clearance_mm", "clearance of the rod; its two halves may not differ"),
    _quantity("journal_mm"),
    _choice("journal_surface", "surface of the crankpin", ("polished", "marked", "scored")),
    _text("damage", "damage terms, separated by ;"),
    _id("material", "material of the half as found"),
    _choice("action", "what was done with the half", ("refitted", "replaced")),
    _id("new_material", "material of the half that went in"),
    _quantity("new_clearance_mm"),
    _yes_no("oil_changed", "whether the oil was drained"),
    *_REFILL,
    _FILTER,
    _NOTE,
)
_ENGINES = (
    _ENGINE,
    _id("family", "engine family", required=True),
    _id("car", "car it sits in, by job number"),
    _text("built", "when or by whom it was built"),
    _id("owner", "owner of the car"),
    _choice("meter_unit", "how its use is counted; blank: km", ("km", "mi", "h")),
    _quantity("oil_fill_l"),
    _id("shell_material", "material of the shells fitted now"),
    Column("set_fitted_meter", "meter", "meter reading when they went in, in the engine's unit",
           low=0, high=QUANTITIES["odometer_km"].high),
    _NOTE,
)
_FAMILIES = (
    _id("family", "engine family", required=True),
    Column("rods", "count", "number of connecting rods", low=1, high=24),
    _text("crankpins", "rods that share a crankpin, for instance 1+5;2+6;3+7;4+8"),
    _quantity("pin_mm"), _quantity("shell_width_mm"),
    Column("mains", "count", "number of main bearings", low=1, high=25),
    _quantity("main_pin_mm"), _quantity("main_width_mm"),
    _text("main_overlay", "overlay of the main shells"),
    _text("main_lining", "lining of the main shells"),
    _quantity("oil_fill_l"), _quantity("residue_fraction"), _quantity("density_kg_l"),
    _text("overlay", "overlay of the rod shells"), _quantity("overlay_um"),
    _text("lining", "lining of the rod shells"),
    _choice("layer_structure", "layers of the shells", ("trimetal", "bimetal", "polymer")),
    _quantity("clearance_min_mm"), _quantity("clearance_max_mm"),
    _NOTE,
)
_NEW_OIL = (
    _id("oil_product", "name of the oil", required=True),
    _id("batch", "batch of the oil"),
    _id("lab", "laboratory"),
    _text("method", "test method of all readings of the row"),
    Column("sample_date", "date", "day the sample was drawn"),
    *_READINGS,
)
_LIMITS = (
    _id("family", "engine family, * for every family", required=True),
    Column("measurand", "measurand", "what is limited", required=True),
    _choice("quantity", "level: the reading; per_1000: reading per 1000 km or h; wear_rate: mg "
            "per 1000 km or h", LIMIT_QUANTITIES, required=True),
    _choice("level", "what is called when the limit is passed", ("alert", "alarm"),
            required=True),
    _choice("operator", "how the value is compared with the limit", (">", ">=", "<", "<="),
            required=True),
    Column("value", "number", "the limit, in the measurand's unit", required=True),
    _text("source", "where the number comes from"),
    Column("valid_from", "date", "first day it holds", required=True, later=True),
)
_WIDE: dict[str, tuple[Column, ...]] = {
    "samples": (*_SAMPLE_FACTS, *_READINGS, *_METHODS),
    "events": _EVENTS, "teardowns": _TEARDOWNS, "engines": _ENGINES, "families": _FAMILIES,
    "new-oil": _NEW_OIL, "limits": _LIMITS,
}


def columns_of(kind: str, *, layout: str = "wide") -> tuple[Column, ...]:
    """List the columns of one kind of file.

    Parameters
    ----------
    kind : str [-]
        samples, events, teardowns, engines, families, new-oil or limits.
    layout : str [-]
        wide, or for samples long (one reading a row).

    Returns
    -------
    tuple of Column [-]
        In the order of the template.

    Raises
    ------
    ValueRefused
        When there is no such kind.

    Examples
    --------
    >>> [column.name for column in columns_of("limits")][:3]
    ['family', 'measurand', 'quantity']
    >>> [column.name for column in columns_of("samples", layout="long")][-3:]
    ['measurand', 'value', 'unit']
    """
    if kind not in KINDS:
        raise ValueRefused(f"kind: must be one of {', '.join(KINDS)}, found '{kind}'",
                           hint="say which kind of file it is")
    if kind == "samples" and layout == "long":
        return (*_SAMPLE_FACTS, *LONG_COLUMNS)
    return _WIDE[kind]


def template_headings(kind: str) -> tuple[str, ...]:
    """List the headings of an empty file of one kind.

    Parameters
    ----------
    kind : str [-]
        See :func:`columns_of`.

    Returns
    -------
    tuple of str [-]
        Every column but the methods of single measurands, which few files need.

    Examples
    --------
    >>> template_headings("limits")
    ('family', 'measurand', 'quantity', 'level', 'operator', 'value', 'source', 'valid_from')
    """
    return tuple(column.name for column in columns_of(kind)
                 if not column.name.endswith(METHOD_SUFFIX))
