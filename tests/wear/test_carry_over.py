"""Start of a fill.

Sources: MB4 (0.4 kg at 12 mg/kg with 4.6 kg fresh: 0.96) and C_drain 50, C_new 1, ρ 0.08: 4.92
and the "about half" case are exact arithmetic on the mixing rule, worked by hand.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear.carry_over import carry_over, residue_from_masses

steady = settings(derandomize=True, deadline=None)


def test_mb4_residue_known_by_mass():
    share = residue_from_masses(0.4, 4.6)
    assert share == pytest.approx(0.08, rel=1e-14)
    assert carry_over(share, 12.0, 0.0).value == pytest.approx(0.96, rel=1e-14)


@pytest.mark.parametrize(("share", "drained", "fresh", "expected"),
                         [(0.08, 50.0, 1.0, 4.92), (0.5, 60.0, 0.0, 30.0)])
def test_worked_figures(share, drained, fresh, expected):
    assert carry_over(share, drained, fresh).value == pytest.approx(expected, rel=1e-14)


def test_uncertainty_is_what_simulation_gives():
    rng = np.random.default_rng(20250101)
    draws = 400_000
    found = carry_over(0.10, 40.0, 2.0, residue_half=0.05, drained_uncertainty=1.5,
                       fresh_uncertainty=0.4)
    simulated = carry_over(rng.uniform(0.05, 0.15, draws), rng.normal(40.0, 1.5, draws),
                           rng.normal(2.0, 0.4, draws)).value
    assert found.standard_uncertainty == pytest.approx(simulated.std(), rel=5e-3)
    assert found.value == pytest.approx(simulated.mean(), abs=4 * simulated.std() / draws**0.5)


@steady
@given(st.floats(0, 1), st.floats(0, 500), st.floats(0, 500))
def test_start_lies_between_old_and_new(share, drained, fresh):
    value = float(carry_over(share, drained, fresh).value)
    assert min(drained, fresh) - 1e-9 <= value <= max(drained, fresh) + 1e-9


def test_fleet_is_what_single_rows_are():
    rng = np.random.default_rng(3)
    share, drained, fresh = rng.random((4, 1)), rng.uniform(0, 50, (4, 3)), rng.uniform(0, 2, 3)
    whole = carry_over(share, drained, fresh, residue_half=0.02, drained_uncertainty=1.0)
    assert whole.value.shape == whole.standard_uncertainty.shape == (4, 3)
    for row in range(4):
        for column in range(3):
            one = carry_over(float(share[row, 0]), float(drained[row, column]),
                             float(fresh[column]), residue_half=0.02, drained_uncertainty=1.0)
            assert whole.value[row, column] == one.value
            assert whole.standard_uncertainty[row, column] == one.standard_uncertainty


@pytest.mark.parametrize("position", [0, 1, 2])
def test_nan_in_gives_nan_out(position):
    given_values = [0.1, 40.0, 1.0]
    given_values[position] = np.nan
    found = carry_over(*given_values, residue_half=0.02)
    assert np.isnan(found.value)
    assert np.isnan(found.standard_uncertainty)


def test_no_oil_has_no_residue_fraction():
    assert np.isnan(residue_from_masses(0.0, 0.0))


@pytest.mark.parametrize(("call", "words"), [
    (lambda: carry_over(1.2, 1.0, 0.0),
     "residue_fraction: must lie between 0 and 1, found 1.2; correct the value or leave it blank"),
    (lambda: carry_over(0.1, 1.0, 0.0, residue_half=-0.1),
     "residue_half: must not be negative, found -0.1; correct the value or leave it blank"),
    (lambda: carry_over(0.1, 1.0, 0.0, drained_uncertainty=-2.0),
     "drained_uncertainty: must not be negative, found -2; correct the value or leave it blank"),
    (lambda: carry_over(0.1, 1.0, 0.0, fresh_uncertainty=-3.0),
     "fresh_uncertainty: must not be negative, found -3; correct the value or leave it blank"),
    (lambda: residue_from_masses(-0.4, 4.0),
     "left_mass: must not be negative, found -0.4; correct the value or leave it blank"),
    (lambda: residue_from_masses(0.4, -4.0),
     "refill_mass: must not be negative, found -4; correct the value or leave it blank"),
])
def test_what_cannot_be_is_refused(call, words):
    with pytest.raises(ValueRefused) as refused:
        call()
    assert str(refused.value) == words
