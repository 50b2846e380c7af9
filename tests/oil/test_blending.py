"""Blending rules: a published number of Refutas, pure ends, and the way back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.oil.blending import (
    BLENDING,
    blend_viscosity,
    mixed_share,
    refutas_index,
    refutas_viscosity,
    walther_index,
    walther_viscosity,
)

DENSITIES = {"fuel_density": 0.75, "oil_density": 0.85}
rules = pytest.mark.parametrize("rule", BLENDING)


def test_published_refutas_number():
    # Public pages print 12.492 for 2.234 mm²/s; the formula they print gives 12.490.
    assert float(refutas_index(2.234)) == pytest.approx(12.492, abs=0.01)


@rules
@given(share=st.floats(0.0, 99.0), oil=st.floats(5.0, 400.0), fuel=st.floats(0.3, 3.0))
def test_a_blend_lies_between_and_is_read_back(rule, share, oil, fuel):
    mixed = float(blend_viscosity(share, oil, fuel, rule=rule, **DENSITIES))
    assert fuel * (1 - 3e-4) <= mixed <= oil * (1 + 3e-4)
    back = float(mixed_share(mixed, oil, fuel, rule=rule, **DENSITIES))
    assert back == pytest.approx(share, abs=0.05)


@rules
@given(shares=st.tuples(st.floats(0.0, 100.0), st.floats(0.0, 100.0)),
       oil=st.floats(5.0, 400.0), fuel=st.floats(0.3, 3.0))
def test_more_fuel_is_thinner(rule, shares, oil, fuel):
    little, much = sorted(shares)
    first, second = blend_viscosity([little, much], oil, fuel, rule=rule, **DENSITIES)
    assert second <= first * (1 + 3e-4)


@rules
@given(oil=st.floats(20.0, 200.0), factor=st.floats(0.3, 0.95), fuel=st.floats(0.4, 2.0),
       step=st.floats(1.01, 1.3))
def test_what_the_ends_of_the_range_rest_on(rule, oil, factor, fuel, step):
    """The share rises with the oil's viscosity and the fuel's, and falls with the blend's."""
    used = oil * factor
    share = float(mixed_share(used, oil, fuel, rule=rule, **DENSITIES))
    assert float(mixed_share(used, oil * step, fuel, rule=rule, **DENSITIES)) >= share
    assert float(mixed_share(used, oil, fuel * step, rule=rule, **DENSITIES)) >= share
    assert float(mixed_share(used * step, oil, fuel, rule=rule, **DENSITIES)) <= share


@rules
def test_pure_oil_and_pure_fuel(rule):
    both = blend_viscosity([0.0, 100.0], 90.0, 0.7, rule=rule, **DENSITIES)
    assert both == pytest.approx([90.0, 0.7], rel=3e-4)
    assert float(mixed_share(90.0, 90.0, 0.7, rule=rule, **DENSITIES)) == pytest.approx(0.0)


@rules
def test_outside_what_can_be(rule):
    assert np.isnan(blend_viscosity([-0.1, 100.1, math.nan], 90.0, 0.7, rule=rule,
                                    **DENSITIES)).all()
    found = mixed_share([0.6, 90.0, math.nan, 90.0], [90.0, 0.5, 90.0, math.nan], 0.7, rule=rule,
                        **DENSITIES)
    assert np.isnan(found).all()
    assert float(mixed_share(100.0, 90.0, 0.7, rule=rule, **DENSITIES)) < 0.0


def test_volume_and_mass_are_told_apart():
    # 10 % of volume at densities 0.75 and 0.85 is 0.075/(0.075 + 0.765) of mass.
    w = 0.1 * walther_index(0.7) + 0.9 * walther_index(90.0)
    share = mixed_share(walther_viscosity(w), 90.0, 0.7, rule="d7152", **DENSITIES)
    assert float(share) == pytest.approx(100 * 0.075 / 0.84, rel=1e-3)


def test_blends_that_are_too_thick_or_too_thin_have_no_number():
    assert np.isnan(refutas_index([0.2, math.inf, math.nan])).all()
    assert np.isnan(refutas_viscosity([1000.0, math.nan])).all()
    assert np.isnan(walther_viscosity([5.0, math.nan])).all()


def test_an_unknown_rule_is_refused_in_full_words():
    wanted = ("rule: must be a known blending rule, found 'guess'; "
              "use one of d7152, refutas, logarithmic")
    with pytest.raises(ValueRefused) as refused:
        blend_viscosity(1.0, 90.0, 0.7, rule="guess", **DENSITIES)
    assert str(refused.value) == wanted
    with pytest.raises(ValueRefused) as refused:
        mixed_share(80.0, 90.0, 0.7, rule="guess", **DENSITIES)
    assert str(refused.value) == wanted
