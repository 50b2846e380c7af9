"""Maximum likelihood for left-censored series against published fits and a general library.

Manganese: US EPA 2009 example 15-1 (EnvStats manual). Copper and zinc of Millard and Deverel
1988, arsenic of Oahu: two implementations, one of them lifelines. Silver: reproduced in R.
"""

import numpy as np
import pytest

from oiltrend.limits.lognormal import (
    FitState,
    fit_censored_normal,
    fit_lognormal,
    lognormal_mean,
    lognormal_percentile,
)
from tests.limits.published import (
    COPPER_FAN,
    COPPER_TROUGH,
    MANGANESE,
    OAHU_ARSENIC,
    SILVER,
    ZINC_FAN,
    ZINC_TROUGH,
)


@pytest.mark.parametrize(("data", "mean", "sd", "tolerance"), [
    (MANGANESE, 2.215905, 1.356291, 2e-6),
    (COPPER_FAN, 0.944206, 0.800524, 5e-5), (COPPER_TROUGH, 1.03308, 0.935525, 5e-5),
    (ZINC_FAN, 2.474561, 0.801921, 5e-5), (ZINC_TROUGH, 2.721224, 0.884749, 5e-5),
    (SILVER, -1.04057, 2.35485, 1e-5),
])
def test_published_fits(data, mean, sd, tolerance):
    fit = fit_lognormal(*data)
    assert fit.mean == pytest.approx(mean, abs=tolerance)
    assert fit.sd == pytest.approx(sd, abs=tolerance)


def test_oahu_arsenic_on_the_plain_scale():
    mean, sd = lognormal_mean(fit_lognormal(*OAHU_ARSENIC))
    assert mean == pytest.approx(0.9452585, abs=1e-6)
    assert sd == pytest.approx(0.6559261, abs=1e-6)


def random_series(lines, n, seed):
    rng = np.random.default_rng(seed)
    true = rng.lognormal(1.0, 0.8, (lines, n))
    limit = rng.choice([1.0, 2.0, 3.0], true.shape)
    below = true < limit
    value = np.where(below, limit, true)
    value[rng.random(true.shape) < 0.1] = np.nan
    return value, below & ~np.isnan(value)


def test_no_nearby_parameters_are_more_likely():
    stats = pytest.importorskip("scipy.stats")
    value, below = random_series(40, 15, 9)
    fit = fit_lognormal(value, below)
    logs = np.log(value)

    def likelihood(line, mean, sd):
        detected = logs[line][~below[line] & ~np.isnan(value[line])]
        return (stats.norm.logpdf(detected, mean, sd).sum()
                + stats.norm.logcdf(logs[line][below[line]], mean, sd).sum())

    for line in np.flatnonzero(fit.state == FitState.FITTED):
        best = likelihood(line, fit.mean[line], fit.sd[line])
        for step in (-1e-3, 1e-3):
            assert best > likelihood(line, fit.mean[line] + step, fit.sd[line])
            assert best > likelihood(line, fit.mean[line], fit.sd[line] + step)


def score_equations(value, below, mean, sd):
    """Derivatives of the log-likelihood by mean and sd, times sd; both are 0 at the summit."""
    stats = pytest.importorskip("scipy.stats")
    detected = (value[~below & ~np.isnan(value)] - mean) / sd
    bound = (value[below] - mean) / sd
    hazard = stats.norm.pdf(bound) / stats.norm.cdf(bound)
    return (detected.sum() - hazard.sum(),
            (detected**2).sum() - len(detected) - (bound * hazard).sum())


def test_the_score_equations_are_solved_to_rounding():
    value, below = random_series(40, 15, 14)
    fit = fit_lognormal(value, below)
    for line in np.flatnonzero(fit.state == FitState.FITTED):
        assert score_equations(np.log(value[line]), below[line], fit.mean[line],
                               fit.sd[line]) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_a_step_that_leads_down_is_cut_and_the_summit_found():
    # Found by search: here a whole Newton step overshoots.
    value = np.array([0.4, 0.3, 0.1, -0.2, -1.8, -0.8])
    below = np.array([False, False, False, True, False, True])
    fit = fit_censored_normal(value, below)
    assert FitState(fit.state) is FitState.FITTED
    assert score_equations(value, below, fit.mean, fit.sd) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_agrees_with_scipy_on_censored_data():
    stats = pytest.importorskip("scipy.stats")
    value, below = random_series(10, 20, 10)
    fit = fit_lognormal(value, below)
    for line in range(10):
        there = ~np.isnan(value[line])
        data = stats.CensoredData(uncensored=np.log(value[line][there & ~below[line]]),
                                  left=np.log(value[line][below[line]]))
        assert (fit.mean[line], fit.sd[line]) == pytest.approx(stats.norm.fit(data), abs=2e-4)


def test_many_at_once_equal_one_at_a_time_and_the_unit_only_shifts():
    value, below = random_series(30, 12, 11)
    together, scaled = fit_lognormal(value, below), fit_lognormal(value * 1e4, below)
    assert np.allclose(scaled.mean, together.mean + np.log(1e4), equal_nan=True)
    assert np.allclose(scaled.sd, together.sd, equal_nan=True)
    for line in range(30):
        alone = fit_lognormal(value[line], below[line])
        assert alone.mean == pytest.approx(together.mean[line], rel=1e-9, nan_ok=True)
        assert alone.state == together.state[line]


def test_nothing_censored_is_the_closed_form():
    value = np.random.default_rng(12).normal(5.0, 2.0, (6, 9))
    fit = fit_censored_normal(value, np.zeros_like(value, dtype=bool))
    assert np.allclose(fit.mean, value.mean(axis=1))
    assert np.allclose(fit.sd, value.std(axis=1))


def test_recovers_the_truth_of_large_samples_with_most_values_below():
    rng = np.random.default_rng(13)
    true = rng.lognormal(1.0, 0.7, (4, 20_000))
    below = true < 4.0
    assert below.mean() > 0.65
    fit = fit_lognormal(np.where(below, 4.0, true), below)
    assert fit.mean == pytest.approx(1.0, abs=0.05)
    assert fit.sd == pytest.approx(0.7, abs=0.04)
    assert lognormal_percentile(fit, 0.95) == pytest.approx(np.exp(1 + 0.7 * 1.6449), rel=0.02)


def test_a_cell_that_cannot_be_fitted_is_marked_and_stops_nobody():
    value = np.array([[1.0, 2.0, 3.0, 4.0], [1.0, 1.0, 1.0, 5.0], [1.0, 6.0, 6.0, 6.0],
                      [np.nan] * 4])
    below = np.array([[False] * 4, [True] * 3 + [False], [True] + [False] * 3, [False] * 4])
    fit = fit_lognormal(value, below)
    assert [FitState(code).name for code in fit.state] == [
        "FITTED", "TOO_FEW_DETECTED", "NO_SPREAD", "TOO_FEW_DETECTED"]
    assert np.isnan(fit.mean).tolist() == [False, True, True, True]
    assert fit.n.tolist() == [4, 4, 4, 0]


def test_a_reported_zero_counts_as_below_the_smallest_positive_value():
    zero = fit_lognormal([0.0, 2.0, 3.0, 5.0], [False] * 4)
    below = fit_lognormal([2.0, 2.0, 3.0, 5.0], [True, False, False, False])
    assert (zero.mean, zero.sd) == (below.mean, below.sd)


def test_no_series_and_no_samples_are_no_error():
    assert fit_lognormal(np.zeros((0, 4)), np.zeros((0, 4), dtype=bool)).mean.shape == (0,)
    assert fit_lognormal(np.zeros((2, 0)), np.zeros((2, 0), dtype=bool)).n.tolist() == [0, 0]
