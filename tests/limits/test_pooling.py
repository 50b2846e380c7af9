"""Partial pooling against published examples, statsmodels and truth known."""

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.pooling import pool_estimates, pool_groups

# Davies and Goldsmith 1972 (lme4::Dyestuff): yields of six batches, five each.
DYESTUFF = np.array([
    1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445.])
BATCHES = np.arange(0, 30, 5)

# Efron and Morris 1975: batting averages after 45 at bats, and of the rest of the season.
AVERAGES = np.array([.400, .378, .356, .333, .311, .311, .289, .267, .244, .244, .222, .222, .222,
                     .222, .222, .200, .178, .156])
SEASON = np.array([.346, .298, .276, .222, .273, .270, .263, .210, .269, .230, .264, .256, .303,
                   .264, .226, .285, .316, .200])


@pytest.mark.parametrize("method", ["restricted", "moments"])
def test_dyestuff(method):
    # lme4, statsmodels and closed form: mean 1527.5, between 1764.05, within 2451.25, shrinkage
    # 0.7825267, criterion 319.6543; predicted effects A −17.6069, E 56.7332, F −44.9953.
    told = pool_groups(DYESTUFF[:, None], BATCHES, method=method)
    assert told.mean[0] == pytest.approx(1527.5)
    assert told.between[0] == pytest.approx(1764.05, rel=1e-6)
    assert told.within[0] == pytest.approx(2451.25, rel=1e-6)
    assert told.own_share[:, 0] == pytest.approx(np.full(6, 0.7825267), abs=1e-7)
    assert told.level[[0, 4, 5], 0] - 1527.5 == pytest.approx([-17.6069, 56.7332, -44.9953],
                                                               abs=2e-4)
    assert told.criterion[0] == pytest.approx(319.6543, abs=1e-4)
    assert not told.floored[0]


def test_unbalanced_against_an_iterative_fit():
    smf = pytest.importorskip("statsmodels.formula.api")
    pd = pytest.importorskip("pandas")
    rng = np.random.default_rng(61)
    keep = np.sort(rng.choice(30, 21, replace=False))
    group = keep // 5
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    fit = smf.mixedlm("y ~ 1", pd.DataFrame({"y": DYESTUFF[keep], "g": group}),
                      groups="g").fit(reml=True)
    told = pool_groups(DYESTUFF[keep][:, None], starts)
    # statsmodels gives the variance between in cov_re; its params hold the ratio.
    assert told.between[0] == pytest.approx(float(fit.cov_re.iloc[0, 0]), rel=1e-3)
    assert told.within[0] == pytest.approx(float(fit.scale), rel=1e-3)
    assert told.mean[0] == pytest.approx(float(fit.params["Intercept"]), rel=1e-6)
    assert told.criterion[0] == pytest.approx(-2 * fit.llf, abs=1e-4)
    effects = np.array([float(fit.random_effects[g].iloc[0]) for g in np.unique(group)])
    assert told.level[:, 0] - told.mean[0] == pytest.approx(effects, abs=0.05)


def test_eight_schools_do_not_differ():
    # Rubin 1981: common mean 7.6856 (4.0719), Q 4.7071, variance between 0.
    told = pool_estimates([28, 8, -3, 7, -1, 1, 18, 12], [15, 10, 16, 11, 9, 11, 10, 18])
    assert told.mean == pytest.approx(7.6856, abs=1e-4)
    assert told.mean_uncertainty == pytest.approx(4.0719, abs=1e-4)
    assert told.unlike == pytest.approx(4.7071, abs=1e-4)
    assert told.between == 0.0
    assert told.own_share == pytest.approx(np.full(8, 2 / 7))


def test_batting_averages():
    # Efron and Morris 1975, 1977: mean .265, own share .212, Clemente .294; squared errors 3.5
    # times smaller.
    mean = AVERAGES.mean()
    told = pool_estimates(AVERAGES, np.full(18, np.sqrt(mean * (1 - mean) / 45)))
    assert told.mean == pytest.approx(0.26539, abs=2e-5)
    assert told.own_share[0] == pytest.approx(0.21239, abs=1e-4)
    assert told.level[0] == pytest.approx(0.294, abs=5e-4)
    worse, better = (((given_ - SEASON) ** 2).sum() for given_ in (AVERAGES, told.level))
    assert worse / better == pytest.approx(3.54, abs=0.05)


def test_truth_comes_back_and_drawn_levels_are_nearer():
    rng = np.random.default_rng(62)
    counts = rng.integers(1, 15, 4000)
    true = rng.normal(2.0, 0.5, 4000)
    value = np.repeat(true, counts) + rng.normal(0.0, 0.8, counts.sum())
    starts = np.cumsum(counts) - counts
    told = pool_groups(value[:, None], starts)
    assert told.mean[0] == pytest.approx(2.0, abs=0.04)
    assert np.sqrt(told.between[0]) == pytest.approx(0.5, abs=0.03)
    assert np.sqrt(told.within[0]) == pytest.approx(0.8, abs=0.02)
    own = np.add.reduceat(value, starts) / counts
    drawn = told.level[:, 0]
    assert ((drawn - true) ** 2).mean() < 0.6 * ((own - true) ** 2).mean()
    inside = np.abs(drawn - true) < 1.96 * told.uncertainty[:, 0]
    assert abs(inside.sum() - 3800) < 4.5 * np.sqrt(4000 * 0.05 * 0.95)
    # The own mean with the drawn level's uncertainty: the count above can fail.
    assert (np.abs(own - true) < 1.96 * told.uncertainty[:, 0]).sum() < 3650


def test_groups_that_do_not_differ_are_said_to_be_floored():
    value = np.tile([1.0, 2.0, 3.0], 5)[:, None]
    for method in ("restricted", "moments"):
        told = pool_groups(value, np.arange(0, 15, 3), method=method)
        assert told.floored[0]
        assert told.between[0] == 0.0
        assert told.level[:, 0] == pytest.approx(np.full(5, 2.0))


def test_measurands_are_each_their_own_and_gaps_are_left_out():
    rng = np.random.default_rng(63)
    value = rng.normal(size=(40, 3)) + rng.normal(size=10).repeat(4)[:, None]
    value[:, 2] = np.nan
    value[4:8, 1] = np.nan
    starts = np.arange(0, 40, 4)
    told = pool_groups(value, starts)
    alone = pool_groups(value[:, :1], starts)
    assert told.level[:, 0] == pytest.approx(alone.level[:, 0], rel=1e-6)
    without = pool_groups(np.delete(value[:, 1:2], slice(4, 8), axis=0), np.arange(0, 36, 4))
    assert told.level[np.arange(10) != 1, 1] == pytest.approx(without.level[:, 0], rel=1e-6)
    assert told.level[1, 1] == pytest.approx(told.mean[1])
    assert told.uncertainty[1, 1] >= np.sqrt(told.between[1])
    assert np.isnan(told.level[:, 2]).all()
    single = pool_groups([[1.0], [2.0], [3.0]], [0, 1, 2])  # nothing tells the scatter within
    assert np.isnan(single.within[0])


@given(st.lists(st.lists(st.floats(-5, 5), min_size=2, max_size=6), min_size=2, max_size=8),
       st.floats(0.1, 50.0), st.floats(-100.0, 100.0))
def test_scale_and_origin_carry_through(groups, scale, origin):
    value = np.concatenate(groups)
    starts = np.cumsum([0] + [len(group) for group in groups[:-1]])
    if value.std() < 0.05 or max(np.std(group) for group in groups) < 0.05:
        return
    one, other = (pool_groups(table[:, None], starts)
                  for table in (value, origin + scale * value))
    assert other.level[:, 0] == pytest.approx(origin + scale * one.level[:, 0], rel=1e-3,
                                              abs=1e-3 * scale)
    assert ((one.own_share >= 0) & (one.own_share <= 1)).all()


def test_twenty_thousand_engines():
    rng = np.random.default_rng(64)
    value = rng.normal(size=(200_000, 8))
    begin = time.process_time()
    pool_groups(value, np.arange(0, 200_000, 10))
    assert time.process_time() - begin < 4.0


@pytest.mark.parametrize(("call", "message"), [
    (lambda: pool_groups([[1.0], [2.0]], [0, 2]),
     "starts: must begin at 0 and rise to less than the number of rows (2), found [0, 2]; "
     "give the first row of each group that has rows"),
    (lambda: pool_groups([[1.0], [2.0]], [0], method="guess"),
     "method: must be 'restricted' or 'moments', found 'guess'; use restricted"),
    (lambda: pool_estimates([1.0, 2.0], [1.0, 0.5]),
     "estimates: must be four or more with uncertainties above 0, found 2 with uncertainties "
     "from 0.5; with fewer, show them as they are"),
])
def test_what_does_not_fit_is_refused(call, message):
    with pytest.raises(ValueRefused) as refused:
        call()
    assert str(refused.value) == message
