"""Figures redone on paper; the expected numbers below are worked by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear.plain import mid_fill_difference, per_thousand


def test_gain_since_the_fill_began():
    # 24 mg/kg after 8 000 km on oil that started at 4: 20 in 8 thousands.
    assert per_thousand(24.0, 4.0, 8000.0) == 2.5


def test_rows_against_measurands():
    found = per_thousand(np.array([[24.0, 9.0], [8.0, np.nan]]), np.array([[4.0, 1.0], [0.0, 0.0]]),
                         np.array([8000.0, 4000.0])[:, None])
    np.testing.assert_array_equal(found, [[2.5, 1.0], [2.0, np.nan]])


@pytest.mark.parametrize("use", [0.0, -500.0, np.nan])
def test_no_distance_gives_no_figure(use):
    assert np.isnan(per_thousand(24.0, 4.0, use))


@settings(derandomize=True, deadline=None)
@given(st.floats(0, 500), st.floats(0, 50), st.floats(1, 1e5))
def test_kilometres_or_thousands_of_them(end, start, use):
    assert per_thousand(end, start, use / 1000) / 1000 == pytest.approx(
        float(per_thousand(end, start, use)), rel=1e-12, abs=1e-12)


def test_mid_fill_difference_stays_within_one_fill():
    ppm = np.array([[4.0, 1.0], [9.0, np.nan], [15.0, 5.0],   # fill 7
                    [3.0, 2.0],                               # fill 8, same engine
                    [5.0, 2.0], [4.0, 2.5]])                  # fill 9, next engine
    oil_use = np.array([5e3, 10e3, 12e3, 2e3, 4e3, 5e3])
    fill = np.array([7, 7, 7, 8, 9, 9])
    found = mid_fill_difference(ppm, oil_use, fill)
    np.testing.assert_array_equal(found, [[np.nan, np.nan], [1.0, np.nan], [3.0, np.nan],
                                          [np.nan, np.nan], [np.nan, np.nan], [-1.0, 0.5]])


def test_two_figures_are_not_mixed():
    ppm, oil_use, fill = np.array([[6.0], [16.0]]), np.array([2e3, 4e3]), np.array([1, 1])
    assert mid_fill_difference(ppm, oil_use, fill)[1, 0] == 5.0
    assert per_thousand(ppm, 0.0, oil_use[:, None])[1, 0] == 4.0


@pytest.mark.parametrize("second", [5e3, 4e3, np.nan])
def test_use_that_did_not_grow_gives_no_difference(second):
    found = mid_fill_difference(np.array([[4.0], [9.0]]), np.array([5e3, second]),
                                np.array([1, 1]))
    assert np.isnan(found).all()


def test_no_rows_and_one_row():
    assert mid_fill_difference(np.empty((0, 3)), np.empty(0), np.empty(0, int)).shape == (0, 3)
    assert np.isnan(mid_fill_difference(np.ones((1, 3)), np.ones(1), np.ones(1, int))).all()


@pytest.mark.parametrize(("ppm", "oil_use", "fill", "words"), [
    (np.ones(3), np.ones(3), np.ones(3, int),
     "concentration: must have rows and measurands, found shape (3,); "
     "give an array of shape (n, m)"),
    (np.ones((3, 2)), np.ones(2), np.ones(3, int),
     "oil_use: must have one number per row, 3 rows, found shape (2,); "
     "give an array of shape (n,)"),
    (np.ones((3, 2)), np.ones(3), np.ones((3, 1), int),
     "fill: must have one number per row, 3 rows, found shape (3, 1); "
     "give an array of shape (n,)"),
])
def test_shapes_that_do_not_fit_are_refused(ppm, oil_use, fill, words):
    with pytest.raises(ValueRefused) as refused:
        mid_fill_difference(ppm, oil_use, fill)
    assert str(refused.value) == words
