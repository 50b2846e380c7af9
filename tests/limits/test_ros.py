"""Robust regression on order statistics against published data sets.

Oahu arsenic: R NADA and a second implementation. Manganese: US EPA 2009 example 15-1, figures
of the EnvStats manual. Silver (Helsel and Cohn 1988): reproduced in R, extreme skew.
"""

import numpy as np
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.limits.lognormal import FitState
from oiltrend.limits.ros import plotting_positions, robust_ros
from tests.limits.published import MANGANESE, OAHU_ARSENIC, SILVER


def test_oahu_arsenic():
    fit = robust_ros(*OAHU_ARSENIC)
    assert fit.mean == pytest.approx(0.9724632, abs=1e-6)
    assert fit.sd == pytest.approx(0.7180122, abs=1e-6)
    assert fit.median == pytest.approx(0.7, abs=1e-12)
    shares = [0.05, 0.10, 0.25, 0.75, 0.90, 0.95]
    assert np.quantile(fit.completed, shares) == pytest.approx(
        [0.4220205, 0.4754676, 0.5538936, 1.0224864, 1.64, 2.635], abs=1e-6)


def test_manganese_with_both_plotting_constants():
    blom, weibull = robust_ros(*MANGANESE, constant=0.375), robust_ros(*MANGANESE)
    assert (blom.intercept, blom.slope) == pytest.approx((2.293742, 1.283635), abs=2e-6)
    assert (blom.log_mean, blom.log_sd) == pytest.approx((2.298656, 1.238104), abs=2e-6)
    assert (weibull.log_mean, weibull.log_sd) == pytest.approx((2.277175, 1.261431), abs=2e-6)
    assert (weibull.mean, weibull.sd) == pytest.approx((19.827673, 25.869663), abs=2e-6)


def test_silver_with_most_values_below_many_limits():
    fit = robust_ros(*SILVER)
    assert (fit.log_mean, fit.log_sd) == pytest.approx((-1.12713, 2.22277), abs=1e-5)


def test_what_was_measured_stays_as_it_is_and_the_rest_stays_positive():
    value, below = OAHU_ARSENIC
    completed = robust_ros(value, below).completed
    assert (completed[~below] == value[~below]).all()
    assert (completed[below] > 0).all()


def test_nothing_censored_is_the_plain_sample():
    value = np.array([1.0, 3.0, 2.0, 8.0])
    fit = robust_ros(value, np.zeros(4, dtype=bool))
    assert (fit.mean, fit.median) == (3.5, 2.5)
    # Without limits the positions are those of one sample: rank / (n + 1).
    assert plotting_positions(value, np.zeros(4, dtype=bool)).tolist() == [0.2, 0.6, 0.4, 0.8]


def test_the_order_of_samples_does_not_matter():
    value, below = MANGANESE
    order = np.random.default_rng(8).permutation(len(value))
    fit, again = robust_ros(value, below), robust_ros(value[order], below[order])
    assert (again.mean, again.log_sd) == pytest.approx((fit.mean, fit.log_sd), rel=1e-12)


def test_the_unit_only_scales():
    value, below = OAHU_ARSENIC
    fit, scaled = robust_ros(value, below), robust_ros(value * 1000.0, below)
    assert (scaled.mean, scaled.median) == pytest.approx((fit.mean * 1000, fit.median * 1000))


def test_too_few_or_equal_numbers_give_a_state_and_no_summary():
    few = robust_ros([1.0, 2.0, 3.0], [True, False, False])
    assert few.state is FitState.TOO_FEW_DETECTED
    assert np.isnan([few.mean, few.median, few.slope]).all()
    equal = robust_ros([1.0, 2.0, 2.0, 2.0], [True, False, False, False])
    assert equal.state is FitState.NO_SPREAD
    assert np.isnan(equal.completed[0])


def test_missing_values_are_left_out_and_unknown_bounds_are_not():
    fit = robust_ros([np.nan, np.nan, 3.0, 4.0, 6.0], [False, True, False, False, False])
    assert (fit.n, fit.n_detected) == (4, 3)
    assert fit.completed[0] < 3.0


def test_a_constant_beyond_one_half_is_refused_in_full_words():
    with pytest.raises(ValueRefused) as refused:
        robust_ros([1.0, 2.0, 3.0], [False] * 3, constant=0.6)
    assert str(refused.value) == ("constant: must be between 0 and 0.5, found 0.6; "
                                  "use 0 (Weibull) or 0.375 (Blom)")
