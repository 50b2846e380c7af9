"""Ends of ranges, against a root finder that calls ``scipy.optimize.nnls`` at every step.

Outside: that brute force; for a single source the closed form ``x ± √(3.841)·σ``.
"""

import numpy as np
import pytest
from scipy.optimize import brentq, nnls
from scipy.stats import chi2

from oiltrend.wear import sources_profile
from oiltrend.wear.sources_gram import normal_equations, scaled
from oiltrend.wear.sources_nnls import nonnegative
from oiltrend.wear.sources_profile import RISE_95, profile_ends


def problem(rows, sources, elements, seed, sparse=0.6):
    rng = np.random.default_rng(seed)
    shares = rng.random((sources, elements, rows)) * (rng.random((sources, elements, rows))
                                                      < sparse) + 0.01
    amount = rng.lognormal(1.0, 1.0, (sources, rows)) * (rng.random((sources, rows)) < 0.6)
    value = np.einsum("smn,sn->mn", shares, amount) + rng.normal(size=(elements, rows))
    normal = scaled(*normal_equations(shares, np.ones(value.shape), value),
                    np.ones(amount.shape, bool))
    return shares, value, normal, nonnegative(normal)


def brute_force(matrix, value, column):
    best, norm = nnls(matrix, value)
    others = np.delete(matrix, column, axis=1)

    def rise(t):
        return nnls(others, value - matrix[:, column] * t)[1] ** 2 - norm**2 - RISE_95

    high = brentq(rise, best[column], best[column] + 200.0, xtol=1e-12)
    low = brentq(rise, 0.0, best[column], xtol=1e-12) if rise(0.0) > 0.0 else 0.0
    return low, high


def test_the_rise_is_that_of_chi_squared():
    assert pytest.approx(chi2.isf(0.05, 1), abs=5e-4) == RISE_95


@pytest.mark.parametrize(("sources", "elements"), [(5, 7), (7, 6), (3, 3)])
def test_equals_brute_force(sources, elements):
    shares, value, normal, answer = problem(40, sources, elements, seed=sources)
    low, high = profile_ends(normal, answer, np.arange(sources))
    low, high = low * normal.scale, high * normal.scale
    wanted = np.array([[brute_force(shares[:, :, row].T, value[:, row], column)
                        for row in range(40)] for column in range(sources)])
    np.testing.assert_allclose(low, wanted[..., 0], atol=2e-5)
    np.testing.assert_allclose(high, wanted[..., 1], atol=2e-5)
    # All kinds of end are among them: at zero, an upper limit of a source at zero, and inside.
    assert (low == 0.0).any()
    assert (low > 0.0).any()
    assert ((answer.x == 0.0) & (high > 0.0)).any()


def test_the_conditional_covariance_alone_would_be_too_narrow():
    # A source at zero that could take over lets another one go further down.
    shares = np.array([[1.0, 0.0], [0.8, 0.2]])[:, :, None]
    normal = scaled(*normal_equations(shares, np.ones((2, 1)), np.array([[5.0], [0.0]])),
                    np.ones((2, 1), bool))
    low, _ = profile_ends(normal, nonnegative(normal), np.array([0]))
    conditional = 5.0 - np.sqrt(RISE_95)
    assert 0.0 <= low[0, 0] * normal.scale[0, 0] < conditional - 1.0


def test_one_source_has_the_closed_form():
    normal = scaled(np.full((1, 1, 3), 4.0), np.array([[40.0, 4.0, -1.0]]), np.ones((1, 3), bool))
    low, high = profile_ends(normal, nonnegative(normal), np.array([0]))
    scale = normal.scale[0]
    np.testing.assert_allclose(low[0] * scale, [10.0 - np.sqrt(RISE_95) / 2,
                                                1.0 - np.sqrt(RISE_95) / 2, 0.0], atol=1e-6)
    # Below zero the least sum is at zero: 4 t² + 2 t = 3.841.
    np.testing.assert_allclose(high[0] * scale, [
        10.0 + np.sqrt(RISE_95) / 2, 1.0 + np.sqrt(RISE_95) / 2,
        (-1.0 + np.sqrt(1.0 + 4.0 * RISE_95)) / 4.0], atol=1e-6)


def test_twins_reach_from_nothing_to_everything():
    shares = np.array([[0.9], [0.9]])[:, :, None]
    normal = scaled(*normal_equations(shares, np.ones((1, 1)), np.array([[9.0]])),
                    np.ones((2, 1), bool))
    low, high = profile_ends(normal, nonnegative(normal), np.arange(2))
    np.testing.assert_allclose(low[:, 0], 0.0, atol=1e-6)
    np.testing.assert_allclose(high[:, 0] * normal.scale[:, 0], (9 + np.sqrt(RISE_95)) / 0.9,
                               rtol=1e-4)


def test_what_has_no_data_has_no_range():
    shares = np.array([[1.0], [0.0]])[:, :, None]
    normal = scaled(*normal_equations(shares, np.ones((1, 1)), np.array([[9.0]])),
                    np.ones((2, 1), bool))
    low, high = profile_ends(normal, nonnegative(normal), np.arange(2))
    assert np.isfinite([low[0, 0], high[0, 0]]).all()
    assert np.isnan([low[1, 0], high[1, 0]]).all()


def test_what_nothing_bounds_reaches_to_infinity():
    # x − v = 3 with a slack v that may take up any excess: only a lower bound.
    gram = np.array([[1.0, -1.0], [-1.0, 1.0]])[:, :, None]
    normal = scaled(gram, np.array([[-3.0], [3.0]]), np.ones((2, 1), bool), slacks=1)
    low, high = profile_ends(normal, nonnegative(normal), np.array([1]))
    assert low[0, 0] == pytest.approx(3.0 - np.sqrt(RISE_95), abs=1e-4)
    assert np.isinf(high[0, 0])


def test_ends_enclose_the_amount_and_widen_with_the_rise():
    _, _, normal, answer = problem(200, 6, 8, seed=5)
    low, high = profile_ends(normal, answer, np.arange(6))
    wider_low, wider_high = profile_ends(normal, answer, np.arange(6), rise=6.635)
    assert (low <= answer.x + 1e-9).all()
    assert (answer.x <= high + 1e-9).all()
    assert (wider_low <= low + 1e-9).all()
    assert (wider_high > high).all()


def test_blocks_of_paths_change_nothing(monkeypatch):
    _, _, normal, answer = problem(80, 6, 7, seed=6)
    whole = profile_ends(normal, answer, np.arange(6))
    monkeypatch.setattr(sources_profile, "BLOCK", 13)
    for part, wanted in zip(profile_ends(normal, answer, np.arange(6)), whole, strict=True):
        np.testing.assert_allclose(part, wanted, rtol=1e-9)


def test_no_unknown_asked_for_gives_none():
    _, _, normal, answer = problem(4, 3, 4, seed=7)
    low, high = profile_ends(normal, answer, np.array([], int))
    assert low.shape == high.shape == (0, 4)
