"""Tolerance, prediction and chart factors against published tables and simulation."""

import numpy as np
import pytest
from scipy.stats import nct, norm

from oiltrend.errors import ValueRefused
from oiltrend.limits.tolerance import (
    howe_factor,
    individuals_chart,
    one_sided_factor,
    prediction_factor,
    two_sided_factor,
)

ARSENIC = np.array([12.6, 30.8, 52.0, 28.1, 33.3, 44.0, 3.0, 12.8, 58.1, 12.6, 17.6, 25.3])


def test_nist_example():
    # NIST/SEMATECH e-Handbook 7.2.6.3, n 43, share 0.90, confidence 0.99: one-sided 1.8740 (exact;
    # 1.8752 by Natrella's formula), two-sided 2.217 by Howe.
    options = {"share": 0.90, "confidence": 0.99}
    assert one_sided_factor(43, **options) == pytest.approx(1.87395, abs=1e-5)
    assert howe_factor(43, **options) == pytest.approx(2.21732, abs=1e-4)
    assert two_sided_factor(43, **options) == pytest.approx(2.22283, abs=1e-5)


def test_95_95_table():
    # Odeh and Owen 1980 (one-sided 4.203, 3.187, 2.911, 2.566, 2.396, 2.220; two-sided 5.077,
    # 3.746, 3.393, 2.760, 2.555, any table), with more digits by an independent computation.
    options = {"share": 0.95, "confidence": 0.95}
    assert [one_sided_factor(n, **options) for n in (5, 8, 10, 15, 20, 30)] == pytest.approx(
        [4.2027, 3.1873, 2.9110, 2.5660, 2.3960, 2.2198], abs=6e-5)
    assert [two_sided_factor(n, **options) for n in (5, 8, 10, 20, 30)] == pytest.approx(
        [5.0769, 3.7455, 3.3934, 2.7603, 2.5549], abs=6e-5)
    # Howe is low by some 0.3 %.
    assert 0.996 < howe_factor(8, **options) / 3.7455 < 0.9985


def test_the_quantile_of_the_noncentral_t():
    for n, share, confidence in ((3, 0.99, 0.9), (12, 0.9, 0.5), (200, 0.999, 0.99)):
        wanted = nct.ppf(confidence, n - 1, norm.ppf(share) * np.sqrt(n)) / np.sqrt(n)
        assert one_sided_factor(n, share=share, confidence=confidence) == pytest.approx(
            wanted, rel=1e-6)


def test_epa_chrysene():
    # US EPA 2009, Unified Guidance, example 17-3: meanlog 2.5085773, sdlog 0.6279479, n 8: the
    # upper 95/95 tolerance limit is 90.9247.
    limit = np.exp(2.5085773 + 0.6279479 * one_sided_factor(8, share=0.95, confidence=0.95))
    assert limit == pytest.approx(90.9247, abs=2e-3)


def test_epa_arsenic():
    # US EPA 2009, Unified Guidance, example 18-1: 95 % limit for the next 4 results 73.67237
    # (Bonferroni, what is printed); 72.9038 with the common mean and s allowed for.
    mean, sd = ARSENIC.mean(), ARSENIC.std(ddof=1)
    for exact, wanted in ((False, 73.67237), (True, 72.9038)):
        factor = prediction_factor(12, confidence=0.95, following=4, exact=exact)
        assert mean + sd * factor == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize("n", [4, 10])
def test_factors_promise_what_they_keep(n):
    rng = np.random.default_rng(81)
    runs = 60_000
    past = rng.normal(size=(runs, n))
    mean, sd = past.mean(axis=1), past.std(axis=1, ddof=1)
    error = 4.5 * np.sqrt(0.05 * 0.95 / runs)
    one = mean + sd * one_sided_factor(n, share=0.9, confidence=0.95)
    assert abs(np.mean(norm.cdf(one) > 0.9) - 0.95) < error
    two = sd * two_sided_factor(n, share=0.9, confidence=0.95)
    assert abs(np.mean(norm.cdf(mean + two) - norm.cdf(mean - two) > 0.9) - 0.95) < error
    later = rng.normal(size=(runs, 3)).max(axis=1)
    ahead = mean + sd * prediction_factor(n, confidence=0.95, following=3)
    assert abs(np.mean(later < ahead) - 0.95) < error
    # Mean + 1.645 s, as if mean and s were known, keeps neither promise.
    assert np.mean(norm.cdf(mean + 1.282 * sd) > 0.9) < 0.6
    assert np.mean(later < mean + 2.128 * sd) < 0.94


def test_one_result_ahead_is_students_t():
    assert prediction_factor(9, confidence=0.99) == pytest.approx(2.896 * np.sqrt(10 / 9),
                                                                   abs=1e-3)


def test_nist_individuals_chart():
    # NIST/SEMATECH e-Handbook 6.3.2.2: mean 50.81, mean moving range 1.8778, 55.8041, 45.8159.
    told = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    assert told.mean == pytest.approx(50.81)
    assert told.moving_range == pytest.approx(1.8778, abs=1e-4)
    assert (told.high, told.low) == (pytest.approx(55.8041, abs=1e-4),
                                     pytest.approx(45.8159, abs=1e-4))


def test_individuals_of_many_series_with_gaps():
    nan = np.nan
    told = individuals_chart([[1.0, nan, 3.0, 2.0], [5.0, nan, nan, nan], [nan] * 4])
    assert told.moving_range[0] == pytest.approx(1.5)
    assert told.mean[:2].tolist() == [2.0, 5.0]
    assert np.isnan(told.low[1:]).all()
    assert np.isnan(told.mean[2])


@pytest.mark.parametrize(("call", "message"), [
    (lambda: one_sided_factor(1, share=0.9, confidence=0.9),
     "n: must be 2 or more, found 1; with one value nothing is known of the spread"),
    (lambda: two_sided_factor(5, share=1.0, confidence=0.9),
     "share: must be between 0 and 1, found 1.0; give a share such as 0.95"),
    (lambda: howe_factor(5, share=0.9, confidence=0.0),
     "confidence: must be between 0 and 1, found 0.0; give a share such as 0.95"),
    (lambda: prediction_factor(5, confidence=0.95, following=0),
     "following: must be 1 or more, found 0; give how many next results the limit is for"),
])
def test_what_promises_nothing_is_refused(call, message):
    with pytest.raises(ValueRefused) as refused:
        call()
    assert str(refused.value) == message
