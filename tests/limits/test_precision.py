"""Test precision: decisions of ISO 4259 on looked-up equations, and the assumed edges.

ASTM D664 section 15 (used oil, buffer end point: r 0.117 X, R 0.44 X) and ASTM D322 (r 0.6,
R 1.4 volume %) were looked up. ASTM D5185 coefficients are from memory.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.answers import Answer
from oiltrend.limits.precision import (
    Coefficients,
    RangeState,
    above_limit_with_confidence,
    coefficients,
    differs,
    range_state,
    repeatability,
    reproducibility,
    rounding_standard_uncertainty,
    site_standard_uncertainty,
)
from oiltrend.nomenclature import MEASURANDS, PANEL

# ASTM D322, gasoline dilution by distillation: constants, looked up.
D322 = Coefficients(*(np.array([number]) for number in (0.6, 0.0, 1.4, 0.0, 0.0, 15.0)))
ACID = coefficients(symbols=["acid_number"])


def answer(first, second, statement, *, same_operator):
    return Answer(differs(first, second, statement, same_operator=same_operator)[0])


def test_acid_number_3_and_4_differ_in_one_lab_and_not_between_labs():
    assert repeatability(3.5, ACID) == pytest.approx(0.4095)  # ASTM D664 section 15
    assert reproducibility(3.5, ACID) == pytest.approx(1.540)
    assert answer(3.0, 4.0, ACID, same_operator=True) is Answer.YES
    assert answer(3.0, 4.0, ACID, same_operator=False) is Answer.NO


def test_fuel_2_and_3_2_differ_in_one_lab_and_not_between_labs():  # ASTM D322
    assert answer(2.0, 3.2, D322, same_operator=True) is Answer.YES
    assert answer(2.0, 3.2, D322, same_operator=False) is Answer.NO


def test_a_difference_equal_to_r_is_acceptable_though_decimals_are_not_exact():
    assert 2.6 - 2.0 > 0.6  # what a plain comparison sees
    assert answer(2.0, 2.6, D322, same_operator=True) is Answer.NO
    assert answer(2.0, 2.61, D322, same_operator=True) is Answer.YES


@pytest.mark.parametrize(("symbol", "first", "second", "r", "between", "one_lab", "two_labs"), [
    # Worked with the D5185 equations, which are from memory.
    ("Pb", 12, 20, 3.885, 8.140, "YES", "NO"),
    ("Fe", 40, 50, 2.732, 10.929, "YES", "NO"),
    ("Fe", 40, 52, 2.781, 11.123, "YES", "YES"),
    ("Cu", 10, 13, 1.108, 2.760, "YES", "YES"),
    ("Al", 8, 12, 1.825, 6.915, "YES", "NO"),
])
def test_worked_differences_of_elements(symbol, first, second, r, between, one_lab, two_labs):
    statement = coefficients(symbols=[symbol])
    middle = (first + second) / 2
    assert repeatability(middle, statement) == pytest.approx(r, abs=6e-4)
    assert reproducibility(middle, statement) == pytest.approx(between, abs=6e-4)
    assert answer(first, second, statement, same_operator=True).name == one_lab
    assert answer(first, second, statement, same_operator=False).name == two_labs


def test_lead_must_read_more_than_30_64_to_be_above_25_with_confidence():
    spread = reproducibility(25.0, coefficients(symbols=["Pb"]))
    assert spread == pytest.approx(9.558, abs=6e-4)  # equation from memory
    told = above_limit_with_confidence([30.63, 30.65, np.nan, 40.0], [25.0, 25.0, 25.0, np.nan],
                                       spread)
    assert [Answer(code).name for code in told] == ["NO", "YES", "NOT_ASKED", "NOT_ASKED"]
    assert above_limit_with_confidence(99.0, 25.0, np.nan) == Answer.CANNOT_TELL


def test_coefficients_stand_in_panel_order():
    table = coefficients()
    assert len(table.low) == len(PANEL)
    for place, measurand in enumerate(MEASURANDS):
        low = measurand.precision.low if measurand.precision else np.nan
        assert table.low[place] == low or np.isnan(table.low[place]) and np.isnan(low)


def test_an_unknown_measurand_is_refused_in_full_words():
    with pytest.raises(ValueRefused) as refused:
        coefficients(symbols=["Xx"])
    assert str(refused.value) == (
        "measurand: must be a known measurand, found 'Xx'; use one of " + ", ".join(PANEL))


def test_below_a_quarter_of_the_low_end_precision_stops_shrinking():
    lead = coefficients(symbols=["Pb"])  # validated from 10 mg/kg
    floor = reproducibility(2.5, lead)
    assert reproducibility(2.4, lead) == floor == reproducibility(0.0, lead)
    assert reproducibility(2.6, lead) > floor
    assert [RangeState(code).name for code in range_state([9.9], lead)] == ["BELOW"]


def test_range_state_names_every_case():
    statement = coefficients(symbols=["Pb", "Pb", "Pb", "Pb", "Sb"])
    told = range_state([9.0, 10.0, 161.0, np.nan, 5.0], statement)
    assert [RangeState(code).name for code in told] == [
        "BELOW", "WITHIN", "ABOVE", "NO_STATEMENT", "NO_STATEMENT"]


def test_without_a_statement_nothing_is_told_apart_and_uncertainty_is_the_assumed_share():
    antimony = coefficients(symbols=["Sb"])
    assert answer(1.0, 50.0, antimony, same_operator=True) is Answer.CANNOT_TELL
    assert np.isnan(reproducibility(5.0, antimony)).all()
    assert site_standard_uncertainty(10.0, antimony) == pytest.approx(0.6 * 3.5 / 2.7719, rel=1e-4)


def test_a_missing_result_is_not_asked_also_where_precision_is_constant():
    assert answer(np.nan, 3.0, D322, same_operator=True) is Answer.NOT_ASKED
    assert np.isnan(repeatability(np.nan, D322)).all()


def test_the_assumed_relative_reproducibility_is_the_median_of_the_elements():
    at_middle = []
    for measurand in MEASURANDS:
        if measurand.unit == "mg/kg" and measurand.precision is not None:
            middle = np.sqrt(measurand.precision.low * measurand.precision.high)
            spread = reproducibility(middle, coefficients(symbols=[measurand.symbol]))
            at_middle.append(float(spread[0] / middle))
    assert len(at_middle) == 22  # elements covered by ASTM D5185
    assert np.median(at_middle) == pytest.approx(0.35, abs=0.01)


def test_rounding_agrees_with_a_simulation():
    rng = np.random.default_rng(20)
    true = rng.uniform(0, 100, 200_000)
    assert np.std(np.round(true) - true) == pytest.approx(
        float(rounding_standard_uncertainty(1.0)), rel=0.01)


def test_the_factor_between_two_results_agrees_with_a_simulation():
    rng = np.random.default_rng(21)
    first, second = rng.normal(16.0, 1.0, (2, 400_000))  # r = 2.7719 of one standard deviation
    assert np.mean(np.abs(first - second) > 2.7719) == pytest.approx(0.05, abs=0.002)


@given(st.floats(0, 1e4), st.floats(0, 1e4), st.booleans())
def test_the_order_of_two_results_does_not_matter_and_grids_equal_single_calls(a, b, same):
    statement = coefficients(symbols=["Fe", "Pb", "Sb"])
    grid = differs(np.full((2, 3), a), np.full((2, 3), b), statement, same_operator=same)
    assert (grid == differs(b, a, statement, same_operator=same)).all()
    single = [differs(a, b, coefficients(symbols=[s]), same_operator=same)[0]
              for s in ("Fe", "Pb", "Sb")]
    assert grid[1].tolist() == single
