"""Viscosity index against the worked examples of ASTM D2270 and the whole of its table.

Table: the 311 rows that the general-purpose library ``chemicals`` 1.5.2 carries, citing
ASTM D2270-10(2016). Examples: D2270 sections 5.1.4 and 6.1.4, looked up (of the third, inputs
U looked up, Y and result from memory).
"""

import math

import numpy as np
import pytest
from chemicals import viscosity as published
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.oil.viscosity_index import (
    REFERENCE_ROWS,
    VIProcedure,
    reference_oils,
    viscosity_index,
)

TABLE = np.array([published.VI_nus, published.VI_Ls, published.VI_Hs])
# Half a unit of the last digit that the table prints, plus that of the coefficients: the
# deviation of the standard's two forms from each other, as the reference sheet states it.
TOLERANCES = ((9.0, 0.06), (18.0, 0.12), (70.0, 1.3))


@pytest.mark.parametrize(("kv40", "kv100", "index", "procedure"), [
    (73.30, 8.86, 92, "A"),  # D2270 5.1.4: 92.43
    (22.83, 5.05, 156, "B"),  # D2270 6.1.4 (1): 156.37
    (53.47, 7.80, 111, "B"),  # D2270 6.1.4 (2): 111.31
    # Computed with rows of the standard's table.
    (90.0, 14.0, 160, "B"), (67.8, 12.2, 180, "B"),
    # Computed with the formula above 70.
    (2500.0, 80.0, 87, "A"), (900.0, 75.0, 159, "B"),
])
def test_worked_examples_as_whole_numbers(kv40, kv100, index, procedure):
    found = viscosity_index(kv40, kv100)
    assert float(found.reported) == index
    assert VIProcedure(int(found.procedure)).name == procedure


@pytest.mark.parametrize(("kv100", "zero", "hundred", "tolerance"), [
    (8.86, 119.94, 69.48, 0.02),  # printed in D2270 5.1.4, interpolated in the table
    (80.0, 6303.52, 1928.76, 0.005), (75.0, 5582.81, 1739.00, 0.005),  # formula above 70
])
def test_reference_oils_of_the_examples(kv100, zero, hundred, tolerance):
    oils = reference_oils(kv100)
    assert oils.zero == pytest.approx(zero, abs=tolerance)
    assert oils.hundred == pytest.approx(hundred, abs=tolerance)


def test_every_row_of_the_published_table_to_within_its_rounding():
    assert TABLE.shape == (3, 311)
    kv100, zero, hundred = TABLE
    oils = reference_oils(kv100)
    allowed = np.select([kv100 <= end for end, _ in TOLERANCES],
                        [tolerance for _, tolerance in TOLERANCES])
    assert (allowed > 0).all()
    assert (np.abs(oils.zero - zero) <= allowed).all()
    assert (np.abs(oils.hundred - hundred) <= allowed).all()


@pytest.mark.parametrize("index", range(0, 201, 10))
def test_the_index_over_the_whole_table_against_another_program(index):
    kv100, zero, hundred = TABLE
    if index <= 100:
        kv40 = zero - index / 100.0 * (zero - hundred)
    else:
        kv40 = hundred / kv100 ** np.log10((index - 100.0) * 0.00715 + 1.0)
    possible = kv40 > kv100
    assert possible.sum() > 280
    ours = viscosity_index(kv40[possible], kv100[possible])
    theirs = np.array([published.viscosity_index(u * 1e-6, y * 1e-6)
                       for u, y in zip(kv40[possible], kv100[possible], strict=True)])
    # L and H printed with four digits move the index by a quarter.
    assert np.abs(ours.value - theirs).max() < 0.25
    assert np.abs(ours.reported - np.rint(theirs)).max() <= 1


@pytest.mark.parametrize(("kv40", "kv100", "state"), [
    (10.0, 1.9, "UNDEFINED"),  # D2270 5.1.1: not defined below 2.0
    (10.0, 1.9999, "UNDEFINED"), (5.0, 5.0, "UNDEFINED"), (-1.0, 8.0, "UNDEFINED"),
    (np.inf, 8.0, "UNDEFINED"), (np.nan, 8.0, "NOT_KNOWN"), (50.0, np.nan, "NOT_KNOWN"),
])
def test_where_there_is_no_index(kv40, kv100, state):
    found = viscosity_index(kv40, kv100)
    assert np.isnan(found.value)
    assert np.isnan(found.reported)
    assert VIProcedure(int(found.procedure)).name == state


def test_exactly_2_is_defined():
    assert np.isfinite(viscosity_index(6.0, 2.0).value)


def test_the_reference_oils_have_the_indices_they_stand_for():
    kv100 = np.geomspace(2.0, 150.0, 400)
    oils = reference_oils(kv100)
    assert viscosity_index(oils.zero, kv100).value == pytest.approx(0.0, abs=1e-9)
    assert viscosity_index(oils.hundred, kv100).value == pytest.approx(100.0, abs=1e-9)
    # Both procedures meet at H.
    near = viscosity_index(oils.hundred * (1 - 1e-9), kv100)
    assert (near.procedure == VIProcedure.B).all()
    assert near.value == pytest.approx(100.0, abs=1e-5)


@pytest.mark.parametrize(("half", "reported"), [(92.5, 92.0), (93.5, 94.0), (11.5, 12.0)])
def test_exact_halves_go_to_the_even_number(half, reported):
    kv100 = np.linspace(71.0, 90.0, 500)[:, None]
    oils = reference_oils(kv100)
    start = oils.zero - half / 100.0 * (oils.zero - oils.hundred)
    found = viscosity_index(start + np.arange(-20, 21) * np.spacing(start), kv100)
    exactly = found.value == half  # among neighbouring numbers some give the half to the bit
    assert exactly.any()
    assert (found.reported[exactly] == reported).all()


def test_rows_follow_each_other_without_a_gap():
    assert len(REFERENCE_ROWS) == 16  # 15 rows of the appendix and the formula above 70
    assert REFERENCE_ROWS[0].least == 2.0
    assert REFERENCE_ROWS[-1].most == math.inf
    for lower, upper in zip(REFERENCE_ROWS, REFERENCE_ROWS[1:], strict=False):
        assert lower.most == upper.least
        edge = reference_oils([lower.most, np.nextafter(lower.most, np.inf),
                               np.nextafter(lower.most, 0.0)])
        # The forms on both sides agree to the rounding of the table there.
        assert np.ptp(edge.zero) < 1.5
        assert np.ptp(edge.hundred) < 0.7


@given(kv100=st.floats(2.0, 200.0), ratios=st.tuples(st.floats(1.5, 60.0), st.floats(1.5, 60.0)))
def test_thicker_at_40_means_a_lower_index(kv100, ratios):
    thin, thick = (kv100 * ratio for ratio in sorted(ratios))
    first, second = (float(viscosity_index(kv40, kv100).value) for kv40 in (thin, thick))
    assert first >= second


def test_the_whole_array_equals_one_at_a_time():
    kv40 = np.array([73.3, 22.83, np.nan, 10.0, 2500.0, 95.0])
    kv100 = np.array([8.86, 5.05, 7.0, 1.9, 80.0, 70.0])
    together = viscosity_index(kv40, kv100)
    for i, pair in enumerate(zip(kv40, kv100, strict=True)):
        alone = viscosity_index(*pair)
        assert np.array_equal(together.value[i], alone.value, equal_nan=True)
        assert together.procedure[i] == alone.procedure
