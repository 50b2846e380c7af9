"""Control charts against the worked examples of the NIST handbook and against their recursions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.charts import cusum, ewma

# NIST/SEMATECH e-Handbook 6.3.2.4: 20 values, their EWMA of weight 0.3 from 50, s = 2.0539.
EWMA_DATA = np.array([52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9,
                      51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
EWMA_PRINTED = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36,
                49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]

# NIST/SEMATECH e-Handbook 6.3.2.3: subgroup means, target 325, k 0.3175, h 4.1959 (data looked
# up, printed sums from memory).
CUSUM_DATA = np.array([324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525,
                       325.225, 324.6, 324.625, 325.15, 328.325, 327.25, 327.825, 328.5, 326.675,
                       327.775, 326.875, 328.35])
CUSUM_HIGH = [0, 0, 0, 0, .03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00,
              19.04]
CUSUM_LOW = [0, .01, 0, .33, 0, 0, .56, .72, .17, .25, .31, 0, 0, 0, 0, 0, 0, 0, 0, 0]


def test_nist_ewma():
    told = ewma((EWMA_DATA - 50) / 2.0539, weight=0.3, width=3.0)
    assert (50 + 2.0539 * told.value).round(2).tolist() == EWMA_PRINTED
    # The page prints the limits of the long run, 52.5884 and 47.4115 (rounded factor 0.4201).
    assert 50 + 2.0539 * told.limit[-1] == pytest.approx(52.5884, abs=2e-3)
    assert 2.0539 * 3 * np.sqrt(0.3 / 1.7) == pytest.approx(2.5884, abs=2e-4)
    assert not (told.high | told.low).any()


def test_nist_cusum():
    told = cusum(CUSUM_DATA - 325, allowance=0.3175, decision=4.1959)
    assert np.abs(told.upper - CUSUM_HIGH).max() < 0.0051
    assert np.abs(told.lower - CUSUM_LOW).max() < 0.0051
    assert told.upper[-1] == pytest.approx(19.035)
    assert np.flatnonzero(told.high)[0] + 1 == 14
    assert not told.low.any()
    # The rise began with group 13, and the sums say so.
    assert (told.high_since[12:] == 12).all()
    assert told.high_since[3] == -1


def test_epa_nickel_shewhart_cusum():
    # US EPA 2009, Unified Guidance 530/R-09-007, example 20-1: nickel, ppb, baseline of 8 months
    # (mean 25.1375, sd 11.5182), k 1; sums of the next 8 months 0, 0, 0, 0, 0, 0, 0, 3.92, decision
    # value 5 not exceeded.
    baseline = np.array([32.8, 15.2, 13.5, 39.6, 37.1, 10.4, 31.9, 20.6])
    later = np.array([19.0, 34.5, 17.8, 23.6, 34.8, 28.8, 23.7, 81.8])
    assert baseline.mean() == pytest.approx(25.1375)
    assert baseline.std(ddof=1) == pytest.approx(11.5182, abs=1e-4)
    told = cusum((later - baseline.mean()) / baseline.std(ddof=1), allowance=1.0)
    assert told.upper.round(2).tolist() == [0, 0, 0, 0, 0, 0, 0, 3.92]
    assert not told.high.any()


@given(st.lists(st.floats(-4, 4) | st.just(float("nan")), min_size=1, max_size=30),
       st.floats(0, 1), st.sampled_from([0.0, 2.5]))
def test_sums_are_their_recursion(scores, allowance, head):
    told = cusum(scores, allowance=allowance, decision=3.0, head_start=head)
    up = down = head
    began = None
    for place, score in enumerate(scores):
        if not np.isnan(score):
            was = up
            up, down = max(0.0, up + score - allowance), max(0.0, down - score - allowance)
            if up > 1e-9 and (began is None or was <= 0.0):
                began = place
            if up <= 1e-9:
                began = None
        assert told.upper[place] == pytest.approx(up, abs=1e-9)
        assert told.lower[place] == pytest.approx(down, abs=1e-9)


def test_a_run_begins_after_its_last_rest():
    nan = np.nan
    told = cusum([1.0, 1.0, -4.0, nan, 2.0, nan, 2.0], allowance=0.5)
    assert told.upper.tolist() == [0.5, 1.0, 0.0, 0.0, 1.5, 1.5, 3.0]
    assert told.high_since.tolist() == [0, 0, -1, -1, 4, 4, 4]
    assert told.lower.tolist() == [0.0, 0.0, 3.5, 3.5, 1.0, 1.0, 0.0]
    assert told.low_since.tolist() == [-1, -1, 2, 2, 2, 2, -1]


def test_many_series_are_each_their_own():
    scores = np.random.default_rng(31).normal(size=(3, 4, 15))
    scores[1, 2, 5] = np.nan
    x = np.cumsum(np.random.default_rng(32).uniform(1, 3, (3, 4, 15)), axis=-1)
    sums, means = cusum(scores), ewma(scores, x=x, span=6.0)
    for place in np.ndindex(3, 4):
        one, mean = cusum(scores[place]), ewma(scores[place], x=x[place], span=6.0)
        assert np.array_equal(one.upper, sums.upper[place])
        assert np.array_equal(one.high_since, sums.high_since[place])
        assert np.allclose(mean.value, means.value[place])
        assert np.allclose(mean.limit, means.limit[place])


def test_the_limits_of_the_first_samples_are_narrower():
    told = ewma(np.zeros(30), weight=0.2, width=3.0)
    assert told.limit[0] == pytest.approx(3 * 0.2)
    i = np.arange(1, 31)
    assert np.allclose(told.limit, 3 * np.sqrt(0.2 / 1.8 * (1 - 0.8 ** (2 * i))))


def test_even_spacing_by_use_is_a_weight_by_sample():
    scores = np.random.default_rng(33).normal(size=12)
    by_use = ewma(scores, weight=0.2, x=np.arange(12) * 5000.0, span=-5000.0 / np.log(0.8))
    by_sample = ewma(scores, weight=0.2)
    assert np.allclose(by_use.value, by_sample.value)
    assert np.allclose(by_use.limit, by_sample.limit)


def test_samples_close_together_share_a_weight_and_a_long_gap_forgets():
    close = ewma([0.0, 3.0, 3.0], x=[0.0, 5000.0, 5000.0], span=20_000.0)
    assert close.value[2] == close.value[1]
    far = ewma([3.0, 1.0], x=[0.0, 1e9], span=20_000.0)
    assert far.value[1] == pytest.approx(1.0)
    gap = ewma([1.0, np.nan, 2.0], x=[0.0, np.nan, 4000.0], span=8000.0, weight=0.3)
    weight = 1 - np.exp(-0.5)
    assert gap.value.tolist() == pytest.approx([0.3, 0.3, 0.3 * (1 - weight) + 2 * weight])


def test_the_mean_of_independent_scores_has_the_spread_of_its_limit():
    rng = np.random.default_rng(34)
    x = np.cumsum(rng.exponential(1.0, 20))
    told = ewma(rng.normal(size=(40_000, 20)), x=x, span=4.0, width=1.0)
    assert np.allclose(told.value.std(axis=0), told.limit[0], rtol=0.02)


@pytest.mark.parametrize(("options", "message"), [
    ({"weight": 0.0}, "weight: must be above 0 and at most 1, found 0.0; use 0.2"),
    ({"width": -1.0}, "width and span: must be above 0, found -1.0 and None; use a width near 3"),
    ({"span": 3.0}, "x and span: must be given together, found one alone; give both, or neither "
                    "for a weight by sample"),
    ({"span": 3.0, "x": [1.0, np.nan]},
     "x: must be a number wherever there is a score, found NaN; leave the score out where the "
     "place on the axis is not known"),
])
def test_options_out_of_range_are_refused(options, message):
    with pytest.raises(ValueRefused) as refused:
        ewma([0.0, 1.0], **options)
    assert str(refused.value) == message


def test_a_decision_of_nothing_is_refused():
    with pytest.raises(ValueRefused) as refused:
        cusum([0.0], decision=0.0)
    assert str(refused.value) == (
        "decision: must be above 0, allowance and head start at least 0, found 0.0, 0.5 and 0.0; "
        "use 5, 0.5 and 0")
