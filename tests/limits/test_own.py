"""An engine's own limit: closed form, and its false alarms by simulation.

The false-alarm shares of short baselines (three sigma 0.23, 0.15, 0.10, 0.06 for 5, 8, 15, 30
earlier results; prediction limit 0.014 to 0.027; any of 20 later results) come from a simulation
of 20,000 runs; here they are simulated anew.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtri, stdtrit

from oiltrend.errors import ValueRefused
from oiltrend.limits.lognormal import fit_censored_normal
from oiltrend.limits.own import OwnState, own_limits


def test_closed_form():
    # Student's t for 4 degrees of freedom, one-sided 99 %: 3.7469 (any table of t).
    told = own_limits([4.0, 5.0, 6.0, 5.0, 4.0], confidence=0.99, scale="plain")
    assert told.limit == pytest.approx(4.8 + 3.7469 * np.sqrt(0.7) * np.sqrt(1.2), abs=1e-4)
    assert (told.centre, told.n) == (4.8, 5)


def test_arsenic_next_four_by_bonferroni():
    # US EPA 2009, Unified Guidance, example 18-1: 73.67237 for the next 4 results at 95 %.
    background = [12.6, 30.8, 52.0, 28.1, 33.3, 44.0, 3.0, 12.8, 58.1, 12.6, 17.6, 25.3]
    told = own_limits(background, confidence=1 - 0.05 / 4, scale="plain")
    assert told.limit == pytest.approx(73.67237, abs=1e-4)


def test_the_log_scale_is_the_plain_scale_of_logarithms():
    history = np.random.default_rng(70).lognormal(1.0, 0.4, (8, 6))
    logs = own_limits(np.log(history), confidence=0.99, scale="plain")
    told = own_limits(history, confidence=0.99, scale="log")
    assert np.allclose(told.limit, np.exp(logs.limit))
    assert np.allclose(told.centre, np.exp(history_mean := np.log(history).mean(axis=1)))
    assert np.allclose(logs.centre, history_mean)


@pytest.mark.parametrize(("n", "three_sigma"), [(5, 0.23), (8, 0.15), (15, 0.10), (30, 0.06)])
def test_a_short_past_breaks_three_sigma_and_not_the_prediction_limit(n, three_sigma):
    rng = np.random.default_rng(71)
    past, later = rng.normal(size=(20_000, n)), rng.normal(size=(20_000, 20))
    told = own_limits(past, confidence=0.99865, scale="plain")
    alarms = np.mean((later > told.limit[:, None]).any(axis=1))
    assert 0.010 < alarms < 0.030
    naive = past.mean(axis=1) + 3 * past.std(axis=1, ddof=1)
    assert np.mean((later > naive[:, None]).any(axis=1)) == pytest.approx(three_sigma, abs=0.012)


@pytest.mark.parametrize("n", [5, 8, 20])
@pytest.mark.parametrize("share_below", [0.0, 0.2, 0.4, 0.6])
def test_the_next_result_is_beyond_no_more_often_than_stated(n, share_below):
    rng = np.random.default_rng(72)
    true = rng.lognormal(1.0, 0.4, (40_000, n + 1))
    limit = np.exp(1.0 + 0.4 * ndtri(share_below)) if share_below else 0.0
    below = true < limit
    told = own_limits(np.where(below, limit, true)[:, :n], confidence=0.99, scale="log",
                      below=below[:, :n])
    given = told.state == OwnState.GIVEN
    assert given.mean() > 0.25
    beyond = np.mean(true[given, n] > told.limit[given])
    assert beyond <= 0.0125
    if not share_below:
        assert beyond == pytest.approx(0.01, abs=0.002)


def test_a_quiet_past_does_not_make_the_next_rounding_step_stand_out():
    quiet = [5.0, 5.0, 5.0, 5.0, 5.0, 5.0]
    bare = own_limits(quiet, confidence=0.99, scale="plain")
    assert bare.limit == 5.0  # without the test's own uncertainty every 6 would be beyond
    told = own_limits(quiet, confidence=0.99, scale="plain", test_uncertainty=0.6)
    assert told.limit == pytest.approx(5.0 + stdtrit(5, 0.99) * 0.6 * np.sqrt(7 / 6))
    assert told.limit > 7.0
    logs = own_limits(quiet, confidence=0.99, scale="log", test_uncertainty=0.6)
    assert logs.spread == pytest.approx(0.6 / 5.0)


def test_closed_form_with_results_below_a_limit():
    history = [2.0, 3.0, 4.0, 5.0, 2.0, 6.0]
    below = [True, False, False, False, True, False]
    fit = fit_censored_normal(history, below)
    told = own_limits(history, confidence=0.99, scale="plain", below=below)
    sd = fit.sd * np.sqrt(6 / 5)
    assert told.spread == pytest.approx(sd)
    assert told.limit == pytest.approx(fit.mean + stdtrit(3, 0.99) * sd * np.sqrt(7 / 6))


def test_states_say_why_there_is_no_limit():
    nan = np.nan
    history = np.array([[1.0, 2, 3, 4, 5], [1.0, 2, 3, 4, nan], [2.0, 2, 2, 2, 7], [nan] * 5])
    below = np.zeros(history.shape, dtype=bool)
    below[2, :4] = True
    told = own_limits(history, confidence=0.99, scale="plain", below=below)
    assert [OwnState(code).name for code in told.state] == ["GIVEN", "TOO_FEW", "NO_FIT", "TOO_FEW"]
    assert np.isnan(told.limit).tolist() == [False, True, True, True]
    assert told.n.tolist() == [5, 4, 5, 0]
    assert told.n_detected.tolist() == [5, 4, 1, 0]


def test_a_reported_zero_on_the_log_scale_is_not_dropped():
    told = own_limits([0.0, 2.0, 3.0, 2.0, 4.0], confidence=0.99, scale="log")
    assert (told.n, told.n_detected, OwnState(told.state)) == (5, 4, OwnState.GIVEN)
    assert told.centre < np.exp(np.log([2.0, 3.0, 2.0, 4.0]).mean())


def test_many_shapes_equal_single_series():
    rng = np.random.default_rng(73)
    history = rng.lognormal(1.0, 0.5, (3, 4, 8))
    history[rng.random(history.shape) < 0.2] = np.nan
    below = (history < 2.0) & (rng.random(history.shape) < 0.6)
    floor = rng.uniform(0.1, 0.6, (3, 4))
    together = own_limits(history, confidence=0.999, scale="log", below=below,
                          test_uncertainty=floor)
    for place in np.ndindex(3, 4):
        alone = own_limits(history[place], confidence=0.999, scale="log", below=below[place],
                           test_uncertainty=floor[place])
        for name in ("limit", "centre", "spread", "n", "n_detected", "state"):
            assert getattr(alone, name) == pytest.approx(getattr(together, name)[place],
                                                         nan_ok=True), name


@given(st.lists(st.floats(0.1, 100), min_size=5, max_size=12), st.floats(0.6, 0.9999))
def test_the_limit_lies_above_the_level_and_scales_with_the_unit(history, confidence):
    told = own_limits(history, confidence=confidence, scale="log", test_uncertainty=0.01)
    again = own_limits(np.array(history) * 1000.0, confidence=confidence, scale="log",
                       test_uncertainty=10.0)
    assert told.limit > told.centre
    assert again.limit == pytest.approx(told.limit * 1000.0, rel=1e-9)


@pytest.mark.parametrize(("options", "message"), [
    ({"confidence": 99.0, "scale": "log"},
     "confidence: must be between 0 and 1, found 99.0; give a share such as 0.99"),
    ({"confidence": 0.99, "scale": "root"},
     "scale: must be 'plain' or 'log', found 'root'; use log for values that scatter in "
     "proportion to their level"),
    ({"confidence": 0.99, "scale": "log", "minimum": 2},
     "minimum: must be 3 or more, found 2; use 5"),
])
def test_wrong_options_are_refused_in_full_words(options, message):
    with pytest.raises(ValueRefused) as refused:
        own_limits([1.0, 2.0, 3.0], **options)
    assert str(refused.value) == message
