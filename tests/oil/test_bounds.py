"""Bounds of a reading, and that the answers of two rooms are the same numbers."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.limits.answers import Answer as LimitsAnswer
from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import bounds


def test_answers_carry_the_numbers_of_the_limits_room():
    assert {a.name: int(a) for a in Answer} == {a.name: int(a) for a in LimitsAnswer}


@pytest.mark.parametrize(("value", "u", "below", "above", "low", "high"), [
    (10.0, 1.0, False, False, 8.0, 12.0),
    (10.0, 0.0, False, False, 10.0, 10.0),
    (10.0, math.nan, False, False, -math.inf, math.inf),  # unknown is not exact
    (5.0, 1.0, True, False, -math.inf, 5.0),
    (5.0, 1.0, False, True, 5.0, math.inf),
    (math.nan, 1.0, True, False, -math.inf, math.inf),  # not detected, no bound known
    (math.nan, 1.0, False, True, -math.inf, math.inf),
    (math.nan, 1.0, False, False, math.nan, math.nan),
])
def test_every_kind_of_reading(value, u, below, above, low, high):
    found = bounds(value, u, below=below, above=above)
    assert np.array_equal([found.low, found.high], [low, high], equal_nan=True)


@given(st.floats(-1e6, 1e6), st.floats(0.0, 1e3))
def test_a_number_lies_within_its_own_bounds(value, u):
    found = bounds(value, u)
    assert found.low <= value <= found.high
