"""Fixed limits: exact operators, three answers, and the published handbook levels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.answers import Answer
from oiltrend.limits.fixed import HANDBOOK, OPERATORS, exceeds, handbook_levels
from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX


def names(codes):
    return [Answer(code).name for code in np.ravel(codes)]


# Levels and the strict ">": lubricants handbook of an oil company, 2004, motor-oil degradation
# limits (looked up).
@pytest.mark.parametrize(("symbol", "at", "beyond", "aluminium_block"), [
    ("Fe", 100, 101, False), ("Cr", 10, 11, False), ("Cu", 20, 21, False), ("Pb", 25, 26, False),
    ("Sn", 10, 11, False), ("Al", 20, 21, False), ("Al", 80, 81, True), ("Si", 20, 21, False),
    ("B", 20, 21, False), ("water_pct", 0.1, 0.11, False), ("fuel_pct", 5, 5.1, False),
    ("acid_number", 5, 5.1, False),
])
def test_handbook_levels_are_strictly_greater_than(symbol, at, beyond, aluminium_block):
    level = handbook_levels([symbol], aluminium_block=aluminium_block)
    assert names(exceeds([at, beyond], ">", level)) == ["NO", "YES"]


def test_the_handbook_speaks_the_nomenclature_and_names_its_source():
    for row in HANDBOOK:
        unit = "%" if row.quantity == "change_from_new" else MEASURANDS[
            PANEL_INDEX[row.measurand]].unit
        assert row.unit == unit, row
        assert row.operator == ">", row
        assert "2004" in row.source


def test_viscosity_rows_are_changes_and_never_levels():
    assert np.isnan(handbook_levels(["KV40", "KV100"])).all()
    change = {row.measurand: row.value for row in HANDBOOK if row.quantity == "change_from_new"}
    assert change == {"KV40": 25.0, "KV100": 15.0}  # same handbook; its operator is assumed


def test_below_30_against_25_cannot_be_told_and_below_25_is_not_above_it():
    assert names(exceeds([30.0, 25.0, 24.0], ">", 25.0, below=True)) == ["CANNOT_TELL", "NO", "NO"]
    assert names(exceeds([30.0, 25.0, 24.0], ">=", 25.0, below=True)) == [
        "CANNOT_TELL", "NO", "NO"]


def test_above_a_bound_against_an_upper_limit():
    assert names(exceeds([30.0, 25.0, 24.0], ">", 25.0, above=True)) == [
        "YES", "YES", "CANNOT_TELL"]


def test_not_detected_without_a_bound_cannot_be_told_and_missing_is_not_asked():
    told = exceeds([np.nan, np.nan, 5.0], ">", [25.0, 25.0, np.nan], below=[True, False, True])
    assert names(told) == ["CANNOT_TELL", "NOT_ASKED", "NOT_ASKED"]


def test_one_operator_per_measurand():
    told = exceeds([[5.0, 5.0, 5.0, 5.0], [6.0, 6.0, 6.0, 6.0]], list(OPERATORS), 5.0)
    assert told.tolist() == [[0, 1, 0, 1], [1, 1, 0, 0]]


def test_an_unknown_operator_is_refused_in_full_words():
    with pytest.raises(ValueRefused) as refused:
        exceeds([1.0], "≥", 1.0)
    assert str(refused.value) == ("operator: must be one of >, >=, <, <=, found '≥'; "
                                  "correct the limit")


numbers = st.integers(0, 6).map(float)


@given(numbers, st.sampled_from(OPERATORS), numbers, st.sampled_from(["exact", "below", "above"]))
def test_an_answer_holds_for_every_value_a_reading_may_stand_for(bound, operator, limit, kind):
    # Brute force: every half step that the reading allows is compared on its own.
    steps = np.arange(-1.0, 8.0, 0.25)
    allowed = {"exact": steps[steps == bound], "below": steps[steps < bound],
               "above": steps[steps > bound]}[kind]
    compare = {">": np.greater, ">=": np.greater_equal, "<": np.less, "<=": np.less_equal}
    found = set(compare[operator](allowed, limit).tolist())
    wanted = {(True,): "YES", (False,): "NO"}.get(tuple(found), "CANNOT_TELL")
    told = exceeds(bound, operator, limit, below=kind == "below", above=kind == "above")
    assert names(told) == [wanted]
