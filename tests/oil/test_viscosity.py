"""ASTM D341 against a published worksheet and independent arithmetic.

Published: through (40 °C, 32) and (100 °C, 5.4) with T = t + 273 and Z = ν + 0.7, A 9.5259,
B 3.7449 and 8.5 mm²/s at 80 °C (a public worksheet of the equation, looked up). The other rows
were computed outside this package with the full Z and T = t + 273.15.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.oil.viscosity import (
    TEMPERATURE_RANGE,
    VISCOSITY_RANGE,
    ViscosityState,
    viscosity_at,
    viscosity_from_z,
    walther,
    walther_z,
)

# The worksheet takes 0 °C for 273 K: 0.15 K less is the same line.
SHIFT = 0.15

viscosities = st.floats(VISCOSITY_RANGE[0], 1e5)


@st.composite
def oils(draw):
    kv100 = draw(st.floats(2.0, 40.0))
    return kv100 * draw(st.floats(2.5, 12.0)), kv100


def state_of(found):
    return ViscosityState(int(found.state)).name


def test_the_published_worksheet():
    line = walther(32.0, 5.4, temperatures=(40.0 - SHIFT, 100.0 - SHIFT))
    assert line.intercept == pytest.approx(9.5259, abs=1e-4)
    assert line.slope == pytest.approx(3.7449, abs=1e-4)
    w = line.intercept - line.slope * math.log10(80.0 + 273.0)
    assert viscosity_from_z(10 ** 10 ** w) == pytest.approx(8.53, abs=0.005)  # printed as 8.5
    assert round(float(viscosity_at(80.0, 32.0, 5.4).value), 1) == 8.5


@pytest.mark.parametrize(("kv40", "kv100", "intercept", "slope", "points"), [
    (32.0, 5.4, 9.53082, 3.74658, {80: 8.5332}),
    (73.30, 8.86, 9.45839, 3.68095, {25: 172.84, 50: 45.537, 60: 30.083, 80: 15.180,
                                     98.89: 9.101, 150: 3.442}),
    (90.0, 14.0, 7.65256, 2.94934, {50: 60.152, 80: 22.918, 120: 9.317, 150: 5.691}),
    (100.0, 14.0, 7.98909, 3.08019, {90: 17.886, 120: 9.161, 150: 5.501}),
])
def test_rows_computed_elsewhere(kv40, kv100, intercept, slope, points):
    line = walther(kv40, kv100)
    assert line.intercept == pytest.approx(intercept, abs=2e-5)
    assert line.slope == pytest.approx(slope, abs=1e-5)
    found = viscosity_at(list(points), kv40, kv100)
    assert found.value == pytest.approx(list(points.values()), rel=1e-4)
    assert (found.state == ViscosityState.TWO_POINTS).all()


def test_exponential_terms_matter_only_for_thin_oils():
    assert walther_z(2.5) - 3.2 < 1e-4
    # By hand: 0.21 + 0.7 + exp(−1.47 − 0.3864 − 0.022491).
    assert float(walther_z(0.21)) == pytest.approx(0.91 + math.exp(-1.878891), rel=1e-12)


@given(viscosities)
def test_z_and_its_inverse_meet_within_0_03_percent(nu):
    assert viscosity_from_z(walther_z(nu)) == pytest.approx(nu, rel=3e-4)


@given(st.tuples(viscosities, viscosities))
def test_z_rises_with_viscosity(pair):
    thin, thick = sorted(pair)
    assert walther_z(thin) <= walther_z(thick)


@given(oils())
def test_the_two_measured_points_lie_on_the_line(oil):
    found = viscosity_at([40.0, 100.0], *oil, u40=0.4, u100=0.1)
    assert found.value == pytest.approx(oil, rel=3e-4)
    assert found.u == pytest.approx([0.4, 0.1], rel=1e-2)


@given(oils(), st.tuples(*[st.floats(*TEMPERATURE_RANGE)] * 2))
def test_hotter_oil_is_thinner(oil, temperatures):
    cold, hot = sorted(temperatures)
    first, second = viscosity_at([cold, hot], *oil).value
    assert not first < second


@given(oils(), st.floats(*TEMPERATURE_RANGE))
def test_one_point_with_its_own_slope_gives_what_two_points_give(oil, temperature):
    kv40, kv100 = oil
    slope = walther(kv40, kv100).slope
    both = viscosity_at(temperature, kv40, kv100)
    from40 = viscosity_at(temperature, kv40, np.nan, slope=slope)
    from100 = viscosity_at(temperature, np.nan, kv100, slope=slope)
    if state_of(both) == "TWO_POINTS":
        assert from40.value == pytest.approx(both.value, rel=1e-6)
        assert from100.value == pytest.approx(both.value, rel=1e-6)
        assert (state_of(from40), state_of(from100)) == ("SLOPE_FROM_40", "SLOPE_FROM_100")
    # How far the slope of another oil is off is not known, so neither is the uncertainty.
    assert np.isnan([from40.u, from100.u]).all()


@pytest.mark.parametrize(("temperature", "kv40", "kv100", "slope", "state"), [
    (80.0, np.nan, 14.0, np.nan, "NOT_KNOWN"),  # one point is not made into a line
    (80.0, 90.0, np.nan, np.nan, "NOT_KNOWN"),
    (80.0, 90.0, np.nan, -3.0, "NOT_KNOWN"),
    (80.0, np.nan, np.nan, 3.0, "NOT_KNOWN"),
    (np.nan, 90.0, 14.0, np.nan, "NOT_KNOWN"),
    (160.1, 90.0, 14.0, np.nan, "OUTSIDE_TEMPERATURE"),
    (-20.1, 90.0, 14.0, np.nan, "OUTSIDE_TEMPERATURE"),
    (80.0, 14.0, 14.0, np.nan, "NOT_FALLING"),
    (80.0, 14.0, 90.0, np.nan, "NOT_FALLING"),
    (80.0, 90.0, 0.2, np.nan, "OUTSIDE_VISCOSITY"),
    (80.0, 0.0, np.nan, 3.0, "OUTSIDE_VISCOSITY"),
    (80.0, np.inf, 14.0, np.nan, "OUTSIDE_VISCOSITY"),
    (160.0, 0.4, 0.25, np.nan, "OUTSIDE_VISCOSITY"),  # thinner than 0.21 when hot
    (-20.0, 2000.0, 3.0, np.nan, "OUTSIDE_VISCOSITY"),  # thicker than 2e7 when cold
])
def test_no_value_without_a_reason(temperature, kv40, kv100, slope, state):
    found = viscosity_at(temperature, kv40, kv100, slope=slope, u40=1.0, u100=1.0)
    assert np.isnan(found.value)
    assert np.isnan(found.u)
    assert state_of(found) == state


def test_the_ends_of_the_range_are_answered():
    found = viscosity_at([-20.0, 160.0], 90.0, 14.0)
    assert (found.state == ViscosityState.TWO_POINTS).all()
    assert np.isfinite(found.value).all()


def test_unknown_uncertainty_stays_unknown():
    assert np.isnan(viscosity_at(120.0, 90.0, 14.0, u40=1.0).u)


@pytest.mark.parametrize("temperature", [0.0, 70.0, 120.0, 150.0])
def test_uncertainty_against_drawing_the_two_readings(temperature):
    random = np.random.default_rng(11)
    kv40 = random.normal(90.0, 0.5, 200_000)
    kv100 = random.normal(14.0, 0.06, 200_000)
    drawn = viscosity_at(temperature, kv40, kv100).value
    told = viscosity_at(temperature, 90.0, 14.0, u40=0.5, u100=0.06).u
    assert told == pytest.approx(drawn.std(), rel=0.02)


def test_the_whole_array_equals_one_at_a_time():
    rows = np.array([[90.0, 14.0, np.nan], [90.0, np.nan, 2.95], [np.nan, 14.0, 2.95],
                     [np.nan, np.nan, 2.95], [14.0, 90.0, np.nan], [90.0, 0.1, np.nan]])
    temperature = np.array([120.0, 130.0, 90.0, 90.0, 90.0, 90.0])
    together = viscosity_at(temperature, rows[:, 0], rows[:, 1], slope=rows[:, 2])
    for i, (kv40, kv100, slope) in enumerate(rows):
        alone = viscosity_at(temperature[i], kv40, kv100, slope=slope)
        assert np.array_equal(together.value[i], alone.value, equal_nan=True)
        assert together.state[i] == alone.state


def test_a_line_is_nan_where_viscosity_does_not_fall():
    line = walther([90.0, 14.0, np.nan], [14.0, 14.0, 5.0])
    assert np.isnan(line.slope).tolist() == [False, True, True]
    assert np.isnan(line.intercept).tolist() == [False, True, True]
