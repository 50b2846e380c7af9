"""Description of left-censored data against published data sets.

Kaplan-Meier figures: arsenic of Oahu by R NADA and a second implementation; medians of copper
and zinc (Millard and Deverel 1988) by lifelines and a second implementation.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.limits.censored import (
    BelowFlag,
    kaplan_meier,
    ladder,
    percentile_step,
    too_much_below,
)
from tests.limits.published import (
    COPPER_FAN,
    COPPER_TROUGH,
    OAHU_ARSENIC,
    ZINC_FAN,
    ZINC_TROUGH,
)


def test_oahu_arsenic():
    told = kaplan_meier(*OAHU_ARSENIC)
    assert told.mean == pytest.approx(0.9489583, abs=1e-6)
    assert told.standard_error == pytest.approx(0.1646888, abs=1e-6)
    assert told.sd == pytest.approx(0.8068068, abs=1e-6)
    assert told.median == 0.7
    assert (told.n, told.n_detected, told.left_over) == (24, 11, 0.0)


@pytest.mark.parametrize(("data", "median"), [
    (COPPER_FAN, 2), (COPPER_TROUGH, 3), (ZINC_FAN, 10), (ZINC_TROUGH, 17)])
def test_copper_and_zinc_medians(data, median):
    assert kaplan_meier(*data).median == median


def test_agrees_with_lifelines_on_flipped_data():
    lifelines = pytest.importorskip("lifelines")
    rng = np.random.default_rng(4)
    for _ in range(20):
        limit = rng.choice([1.0, 2.0, 4.0], 30)
        true = np.round(rng.lognormal(1.0, 0.8, 30), 1)
        below = true < limit
        value = np.where(below, limit, true)
        rungs = ladder(value, below)
        fitter = lifelines.KaplanMeierFitter().fit(100.0 - value, ~below)
        for place in np.flatnonzero(rungs.detected):
            # P(X < x) is the survival just past the flipped time.
            wanted = float(fitter.survival_function_at_times(100.0 - rungs.value[place]).iloc[0])
            tied = rungs.detected & (rungs.value == rungs.value[place])
            assert rungs.under[tied].min() == pytest.approx(wanted, abs=1e-12)


def test_nothing_censored_gives_the_plain_mean_and_median():
    rng = np.random.default_rng(5)
    value = rng.lognormal(1.0, 0.5, (40, 11))
    told = kaplan_meier(value, np.zeros_like(value, dtype=bool))
    assert np.allclose(told.mean, value.mean(axis=1))
    assert np.allclose(told.median, np.median(value, axis=1))
    assert np.allclose(told.standard_error, value.std(axis=1, ddof=1) / np.sqrt(11))


def test_below_5_stands_under_a_detected_5():
    rungs = ladder([5.0, 5.0, 1.0], [True, False, False])
    assert rungs.detected.tolist() == [True, False, True]


def test_what_is_left_under_the_smallest_detected_value_is_put_at_the_smallest_number():
    told = kaplan_meier([2.0, 1.0, 4.0], [True, True, False])
    assert told.left_over == pytest.approx(2 / 3)
    assert told.mean == pytest.approx(4 / 3 + 1 * 2 / 3)
    assert np.isnan(told.median)  # it lies below the smallest detected value


def test_series_side_by_side_equal_series_on_their_own():
    rng = np.random.default_rng(6)
    value = np.round(rng.lognormal(1.0, 0.8, (50, 9)), 1)
    value[rng.random(value.shape) < 0.2] = np.nan
    below = (rng.random(value.shape) < 0.4) & ~np.isnan(value)
    together = kaplan_meier(value, below)
    for line in range(len(value)):
        alone = kaplan_meier(value[line], below[line])
        for name in ("mean", "standard_error", "median", "left_over", "n"):
            assert getattr(alone, name) == pytest.approx(getattr(together, name)[line],
                                                         nan_ok=True)


def test_nothing_detected_or_nothing_there_gives_no_numbers():
    told = kaplan_meier([[1.0, 2.0], [np.nan, np.nan]], [[True, True], [False, False]])
    assert np.isnan(told.mean).all()
    assert np.isnan(told.median).all()
    assert told.n.tolist() == [2, 0]


@given(st.lists(st.tuples(st.integers(1, 9), st.booleans()), min_size=1, max_size=12),
       st.permutations(range(12)))
def test_the_order_of_samples_does_not_matter_and_the_mean_stays_inside(cells, shuffle):
    value = np.array([cell[0] for cell in cells], dtype=float)
    below = np.array([cell[1] for cell in cells])
    order = [place for place in shuffle if place < len(value)]
    told, again = kaplan_meier(value, below), kaplan_meier(value[order], below[order])
    assert told.mean == pytest.approx(again.mean, nan_ok=True)
    if not below.all():
        assert value.min() - 1e-9 <= told.mean <= value.max() + 1e-9


def test_a_percentile_is_the_smallest_value_that_so_large_a_share_does_not_exceed():
    rungs = ladder([1.0, 2.0, 5.0, 9.0], [False] * 4)
    assert percentile_step(rungs, 0.5) == 2.0
    assert percentile_step(rungs, 0.51) == 5.0
    below = ladder([3.0, 3.0, 5.0, 9.0], [True, True, False, False])
    assert np.isnan(percentile_step(below, 0.5))  # exactly what is left under the lowest number
    assert percentile_step(below, 0.51) == 5.0


@pytest.mark.parametrize(("lost", "flag"), [
    (0, "NONE"), (5, "UP_TO_HALF"), (6, "OVER_HALF"), (8, "OVER_HALF"),
    (9, "OVER_FOUR_FIFTHS"), (10, "ALL")])
def test_how_much_below_the_reporting_limit_is_too_much(lost, flag):  # borders: common practice
    told = too_much_below(np.full(10, 2.0), np.arange(10) < lost)
    assert BelowFlag(told.flag).name == flag
    assert (told.n, told.n_detected, told.share) == (10, 10 - lost, lost / 10)


def test_not_detected_without_a_bound_counts_and_missing_does_not():
    told = too_much_below([np.nan, np.nan, 3.0], [True, False, False])
    assert (told.n, told.n_detected) == (2, 1)
    assert BelowFlag(too_much_below([np.nan], [False]).flag) is BelowFlag.NO_VALUES
