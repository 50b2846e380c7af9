"""Rods, mains and other by a stated prior.

Outside: marginals of a Dirichlet distribution are beta distributions (``scipy.stats``);
simulation from the prior itself.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from oiltrend.errors import ValueRefused
from oiltrend.wear.sources_shares import DEFAULT_PRIOR, SharePrior, share_rods_mains_other


def test_shares_are_those_of_the_dirichlet():
    shared = share_rods_mains_other(np.array(1.0), np.array(1.0), np.array(1.0))
    for place, a in enumerate((6.0, 3.0, 1.0)):
        own = beta(a, 10.0 - a)
        assert shared.share[place] == pytest.approx(own.mean())
        assert shared.share_low[place] == pytest.approx(own.ppf(0.025))
        assert shared.share_high[place] == pytest.approx(own.ppf(0.975))


@pytest.mark.parametrize("relative", [0.05, 0.3])
@pytest.mark.parametrize("prior", [DEFAULT_PRIOR, SharePrior(1, 1, 1, 5, "test"),
                                   SharePrior(8, 4, 1, 40, "test")])
def test_ranges_cover(relative, prior):
    rng = np.random.default_rng(17)
    parts = np.array([prior.rods, prior.mains, prior.other])
    share = rng.dirichlet(parts / parts.sum() * prior.strength, 4000)
    true = rng.lognormal(2.0, 0.5, 4000)
    found = np.maximum(true * (1 + relative * rng.normal(size=4000)), 0.0)
    half = 1.96 * relative * true
    shared = share_rods_mains_other(found, np.maximum(found - half, 0.0), found + half,
                                    prior=prior)
    truth = share * true[:, None]
    covered = ((shared.low <= truth) & (truth <= shared.high)).mean(axis=0)
    assert (covered > 0.94).all()
    # Taking the mean shares for certain covers far less.
    fixed = ((shared.share * (found - half)[:, None] <= truth)
             & (truth <= shared.share * (found + half)[:, None])).mean(axis=0)
    assert fixed.min() < 0.90


@given(st.floats(0.0, 1e4), st.floats(0.0, 1.0), st.floats(0.0, 1e3))
def test_parts_sum_to_the_whole_and_lie_in_their_ranges(value, lower, above):
    shared = share_rods_mains_other(np.array(value), np.array(lower * value),
                                    np.array(value + above))
    assert shared.value.sum() == pytest.approx(value)
    assert (shared.low <= shared.value + 1e-9).all()
    assert (shared.value <= shared.high + 1e-9).all()
    assert (shared.low >= 0.0).all()
    assert (shared.high <= 2 * (value + above) + 1e-9).all()


def test_an_upper_limit_is_shared_as_an_upper_limit():
    shared = share_rods_mains_other(np.array([0.0]), np.array([0.0]), np.array([5.0]))
    assert (shared.value == 0.0).all()
    assert (shared.low == 0.0).all()
    assert (shared.high > 0.0).all()


def test_unknown_stays_unknown():
    shared = share_rods_mains_other(np.array([np.nan, 1.0]), np.array([np.nan, 0.5]),
                                    np.array([np.nan, 2.0]))
    assert np.isnan(shared.value[0]).all()
    assert np.isnan(shared.high[0]).all()
    assert np.isfinite(shared.high[1]).all()


def test_no_mains_is_none():
    shared = share_rods_mains_other(np.array(10.0), np.array(9.0), np.array(11.0),
                                    prior=SharePrior(1.0, 0.0, 0.0, 10.0, "no other shells"))
    np.testing.assert_allclose(shared.value, [10.0, 0.0, 0.0])
    np.testing.assert_allclose(shared.low, [9.0, 0.0, 0.0])
    np.testing.assert_allclose(shared.high, [11.0, 0.0, 0.0])


def test_the_default_says_that_it_is_assumed():
    assert "assumed" in DEFAULT_PRIOR.source


@pytest.mark.parametrize(("prior", "message"), [
    ((0, 0, 0, 10), r"^rods, mains, other: must not be negative and not all zero, found 0, 0, "
                    r"0; give three parts such as 6, 3 and 1$"),
    ((6, -3, 1, 10), r"^rods, mains, other: must not be negative and not all zero, found 6, -3, "
                     r"1; give three parts such as 6, 3 and 1$"),
    ((6, 3, 1, 0), r"^strength: must be above zero, found 0; give a small number such as 10 for "
                   r"little knowledge$"),
])
def test_a_prior_that_is_none_is_refused(prior, message):
    with pytest.raises(ValueRefused, match=message):
        SharePrior(*prior, "test")
