"""Slope and rank test against published examples, general libraries and brute force.

Sulfate and sodium: US EPA 2009, Unified Guidance, examples 17-6 and 17-7 (figures of the
EnvStats manual). Sen 1968 and the two small examples are from memory and were reproduced.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erfc

from oiltrend.errors import ValueRefused
from oiltrend.limits.trend import (
    TrendState,
    median_intercept,
    rank_trend,
    rank_trend_long,
)
from tests.limits.published import (
    HELSEL_HIRSCH_X,
    HELSEL_HIRSCH_Y,
    SEN_X,
    SEN_Y,
    SODIUM,
    SODIUM_YEAR,
    SULFATE,
    SULFATE_DATE,
)

FIELDS = ("slope", "low", "high", "score", "variance", "z", "p_value", "n", "n_detected", "state")


def test_sulfate():
    trend = rank_trend(SULFATE_DATE, SULFATE)
    assert (trend.score, trend.variance, trend.n) == (194, 1428.0, 23)
    assert trend.z == pytest.approx(5.107322, abs=1e-6)
    assert trend.p_value == pytest.approx(3.267574e-7, rel=1e-6)
    assert trend.slope == pytest.approx(26.6666667, abs=1e-6)
    assert (trend.low, trend.high) == pytest.approx((20.0, 35.71182), abs=1e-5)
    assert median_intercept(SULFATE_DATE, SULFATE, trend.slope) == pytest.approx(
        -1909.333333, abs=1e-5)


def test_sulfate_interval_at_whole_ranks():  # scipy.stats.theilslopes: 20.0 and 35.849057
    trend = rank_trend(SULFATE_DATE, SULFATE, whole_ranks=True)
    assert (trend.low, trend.high) == pytest.approx((20.0, 35.849057), abs=1e-5)


def test_sodium():
    trend = rank_trend(SODIUM_YEAR, SODIUM)
    assert (trend.slope, trend.score) == (pytest.approx(4 / 3), 25)
    assert median_intercept(SODIUM_YEAR, SODIUM, trend.slope) == pytest.approx(-65.966667, abs=1e-5)


def test_sen():  # slope 4, 93 % interval 26/7 to 4.375
    trend = rank_trend(SEN_X, SEN_Y, confidence=0.93, whole_ranks=True)
    assert (trend.slope, trend.low, trend.high) == pytest.approx((4.0, 26 / 7, 4.375), abs=1e-12)


def test_small_examples_with_counted_chances():
    small = rank_trend(np.arange(1.0, 6.0), [5.0, 6.0, 11.0, 8.0, 10.0])  # US EPA QA/G-9
    assert (small.score, small.p_value) == (6, pytest.approx(2 * 0.1166667, abs=1e-6))
    usgs = rank_trend(HELSEL_HIRSCH_X, HELSEL_HIRSCH_Y)
    assert (usgs.score, usgs.p_value) == (5, pytest.approx(0.5619048, abs=1e-6))


def fleet(lines=60, n=12, seed=60, ties=False):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(1.0, 9.0, (lines, n)), axis=1)
    y = 0.2 * x + rng.normal(scale=4.0, size=x.shape)
    return x, np.round(y / 4.0) if ties else y


@pytest.mark.parametrize("n", [5, 8, 12, 21])
@pytest.mark.parametrize("ties", [False, True])
def test_agrees_with_scipy_on_uneven_distances(n, ties):
    stats = pytest.importorskip("scipy.stats")
    x, y = fleet(n=n, ties=ties)
    trend = rank_trend(x, y)
    for line in range(len(x)):
        wanted = stats.theilslopes(y[line], x[line])
        assert trend.slope[line] == pytest.approx(wanted.slope, abs=1e-12)
        if not ties and n <= 10:
            exact = stats.kendalltau(x[line], y[line], method="exact")
            assert trend.p_value[line] == pytest.approx(exact.pvalue, rel=1e-9)
            assert trend.score[line] == pytest.approx(exact.statistic * n * (n - 1) / 2)


@pytest.mark.parametrize("ties", [False, True])
def test_agrees_with_pymannkendall_on_even_spacing(ties):
    mk = pytest.importorskip("pymannkendall")
    _, y = fleet(n=14, ties=ties)
    trend = rank_trend(np.arange(14.0), y)
    for line in range(len(y)):
        wanted = mk.original_test(y[line])
        assert (trend.score[line], trend.variance[line]) == pytest.approx((wanted.s, wanted.var_s))
        assert (trend.z[line], trend.p_value[line]) == pytest.approx((wanted.z, wanted.p), abs=1e-9)
        assert trend.slope[line] == pytest.approx(wanted.slope, abs=1e-12)


def test_two_samples_at_one_place_leave_the_counted_chances():
    x, y = np.array([0.0, 1.0, 1.0, 2.0, 3.0, 4.0]), np.array([1.0, 3.0, 2.0, 4.0, 6.0, 5.0])
    trend = rank_trend(x, y)
    # 15 pairs, one at one place, one falling: S = 13 − 1; variance with ties in x by the usual
    # correction (n(n−1)(2n+5) − t(t−1)(2t+5))/18.
    assert trend.score == 12
    assert trend.variance == pytest.approx((6 * 5 * 17 - 2 * 1 * 9) / 18)
    assert trend.p_value == pytest.approx(erfc(11 / np.sqrt(2 * trend.variance)))


def test_distance_is_honoured_where_the_sample_number_would_mislead():
    # One unit per 1000 km, sampled after 1, 2, 3, 30 and 60 thousand.
    x = np.array([1.0, 2.0, 3.0, 30.0, 60.0])
    assert rank_trend(x, x).slope == pytest.approx(1.0)
    assert rank_trend(np.arange(5.0), x).slope != pytest.approx(1.0, abs=0.5)


def score_of_residuals(b, x, y, below):
    """S of y − b·x by two plain loops; a bound stays a bound."""
    residual, score = y - b * x, 0
    for i in range(len(x)):
        for j in range(i + 1, len(x)):
            if below[i] and below[j]:
                continue
            difference = residual[j] - residual[i]
            if below[i]:
                score += difference >= 0
            elif below[j]:
                score -= difference <= 0
            else:
                score += np.sign(difference)
    return score


def test_with_bounds_the_slope_brings_the_score_of_the_residuals_to_nothing():
    x, y = fleet(lines=40, n=9, seed=61)
    below = y < np.quantile(y, 0.25, axis=1, keepdims=True)
    value = np.where(below, np.quantile(y, 0.3, axis=1, keepdims=True), y)
    trend = rank_trend(x, value, below=below)
    for line in range(len(x)):
        b = float(trend.slope[line])
        step = 1e-9 * max(1.0, abs(b))
        before = score_of_residuals(b - step, x[line], value[line], below[line])
        after = score_of_residuals(b + step, x[line], value[line], below[line])
        assert before >= 0 >= after
        assert trend.score[line] == score_of_residuals(0.0, x[line], value[line], below[line])


def test_a_mask_without_bounds_changes_nothing():
    x, y = fleet(n=9, ties=True)
    plain = rank_trend(x, y)
    # A bound without a place on the axis counts for nothing, but sends its series along the path
    # for censored ones; that must agree with the plain path.
    nowhere, bound = np.full(len(x), np.nan), np.full(len(x), -1e9)
    forced = rank_trend(np.column_stack([x, nowhere]), np.column_stack([y, bound]),
                        below=np.arange(10) == np.full((len(x), 1), 9))
    for name in FIELDS:
        assert getattr(forced, name) == pytest.approx(getattr(plain, name), nan_ok=True), name


def test_few_bounds_far_below_a_rising_series_hardly_move_the_slope():
    x = np.arange(12.0)
    value = np.where(x < 2, 1.0, 5.0 + x)
    trend = rank_trend(x, value, below=x < 2)
    assert trend.slope == pytest.approx(1.0, abs=0.15)
    # 45 pairs of numbers and 20 of a bound and a later number rise; two bounds are open.
    assert trend.score == 65


def test_two_bounds_are_open_even_when_they_differ():
    trend = rank_trend(np.arange(6.0), [1.0, 5.0, 1.0, 5.0, 1.0, 5.0], below=np.ones(6, dtype=bool))
    assert (trend.score, trend.variance, trend.p_value) == (0, 0.0, 1.0)


def test_states_say_why_there_is_no_slope():
    nan = np.nan
    x = np.broadcast_to(np.arange(6.0), (5, 6)).copy()
    x[3] = 7.0
    value = np.array([[1.0, 2, 3, 4, 5, 6], [1.0, 2, 3, nan, nan, nan], [1.0, 2, 3, 3, 3, 3],
                      [1.0, 2, 3, 4, 5, 6], [nan] * 6])
    below = np.zeros((5, 6), dtype=bool)
    below[2, 3:] = True
    trend = rank_trend(x, value, below=below)
    assert [TrendState(code).name for code in trend.state] == [
        "GIVEN", "TOO_FEW", "TOO_MUCH_BELOW", "NO_SLOPE", "TOO_FEW"]
    assert np.isnan(trend.slope).tolist() == [False, True, True, True, True]
    assert trend.n.tolist() == [6, 3, 6, 6, 0]
    assert trend.n_detected.tolist() == [6, 3, 3, 6, 0]
    assert np.isnan(trend.p_value).tolist() == [False, False, False, False, True]


def test_four_samples_never_reach_one_in_twenty():
    trend = rank_trend(np.arange(4.0), np.arange(4.0))
    assert trend.p_value == pytest.approx(2 / 24)
    assert trend.slope == 1.0
    assert np.isnan([trend.low, trend.high]).all()  # six pairs cannot bound it at 95 %


def test_one_wild_value_does_not_move_the_slope_out_of_its_interval():
    x, y = fleet(lines=1, n=15)
    before = rank_trend(x, y)
    y[0, 7] = 1e6
    after = rank_trend(x, y)
    assert before.low[0] < after.slope[0] < before.high[0]


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 9), st.booleans()), min_size=4,
                max_size=9), st.permutations(range(9)), st.integers(1, 1000))
def test_order_unit_and_direction(cells, shuffle, scale):
    x, value, below = (np.array(column, dtype=float) for column in zip(*cells, strict=True))
    below = below.astype(bool)
    trend = rank_trend(x, value, below=below)
    order = [place for place in shuffle if place < len(x)]
    again = rank_trend(x[order], value[order], below=below[order])
    scaled = rank_trend(x, value * scale, below=below)
    back = rank_trend(-x, value, below=below)
    for name in FIELDS:
        assert getattr(again, name) == pytest.approx(getattr(trend, name), nan_ok=True), name
    assert scaled.slope == pytest.approx(trend.slope * scale, nan_ok=True)
    assert scaled.score == trend.score
    assert scaled.p_value == pytest.approx(trend.p_value, nan_ok=True)
    assert (back.score, back.state) == (-trend.score, trend.state)
    assert back.slope == pytest.approx(-trend.slope, nan_ok=True)
    assert back.low == pytest.approx(-trend.high, nan_ok=True)
    assert back.high == pytest.approx(-trend.low, nan_ok=True)


def test_the_interval_covers_about_as_often_as_it_says():
    rng = np.random.default_rng(62)
    for n in (6, 10, 20):
        x = np.cumsum(rng.uniform(1, 9, (4000, n)), axis=1)
        trend = rank_trend(x, 0.3 * x + rng.standard_t(4, x.shape))
        inside = np.mean((trend.low <= 0.3) & (trend.high >= 0.3))
        assert 0.93 < inside < 0.98


def test_the_rank_test_keeps_its_chance_also_with_values_below_limits():
    rng = np.random.default_rng(63)
    true = rng.lognormal(0.5, 0.8, (6000, 12))
    limit = rng.choice([1.0, 2.0], true.shape)
    below = true < limit
    trend = rank_trend(np.arange(12.0), np.where(below, limit, true), below=below)
    assert 0.25 < below.mean() < 0.6
    assert 0.03 < np.mean(trend.p_value < 0.05) <= 0.055


def long_table(seed=64):
    rng = np.random.default_rng(seed)
    counts = rng.integers(1, 9, 30)
    rows = counts.sum()
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    x = np.cumsum(rng.uniform(1, 9, rows))
    value = np.round(rng.lognormal(1.0, 0.7, (rows, 4)), 1)
    value[rng.random(value.shape) < 0.1] = np.nan
    below = (value < 2.0) & (rng.random(value.shape) < 0.8)
    return x, value, starts, below, counts


def test_a_long_table_gives_what_each_series_gives_on_its_own():
    x, value, starts, below, counts = long_table()
    trend = rank_trend_long(x, value, starts, below=below)
    for series, (first, count) in enumerate(zip(starts, counts, strict=True)):
        rows = slice(first, first + count)
        for column in range(4):
            alone = rank_trend(x[rows], value[rows, column], below=below[rows, column])
            for name in FIELDS:
                assert getattr(trend, name)[series, column] == pytest.approx(
                    getattr(alone, name), nan_ok=True), name


def test_slices_of_work_do_not_show(monkeypatch):
    x, value, starts, below, _ = long_table()
    whole = rank_trend_long(x, value, starts, below=below)
    monkeypatch.setattr("oiltrend.limits.trend._PAIRS_AT_ONCE", 7)
    monkeypatch.setattr("oiltrend.limits.trend._CELLS_AT_ONCE", 5)
    sliced = rank_trend_long(x, value, starts, below=below)
    for name in FIELDS:
        assert getattr(sliced, name) == pytest.approx(getattr(whole, name), nan_ok=True), name


def test_no_series_are_no_error():
    assert rank_trend(np.zeros((0, 5)), np.zeros((0, 5))).slope.shape == (0,)
    assert rank_trend_long(np.zeros(0), np.zeros((0, 3)), []).slope.shape == (0, 3)


@pytest.mark.parametrize("use", [
    lambda confidence: rank_trend([1.0], [1.0], confidence=confidence),
    lambda confidence: rank_trend_long([1.0], [[1.0]], [0], confidence=confidence)])
def test_a_confidence_in_percent_is_refused_in_full_words(use):
    with pytest.raises(ValueRefused) as refused:
        use(95.0)
    assert str(refused.value) == (
        "confidence: must be between 0 and 1, found 95.0; give a share such as 0.95")


def test_the_line_cannot_be_placed_where_the_median_lies_below_the_limit():
    x, value = np.arange(5.0), np.array([2.0, 2.0, 2.0, 5.0, 6.0])
    assert np.isnan(median_intercept(x, value, 1.0, below=value == 2.0))
    assert median_intercept(x, value, 1.0) == 0.0
