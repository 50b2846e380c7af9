"""Rise above new oil: every kind of reading, and what is called risen."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import PANEL
from oiltrend.oil.answers import Answer
from oiltrend.oil.rises import oil_readings, real_change, rise_of, risen


def one(value, fresh, *, u=1.0, u_fresh=0.0, below=False, above=False):
    oils = oil_readings([[value]], [[fresh]], u=u, u_fresh=u_fresh, below=below, above=above,
                        symbols=["Na"])
    return rise_of(oils, "Na")


@pytest.mark.parametrize(("reading", "value", "low", "high"), [
    ({"value": 80.0, "fresh": 5.0}, 75.0, 73.0, 77.0),
    ({"value": 80.0, "fresh": 5.0, "u": 3.0, "u_fresh": 4.0}, 75.0, 65.0, 85.0),
    ({"value": 80.0, "fresh": math.nan}, math.nan, -math.inf, 82.0),  # it may all be new oil
    ({"value": 80.0, "fresh": 5.0, "u": math.nan}, 75.0, -math.inf, math.inf),
    ({"value": 5.0, "fresh": 2.0, "below": True}, math.nan, -math.inf, 3.0),
    ({"value": 5.0, "fresh": 2.0, "below": True, "u_fresh": 1.0}, math.nan, -math.inf, 5.0),
    ({"value": 5.0, "fresh": 2.0, "above": True}, math.nan, 3.0, math.inf),
    ({"value": math.nan, "fresh": 2.0, "below": True}, math.nan, -math.inf, math.inf),
    ({"value": math.nan, "fresh": 2.0}, math.nan, math.nan, math.nan),
])
def test_every_kind_of_reading(reading, value, low, high):
    found = one(**reading)
    assert np.array_equal([found.value[0], found.low[0], found.high[0]], [value, low, high],
                          equal_nan=True)


@pytest.mark.parametrize(("reading", "answer", "moved"), [
    ({"value": 60.0, "fresh": 5.0}, "YES", True),
    ({"value": 55.0, "fresh": 5.0}, "NO", True),
    ({"value": 60.0, "fresh": 5.0, "u": 30.0}, "CANNOT_TELL", False),
    ({"value": 60.0, "fresh": 5.0, "u": math.nan}, "CANNOT_TELL", False),
    ({"value": 60.0, "fresh": math.nan}, "CANNOT_TELL", False),
    ({"value": 40.0, "fresh": math.nan}, "NO", False),
    ({"value": 50.0, "fresh": 0.0, "below": True}, "NO", False),
    ({"value": 80.0, "fresh": 0.0, "below": True}, "CANNOT_TELL", False),
    ({"value": math.nan, "fresh": 0.0, "below": True}, "CANNOT_TELL", False),
    ({"value": 80.0, "fresh": 0.0, "above": True}, "YES", True),
    ({"value": 40.0, "fresh": 0.0, "above": True}, "CANNOT_TELL", True),
    ({"value": math.nan, "fresh": 0.0}, "NOT_ASKED", False),
    ({"value": 5.0, "fresh": 60.0}, "NO", True),
])
def test_what_is_called_risen_by_50_and_what_has_moved(reading, answer, moved):
    found = one(**reading)
    assert Answer(int(risen(found, 50.0)[0])).name == answer
    assert real_change(found)[0] == moved


@given(st.floats(0.0, 1e4), st.floats(0.0, 1e4), st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_a_rise_lies_in_its_range(value, fresh, u, u_fresh):
    found = one(value, fresh, u=u, u_fresh=u_fresh)
    assert found.low[0] <= found.value[0] <= found.high[0]


@given(st.floats(0.0, 500.0), st.floats(0.0, 500.0), st.floats(0.0, 100.0))
def test_a_longer_rule_of_thumb_never_finds_more(value, shorter, longer):
    found = one(value, 5.0)
    if risen(found, shorter + longer)[0] == Answer.YES:
        assert risen(found, shorter)[0] == Answer.YES


def test_a_measurand_without_a_column_was_not_measured():
    oils = oil_readings([[1.0], [2.0]], 0.0, u=0.1, u_fresh=0.1, symbols=["Na"])
    found = rise_of(oils, "K")
    assert np.isnan([found.value, found.low, found.high]).all()
    assert (risen(found, 0.0) == Answer.NOT_ASKED).all()


def test_the_panel_is_the_default_and_columns_must_fit():
    assert oil_readings(np.zeros((3, len(PANEL))), 0.0, u=0.0, u_fresh=0.0).symbols == PANEL
    with pytest.raises(ValueRefused) as refused:
        oil_readings([1.0, 2.0], 0.0, u=0.0, u_fresh=0.0, symbols=["Na", "K"])
    assert str(refused.value) == (
        "value: must have one column per measurand (2), found shape (2,); "
        "pass samples as rows and measurands as columns")
