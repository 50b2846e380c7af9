"""From metal to depth.

Outside, derived, arithmetic: a half of 48 x 20 mm has 1507.964 mm²; PbSn10Cu2 of 10.6894 kg/L
gives 16.12 mg per µm and half, 14.19 mg of it lead, 2.837 mg/kg in 5 kg of oil; 50 mg of lead
are 0.6609 µm over two thirds of 8 halves and 0.2203 µm over 16 whole halves; 15 µm on 16
halves are 3.87 g; 200 mg of lead are 2.64 µm spread over 8 halves at two thirds, 21.1 µm from
one. One half is the spread times the number of halves.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear.layer import (
    DEFAULT_CAPTURE,
    RUN_IN_H,
    RUN_IN_KM,
    Capture,
    Depth,
    RunIn,
    depth_of_mass,
    layer_left,
    layer_lost,
    running_in,
)

HALF, DENSITY = 1507.964, 10.6894
KNOWN = Capture(1.0, 1.0, "known")


class TestDepthOfMass:
    def test_mass_of_one_micrometre(self):
        assert float(depth_of_mass(16.12, DENSITY, HALF)) == pytest.approx(1.0, abs=1e-4)
        assert float(depth_of_mass(14.19, DENSITY, HALF, mass_share=0.88)) == pytest.approx(
            1.0, abs=1e-3)
        assert float(depth_of_mass(2.837 * 5.0, DENSITY, HALF, mass_share=0.88)) == pytest.approx(
            1.0, abs=1e-3)

    @pytest.mark.parametrize(("mass", "area", "depth"), [
        (50.0, 8 * HALF * 2 / 3, 0.6609), (50.0, 16 * HALF, 0.2203),
        (200.0, 8 * HALF * 2 / 3, 2.64), (200.0, HALF * 2 / 3, 21.1)])
    def test_lead_to_depth(self, mass, area, depth):
        assert float(depth_of_mass(mass, DENSITY, area, mass_share=0.88)) == pytest.approx(
            depth, rel=3e-3)

    def test_a_whole_overlay(self):
        assert float(depth_of_mass(3870.0, DENSITY, 16 * HALF)) == pytest.approx(15.0, abs=0.02)

    def test_no_area_is_no_depth(self):
        assert np.isnan(depth_of_mass(5.0, DENSITY, np.array([0.0, np.nan]))).all()

    @given(st.floats(0.0, 1e4), st.floats(1.0, 20.0), st.floats(1.0, 1e5), st.floats(0.01, 1.0))
    def test_is_the_mass_back(self, mass, density, area, share):
        depth = float(depth_of_mass(mass, density, area, mass_share=share))
        assert depth / 1e3 * area * density * share == pytest.approx(mass, abs=1e-9)


class TestRunningIn:
    def test_limits(self):
        x = np.array([0.0, RUN_IN_KM.use, 1e9])
        np.testing.assert_allclose(running_in(x), [0.0, 1 - np.exp(-1.0), 1.0])
        # For short use the form is straight: w x / X.
        assert float(running_in(3.0)) == pytest.approx(3.0 / 3000.0, rel=1e-3)

    def test_solves_its_differential_equation(self):
        # dw/dx = (w_ri − w)/X, by difference quotient.
        x, step = np.linspace(10.0, 20e3, 50), 1e-2
        slope = (running_in(x + step) - running_in(x - step)) / (2 * step)
        np.testing.assert_allclose(slope, (RUN_IN_KM.depth_um - running_in(x)) / RUN_IN_KM.use,
                                   rtol=1e-5)

    def test_defaults_say_that_they_are_assumed(self):
        assert "assumed" in RUN_IN_KM.source
        assert "assumed" in RUN_IN_H.source

    @pytest.mark.parametrize(("given_", "message"), [
        ((0.0, 3.0, 3000.0), r"^depth_um: must be above zero, found 0; leave running-in out "
                             r"instead$"),
        ((1.0, 3.0, -1.0), r"^use: must be above zero, found -1; leave running-in out instead$"),
        ((1.0, 0.5, 3000.0), r"^factor: must be 1 or more, found 0\.5; give 1 for a number that "
                             r"is known, 2 for half to double$"),
    ])
    def test_impossible_numbers_are_refused(self, given_, message):
        with pytest.raises(ValueRefused, match=message):
            RunIn(*given_, "test")


def lost(mass, low, high, *, halves=8, **options):
    shape = (1, halves)
    options = {"density": DENSITY, "area": np.full(shape, HALF), "capture": KNOWN, **options}
    return layer_lost(*(np.full(shape, part) for part in (mass, low, high)), **options)


class TestLayerLost:
    def test_one_half_is_the_spread_times_the_halves(self):
        found = lost(100.0, 80.0, 130.0)
        for spread, one in zip(found.spread, found.one_half, strict=True):
            np.testing.assert_allclose(one, 8 * spread, rtol=1e-12)

    def test_halves_of_other_width_share_by_area_and_stand_alone_by_their_own(self):
        area = np.array([[1000.0, 1000.0, 2000.0, np.nan, 0.0]])
        found = lost(100.0, 100.0, 100.0, halves=5, area=area)
        np.testing.assert_allclose(found.spread.value[0, :3],
                                   float(depth_of_mass(100.0, DENSITY, 4000.0)))
        np.testing.assert_allclose(found.one_half.value[0, :3],
                                   depth_of_mass(100.0, DENSITY, area[0, :3]))
        assert np.isnan(found.spread.value[0, 3:]).all()
        assert np.isnan(found.one_half.high[0, 3:]).all()

    def test_known_capture_keeps_the_range_of_the_mass(self):
        found = lost(100.0, 80.0, 130.0, capture=Capture(0.5, 1.0, "known"))
        for end, mass in zip(found.spread, (100.0, 80.0, 130.0), strict=True):
            np.testing.assert_allclose(end, depth_of_mass(mass / 0.5, DENSITY, 8 * HALF),
                                       rtol=1e-9)

    def test_exact_mass_has_the_range_of_the_capture(self):
        found = lost(100.0, 100.0, 100.0, capture=Capture(0.5, 2.0, "test"))
        np.testing.assert_allclose(found.spread.high / found.spread.value, 2.0)
        np.testing.assert_allclose(found.spread.value / found.spread.low, 2.0)

    def test_two_log_normals_add_in_quadrature(self):
        # For small ranges the ends lie at √(a² + b²) in the logarithm.
        a, b = 0.02, 0.03
        found = lost(100.0, 100.0 * np.exp(-a), 100.0 * np.exp(a),
                     capture=Capture(0.5, float(np.exp(b)), "test"))
        np.testing.assert_allclose(np.log(found.spread.high / found.spread.value), np.hypot(a, b),
                                   rtol=0.01)
        np.testing.assert_allclose(np.log(found.spread.value / found.spread.low), np.hypot(a, b),
                                   rtol=0.01)

    def test_an_upper_limit_stays_an_upper_limit(self):
        found = lost(0.0, 0.0, 10.0, capture=DEFAULT_CAPTURE)
        assert (found.spread.low == 0.0).all()
        assert (found.spread.value == 0.0).all()
        assert (found.spread.high > float(depth_of_mass(10.0 / 0.5, DENSITY, 8 * HALF))).all()

    def test_no_upper_limit_stays_open(self):
        found = lost(5.0, 2.0, np.inf)
        assert np.isinf(found.spread.high).all()
        assert np.isfinite(found.spread.low).all()

    def test_what_was_filled_in_widens(self):
        sampled, filled = lost(100.0, 90.0, 110.0), lost(100.0, 90.0, 110.0, filled_share=0.5)
        np.testing.assert_allclose(filled.spread.value, sampled.spread.value)
        unit = float(depth_of_mass(1.0, DENSITY, 8 * HALF))
        np.testing.assert_allclose(filled.spread.high, unit * (100 + np.hypot(10, 50)), rtol=1e-9)
        np.testing.assert_allclose(filled.spread.low, unit * (100 - np.hypot(10, 25)), rtol=1e-9)

    def test_running_in_before_the_first_sample_stands_apart(self):
        plain = lost(100.0, 90.0, 110.0)
        with_it = lost(100.0, 90.0, 110.0, run_in=RUN_IN_KM, unsampled_start=3000.0)
        early = 1 - np.exp(-1.0)
        np.testing.assert_allclose(with_it.run_in_um, early)
        np.testing.assert_allclose(with_it.spread.value - plain.spread.value, early)
        np.testing.assert_allclose(with_it.one_half.value - plain.one_half.value, early)
        assert (with_it.spread.high - with_it.spread.value >= 2 * early - 1e-9).all()
        assert not plain.run_in_um.any()

    def test_unknown_mass_is_unknown_depth(self):
        found = lost(np.nan, np.nan, np.nan)
        for depth in (*found.spread, *found.one_half):
            assert np.isnan(depth).all()

    def test_many_engines_are_as_one(self):
        rng = np.random.default_rng(2)
        mass, area = rng.lognormal(3, 1, (30, 6)), rng.uniform(500, 900, (30, 6))
        low, high = mass * rng.uniform(0.2, 1.0, mass.shape), mass * rng.uniform(1, 3, mass.shape)
        whole = layer_lost(mass, low, high, density=9.41, area=area)
        for row in range(30):
            one = slice(row, row + 1)
            alone = layer_lost(mass[one], low[one], high[one], density=9.41, area=area[one])
            np.testing.assert_allclose(alone.spread.high[0], whole.spread.high[row])
            np.testing.assert_allclose(alone.one_half.low[0], whole.one_half.low[row])

    @given(st.floats(0.1, 1e3), st.floats(0.0, 1.0), st.floats(1.0, 5.0), st.floats(0.1, 10.0))
    def test_depth_scales_with_mass_and_against_density(self, mass, lower, upper, factor):
        first = lost(mass, lower * mass, upper * mass, capture=DEFAULT_CAPTURE)
        second = lost(factor * mass, factor * lower * mass, factor * upper * mass,
                      capture=DEFAULT_CAPTURE, density=factor * DENSITY)
        for a, b in zip(first.spread, second.spread, strict=True):
            np.testing.assert_allclose(a, b, rtol=1e-9)

    @pytest.mark.parametrize(("options", "message"), [
        ({"area": np.ones((1, 3))}, r"^area: must have the shape of mass \(1, 8\), found "
                                    r"\(1, 3\); give one number per half$"),
        ({"filled_share": 1.5}, r"^filled_share: must lie between 0 and 1, found 1\.5; correct "
                                r"the value or leave it blank$"),
        ({"fill_factor": 0.5}, r"^factor: must be 1 or more, found 0\.5; give 1 for a number "
                               r"that is known, 2 for half to double$"),
    ])
    def test_what_does_not_fit_is_refused(self, options, message):
        with pytest.raises(ValueRefused, match=message):
            lost(1.0, 1.0, 1.0, **options)


class TestCapture:
    def test_the_default_says_that_it_is_assumed(self):
        assert "assumed" in DEFAULT_CAPTURE.source

    @pytest.mark.parametrize(("given_", "message"), [
        ((0.0, 2.0), r"^median: must lie above 0 and up to 1, found 0; give the share of the "
                     r"metal that is seen$"),
        ((1.2, 2.0), r"^median: must lie above 0 and up to 1, found 1\.2; give the share of the "
                     r"metal that is seen$"),
        ((0.5, 0.9), r"^factor: must be 1 or more, found 0\.9; give 1 for a number that is "
                     r"known, 2 for half to double$"),
    ])
    def test_impossible_numbers_are_refused(self, given_, message):
        with pytest.raises(ValueRefused, match=message):
            Capture(*given_, "test")


class TestLayerLeft:
    def test_is_the_rest_with_both_ranges(self):
        left = layer_left(Depth(np.array([6.0]), np.array([3.0]), np.array([10.0])),
                          new=16.0, new_low=13.0, new_high=20.0)
        assert left.left.value.tolist() == [10.0]
        np.testing.assert_allclose(left.left.low, 10.0 - np.hypot(3.0, 4.0))
        np.testing.assert_allclose(left.left.high, 10.0 + np.hypot(4.0, 3.0))
        assert left.beyond.tolist() == [False]

    def test_nothing_below_zero_and_said_so(self):
        left = layer_left(Depth(np.array([30.0]), np.array([25.0]), np.array([40.0])),
                          new=16.0, new_low=13.0, new_high=20.0)
        assert [float(end[0]) for end in left.left] == [0.0, 0.0, 0.0]
        assert left.beyond.tolist() == [True]

    def test_unknown_stays_unknown(self):
        nothing = np.full(2, np.nan)
        left = layer_left(Depth(nothing, nothing, nothing), new=16.0, new_low=13.0, new_high=20.0)
        assert np.isnan(left.left.value).all()
        assert not left.beyond.any()
