"""The one-step forecast against closed forms and brute force."""

import numpy as np
import pytest
from scipy.stats import norm

from oiltrend.limits.latent_filter import Engines, engine_blocks, step_through, upper_limit
from oiltrend.limits.latent_grid import (
    LogGrid,
    family_matrix,
    scatter_matrix,
)
from oiltrend.limits.latent_readings import rate_readings


def start_at(grid, level, spread):
    """Give the chance of a level: normal, with the strays of the model."""
    near = np.argmin(np.abs(grid.logs()[0] - level))
    return family_matrix(grid, [[spread]])[:, :, near]


def forecasts(grid, scatter, start, rates, uncertainty, **qualifiers):
    readings = rate_readings(np.array(rates)[:, None], uncertainty, **qualifiers)
    block = Engines(np.array([0]), np.arange(len(rates))[None])
    return [(float(f.exceedance[0, 0]), float(f.centre[0, 0]), float(f.spread[0, 0]))
            for f in step_through(grid, np.array([[scatter]]), start, readings, block)]


def test_without_error_it_is_the_normal_model_in_closed_form():
    # Level a ~ N(0, τ²), log rates N(a, σ²) seen as they are: after k of them the next is
    # N(m, v + σ²) with 1/v = 1/τ² + k/σ², m = v·Σx/σ² (any textbook; Gelman et al., BDA, 2.5).
    grid = LogGrid(np.array([-2.56]), np.array([0.08]))
    tau, sigma, logs = 0.5, 0.3, np.array([0.4, -0.1, 0.7, 0.3, 0.5, 0.9])
    found = forecasts(grid, sigma, start_at(grid, 0.0, tau), np.exp(logs), 1e-9)
    for k, (exceedance, centre, spread) in enumerate(found):
        variance = 1 / (1 / tau**2 + k / sigma**2)
        middle = variance * logs[:k].sum() / sigma**2
        width = np.sqrt(variance + sigma**2)
        assert exceedance == pytest.approx(norm.sf((logs[k] - middle) / width), rel=0.02)
        assert centre == pytest.approx(middle, abs=0.01)
        assert spread == pytest.approx(width, rel=0.02)


@pytest.mark.parametrize("second", [0.4, -0.6, 3.0])
def test_two_noisy_intervals_by_brute_force(second):
    # Four million draws of level, scatter and error, weighted by how well they explain the first
    # reading; the chance of exceeding the second is their weighted share.
    rng = np.random.default_rng(11)
    tau, sigma, error, first = 0.5, 0.3, 1.0, -0.2
    level = rng.normal(0.5, tau, 4_000_000)
    rate = np.exp(level + rng.normal(0.0, sigma, level.size))
    weight = norm.pdf((first - rate) / error)
    later = np.exp(level + rng.normal(0.0, sigma, level.size)) + error * rng.normal(
        size=level.size)
    wanted = weight[later >= second].sum() / weight.sum()
    grid = LogGrid(np.array([-2.5]), np.array([0.1]))
    found = forecasts(grid, sigma, start_at(grid, 0.5, tau), [first, second], error)
    assert found[1][0] == pytest.approx(wanted, rel=0.02)


def test_a_reading_below_its_limit_by_brute_force():
    rng = np.random.default_rng(12)
    tau, sigma, error, bound = 0.5, 0.3, 0.3, 1.2
    level = rng.normal(0.5, tau, 4_000_000)
    seen = np.exp(level + rng.normal(0.0, sigma, level.size)) + error * rng.normal(
        size=level.size)
    later = np.exp(level + rng.normal(0.0, sigma, level.size)) + error * rng.normal(
        size=level.size)
    grid = LogGrid(np.array([-2.5]), np.array([0.1]))
    found = forecasts(grid, sigma, start_at(grid, 0.5, tau), [bound, 3.0], error,
                      below=np.array([[True], [False]]))
    assert found[0][0] == pytest.approx(1 - np.mean(seen < bound) / 2, abs=0.003)
    assert found[1][0] == pytest.approx(np.mean(later[seen < bound] >= 3.0), rel=0.03)
    # The bound taken for a number would give another forecast: the check above can fail.
    taken = forecasts(grid, sigma, start_at(grid, 0.5, tau), [bound, 3.0], error)
    assert taken[1][0] > 1.3 * found[1][0]


def test_twice_as_fine_a_grid_gives_the_same():
    rng = np.random.default_rng(13)
    rates = np.exp(rng.normal(0.5, 0.4, 12)) + 0.3 * rng.normal(size=12)
    coarse, fine = LogGrid(np.array([-2.5]), np.array([0.1])), LogGrid(
        np.array([-2.5]), np.array([0.05]), 127)
    found, wanted = (np.array(forecasts(grid, 0.3, start_at(grid, 0.5, 0.5), rates, 0.3))
                     for grid in (coarse, fine))
    # The strays of a finer grid are spread over its own points; that is left.
    assert np.allclose(found[:, 0], wanted[:, 0], rtol=0.03)
    assert np.allclose(found[:, 1:], wanted[:, 1:], atol=0.01)


def test_a_missing_interval_changes_nothing_and_one_far_off_little():
    grid = LogGrid(np.array([-2.5]), np.array([0.1]))
    start = start_at(grid, 0.5, 0.5)
    plain = forecasts(grid, 0.3, start, [1.5, 1.7, 1.6], 0.2)
    gap = forecasts(grid, 0.3, start, [1.5, np.nan, 1.7, 1.6], 0.2)
    assert np.isnan(gap[1][0])
    assert gap[2] == pytest.approx(plain[1])
    many = [1.5, 1.7, 1.6, 1.4, 1.5, 1.6]
    odd = forecasts(grid, 0.2, start, [*many, 30.0, 1.6], 0.2)
    calm = forecasts(grid, 0.2, start, [*many, 1.5, 1.6], 0.2)
    assert odd[6][0] < 1e-6
    assert abs(odd[7][1] - calm[7][1]) < 0.1


def test_engines_in_a_block_do_not_touch_each_other():
    rng = np.random.default_rng(14)
    rates = np.exp(rng.normal(0.5, 0.4, (9, 2)))
    readings = rate_readings(rates, 0.2, below=rates < 1.2)
    grid = LogGrid(np.array([-2.5, -2.0]), np.array([0.1, 0.09]))
    start = np.concatenate([family_matrix(grid, [[0.5], [0.4]])[:, :, 30]])
    scatters = np.array([[0.3], [0.2]])
    blocks = list(engine_blocks(np.array([0, 4]), np.array([4, 5]), np.arange(2), 1))
    assert blocks[0].place.tolist() == [1, 0]
    together = {f.step: f.exceedance.copy() for f in
                step_through(grid, scatters, start, readings, blocks[0])}
    for place, rows in ((0, np.arange(4, 9)), (1, np.arange(4))):
        alone = Engines(np.array([0]), rows[None])
        for f in step_through(grid, scatters, start, readings, alone):
            assert f.exceedance[:, 0] == pytest.approx(together[f.step][:, place], rel=1e-4)


def test_several_scatters_are_weighed_by_what_the_engine_shows():
    grid = LogGrid(np.array([-2.5]), np.array([0.1]))
    scatters = np.array([[0.1, 0.6]])
    start = np.repeat(start_at(grid, 0.0, 0.5) / 2, 2, axis=1)
    readings = rate_readings(np.exp([[0.0], [0.02], [-0.03], [0.01], [0.02], [0.0]]), 1e-3)
    block = Engines(np.array([0]), np.arange(6)[None])
    widths = [float(f.spread[0, 0]) for f in
              step_through(grid, scatters, start, readings, block)]
    assert widths[0] > 0.6
    assert widths[-1] < 0.2  # six steady intervals speak for the smaller scatter


def test_small_blocks_cover_every_engine_once():
    rng = np.random.default_rng(15)
    counts = rng.integers(1, 30, 500)
    starts = np.cumsum(counts) - counts
    blocks = list(engine_blocks(starts, counts, np.arange(500), 64 * 80))
    assert len(blocks) > 5
    assert sorted(np.concatenate([block.place for block in blocks])) == list(range(500))
    rows = np.concatenate([block.rows[block.rows >= 0] for block in blocks])
    assert sorted(rows) == list(range(counts.sum()))


@pytest.mark.parametrize("share", [0.5, 0.95, 0.999])
@pytest.mark.parametrize("relative", [0.0, 0.1])
def test_the_limit_is_the_value_of_that_exceedance(share, relative):
    rng = np.random.default_rng(16)
    grid = LogGrid(np.array([-2.5]), np.array([0.1]))
    chance = scatter_matrix(grid, [[0.4]])[:, 0, rng.integers(5, 55, 40)]
    fixed = rng.uniform(1e-6, 4.0, (1, 40))
    share_of_rate = np.full((1, 40), relative)
    limit = upper_limit(grid, chance, fixed, share_of_rate, share)
    draws = 200_000
    for place in rng.integers(0, 40, 4):
        p = chance[0, place].astype(float)
        rate = np.exp(rng.choice(grid.logs()[0], draws, p=p / p.sum()))
        # What the grid adds by itself, 0.6 of a step, belongs to the forecast.
        error = np.sqrt(fixed[0, place] + (relative**2 + 0.06**2) * rate**2)
        over = np.mean(rate + error * rng.normal(size=draws) > limit[0, place])
        assert abs(over - (1 - share)) < 4.5 * np.sqrt(share * (1 - share) / draws) + 1e-5
    assert np.isnan(upper_limit(grid, chance, np.full((1, 40), np.nan), share_of_rate, 0.9)).all()
