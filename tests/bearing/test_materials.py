"""Layer table: compositions, densities, equivalents.

Outside numbers, typed from what is named: SAE J460 of October 1991, table 1 (SAE 12 = ISO
SnSb8Cu4: Sb 7 to 8, Cu 3 to 4 %), looked up; two suppliers' alloy tables, looked up (SAE 792
and 797: Pb 9 to 11, Sn 9 to 11; SAE 799 = CuPb24Sn4: Pb 21 to 27, Sn 3.0 to 4.5; SAE 794: Pb 23
to 27, Sn 2 to 4; SAE 49: Pb 21 to 27; SAE 783 = AlSn20Cu: Sn 17.5 to 22.5, Cu 0.7 to 1.3).
10.6894 kg/L for PbSn10Cu2 is derived, arithmetic.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.bearing.materials import (
    ELEMENT_DENSITY,
    LAYERS,
    ShellMaterial,
    density_deviation,
    distinct_layers,
    mixture_density,
)
from oiltrend.bearing.stages import LAYER_STRUCTURES
from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import WEAR_METALS

METALLIC = [layer for layer in LAYERS.values() if layer.shares]


@pytest.mark.parametrize("layer", METALLIC, ids=lambda layer: layer.designation)
class TestEveryLayer:
    def test_shares_sum_to_one(self, layer):
        assert sum(layer.shares.values()) == pytest.approx(1.0, abs=1e-12)

    def test_nominal_lies_in_its_range(self, layer):
        for symbol, (low, high) in layer.ranges.items():
            assert 0.0 <= low <= layer.shares[symbol] <= high <= 1.0

    def test_the_balance_element_has_no_range_and_is_the_largest(self, layer):
        balance = max(layer.shares, key=layer.shares.__getitem__)
        assert balance not in layer.ranges

    def test_density_follows_the_rule_of_mixtures(self, layer):
        assert abs(density_deviation(layer)) < 0.005

    def test_says_where_it_comes_from(self, layer):
        assert layer.source
        assert layer.confidence in ("high", "medium", "low")
        low, usual, high = layer.thickness_um
        assert 0.0 < low <= usual <= high


def test_a_wrong_density_would_be_noticed():
    layer = LAYERS["CuPb24Sn"]
    assert abs(density_deviation(replace(layer, density=layer.density * 1.01))) > 0.005


# Equivalents and the ranges their sources give, in per cent.
EQUIVALENTS = [
    ("SAE 12", "SnSb8Cu4", {"Sb": (7.0, 8.0), "Cu": (3.0, 4.0)}),
    ("SAE 792", "CuPb10Sn10", {"Pb": (9.0, 11.0), "Sn": (9.0, 11.0)}),
    ("SAE 797", "CuPb10Sn10", {"Pb": (9.0, 11.0), "Sn": (9.0, 11.0)}),
    ("SAE 799", "CuPb24Sn4", {"Pb": (21.0, 27.0), "Sn": (3.0, 4.5)}),
    ("SAE 794", "CuPb24Sn4", {"Pb": (23.0, 27.0), "Sn": (2.0, 4.0)}),
    ("SAE 49", "CuPb24Sn", {"Pb": (21.0, 27.0)}),
    ("SAE 783", "AlSn20Cu", {"Sn": (17.5, 22.5), "Cu": (0.7, 1.3)}),
]


@pytest.mark.parametrize(("other", "designation", "ranges"), EQUIVALENTS)
def test_equivalents_hold_the_nominal_composition(other, designation, ranges):
    layer = LAYERS[designation]
    assert other in layer.equivalents
    for symbol, (low, high) in ranges.items():
        assert low <= 100 * layer.shares[symbol] <= high


def test_a_supplier_puts_more_tin_into_sae_49():
    # The disagreement is stated in the table rather than smoothed away.
    assert 100 * LAYERS["CuPb24Sn"].shares["Sn"] < 1.75
    assert "1.75 to 2.75 %" in LAYERS["CuPb24Sn"].source


def test_density_of_the_plated_overlay():
    shares = LAYERS["PbSn10Cu2"].shares
    assert mixture_density(shares) == pytest.approx(10.6894, abs=5e-5)


@pytest.mark.parametrize("symbol", sorted(ELEMENT_DENSITY))
def test_a_pure_element_has_its_own_density(symbol):
    assert mixture_density({symbol: 1.0}) == pytest.approx(ELEMENT_DENSITY[symbol])


@given(st.floats(0.0, 1.0), st.sampled_from(sorted(ELEMENT_DENSITY)),
       st.sampled_from(sorted(ELEMENT_DENSITY)))
def test_a_mixture_lies_between_its_elements(share, first, second):
    shares = {first: 1.0} if first == second else {first: share, second: 1.0 - share}
    ends = sorted((ELEMENT_DENSITY[first], ELEMENT_DENSITY[second]))
    assert ends[0] - 1e-12 <= mixture_density(shares) <= ends[1] + 1e-12


def test_shares_that_do_not_sum_to_one_are_refused():
    with pytest.raises(ValueRefused, match=r"^shares: must sum to 1, found 0\.9; give mass "
                                           r"shares of all elements$"):
        mixture_density({"Pb": 0.9})


def test_an_element_without_density_is_refused():
    with pytest.raises(ValueRefused, match=r"^shares: must be of elements with a density, found "
                                           r"'Xx'; use one of Ag, Al, Bi, Cu, Fe, In, Ni, Pb, "
                                           r"Sb, Si, Sn, Zn$"):
        mixture_density({"Xx": 1.0})


def test_a_coating_without_metal_has_no_mixture():
    assert LAYERS["polymer"].shares == {}
    with pytest.raises(ValueRefused, match=r"^polymer: must hold metal to have a density by the "
                                           r"rule of mixtures, found none; use the tabulated "
                                           r"density$"):
        density_deviation(LAYERS["polymer"])


def test_what_marks_each_layer_can_be_measured():
    # Zinc is an additive and says nothing of wear; every other main element has a column.
    for layer in METALLIC:
        assert set(layer.shares) - {"Zn", "Si"} <= set(WEAR_METALS)


class TestDistinctLayers:
    def test_one_material_in_all_places_is_one_source(self):
        shell = ShellMaterial("PbSn10Cu2", "CuPb24Sn", "trimetal")
        found = distinct_layers([shell] * 16)
        assert [(layer.designation, layer.role) for layer in found] == [
            ("PbSn10Cu2", "overlay"), ("CuPb24Sn", "lining")]
        assert all(layer.places == tuple(range(16)) for layer in found)

    def test_halves_of_different_material_are_kept_apart(self):
        rod = ShellMaterial("AlSn20", "CuPb24Sn4", "trimetal")
        cap = ShellMaterial(None, "AlSn20Cu", "bimetal")
        found = distinct_layers([rod, cap, None, cap])
        assert [(layer.designation, layer.places) for layer in found] == [
            ("AlSn20", (0,)), ("CuPb24Sn4", (0,)), ("AlSn20Cu", (1, 3))]

    def test_nothing_known_is_no_layer(self):
        assert distinct_layers([None, None]) == ()


def test_structures_are_those_of_the_stages():
    assert {"trimetal", "bimetal", "polymer"} == set(LAYER_STRUCTURES)


def test_nickel_of_a_barrier():
    # Derived, arithmetic: 1.5 µm over one half of 48 x 20 mm (1508 mm²) is 20.2 mg of nickel.
    barrier = LAYERS["Ni barrier"]
    assert barrier.thickness_um[1] == 1.5
    mass = 1507.964 * 1.5e-3 * barrier.density
    np.testing.assert_allclose(mass, 20.2, atol=0.06)
