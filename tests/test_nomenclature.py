"""Nomenclature: complete, in a fixed order, with units that exist and precisions that can be."""

from __future__ import annotations

import re

import pytest

from oiltrend.nomenclature import (
    MEASURANDS,
    PANEL,
    PANEL_INDEX,
    QUANTITIES,
    WEAR_METALS,
    Measurand,
    measurands_of,
)
from oiltrend.units import known_unit

# The measurands that a lab file may carry, as promised to users.
PROMISED = {
    "mg/kg": "Fe Cu Pb Sn Al Cr Ni Ag Ti V Mn Sb Bi In Si Na K B Mg Ca Ba P Zn Mo S",
    "mm²/s": "KV40 KV100", "mPa·s": "HTHS", "mg KOH/g": "base_number acid_number",
    "%": "fuel_pct water_pct soot_pct glycol_pct", "Abs/cm": "oxidation nitration sulfation",
}


def test_pinned_order_of_the_stored_panel() -> None:
    # Stored readings are packed in this order; a new measurand goes to the end.
    assert PANEL[:37] == tuple(" ".join(PROMISED.values()).split())


@pytest.mark.parametrize(("unit", "symbols"), PROMISED.items())
def test_promised_measurands_have_their_unit(unit: str, symbols: str) -> None:
    found = {m.symbol: m.unit for m in MEASURANDS}
    assert {symbol: found[symbol] for symbol in symbols.split()} == dict.fromkeys(
        symbols.split(), unit)


def test_names_are_given_once() -> None:
    names = [*PANEL, *QUANTITIES]
    assert len(set(names)) == len(names)
    assert len({name.casefold() for name in names}) == len(names)
    assert len({m.name for m in MEASURANDS}) == len(MEASURANDS)
    assert {symbol: PANEL[index] for symbol, index in PANEL_INDEX.items()} == {
        symbol: symbol for symbol in PANEL}


@pytest.mark.parametrize("measurand", MEASURANDS, ids=lambda m: m.symbol)
def test_a_measurand_is_sound(measurand: Measurand) -> None:
    assert known_unit(measurand.unit)
    assert measurand.low < measurand.high
    assert measurand.name
    assert measurand.methods
    assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", measurand.symbol)


@pytest.mark.parametrize("measurand", [m for m in MEASURANDS if m.precision],
                         ids=lambda m: m.symbol)
def test_two_laboratories_never_agree_better_than_one(measurand: Measurand) -> None:
    # ISO 4259: reproducibility covers all that repeatability covers, and more.
    p = measurand.precision
    assert p is not None
    assert p.source
    for value in (p.low, (p.low * p.high) ** 0.5, p.high):
        small = p.repeatability_factor * value**p.repeatability_power
        large = p.reproducibility_factor * value**p.reproducibility_power
        assert 0 < small < large


@pytest.mark.parametrize("name", QUANTITIES)
def test_a_quantity_is_sound(name: str) -> None:
    quantity = QUANTITIES[name]
    assert quantity.name == name
    assert known_unit(quantity.unit)
    assert quantity.low < quantity.high
    assert quantity.meaning


def test_kinds_share_out_the_panel() -> None:
    kinds = [measurands_of(kind) for kind in ("wear", "additive", "contaminant", "condition")]
    assert sorted(symbol for kind in kinds for symbol in kind) == sorted(PANEL)
    assert WEAR_METALS == kinds[0]
