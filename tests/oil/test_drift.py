"""Change against new oil: handbook shares, precision, and readings below a limit."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.limits.fixed import HANDBOOK
from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX
from oiltrend.oil.answers import Answer
from oiltrend.oil.drift import (
    DRIFT_ROWS,
    absolute_drift,
    beyond,
    changed,
    relative_drift,
)
from oiltrend.oil.viscosity import viscosity_at
from oiltrend.units import convert

ROWS = {row.measurand: row for row in DRIFT_ROWS}


def names(codes):
    return [Answer(int(code)).name for code in np.atleast_1d(codes)]


def moved(value, fresh, **rest):
    return relative_drift(value, fresh, **{"u": 0.0, "u_fresh": 0.0, **rest})


@pytest.mark.parametrize(("measurand", "new", "used", "answer"), [
    # Handbook of an oil company, 2004: 25 % of KV40, 15 % of KV100, up or down (looked up).
    ("KV40", 90.0, 67.5, "NO"), ("KV40", 90.0, 67.4, "YES"), ("KV40", 90.0, 112.6, "YES"),
    ("KV40", 90.0, 112.5, "NO"), ("KV100", 14.0, 11.9, "NO"), ("KV100", 14.0, 11.89, "YES"),
    ("KV100", 14.0, 16.1, "NO"), ("KV100", 14.0, 16.11, "YES"),
    # Common practice, no source: half of the base number.
    ("base_number", 10.0, 5.0, "NO"), ("base_number", 10.0, 4.9, "YES"),
    ("base_number", 10.0, 16.0, "NO"),
])
def test_relative_rows(measurand, new, used, answer):
    assert names(beyond(moved(used, new), ROWS[measurand])) == [answer]


@pytest.mark.parametrize(("new", "used", "answer"), [
    (2.0, 22.0, "NO"), (2.0, 22.1, "YES"), (-3.0, 17.5, "YES"), (30.0, 2.0, "NO")])
def test_absolute_row(new, used, answer):
    found = absolute_drift(used, new, u=1.0, u_fresh=1.0)
    assert names(beyond(found, ROWS["oxidation"])) == [answer]


def test_oxidation_in_either_unit():
    # ASTM D7412 12.2: 0.25 Abs/0.1 mm is 25 Abs/cm (looked up).
    assert convert(0.25, "Abs/0.1 mm", "Abs/cm") == pytest.approx(25.0)
    assert {row.unit for row in DRIFT_ROWS if row.quantity == "absolute"} == {"Abs/cm"}


def test_rows_agree_with_the_handbook_of_the_limits_room():
    theirs = {row.measurand: (row.operator, row.value, row.unit) for row in HANDBOOK
              if row.quantity == "change_from_new"}
    assert theirs == {name: (">", ROWS[name].size, "%") for name in ("KV40", "KV100")}


def test_every_row_has_a_known_measurand_its_unit_and_a_source():
    for row in DRIFT_ROWS:
        unit = MEASURANDS[PANEL_INDEX[row.measurand]].unit
        assert row.unit == ("%" if row.quantity == "relative" else unit)
        assert row.source


def test_a_change_smaller_than_the_precision_is_called_so():
    found = absolute_drift([10.0, 12.0, 12.9, 8.0, np.nan, 12.9], [10.0] * 5 + [np.nan], u=1.0,
                           u_fresh=1.0)  # 2·√2 = 2.83
    assert names(changed(found)) == ["CANNOT_TELL", "CANNOT_TELL", "YES", "CANNOT_TELL",
                                     "NOT_ASKED", "NOT_ASKED"]


def test_unknown_uncertainty_never_shows_a_change():
    assert names(changed(absolute_drift(99.0, 1.0, u=math.nan, u_fresh=0.1))) == ["CANNOT_TELL"]


@pytest.mark.parametrize(("value", "below", "above", "answer"), [
    (4.0, True, False, "YES"),  # "<4" of 10 is more than half gone
    (5.0, True, False, "CANNOT_TELL"), (8.0, True, False, "CANNOT_TELL"),
    (math.nan, True, False, "CANNOT_TELL"), (8.0, False, True, "NO"),
    (4.0, False, True, "CANNOT_TELL"), (math.nan, False, False, "NOT_ASKED")])
def test_base_number_beyond_a_reporting_limit(value, below, above, answer):
    found = moved(value, 10.0, below=below, above=above)
    assert names(beyond(found, ROWS["base_number"])) == [answer]


@pytest.mark.parametrize("fresh", [0.0, -1.0, math.nan])
def test_no_share_of_nothing(fresh):
    found = moved([5.0, 5.0, math.nan], fresh, below=[False, True, True])
    assert np.isnan(found.value).all()
    assert names(beyond(found, ROWS["KV40"])) == ["NOT_ASKED"] * 3


def test_uncertainty_against_drawing_both_figures():
    random = np.random.default_rng(5)
    used, new = random.normal(70.0, 0.9, 400_000), random.normal(90.0, 0.7, 400_000)
    found = relative_drift(70.0, 90.0, u=0.9, u_fresh=0.7)
    drawn = 100.0 * (used / new - 1.0)
    assert (found.high - found.low) / 4.0 == pytest.approx(drawn.std(), rel=0.01)


@given(st.floats(1.0, 500.0), st.floats(1.0, 500.0), st.floats(0.01, 100.0))
def test_per_cent_does_not_depend_on_the_unit(value, fresh, factor):
    first = relative_drift(value, fresh, u=0.1 * value, u_fresh=0.1 * fresh)
    second = relative_drift(value * factor, fresh * factor, u=0.1 * value * factor,
                            u_fresh=0.1 * fresh * factor)
    for one, other in ((first.value, second.value), (first.low, second.low),
                       (first.high, second.high)):
        assert one == pytest.approx(float(other), rel=1e-9, abs=1e-9)
    assert first.low <= first.value <= first.high


def test_viscosity_at_the_oil_temperature_against_new_oil():
    # At 130 °C both lines are extended; used oil with the new oil's figures has not moved.
    new = viscosity_at(130.0, 90.0, 14.0, u40=0.3, u100=0.05)
    used = viscosity_at(130.0, [90.0, 68.0], [14.0, 11.2], u40=0.3, u100=0.05)
    found = relative_drift(used.value, new.value, u=used.u, u_fresh=new.u)
    assert found.value[0] == pytest.approx(0.0)
    assert names(changed(found)) == ["CANNOT_TELL", "YES"]
    assert -25.0 < found.value[1] < -10.0


def test_the_whole_array_equals_one_at_a_time():
    value, fresh = np.array([70.0, math.nan, 5.0, 5.0]), np.array([90.0, 90.0, 10.0, math.nan])
    below = np.array([False, False, True, True])
    together = relative_drift(value, fresh, u=0.5, u_fresh=0.2, below=below)
    for i in range(4):
        alone = relative_drift(value[i], fresh[i], u=0.5, u_fresh=0.2, below=below[i])
        for name in ("value", "low", "high"):
            assert np.array_equal(getattr(together, name)[i], getattr(alone, name), equal_nan=True)
