"""Run lengths against published tables and against simulation."""

import numpy as np
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.limits.charts import cusum, ewma
from oiltrend.limits.run_length import (
    cusum_beyond,
    cusum_decision,
    cusum_quiet,
    cusum_run_length,
    ewma_quiet,
    ewma_run_length,
    ewma_width,
)

SHIFTS = [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4]


def test_published_cusum_table():
    # Lucas and Crosier 1982, one-sided, k 0.5, h 4, as printed.
    printed = [336, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71]
    found = cusum_run_length(SHIFTS, decision=4.0)
    # At shift 0.25 the print has 74.2, other programs and the simulation below 77.1.
    keep = np.array(SHIFTS) != 0.25
    assert found[keep] == pytest.approx(np.array(printed)[keep], rel=3e-3)
    assert 1 / (2 / found[0]) == pytest.approx(168, rel=5e-3)  # both sides together, printed


def test_a_quarter_of_a_sigma_by_simulation():
    runs, samples = 6_000, 500
    scores = np.random.default_rng(37).normal(0.25, 1.0, (runs, samples))
    fired = cusum(scores, decision=4.0).high
    length = np.where(fired.any(axis=1), fired.argmax(axis=1) + 1, samples)
    assert length.mean() == pytest.approx(float(cusum_run_length(0.25, decision=4.0)), abs=2.5)
    assert length.mean() - 74.2 > 1.5


def test_cusum_and_ewma_against_another_program():
    # R package spc 0.6.7, xcusum.arl and xewma.arl, zero state, steady limits.
    assert cusum_run_length(SHIFTS, decision=4.0) == pytest.approx(
        [335.368, 77.079, 26.679, 13.287, 8.383, 4.747, 3.343, 2.62, 2.194, 1.708], rel=4e-4)
    assert cusum_run_length([0, 0.5, 1, 2], decision=5.0) == pytest.approx(
        [930.887, 38.01, 10.376, 4.009], rel=4e-4)
    for weight, width, wanted in (
            (0.05, 2.615, [499.933, 28.764, 11.383, 5.225]),
            (0.1, 2.814, [499.58, 31.297, 10.331, 4.362]),
            (0.2, 2.962, [499.735, 41.764, 10.542, 3.743]),
            (0.4, 3.054, [499.951, 71.201, 14.263, 3.522])):
        assert ewma_run_length([0, 0.5, 1, 2], weight=weight, width=width) == pytest.approx(
            wanted, rel=4e-4)
    # Lucas and Saccucci 1990 (from memory): 500 and 10.3.
    assert ewma_run_length([0.0, 1.0], weight=0.1, width=2.814).round(1).tolist() == [499.6, 10.3]


def test_weight_one_is_the_plain_chart():
    # Three sigma on independent normal results: 370.4 (any textbook); one side 740.8.
    assert ewma_run_length(0.0, weight=1.0, width=3.0) == pytest.approx(370.4, abs=0.05)
    assert ewma_run_length(0.0, weight=1.0, width=3.0, two_sided=False) == pytest.approx(
        740.8, abs=0.1)


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_quiet_shares_by_simulation(shift):
    rng = np.random.default_rng(35)
    runs = 100_000
    scores = rng.normal(shift, 1.0, (runs, 25))
    for quiet, fired in (
            (cusum_quiet(25, shift=shift, decision=3.0), cusum(scores, decision=3.0).high),
            (ewma_quiet(25, shift=shift, weight=0.3, width=2.5),
             np.abs(ewma(scores, weight=0.3).value) > 2.5 * np.sqrt(0.3 / 1.7))):
        kept = 1 - np.maximum.accumulate(fired, axis=1).mean(axis=0)
        error = np.sqrt(quiet * (1 - quiet) / runs)
        assert (np.abs(kept - quiet) < 4.5 * error + 1e-9).all()


@pytest.mark.parametrize("shift", [0.0, 0.7])
def test_how_often_a_sum_stands_high_by_simulation(shift):
    runs = 100_000
    scores = np.random.default_rng(38).normal(shift, 1.0, (runs, 25))
    high = cusum(scores, decision=3.0).high.mean(axis=0)
    wanted = cusum_beyond(25, shift=shift, decision=3.0)
    assert (np.abs(high - wanted) < 4.5 * np.sqrt(wanted * (1 - wanted) / runs) + 1e-9).all()
    # It is more often seen to be high than it newly signals.
    assert wanted[-1] > 1.5 * np.diff(1 - cusum_quiet(25, shift=shift, decision=3.0))[-1]


def test_a_wrong_decision_value_would_be_found_out():
    fired = cusum(np.random.default_rng(36).normal(size=(100_000, 25)), decision=3.0).high
    kept = 1 - np.maximum.accumulate(fired, axis=1).mean(axis=0)[-1]
    assert abs(kept - cusum_quiet(25, decision=3.1)[-1]) > 0.005


def test_quiet_shares_add_up_to_the_run_length():
    assert 1 + cusum_quiet(4000, decision=3.0).sum() == pytest.approx(
        float(cusum_run_length(0.0, decision=3.0)), rel=1e-6)
    assert 1 + ewma_quiet(4000, width=2.4).sum() == pytest.approx(
        float(ewma_run_length(0.0, width=2.4)), rel=1e-6)


@pytest.mark.parametrize("run_length", [20.0, 500.0, 5000.0])
def test_designs_last_as_long_as_asked(run_length):
    assert cusum_run_length(0.0, decision=cusum_decision(run_length)) == pytest.approx(run_length)
    for sides in (True, False):
        width = ewma_width(run_length, weight=0.15, two_sided=sides)
        assert ewma_run_length(0.0, weight=0.15, width=width, two_sided=sides) == pytest.approx(
            run_length)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: cusum_run_length(0.0, decision=0.0),
     "decision: must be above 0, allowance at least 0, found 0.0 and 0.5; use 5 and 0.5"),
    (lambda: ewma_run_length(0.0, weight=1.2),
     "weight: must be above 0 and at most 1, width above 0, found 1.2 and 2.962; "
     "use 0.2 and 2.962"),
    (lambda: cusum_decision(1.0),
     "run_length: must be between 5 and 100,000, found 1.0; use a few hundred samples"),
])
def test_what_cannot_be_is_refused(call, message):
    with pytest.raises(ValueRefused) as refused:
        call()
    assert str(refused.value) == message
