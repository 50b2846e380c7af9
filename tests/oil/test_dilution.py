"""Fuel from viscosity: a published chart lies inside, and the range holds what it claims."""

import math
from dataclasses import replace

import numpy as np
import pytest
from chemicals import MW, CAS_from_any
from chemicals import viscosity as liquids
from chemicals import volume as volumes
from chemicals.dippr import EQ101, EQ105
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.oil.blending import BLENDING, blend_viscosity
from oiltrend.oil.dilution import (
    ASSUMED,
    DilutionState,
    Viscosities,
    fuel_dilution,
)

NOTHING_ELSE = replace(ASSUMED, shear_loss=(0.0, 0.0), thickening=(0.0, 0.0))


def oil(kv40=math.nan, kv100=math.nan, u40=0.0, u100=0.0):
    return Viscosities(*(np.atleast_1d(np.asarray(x, dtype=float))
                         for x in np.broadcast_arrays(kv40, kv100, u40, u100)))


def state_of(found):
    return DilutionState(int(found.state[0])).name


def test_published_chart_lies_inside():
    # A viscometer maker's chart for diesel fuel of 3.0 mm²/s at 40 °C: new 160, used 137 reads
    # 3 % (looked up). Densities of diesel fuel and of a heavy oil: assumed.
    diesel = replace(NOTHING_ELSE, fuel_40=(3.0, 3.0), fuel_density=0.84, oil_density=0.89)
    rules_alone = fuel_dilution(oil(137.0), oil(160.0), assumed=diesel)
    assert rules_alone.low < 3.0 < rules_alone.high
    assert rules_alone.high - rules_alone.low < 2.0  # a range that could fail
    everything = fuel_dilution(
        oil(137.0, u40=1.0), oil(160.0, u40=1.2),
        assumed=replace(diesel, shear_loss=(0.0, 0.08), thickening=(0.0, 0.05)))
    assert everything.low < 3.0 < everything.high


# The library reads its tables with an argument that the newest pandas calls outdated.
@pytest.mark.filterwarnings("ignore:The 'float_precision' argument")
def test_the_assumed_fuel_lies_between_octane_and_nonane():
    """DIPPR correlations of viscosity and density, as the library chemicals 1.5.2 has them."""
    for kelvin, assumed in ((313.15, ASSUMED.fuel_40), (373.15, ASSUMED.fuel_100)):
        for name, edge in zip(("octane", "nonane"), assumed, strict=True):
            cas = CAS_from_any(name)
            thick = liquids.mu_data_Perrys_8E_2_313.loc[cas]
            dense = volumes.rho_data_Perry_8E_105_l.loc[cas]
            viscosity = EQ101(kelvin, *thick[["C1", "C2", "C3", "C4", "C5"]])
            density = EQ105(kelvin, *dense[["C1", "C2", "C3", "C4"]]) * MW(cas) / 1000.0
            assert viscosity / density * 1e6 == pytest.approx(edge, rel=0.06)


@pytest.mark.parametrize("rule", BLENDING)
@given(share=st.floats(0.0, 15.0), kv=st.tuples(st.floats(40.0, 200.0), st.floats(6.0, 25.0)),
       fuel=st.tuples(st.floats(0.6, 0.8), st.floats(0.37, 0.48)),
       shear=st.floats(0.0, 0.08), thick=st.floats(0.0, 0.05),
       error=st.tuples(*[st.floats(-2.0, 2.0)] * 4))
def test_the_range_holds_every_oil_made_by_its_own_assumptions(rule, share, kv, fuel, shear,
                                                               thick, error):
    fresh = [v * (1.0 + 0.002 * e) for v, e in zip(kv, error[:2], strict=True)]
    used = []
    for new, thin, e in zip(kv, fuel, error[2:], strict=True):
        changed = new * (1.0 - shear + thick)
        mixed = float(blend_viscosity(share, changed, thin, rule=rule,
                                      fuel_density=0.75, oil_density=0.85))
        used.append(mixed * (1.0 + 0.002 * e))
    found = fuel_dilution(
        oil(used[0], used[1], 0.00205 * used[0], 0.00205 * used[1]),
        oil(fresh[0], fresh[1], 0.00205 * fresh[0], 0.00205 * fresh[1]))
    assert state_of(found) in ("SHOWN", "NOT_SHOWN")
    # 0.05: the standard's inverse is good to 0.03 % of the viscosity.
    assert float(found.low[0]) - 0.05 <= share <= float(found.high[0]) + 0.05


viscosity = st.floats(0.3, 300.0) | st.just(math.nan)


@given(*[viscosity] * 4, st.floats(0.0, 3.0) | st.just(math.nan))
def test_low_value_high_stand_in_order_and_never_below_zero(a, b, c, d, u):
    found = fuel_dilution(oil(a, b, u, u), oil(c, d, u, u))
    if int(found.state[0]) > 0:
        assert 0.0 <= found.low[0] <= found.value[0] <= found.high[0]
    else:
        assert np.isnan([found.low[0], found.value[0], found.high[0]]).all()


@given(st.floats(40.0, 200.0), st.tuples(st.floats(0.3, 1.0), st.floats(0.3, 1.0)))
def test_thinner_oil_reads_more_fuel(new, factors):
    less, more = sorted(factors, reverse=True)
    found = fuel_dilution(oil([new * less, new * more], u40=0.3), oil([new, new], u40=0.3))
    for part in (found.low, found.value, found.high):
        assert part[1] >= part[0]


@pytest.mark.parametrize(("used", "fresh", "state"), [
    (oil(60.0), oil(90.0), "SHOWN"),
    (oil(60.0, 10.0), oil(90.0, 14.0), "SHOWN"),
    (oil(88.0), oil(90.0), "NOT_SHOWN"),  # shear explains it
    (oil(90.0, 14.0), oil(90.0, 14.0), "NOT_SHOWN"),  # 5 % thickening may hide a little
    (oil(120.0, 18.0), oil(90.0, 14.0), "THICKER"),
    (oil(60.0, 14.5), oil(90.0, 14.0), "DISAGREE"),
    (oil(0.7), oil(90.0), "IMPOSSIBLE"),
    (oil(60.0), oil(0.5), "IMPOSSIBLE"),
    (oil(), oil(90.0), "NOT_KNOWN"),
    (oil(60.0), oil(), "NOT_KNOWN"),
    (oil(60.0), oil(kv100=14.0), "NOT_KNOWN"),
    (oil(60.0, u40=math.nan), oil(90.0), "NOT_KNOWN"),  # not taken as exact
])
def test_every_state(used, fresh, state):
    assert state_of(fuel_dilution(used, fresh)) == state


def test_disagreement_covers_both_temperatures():
    cold = fuel_dilution(oil(60.0), oil(90.0))
    both = fuel_dilution(oil(60.0, 14.5), oil(90.0, 14.0))
    assert both.high == cold.high
    assert float(both.low[0]) == 0.0


def test_each_doubt_widens_the_range():
    used, fresh = oil(70.0), oil(90.0)
    alone = fuel_dilution(used, fresh, assumed=NOTHING_ELSE)
    for wider in (replace(NOTHING_ELSE, shear_loss=(0.0, 0.08)),
                  replace(NOTHING_ELSE, thickening=(0.0, 0.05)),
                  replace(NOTHING_ELSE, fuel_40=(0.4, 1.5))):
        found = fuel_dilution(used, fresh, assumed=wider)
        assert (found.high - found.low) > (alone.high - alone.low)
    unsure = fuel_dilution(oil(70.0, u40=1.0), fresh, assumed=NOTHING_ELSE)
    assert (unsure.high - unsure.low) > (alone.high - alone.low)


def test_the_whole_array_equals_one_at_a_time():
    used = oil([60.0, 88.0, 120.0, math.nan, 60.0], [10.0, math.nan, 18.0, 11.0, 14.5], 0.3, 0.05)
    fresh = oil([90.0] * 5, [14.0] * 5, 0.3, 0.05)
    together = fuel_dilution(used, fresh)
    for i in range(5):
        alone = fuel_dilution(*(Viscosities(x.kv40[i:i + 1], x.kv100[i:i + 1], x.u40[i:i + 1],
                                            x.u100[i:i + 1]) for x in (used, fresh)))
        for name in ("value", "low", "high", "state"):
            assert np.array_equal(getattr(together, name)[i], getattr(alone, name)[0],
                                  equal_nan=True)

