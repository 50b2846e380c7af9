"""The false-flag budget: closed forms, brute force, and simulation of the latent-rate model."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from oiltrend.errors import ValueRefused
from oiltrend.limits.budget import (
    effective_number,
    flagged_share,
    levels_for_budget,
    score_correlation,
)
from oiltrend.limits.charts import cusum
from oiltrend.limits.latent import follow_rates, learn_levels
from oiltrend.limits.run_length import cusum_beyond
from tests.limits.simulated import fleet


def alike(count, correlation):
    return correlation * np.ones((count, count)) + (1 - correlation) * np.eye(count)


def test_independent_comparisons_are_sidak():
    told = levels_for_budget(0.05, weight=np.ones(8))
    assert told.level == pytest.approx(np.full(8, 1 - 0.95 ** (1 / 8)), rel=1e-7)
    assert told.share == pytest.approx(0.05)
    assert told.effective == pytest.approx(8.0, rel=1e-6)
    assert told.level[0] > 0.05 / 8  # Bonferroni is stricter still


@pytest.mark.parametrize("correlation", [0.2, 0.6, 0.95])
@pytest.mark.parametrize("count", [2, 8, 24])
def test_equal_correlation_by_a_plain_integral(count, correlation):
    # One common factor: P(none) = ∫ φ(t)·Φ((c − √ρ·t)/√(1 − ρ))^m dt, on a fine grid.
    level = 0.004
    t = np.linspace(-9, 9, 20_001)
    one = norm.cdf((norm.isf(level) - np.sqrt(correlation) * t) / np.sqrt(1 - correlation))
    wanted = 1 - np.trapezoid(norm.pdf(t) * one**count, t)
    found = flagged_share(np.full(count, level), correlation=alike(count, correlation))
    assert found == pytest.approx(wanted, rel=0.02)


def test_any_correlation_by_brute_force():
    rng = np.random.default_rng(101)
    loading = rng.normal(size=(6, 2))
    matrix = loading @ loading.T + np.diag(rng.uniform(0.2, 1.0, 6))
    matrix /= np.sqrt(np.outer(np.diag(matrix), np.diag(matrix)))
    level = rng.uniform(0.002, 0.05, 6)
    draws = rng.multivariate_normal(np.zeros(6), matrix, 400_000)
    flagged = (draws > norm.isf(level)).any(axis=1)
    error = 4.5 * np.sqrt(flagged.mean() / 400_000)
    assert abs(flagged_share(level, correlation=matrix) - flagged.mean()) < error + 2e-4
    assert abs(flagged_share(level) - flagged.mean()) > 0.004  # independence would be found out


@given(st.floats(0.01, 0.3), st.lists(st.floats(0.1, 5.0), min_size=1, max_size=12),
       st.floats(0.0, 0.9))
def test_the_levels_cost_the_budget(budget, weight, correlation):
    matrix = alike(len(weight), correlation)
    told = levels_for_budget(budget, weight=weight, correlation=matrix)
    assert told.share == pytest.approx(budget, rel=3e-3)
    assert flagged_share(told.level, correlation=matrix) == pytest.approx(budget, rel=3e-3)
    ratio = told.level / np.array(weight)
    assert ratio == pytest.approx(np.full(len(weight), ratio[0]))
    assert told.independent >= told.share * 0.97
    # Between full dependence and Bonferroni; the weights take their part.
    assert told.level.sum() >= budget * 0.97
    assert told.level.max() <= budget * 1.03


def test_what_is_seldom_asked_costs_little_and_what_is_off_nothing():
    often = levels_for_budget(0.05, weight=[1, 1, 1])
    seldom = levels_for_budget(0.05, weight=[1, 1, 1], asked=[1.0, 0.5, 0.0])
    assert seldom.level[0] > often.level[0]
    assert flagged_share(seldom.level, asked=[1.0, 0.5, 0.0]) == pytest.approx(0.05)
    off = levels_for_budget(0.05, weight=[1, 0, 1])
    assert off.level[1] == 0.0
    assert off.effective == pytest.approx(2.0, rel=1e-6)


def test_correlation_pair_by_pair():
    rng = np.random.default_rng(102)
    score = rng.multivariate_normal(np.zeros(3), alike(3, 0.5), 20_000)
    holes = np.where(rng.random(score.shape) < 0.3, np.nan, score)
    found = score_correlation(holes)
    assert np.allclose(found, alike(3, 0.5), atol=0.03)
    few = np.full((30, 2), np.nan)
    few[:5] = rng.normal(size=(5, 2))
    assert np.array_equal(score_correlation(few), np.eye(2))


def test_correlations_that_contradict_each_other_are_mended():
    # A with B, B with C, A against C: no three variables do that.
    rng = np.random.default_rng(103)
    a, b, c = rng.normal(size=(3, 100))
    nan = np.full(100, np.nan)
    score = np.concatenate([np.column_stack([a, a, nan]), np.column_stack([nan, b, b]),
                            np.column_stack([c, nan, -c])])
    found = score_correlation(score)
    assert np.linalg.eigvalsh(found).min() > 0
    assert np.allclose(np.diag(found), 1.0)
    assert 0 < flagged_share([0.01] * 3, correlation=found) < 0.03


def residuals(seen):
    levels = learn_levels(seen.readings, seen.starts, seen.family)
    return follow_rates(seen.readings, seen.starts, seen.family, levels).residual


@pytest.mark.parametrize("budget", [0.02, 0.05, 0.15])
def test_sound_engines_of_the_latent_model_are_flagged_as_budgeted(budget):
    # Eight metals that share half of their variance from fill to fill; correlation from one fleet,
    # share counted on another.
    options = {"measurands": 8, "common": 0.5}
    matrix = score_correlation(residuals(fleet(np.random.default_rng(104), 1500, 8, **options)))
    assert 0.2 < matrix[0, 1] < 0.5  # errors and unknown levels are not shared
    told = levels_for_budget(budget, weight=np.ones(8), correlation=matrix)
    score = residuals(fleet(np.random.default_rng(105), 3000, 8, **options))
    flagged = (score > norm.isf(told.level)).any(axis=1)
    # Binomial error, and 8 % for what was learned of spread and scatter.
    error = 4.5 * np.sqrt(budget * (1 - budget) / len(flagged)) + 0.08 * budget
    assert abs(flagged.mean() - budget) < error, f"{flagged.sum()} of {len(flagged)}"
    # Controls: each metal at the whole budget; and correlation overlooked.
    assert (score > norm.isf(budget)).any(axis=1).mean() > 2.5 * budget
    assert told.independent > 1.05 * budget


def test_two_kinds_of_limit_together():
    # Own limit and a sum per metal, both seen at the 20th sample; a sum stays high for a while.
    seen = fleet(np.random.default_rng(106), 20_000, 20, measurands=2)
    score = seen.in_order(residuals(seen))
    level = np.array([0.005, 0.005, *[cusum_beyond(20, decision=4.0)[-1]] * 2])
    chart = cusum(np.moveaxis(score, 1, 2), decision=4.0)
    both = np.concatenate([score[:, -1] > norm.isf(0.005), chart.high[..., -1]], axis=1)
    by_one = both.mean(axis=0)
    # Binomial error; a sum adds up what was learned a little wrong, a single score does not.
    slack = np.array([0.08, 0.08, 0.2, 0.2]) * level
    assert (np.abs(by_one - level) < 4.5 * np.sqrt(level / 20_000) + slack).all()
    # Scores that stand for "high": the sum's chance turned into one; it goes with the last score.
    matrix = np.eye(4)
    matrix[[0, 1, 2, 3], [2, 3, 0, 1]] = 0.6
    wanted = flagged_share(level, correlation=matrix)
    found = both.any(axis=1).mean()
    assert abs(found - wanted) < 4.5 * np.sqrt(wanted / 20_000) + 0.12 * wanted
    assert flagged_share(level) > wanted  # independence is on the safe side
    # The sum's chance taken as one over its run length would be found out.
    assert cusum_beyond(20, decision=4.0)[-1] > 2.5 / 335.37


def test_the_effective_number_is_that_of_independent_comparisons():
    assert effective_number(1 - 0.99**7, 0.01) == pytest.approx(7.0)
    told = levels_for_budget(0.05, weight=np.ones(10), correlation=alike(10, 0.999))
    assert told.effective < 1.6


@pytest.mark.parametrize(("call", "message"), [
    (lambda: levels_for_budget(0.0, weight=[1.0]),
     "budget: must be between 0 and 1, found 0.0; use 0.05: five of a hundred sound engines at "
     "each sample"),
    (lambda: levels_for_budget(0.05, weight=[0.0, -1.0]),
     "weight: must be 0 or more and above 0 for one comparison at least, found [0.0, -1.0]; use 1 "
     "for each in force"),
    (lambda: levels_for_budget(0.5, weight=[1.0], asked=[0.2]),
     "budget: must be within reach of the comparisons, found 0.5 where all of them together flag "
     "0.2 at most; use a smaller budget"),
    (lambda: flagged_share([0.1, 1.2]),
     "level: must be chances between 0 and 1, one for each comparison, found [0.1, 1.2]; give for "
     "instance 0.005 for the limit of 99.5 %"),
    (lambda: flagged_share([0.1, 0.1], correlation=np.ones((3, 3))),
     "correlation: must be a correlation matrix of 2 comparisons, found shape (3, 3); use "
     "score_correlation on the scores of sound engines"),
    (lambda: score_correlation([1.0]),
     "score: must have samples and comparisons, found shape (1,); give one column per comparison"),
    (lambda: effective_number(1.0, 0.1),
     "share and level: must be between 0 and 1, found 1.0 and 0.1; give the share from "
     "flagged_share and the level it came from"),
])
def test_what_does_not_fit_is_refused(call, message):
    with pytest.raises(ValueRefused) as refused:
        call()
    assert str(refused.value) == message
