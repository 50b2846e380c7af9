"""The grid of log rates against the normal distribution of SciPy and against brute force."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import lognorm, norm

from oiltrend.limits.latent_grid import (
    GRID_POINTS,
    STRAY,
    LogGrid,
    _tail,
    family_matrix,
    log_grid,
    occasion_matrix,
    scatter_matrix,
    told_by,
    upper_tail,
)
from oiltrend.limits.latent_readings import RateReadings, rate_readings

GRID = LogGrid(np.array([-2.0]), np.array([0.1]))


def test_the_tail_is_the_normal_one():
    z = np.linspace(-6.5, 6.5, 2001)
    tail = _tail(z.astype(np.float32))
    smaller = np.where(z > 0, tail, 1.0 - tail.astype(float))
    assert np.abs(tail[z > 0] / norm.sf(z[z > 0]) - 1).max() < 2e-3
    assert np.abs(smaller - norm.sf(np.abs(z))).max() < 1e-3
    far = _tail(np.array([-1e6, 1e6], dtype=np.float32))
    assert far[0] == 1.0
    assert 0 < far[1] < 1e-9


@pytest.mark.parametrize("sd", [0.1, 0.4, 5.0])
def test_a_scatter_is_the_normal_density_with_its_ends_gathered(sd):
    matrix = scatter_matrix(GRID, [[sd]])[0, 0].astype(float)
    assert np.allclose(matrix.sum(axis=1), 1.0, atol=1e-5)
    x = GRID.logs()[0]
    weight = norm.pdf((x - x[30]) / sd)
    if sd < 1:
        assert np.allclose(matrix[30], weight / weight.sum(), atol=1e-6)
        beyond = norm.cdf((x[0] + 0.05 - x[1]) / sd)
        assert matrix[1, 0] == pytest.approx(beyond, abs=0.02)
    assert np.allclose(matrix, matrix[::-1, ::-1], atol=1e-6)


def test_strays_leave_every_level_possible():
    matrix = family_matrix(GRID, [[0.05]])[0, 0].astype(float)
    assert matrix.min() == pytest.approx(STRAY / GRID_POINTS, rel=1e-4)
    assert np.allclose(matrix.sum(axis=1), 1.0, atol=1e-5)


@pytest.mark.parametrize("uncertainty", [1e-6, 0.05, 0.5, 3.0])
@pytest.mark.parametrize("relative", [0.0, 0.15])
def test_the_chance_of_a_reading_is_the_integral(uncertainty, relative):
    # Truth lognormal (0.5, 0.4), error normal with variance f + r²·λ²: by adaptive quadrature.
    chance = occasion_matrix(GRID, [[0.4]])[:, 0, 25][:, None]
    for value in (0.8, 2.0, 4.0, 7.0):
        found = upper_tail(GRID, chance, np.array([[value]]), np.array([[uncertainty**2]]),
                           np.array([[relative]]))

        def at(rate, value=value):
            error = np.sqrt(uncertainty**2 + (relative * rate) ** 2)
            return lognorm.pdf(rate, 0.4, scale=np.exp(0.5)) * norm.sf((value - rate) / error)

        wanted = quad(at, 0, 40, points=[value], limit=400)[0]
        assert found[0, 0] == pytest.approx(wanted, rel=0.05, abs=1e-5)


def test_likelihood_of_numbers_and_intervals():
    rates = np.exp(GRID.logs()[0])
    readings = RateReadings(*(np.array(rows, dtype=float)[:, None] for rows in (
        [3.0, -np.inf, 3.0, 2.0, np.nan], [3.0, 3.0, np.inf, 4.0, np.nan],
        [0.5, 0.5, 0.5, 0.5, np.nan], [0.0, 0.0, 0.0, 0.0, 0.0])))
    told = told_by(GRID, readings)
    error = np.hypot(0.5, 0.06 * rates)  # 0.6 of a step of 0.1 is what the grid adds
    number, below, above, between = told.likelihood[0, :4]
    wanted = norm.pdf((3.0 - rates) / error) / error
    assert np.allclose(number / number.max(), wanted / wanted.max(), atol=1e-4)
    at_3 = norm.cdf((3.0 - rates) / error)
    assert np.allclose(below, at_3, atol=1e-3)
    assert np.allclose(above, 1.0 - at_3, atol=1e-3)
    assert np.allclose(between, norm.cdf((4.0 - rates) / error) - norm.cdf((2.0 - rates) / error),
                       atol=2e-3)
    assert (told.likelihood[0, 4] == 1.0).all()
    tail, tail_below, tail_above = told.tail[0, :3]
    assert np.allclose(tail, 1.0 - at_3, atol=1e-3)
    assert np.allclose(tail_below, 1.0 - at_3 / 2, atol=1e-3)
    assert np.allclose(tail_above, (1.0 - at_3) / 2, atol=1e-3)
    assert np.isnan(told.tail[0, 4]).all()


def test_a_reading_far_off_the_grid_still_says_something():
    for rate in (1e9, -1e9):
        told = told_by(GRID, rate_readings([[rate]], 0.5))
        assert told.likelihood.max() > 0
        assert np.isfinite(told.likelihood).all()


def test_the_uncertainty_is_that_of_the_true_rate():
    # Error in proportion to the rate: a reading of half the truth came from the truth's error.
    readings = rate_readings([[2.0]], np.hypot(0.1, 0.2 * 2.0), relative=0.2)
    assert readings.fixed()[0, 0] == pytest.approx(0.01)
    told = told_by(GRID, readings)
    rates = np.exp(GRID.logs()[0])
    error = np.sqrt(0.01 + (0.2**2 + 0.06**2) * rates**2)
    wanted = norm.pdf((2.0 - rates) / error) / error
    assert np.allclose(told.likelihood[0, 0] / told.likelihood.max(), wanted / wanted.max(),
                       atol=1e-3)
    # A growing share that would explain more than all of it leaves a twentieth.
    assert rate_readings([[2.0]], 0.1, relative=0.2).fixed()[0, 0] == pytest.approx(5e-4)


def test_a_grid_covers_what_was_reported():
    rng = np.random.default_rng(8)
    rate = np.exp(rng.normal(1.5, 0.5, (500, 1)))
    grid = log_grid(rate_readings(rate, 0.3))
    assert grid.low[0] < np.log(rate.min())
    assert grid.low[0] + 63 * grid.step[0] > np.log(rate.max())
    # Far below its uncertainty a rate is not told apart: the grid does not go there.
    noisy = log_grid(rate_readings(rate, 5.0))
    assert noisy.low[0] > np.log(0.3)
    unseen = log_grid(rate_readings(np.full((3, 1), np.nan), 0.3))
    assert (unseen.low[0], unseen.step[0]) == (0.0, 0.15)
    hidden = log_grid(rate_readings(np.full((9, 1), 2.0), 0.5, below=True))
    assert np.exp(hidden.low[0]) < 1.0 < 2.0 < np.exp(hidden.low[0] + 63 * hidden.step[0])
    wild = log_grid(rate_readings(np.array([[1e-6], [1.0], [1e9]]), 1e-9))
    assert wild.step[0] == 0.15
