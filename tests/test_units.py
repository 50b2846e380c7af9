"""Units: every conversion against an independent registry, every spelling, every refusal."""

from __future__ import annotations

import itertools
import math
import re

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.units import UNITS, convert, known_unit, parse_unit

# Our symbol and what pint calls it; pint 0.25 is the oracle (its factors are its own).
PINT = {
    "km": "kilometer", "mi": "mile", "m": "meter", "mm": "millimeter", "µm": "micrometer",
    "in": "inch", "mm²": "millimeter**2", "L": "liter", "mL": "milliliter", "qt": "quart",
    "kg": "kilogram", "mg": "milligram", "kg/L": "kilogram/liter", "bar": "bar", "psi": "psi",
    "kPa": "kilopascal", "°C": "degC", "°F": "degF", "d": "day", "h": "hour",
    "mg/kg": "milligram/kilogram", "%": "percent", "mm²/s": "millimeter**2/second",
    "mPa·s": "millipascal*second", "deg": "degree", "mg KOH/g": "milligram/gram",
}
PAIRS = [(a, b) for a, b in itertools.permutations(PINT, 2)
         if UNITS[a].dimension == UNITS[b].dimension]
SAME_KIND = [(a, b) for a, b in itertools.product(UNITS, repeat=2)
             if UNITS[a].dimension == UNITS[b].dimension]
# Time of calendar and running time of an engine are kept apart on purpose, and so are
# lengths of metal and distances on the road: no file may turn one into the other.


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize(("found", "wanted"), PAIRS)
def test_conversions_agree_with_pint(
        registry: pint.UnitRegistry, found: str, wanted: str) -> None:
    expected = registry.Quantity(37.5, PINT[found]).to(PINT[wanted]).magnitude
    assert convert(37.5, found, wanted) == pytest.approx(expected, rel=2e-9)


def test_absorbance_per_tenth_of_a_millimetre() -> None:
    # 1 cm is 100 × 0.1 mm, and absorbance grows in proportion to the path.
    assert convert(0.12, "Abs/0.1 mm", "Abs/cm") == pytest.approx(12.0)


@given(value=st.floats(-1e6, 1e6), pair=st.sampled_from(SAME_KIND))
def test_there_and_back(value: float, pair: tuple[str, str]) -> None:
    there, back = pair
    again = convert(convert(value, there, back), back, there)
    assert math.isclose(again, value, rel_tol=1e-9, abs_tol=1e-6)


@given(value=st.floats(allow_nan=True, allow_infinity=True), unit=st.sampled_from(sorted(UNITS)))
def test_a_unit_into_itself_changes_nothing(value: float, unit: str) -> None:
    same = convert(value, unit, unit)
    assert same == value or (math.isnan(same) and math.isnan(value))


@pytest.mark.parametrize("unit", UNITS.values(), ids=lambda unit: unit.symbol)
def test_every_spelling_leads_to_one_unit(unit: object) -> None:
    symbol, spellings = unit.symbol, unit.spellings  # type: ignore[attr-defined]
    for text in (symbol, *spellings):
        for written in (text, text.upper(), f"  {text} ", text.replace("µ", "μ")):
            if written.strip():
                assert parse_unit(written) == symbol, written


@pytest.mark.parametrize("text", ["mg/L", "mg/l", "furlong", "ppb", "g/kg", "kilometre per hour"])
def test_what_is_not_listed_is_not_guessed(text: str) -> None:
    assert parse_unit(text) is None
    assert not known_unit(text)


def test_an_unknown_unit_is_refused_in_full_words() -> None:
    text = ("unit: must be a known unit, found 'mg/L'; use one of " + ", ".join(UNITS))
    with pytest.raises(ValueRefused, match=f"^{re.escape(text)}$"):
        convert(1.0, "mg/L", "mg/kg")


def test_two_kinds_are_refused_in_full_words() -> None:
    text = ("unit: km measures distance, mm measures length; "
            "give the value in a unit of the same kind")
    with pytest.raises(ValueRefused, match=f"^{re.escape(text)}$"):
        convert(1.0, "km", "mm")


def test_a_base_unit_of_each_dimension_exists() -> None:
    for dimension in {unit.dimension for unit in UNITS.values()}:
        assert [u for u in UNITS.values()
                if u.dimension == dimension and u.scale == 1.0 and u.offset == 0.0], dimension
