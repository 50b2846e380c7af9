"""Population limits count engines, say when there are too few, and know reporting limits."""

import numpy as np
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.limits.population import PopulationState, population_limits

ONE_GROUP = np.zeros(60, dtype=int)


def lead(n=60, seed=40):
    return np.random.default_rng(seed).lognormal(1.5, 0.5, (n, 1))


def limits(value, below=None, group=None, share=0.9, confidence=0.95):
    below = np.zeros_like(value, dtype=bool) if below is None else below
    group = np.zeros(len(value), dtype=int) if group is None else group
    return population_limits(value, below, group, share=share, confidence=confidence)


def test_the_limit_is_the_percentile_and_its_bounds_are_order_statistics():
    value = lead()
    told, ordered = limits(value), np.sort(value[:, 0])
    assert told.limit[0, 0] == pytest.approx(np.quantile(value, 0.9, method="weibull"))
    # Binomial ranks for n = 60, p = 0.9, one-sided 95 % each; brute force in test_percentiles.
    assert told.lower[0, 0] == ordered[50 - 1]
    assert told.upper[0, 0] == ordered[59 - 1]
    assert (told.n_engines[0, 0], told.n_below[0, 0], told.needed) == (60, 0, 29)


def test_too_few_engines_say_how_many_are_needed_and_give_no_limit():
    told = limits(lead(58), share=0.95)
    assert PopulationState(told.state[0, 0]) is PopulationState.TOO_FEW_ENGINES
    assert (told.needed, told.n_engines[0, 0]) == (59, 58)
    assert np.isnan([told.limit[0, 0], told.lower[0, 0], told.upper[0, 0], told.bound[0, 0]]).all()
    assert PopulationState(limits(lead(59), share=0.95).state[0, 0]) is PopulationState.ENOUGH


def test_engines_without_a_value_do_not_count():
    value = lead()
    value[:10] = np.nan
    assert limits(value).n_engines[0, 0] == 50


def test_a_limit_among_the_reporting_limits_gives_a_number_it_does_not_exceed():
    value = np.full((40, 1), 5.0)
    value[:2] = 9.0
    below = value == 5.0
    told = limits(value, below, share=0.9)
    assert PopulationState(told.state[0, 0]) is PopulationState.BELOW_REPORTING_LIMIT
    assert np.isnan(told.limit[0, 0])
    assert told.bound[0, 0] == 5.0
    assert told.n_below[0, 0] == 38


def test_not_detected_without_a_bound_is_counted_and_leaves_the_bound_open():
    told = limits(np.full((40, 1), np.nan), np.ones((40, 1), dtype=bool))
    assert told.n_engines[0, 0] == told.n_below[0, 0] == 40
    assert PopulationState(told.state[0, 0]) is PopulationState.BELOW_REPORTING_LIMIT
    assert np.isnan(told.bound[0, 0])


def test_low_readings_below_different_reporting_limits_do_not_move_a_high_percentile():
    value = lead(200, seed=41)
    limit = np.random.default_rng(42).choice([2.0, 3.0, 4.0], value.shape)
    below = value < limit
    assert 0.15 < below.mean() < 0.5
    assert limits(np.where(below, limit, value), below).limit == pytest.approx(
        limits(value).limit)


def test_a_lab_with_a_high_reporting_limit_neither_raises_nor_drops_the_percentile():
    # Half the engines go to a laboratory that reports nothing below 10.
    rng = np.random.default_rng(43)
    value = rng.lognormal(1.5, 0.5, (4000, 1))
    below = (rng.random(value.shape) < 0.5) & (value < 10.0)
    told = limits(np.where(below, 10.0, value), below)
    true = np.exp(1.5 + 0.5 * 1.2816)
    assert told.limit[0, 0] == pytest.approx(true, rel=0.03)
    substituted = np.quantile(np.where(below, 5.0, value), 0.9)  # half the limit, by habit
    dropped = np.quantile(value[~below], 0.9)
    assert abs(told.limit[0, 0] - true) < min(abs(substituted - true), abs(dropped - true))


def test_groups_and_measurands_side_by_side_equal_each_on_its_own():
    rng = np.random.default_rng(44)
    value = rng.lognormal(1.0, 0.7, (150, 3))
    value[rng.random(value.shape) < 0.1] = np.nan
    below = (value < 2.0) & (rng.random(value.shape) < 0.7)
    group = rng.integers(-1, 3, 150)
    told = limits(value, below, group, share=0.8, confidence=0.9)
    assert told.limit.shape == (3, 3)
    for g in range(3):
        for m in range(3):
            alone = limits(value[group == g][:, [m]], below[group == g][:, [m]], share=0.8,
                           confidence=0.9)
            for name in ("limit", "lower", "upper", "bound", "n_engines", "n_below", "state"):
                assert getattr(alone, name)[0, 0] == pytest.approx(
                    getattr(told, name)[g, m], nan_ok=True), name


def test_the_order_of_engines_does_not_matter():
    value, order = lead(), np.random.default_rng(45).permutation(60)
    assert limits(value).limit == limits(value[order]).limit


def test_no_engines_are_no_error_and_a_group_may_be_empty():
    assert limits(np.zeros((0, 3))).limit.shape == (0, 3)
    told = limits(lead(), group=np.full(60, 1))
    assert told.n_engines[:, 0].tolist() == [0, 60]
    assert PopulationState(told.state[0, 0]) is PopulationState.TOO_FEW_ENGINES


def test_one_new_sound_engine_is_above_the_limit_as_often_as_stated():
    rng = np.random.default_rng(46)
    value = rng.lognormal(1.0, 0.8, (60, 4000))
    told = limits(value, share=0.9)
    new = rng.lognormal(1.0, 0.8, 4000)
    # The rank p(n + 1) leaves a new value above with chance 1 − p, whatever the shape.
    assert np.mean(new > told.limit[0]) == pytest.approx(0.1, abs=0.015)


def test_shapes_that_do_not_fit_are_refused_in_full_words():
    with pytest.raises(ValueRefused) as refused:
        population_limits(np.zeros((3, 2)), np.zeros((3, 1)), [0, 0, 0], share=0.9,
                          confidence=0.95)
    assert str(refused.value) == (
        "value: must have shape (n_engines, m), below the same and group (n_engines,), found "
        "(3, 2), (3, 1) and (3,); give one value per engine and measurand")
