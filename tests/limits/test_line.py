"""Least squares: NIST's certified values and a general library."""

import numpy as np
import pytest

from oiltrend.limits.line import least_squares
from tests.limits.published import NORRIS_X, NORRIS_Y, SODIUM, SODIUM_YEAR


@pytest.mark.parametrize(("name", "certified"), [
    # NIST Statistical Reference Datasets, Norris, certified values.
    ("intercept", -0.262323073774029), ("intercept_error", 0.232818234301152),
    ("slope", 1.00211681802045), ("slope_error", 0.429796848199937e-3),
    ("residual_sd", 0.884796396144373), ("r_squared", 0.999993745883712),
])
def test_norris_to_eleven_digits(name, certified):
    value = float(getattr(least_squares(NORRIS_X, NORRIS_Y), name))
    assert -np.log10(abs(value / certified - 1.0)) >= 11


def test_sodium():  # US EPA 2009, example 17-7: ordinary slope 1.387765
    assert least_squares(SODIUM_YEAR, SODIUM).slope == pytest.approx(1.387765, abs=1e-6)


def test_many_at_once_with_gaps_equal_a_general_library():
    stats = pytest.importorskip("scipy.stats")
    rng = np.random.default_rng(50)
    x = np.cumsum(rng.uniform(1, 9, (20, 1, 10)), axis=-1)
    y = rng.normal(size=(20, 3, 10))
    y[rng.random(y.shape) < 0.2] = np.nan
    line = least_squares(x, y)
    for place in np.ndindex(20, 3):
        there = ~np.isnan(y[place])
        wanted = stats.linregress(x[place[0], 0][there], y[place][there])
        assert line.slope[place] == pytest.approx(wanted.slope)
        assert line.slope_error[place] == pytest.approx(wanted.stderr)
        assert line.intercept_error[place] == pytest.approx(wanted.intercept_stderr)
        assert line.r_squared[place] == pytest.approx(wanted.rvalue**2)
        assert line.n[place] == there.sum()


def test_far_from_the_origin_nothing_is_lost():
    x = np.array([300_000.0, 300_001.0, 300_002.0, 300_003.0])
    line = least_squares(x, 5.0 + 2e-6 * (x - 300_000.0))
    assert line.slope == pytest.approx(2e-6, rel=1e-6)


@pytest.mark.parametrize(("x", "y", "slope", "errors"), [
    ([1.0, 2.0], [1.0, 3.0], True, False),
    ([1.0, 1.0, 1.0], [1.0, 3.0, 2.0], False, False),
    ([1.0], [1.0], False, False),
    ([np.nan, np.nan], [1.0, 2.0], False, False),
])
def test_what_cannot_be_fitted_is_nan(x, y, slope, errors):
    line = least_squares(x, y)
    assert np.isfinite(line.slope) == slope
    assert np.isfinite(line.slope_error) == errors


def test_a_level_line_explains_nothing_that_there_is_to_explain():
    line = least_squares([1.0, 2.0, 3.0], [4.0, 4.0, 4.0])
    assert line.slope == 0.0
    assert np.isnan(line.r_squared)
