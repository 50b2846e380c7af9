"""One step in level: against the Nile, brute force, and simulation with counts."""

import time
from itertools import permutations

import numpy as np
import pytest
from scipy.stats import rankdata

from oiltrend.errors import ValueRefused
from oiltrend.limits.change_point import (
    ChangeState,
    _mid_ranks,
    change_point,
    pettitt,
)
from tests.limits.published import numbers

# Annual flow of the Nile at Aswan, 1871 to 1970, 10⁸ m³: Cobb 1978, Biometrika 65:243.
NILE = numbers("""
    1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140
    1100 1210 1150 1250 1260 1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969 831
    726 456 824 702 1120 1100 832 764 821 768 845 864 862 698 845 744 796 1040 759 781 865 845 944
    984 897 822 1010 771 676 649 846 812 742 801 1040 860 874 848 890 744 749 838 1050 918 986 797
    923 975 815 1020 906 901 1170 912 746 919 718 714 740
""")
YEARS = np.arange(1871.0, 1971.0)


def test_nile():
    # One step after observation 28 (1898), means 1097.75 and 849.9722 (Cobb 1978; strucchange);
    # chance of 1898 .764, 1897 .121, 1896 .057 (two other computations of the same posterior).
    told = change_point(NILE, x=YEARS)
    assert told.last_before + 1 == 28
    assert (told.before, told.after) == (pytest.approx(1097.75), pytest.approx(849.9722, abs=1e-4))
    assert told.chance[[27, 26, 25]] == pytest.approx([0.764, 0.121, 0.057], abs=6e-4)
    assert told.chance.sum() == pytest.approx(1.0)
    assert told.x_low <= 1896 < 1899 <= told.x_high <= 1902
    assert told.step == pytest.approx(-248, abs=5)
    # Two means 247.8 apart, 28 and 72 values of sd 127: 28.6 (plain two-sample error).
    assert told.step_uncertainty == pytest.approx(28.6, abs=3)


def test_nile_by_ranks():
    # Pettitt's K 1617, p 3.591e-7 (R package trend).
    told = pettitt(NILE)
    assert told.statistic == 1617
    assert told.last_before + 1 == 28
    assert told.p_value == pytest.approx(3.591e-7, rel=1e-3)


def test_the_chances_are_the_formula_term_by_term():
    rng = np.random.default_rng(71)
    value, x = rng.normal(size=11), np.cumsum(rng.uniform(1, 9, 11))
    value[6:] += 1.5
    chances = np.zeros(11)
    for k in range(3, 9):
        left = ((value[:k] - value[:k].mean()) ** 2).sum() + (
            (value[k:] - value[k:].mean()) ** 2).sum()
        chances[k - 1] = (x[k] - x[k - 1]) * (k * (11 - k)) ** -0.5 * left ** (-9 / 2)
    told = change_point(value, x=x)
    assert told.chance == pytest.approx(chances / chances.sum(), rel=1e-9)


def test_a_wide_gap_is_a_likelier_place():
    value = [1.0, 1.1, 0.9, 1.2, 1.6, 1.9, 2.1, 2.0, 1.9]
    even = change_point(value)
    gap = change_point(value, x=[0, 1, 2, 3, 13, 14, 15, 16, 17])
    assert gap.chance[3] > even.chance[3]


def test_no_step_within_three_samples_of_an_end():
    told = change_point([9.0, 0.1, 0.0, 0.2, 0.1, 0.0, 0.2, 0.1])
    assert (told.chance[[0, 1, 5, 6, 7]] == 0).all()


def test_states():
    told = change_point([[1.0, 2.0, 1.0, np.nan, 2.0, 1.0], [1.0] * 6, [1.0, 1, 1, 2, 2, 2]])
    assert told.state.tolist() == [ChangeState.TOO_FEW, ChangeState.NO_SPREAD, ChangeState.GIVEN]
    assert told.last_before.tolist() == [-1, -1, 2]
    assert np.isnan(told.step[:2]).all()
    assert told.step[2] == pytest.approx(1.0)
    assert told.n.tolist() == [5, 6, 6]
    same_place = change_point([1.0, 1, 1, 2, 2, 2], x=[0.0, 1, 2, 2, 3, 4])
    assert same_place.state == ChangeState.TOO_FEW  # no use passed between the levels


def test_the_tests_own_error_keeps_a_rounding_step_from_being_sure():
    value = [3.0, 3.0, 3.0, 3.0, 4.0, 4.0, 4.0, 4.0]
    bare, honest = change_point(value), change_point(value, test_uncertainty=1.0)
    assert bare.chance[3] > 0.99
    assert honest.chance[3] < 0.5
    assert honest.step_uncertainty > 0.6


def test_gaps_keep_their_places_and_lines_their_own():
    rng = np.random.default_rng(72)
    value = rng.normal(size=(2, 3, 14))
    value[..., 8:] += 2.0
    value[0, 1, [2, 9]] = np.nan
    x = np.cumsum(rng.uniform(1, 3, 14))
    told = change_point(value, x=x)
    for place in np.ndindex(2, 3):
        one = change_point(value[place], x=x)
        assert np.array_equal(one.chance, told.chance[place])
        assert one.last_before == told.last_before[place]
    kept = ~np.isnan(value[0, 1])
    packed = change_point(value[0, 1][kept], x=x[kept])
    assert told.chance[0, 1][kept] == pytest.approx(packed.chance)
    assert np.flatnonzero(kept)[packed.last_before] == told.last_before[0, 1]
    assert (told.x_low[0, 1], told.x_high[0, 1]) == (packed.x_low, packed.x_high)


def test_place_and_height_are_covered_as_stated():
    # 4,000 series of 12 with one step of 2 standard deviations, its place drawn evenly.
    rng = np.random.default_rng(73)
    series, n = 4000, 12
    after = rng.integers(3, n - 2, series)
    value = rng.normal(size=(series, n)) + 2.0 * (np.arange(n) >= after[:, None])
    told = change_point(value)
    inside = (told.x_low <= after - 1) & (told.x_high >= after)
    # Places are whole, and steps of any height were thought as likely: covered more often.
    assert 3800 - 4.5 * np.sqrt(4000 * 0.05 * 0.95) < inside.sum() < 3980
    right = told.last_before == after - 1
    most_likely = told.chance.max(axis=1).sum()
    assert most_likely - 4.5 * np.sqrt(4000 * 0.25) < right.sum() < 1.2 * most_likely
    height = np.abs(told.step - 2.0) < 2.2 * told.step_uncertainty
    assert 0.92 < height.mean() < 0.98


def test_steps_of_any_height_are_placed_as_surely_as_stated():
    # What the posterior assumes: heights without a favourite, here ±20 standard deviations.
    rng = np.random.default_rng(78)
    series, n = 8000, 12
    after = rng.integers(3, n - 2, series)
    height = rng.uniform(-20, 20, (series, 1))
    told = change_point(rng.normal(size=(series, n)) + height * (np.arange(n) >= after[:, None]))
    stated = told.chance.max(axis=1)
    right = told.last_before == after - 1
    error = 4.5 * np.sqrt((stated * (1 - stated)).sum())
    assert abs(right.sum() - stated.sum()) < error
    # Always swearing by the most likely place would be found out.
    assert len(right) - right.sum() > error


@pytest.mark.parametrize("n", [6, 7])
def test_every_order_is_counted(n):
    orders = np.array(list(permutations(range(n))), dtype=float)
    told = pettitt(orders)
    for value in np.unique(told.statistic):
        wanted = np.mean(told.statistic >= value)
        assert told.p_value[told.statistic == value] == pytest.approx(wanted)


@pytest.mark.parametrize("n", [8, 12, 14, 20, 40])
def test_ranks_reject_no_more_often_than_stated(n):
    told = pettitt(np.random.default_rng(74).normal(size=(40_000, n)))
    for level in (0.05, 0.01):
        hits = (told.p_value <= level).sum()
        # Counted orders reach the level as nearly as whole ranks can; the formula stays below.
        assert hits <= 40_000 * level + 4.5 * np.sqrt(40_000 * level)
        if 12 <= n <= 14:
            assert hits > 0.6 * 40_000 * level


def test_the_closed_approximation_would_be_off_in_short_series():
    # Why short series are counted: at n = 8 the formula calls fewer than 3 in 100 instead of 5.
    value = np.random.default_rng(75).normal(size=(40_000, 8))
    statistic = pettitt(value).statistic
    formula = 2 * np.exp(-6 * statistic**2 / (8**3 + 8**2))
    assert np.mean(formula <= 0.05) < 0.03


def test_ties_share_ranks():
    table = np.random.default_rng(76).integers(0, 5, (50, 9)).astype(float)
    assert np.array_equal(_mid_ranks(table), rankdata(table, axis=1))
    told = pettitt([1.0, 1.0, 1.0, np.nan, 2.0, 2.0, 2.0])
    assert told.statistic == 9
    assert told.last_before == 2
    assert pettitt([[np.nan, 1.0]]).last_before.tolist() == [-1]


def test_a_fleet_is_worked_through_at_once():
    value = np.random.default_rng(77).normal(size=(10_000, 8, 12))
    begin = time.process_time()
    change_point(value)
    pettitt(value)
    assert time.process_time() - begin < 6.0


def test_a_number_alone_is_refused():
    with pytest.raises(ValueRefused) as refused:
        pettitt(3.0)
    assert str(refused.value) == ("value: must have the samples on its last axis, found a single "
                                  "number; give an array of values in order")
