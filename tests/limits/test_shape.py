"""The shape check against SciPy, and by simulation with counts."""

import numpy as np
import pytest
from scipy.stats import shapiro

from oiltrend.errors import ValueRefused
from oiltrend.limits.shape import Shape, check_shape
from tests.limits.published import SILVER


def rejected(values, **options):
    return np.mean(check_shape(values, **options).plain_p < 0.05)


@pytest.mark.parametrize("n", [8, 20, 60])
def test_normal_values_pass_as_often_as_stated(n):
    values = np.random.default_rng(91).normal(size=(3000, n))
    assert abs(rejected(values) - 0.05) < 4.5 * np.sqrt(0.05 * 0.95 / 3000) + 0.005


@pytest.mark.parametrize("n", [16, 40, 300])
@pytest.mark.parametrize("share", [0.1, 0.25, 0.5])
def test_so_they_do_with_the_lower_part_hidden(share, n):
    values = np.sort(np.random.default_rng(92).normal(size=(1500, n)), axis=1)
    count = int(share * n)
    below = np.broadcast_to(np.arange(n) < count, values.shape)
    hidden = np.where(below, values[:, count:count + 1], values)
    found = rejected(hidden, below=below)
    # The fitted formula itself is off by up to 1.5 in 100.
    assert abs(found - 0.05) < 4.5 * np.sqrt(0.05 * 0.95 / 1500) + 0.01
    if n > 16 and share > 0.2:
        # Taken for numbers, the bounds make a plot that no normal distribution has.
        assert rejected(hidden) > 0.5


def test_agrees_with_another_test_of_the_same():
    # Shapiro-Wilk and Shapiro-Francia weigh nearly alike: chances within a factor.
    rng = np.random.default_rng(93)
    values = np.concatenate([rng.normal(size=(60, 30)), rng.exponential(size=(60, 30))])
    ours = check_shape(values).plain_p
    theirs = np.array([shapiro(line).pvalue for line in values])
    assert np.corrcoef(np.log(ours), np.log(theirs))[0, 1] > 0.97
    assert np.mean((ours < 0.05) == (theirs < 0.05)) > 0.93


def test_the_scale_is_found():
    rng = np.random.default_rng(94)
    told = check_shape(np.stack([10 + rng.normal(size=80), np.exp(rng.normal(size=80)),
                                 np.where(rng.random(80) < 0.5, -4, 4) + rng.normal(size=80)]))
    assert told.shape.tolist() == [Shape.PLAIN, Shape.LOG, Shape.NEITHER]
    assert told.log[1] > told.plain[1]
    assert np.isnan(told.log[2])  # a number below 0 has no logarithm
    assert told.n.tolist() == [80, 80, 80]


def test_states():
    nan = np.nan
    few = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0] + [nan] * 13
    same = [4.0] * 10 + [nan] * 10
    hidden = [1.0] * 11 + [2.0, 3, 4, 5, 6, 7, 8, 9, 10]
    below = np.zeros((3, 20), dtype=bool)
    below[2, :11] = True
    told = check_shape([few, same, hidden], below=below)
    assert told.shape.tolist() == [Shape.TOO_FEW, Shape.NO_SPREAD, Shape.TOO_MUCH_BELOW]
    assert np.isnan(told.plain).all()
    assert told.n_detected.tolist() == [7, 10, 9]


def test_a_bound_that_nobody_gave_is_counted():
    value = [np.nan, *np.linspace(1, 3, 12)]
    told = check_shape(value, below=[True] + [False] * 12)
    assert (told.n, told.n_detected) == (13, 12)
    only = check_shape([np.nan] * 9, below=[True] * 9)
    assert only.shape == Shape.TOO_FEW


def test_extreme_skew_with_many_limits():
    value, below = SILVER
    detected = check_shape(value[~below])
    assert detected.plain_p < 1e-6
    assert check_shape(value, below=below).shape == Shape.TOO_MUCH_BELOW


def test_many_values_are_judged_by_a_part():
    values = np.random.default_rng(95).normal(size=20_000)
    told = check_shape(values)
    assert told.plain_p > 0.01
    assert told.n == 20_000
    below = values < -1.0
    assert check_shape(np.where(below, -1.0, values), below=below).plain_p > 0.01


def test_a_chance_of_nothing_is_refused():
    with pytest.raises(ValueRefused) as refused:
        check_shape([1.0, 2.0], least_p=0.0)
    assert str(refused.value) == "least_p: must be between 0 and 1, found 0.0; use 0.05"
