"""Base number against acid number: methods kept apart, precision and reporting limits counted."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.oil.answers import Answer
from oiltrend.oil.bounds import bounds
from oiltrend.oil.reserve import (
    BaseMethod,
    ReserveState,
    acid_reaches_base,
    base_method,
    base_reserve,
)

D2896, D4739, UNKNOWN = BaseMethod.D2896, BaseMethod.D4739, BaseMethod.UNKNOWN


def left(used, fresh, *, used_method=D2896, fresh_method=D2896, u=0.2, u_fresh=0.1, below=False):
    return base_reserve(used, fresh, u_used=u, u_fresh=u_fresh, used_method=used_method,
                        fresh_method=fresh_method, below=below)


def state_of(found):
    return ReserveState(int(found.state)).name


@pytest.mark.parametrize(("text", "method"), [
    ("ASTM D2896", D2896), ("astm d 2896-21", D2896), ("D-2896", D2896), ("ISO 3771:2011", D2896),
    ("ASTM D4739", D4739), ("D4739-17", D4739), ("", UNKNOWN), ("ASTM D664", UNKNOWN),
    ("D28961", UNKNOWN), ("D2896 or D4739", UNKNOWN)])
def test_methods_as_reports_write_them(text, method):
    assert base_method(text) is method


@pytest.mark.parametrize(("used_method", "fresh_method", "state"), [
    (D2896, D2896, "COMPARED"), (D4739, D4739, "COMPARED"), (D2896, D4739, "METHODS_DIFFER"),
    (D4739, D2896, "METHODS_DIFFER"), (UNKNOWN, D2896, "METHOD_UNKNOWN"),
    (D4739, UNKNOWN, "METHOD_UNKNOWN"), (UNKNOWN, UNKNOWN, "METHOD_UNKNOWN")])
def test_the_two_methods_are_never_mixed(used_method, fresh_method, state):
    found = left(4.0, 10.0, used_method=used_method, fresh_method=fresh_method)
    assert state_of(found) == state
    shown = state != "METHODS_DIFFER"
    assert np.isfinite([found.value, found.low, found.high]).all() == shown


@pytest.mark.parametrize(("used", "fresh"), [(math.nan, 10.0), (4.0, math.nan), (4.0, 0.0)])
def test_without_one_of_the_two_there_is_no_share(used, fresh):
    found = left(used, fresh)
    assert state_of(found) == "NOT_KNOWN"
    assert np.isnan([found.value, found.low, found.high]).all()


def test_share_and_range_by_hand():
    # 4/10; u = 10·√(0.2² + 0.4²·0.1²) = 2.0396 %.
    found = left(4.0, 10.0)
    assert float(found.value) == pytest.approx(40.0)
    assert [float(found.low), float(found.high)] == pytest.approx([35.921, 44.079], abs=1e-3)


def test_range_against_drawing_both_figures():
    random = np.random.default_rng(3)
    drawn = 100.0 * random.normal(4.0, 0.2, 400_000) / random.normal(10.0, 0.1, 400_000)
    found = left(4.0, 10.0)
    assert (found.high - found.low) / 4.0 == pytest.approx(drawn.std(), rel=0.01)


def test_below_the_reporting_limit_gives_a_range_and_no_value():
    found = left([1.0, math.nan], 10.0, below=True, u_fresh=0.0)
    assert np.isnan(found.value).all()
    assert found.low[0] == 0.0
    assert found.high[0] == pytest.approx(10.0)
    assert ReserveState(int(found.state[1])) is ReserveState.NOT_KNOWN


def test_unknown_uncertainty_leaves_the_range_open():
    found = left(4.0, 10.0, u=math.nan)
    assert (float(found.value), float(found.low), float(found.high)) == (40.0, 0.0, math.inf)


@given(st.floats(0.0, 15.0), st.floats(1.0, 15.0), st.floats(0.0, 1.0))
def test_value_lies_in_its_range_and_low_is_never_below_zero(used, fresh, u):
    found = left(used, fresh, u=u)
    assert 0.0 <= found.low <= found.value <= found.high


@pytest.mark.parametrize(("base", "acid", "answer"), [
    # Common practice, no source: crossed when the acid number reaches the base number.
    ((3.0, 0.0), (3.0, 0.0), "YES"), ((3.0, 0.0), (2.99, 0.0), "NO"),
    ((3.0, 0.2), (3.3, 0.2), "CANNOT_TELL"), ((3.0, 0.2), (4.0, 0.2), "YES"),
    ((5.0, 0.2), (2.0, 0.2), "NO"), ((math.nan, 0.2), (2.0, 0.2), "NOT_ASKED"),
    ((5.0, 0.2), (math.nan, 0.2), "NOT_ASKED"), ((5.0, math.nan), (2.0, 0.2), "CANNOT_TELL")])
def test_crossing(base, acid, answer):
    found = acid_reaches_base(bounds(*base), bounds(*acid))
    assert Answer(int(found)).name == answer


@pytest.mark.parametrize(("base", "acid", "answer"), [
    ("<1", 3.0, "YES"), ("<1", 0.5, "CANNOT_TELL"), (5.0, "<0.1", "NO"),
    ("<1", "<0.1", "CANNOT_TELL")])
def test_crossing_with_readings_below_a_limit(base, acid, answer):
    ranges = [bounds(float(str(x).lstrip("<")), 0.1, below=str(x).startswith("<"))
              for x in (base, acid)]
    assert Answer(int(acid_reaches_base(*ranges))).name == answer


def test_the_whole_array_equals_one_at_a_time():
    used, fresh = np.array([4.0, math.nan, 1.0, 6.0]), np.array([10.0, 10.0, 8.0, 9.0])
    method = np.array([D2896, D2896, UNKNOWN, D4739])
    below = np.array([False, False, True, False])
    together = left(used, fresh, used_method=method, below=below)
    for i in range(4):
        alone = left(used[i], fresh[i], used_method=method[i], below=below[i])
        for name in ("value", "low", "high", "state"):
            assert np.array_equal(getattr(together, name)[i], getattr(alone, name), equal_nan=True)
