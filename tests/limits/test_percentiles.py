"""Percentiles: NIST's worked example, order-statistic counts, and brute force."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.percentiles import (
    percentile,
    percentile_position,
    percentile_ranks,
    smallest_sample,
)
from tests.limits.published import NIST_PERCENTILE


def test_nist_worked_example():  # NIST/SEMATECH e-Handbook 7.2.6.2: 95.1981 at position 11.7
    assert percentile_position(12, 0.9) == pytest.approx(11.7)
    assert percentile(NIST_PERCENTILE, 0.9) == pytest.approx(95.1981, abs=5e-5)


@pytest.mark.parametrize(("share", "confidence", "engines"), [
    # Wilks 1941, from memory; 59 and 299 also computed from 1 − pⁿ.
    (0.95, 0.95, 59), (0.90, 0.95, 29), (0.99, 0.95, 299), (0.90, 0.90, 22),
    (0.975, 0.95, 119),
])
def test_engines_needed_for_the_largest_value(share, confidence, engines):
    assert smallest_sample(share, confidence) == engines
    assert 1 - share ** engines >= confidence > 1 - share ** (engines - 1)


@pytest.mark.parametrize(("share", "confidence", "engines"), [
    (0.95, 0.95, 93), (0.90, 0.95, 46), (0.99, 0.95, 473), (0.90, 0.90, 38)])
def test_engines_needed_for_the_second_largest_value(share, confidence, engines):
    # Wilks's two-sided counts: smallest and largest together leave out as much as the two largest.
    assert smallest_sample(share, confidence, from_top=2) == engines


def test_a_low_percentile_needs_as_many_low_values():
    assert smallest_sample(0.05, 0.95) == 59


def chance_at_most(successes, n, p):
    """Sum the binomial terms one by one."""
    return math.fsum(math.comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(successes + 1))


@given(st.integers(1, 60), st.floats(0.02, 0.98), st.sampled_from([0.8, 0.9, 0.95]))
def test_ranks_are_the_tightest_that_hold(n, share, confidence):
    lower, upper = percentile_ranks(n, share, confidence)
    holds_upper = [u for u in range(1, n + 1) if chance_at_most(u - 1, n, share) >= confidence]
    holds_lower = [low for low in range(1, n + 1)
                   if 1 - chance_at_most(low - 1, n, share) >= confidence]
    assert upper == (holds_upper[0] if holds_upper else None)
    assert lower == (holds_lower[-1] if holds_lower else None)


def test_with_30_engines_the_largest_value_bounds_the_90th_percentile():
    assert percentile_ranks(30, 0.90, 0.95) == (24, 30)
    assert percentile_ranks(28, 0.90, 0.95)[1] is None
    assert percentile_ranks(0, 0.90, 0.95) == (None, None)


def test_a_bound_that_holds_exactly_counts():
    # One of two values lies at or above the median with chance 3/4.
    assert percentile_ranks(2, 0.5, 0.75) == (1, 2)


def test_the_bounds_cover_as_often_as_they_say():
    rng = np.random.default_rng(30)
    lower, upper = percentile_ranks(60, 0.9, 0.95)
    value = np.sort(rng.random((20_000, 60)), axis=1)
    assert np.mean(value[:, lower - 1] <= 0.9) >= 0.945
    assert np.mean(value[:, upper - 1] >= 0.9) >= 0.945


@given(st.lists(st.integers(0, 12), min_size=1, max_size=25), st.floats(0.01, 0.99))
def test_without_bounds_it_is_numpys_weibull_percentile(values, share):
    wanted = np.quantile(np.array(values, dtype=float), share, method="weibull")
    assert percentile(values, share) == pytest.approx(wanted, abs=1e-6)


def test_bounds_that_stand_under_the_percentile_do_not_move_it():
    value = np.arange(1.0, 21.0)
    assert percentile(value, 0.8, below=value < 9) == percentile(value, 0.8)
    # Nor does it matter what the bounds are, if all stand under it.
    assert percentile(np.where(value < 9, 9.0, value), 0.8, below=value < 9) == percentile(
        value, 0.8)


def test_a_bound_above_gives_its_weight_to_what_stands_under_it():
    # By hand: "<10" shares its 1/5 among 1, 2 and 3, which weigh 4/15 each and so fill the ranks
    # 1 to 4/3, 7/3 to 8/3 and 11/3 to 4 of five; rank 3 lies a third of the way from 2 to 3.
    value, below = [1.0, 2.0, 3.0, 10.0, 20.0], [False, False, False, True, False]
    assert percentile(value, 0.5, below=below) == pytest.approx(2.0 + 1.0 / 3.0)
    assert percentile([1.0, 2.0, 3.0, 20.0], 0.5) == 2.5


def test_a_percentile_among_the_bounds_is_not_a_number():
    assert np.isnan(percentile([2.0, 2.0, 2.0, 5.0], 0.5, below=[True, True, True, False]))
    assert np.isnan(percentile([np.nan, np.nan], 0.5))


def test_series_side_by_side_equal_series_on_their_own():
    rng = np.random.default_rng(31)
    value = np.round(rng.lognormal(1.0, 0.8, (4, 5, 11)), 1)
    value[rng.random(value.shape) < 0.2] = np.nan
    below = (rng.random(value.shape) < 0.3) & ~np.isnan(value)
    together = percentile(value, 0.7, below=below)
    assert together.shape == (4, 5)
    for place in np.ndindex(4, 5):
        assert percentile(value[place], 0.7, below=below[place]) == pytest.approx(
            together[place], nan_ok=True)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: smallest_sample(1.0, 0.95),
     "share: must be between 0 and 1, found 1.0; give a share such as 0.95"),
    (lambda: smallest_sample(0.95, 0.0),
     "confidence: must be between 0 and 1, found 0.0; give a share such as 0.95"),
    (lambda: percentile_ranks(9, 95.0, 0.95),
     "share: must be between 0 and 1, found 95.0; give a share such as 0.95"),
    (lambda: percentile([1.0], 0.0),
     "share: must be between 0 and 1, found 0.0; give a share such as 0.95"),
    (lambda: smallest_sample(0.95, 0.95, from_top=0),
     "from_top: must be 1 or more, found 0; use 1 for the largest value"),
])
def test_what_is_no_share_is_refused_in_full_words(call, message):
    with pytest.raises(ValueRefused) as refused:
        call()
    assert str(refused.value) == message
