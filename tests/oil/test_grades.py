"""SAE J300 edges. Source: J300 2015-01 table as reprinted publicly; SAE 20 least 6.9 since 2013."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.oil.answers import Answer
from oiltrend.oil.grades import (
    GRADES,
    WINTER_LEAST,
    edge_distance,
    grade_bounds,
    grade_range,
    grades_fitting,
    grades_of,
    left_grade,
    outside_grade,
    winter_grades_fitting,
)


@pytest.mark.parametrize(("kv100", "grade"), [
    (9.29, "20"), (9.30, "30"), (12.49, "30"), (12.50, "40"), (16.29, "40"), (16.30, "50"),
    (21.9, "60")])
def test_edges_of_the_published_table(kv100: float, grade: str) -> None:
    assert grades_of(kv100) == (grade,)


def test_above_the_thickest_grade_is_none() -> None:
    assert grades_of(26.1) == ()


def test_overlapping_grades_are_told_apart_by_high_shear_viscosity() -> None:
    assert grades_of(7.0) == ("12", "16", "20")
    assert grades_of(7.0, hths=2.4) == ("12", "16")  # 20 needs 2.6


@pytest.mark.parametrize("text", ["5W-40", "15w40", "SAE 40", "40", "10W/40", " 0W-40 "])
def test_ways_to_write_a_grade(text: str) -> None:
    assert grade_range(text) == (12.5, 16.3)


def test_a_grade_that_is_not_one() -> None:
    assert grade_range("gear oil 75") is None


def test_array_answer_equals_the_scalar_one_and_unknown_stays_inside() -> None:
    values = np.array([12.0, 12.5, 16.29, 16.3, np.nan])
    together = outside_grade(values, 12.5, 16.3)
    assert together.tolist() == [int(outside_grade(v, 12.5, 16.3)) for v in values]
    assert together.tolist() == [-1, 0, 0, 1, 0]


@pytest.mark.parametrize(("grade", "least", "upper", "shear"), [
    # J300 2015-01: high-shear minimum of 40 by winter grade, minima of the winter grades.
    ("0W-40", 12.5, 16.3, 3.5), ("5W-40", 12.5, 16.3, 3.5), ("10W-40", 12.5, 16.3, 3.5),
    ("15W-40", 12.5, 16.3, 3.7), ("20W-40", 12.5, 16.3, 3.7), ("25W-40", 12.5, 16.3, 3.7),
    ("SAE 40", 12.5, 16.3, 3.7), ("10W-60", 21.9, 26.1, 3.7), ("0W-8", 4.0, 6.1, 1.7),
    ("15W-8", 5.6, 6.1, 1.7), ("5w30", 9.3, 12.5, 2.9), ("0W/16", 6.1, 8.2, 2.3),
])
def test_all_that_is_asked_of_a_grade(grade, least, upper, shear):
    found = grade_bounds(grade)
    assert found is not None
    assert (found.kv100_least, found.kv100_upper, found.hths_least) == (least, upper, shear)


@pytest.mark.parametrize(("grade", "least"), [
    ("0W", 3.8), ("5W", 3.8), ("10W", 4.1), ("15W", 5.6), ("SAE 20W", 5.6), ("25 W", 9.3)])
def test_winter_minima_of_the_published_table(grade, least):
    found = grade_bounds(grade)
    assert found is not None
    assert (found.kv100_least, found.kv100_upper, found.summer) == (least, math.inf, "")
    assert math.isnan(found.hths_least)


@pytest.mark.parametrize("grade", ["", "soft", "W", "7W-40", "5W-45", "25W-20", "40-5W", "SAE"])
def test_what_is_not_a_grade(grade):
    assert grade_bounds(grade) is None


@pytest.mark.parametrize(("kv100", "reached"), [
    (3.79, []), (3.8, ["0W", "5W"]), (4.1, ["0W", "5W", "10W"]),
    (5.6, ["0W", "5W", "10W", "15W", "20W"]), (9.3, list(WINTER_LEAST)), (math.nan, [])])
def test_winter_minima_reached(kv100, reached):
    fits = winter_grades_fitting(kv100)
    assert [grade for grade, yes in zip(WINTER_LEAST, fits, strict=True) if yes] == reached


@given(st.floats(1.0, 30.0), st.none() | st.floats(1.0, 5.0))
def test_grades_of_many_samples_are_those_of_each(kv100, hths):
    fits = grades_fitting([kv100, math.nan], hths=math.nan if hths is None else hths)
    found = tuple(grade for grade, yes in zip(GRADES, fits[0], strict=True) if yes)
    assert found == grades_of(kv100, hths=hths)
    assert not fits[1].any()


@given(st.floats(1.0, 30.0))
def test_distance_to_the_edge_is_negative_outside_only(kv100):
    distance = float(edge_distance(kv100, 12.5, 16.3))
    if distance != 0.0:  # the upper edge itself is outside
        assert (distance < 0) == bool(outside_grade(kv100, 12.5, 16.3))


@pytest.mark.parametrize(("kv100", "u", "answer"), [
    (12.5, 0.1, "NO"), (16.29, 0.1, "NO"), (12.49, 0.1, "CANNOT_TELL"), (12.3, 0.1, "CANNOT_TELL"),
    (12.29, 0.1, "YES"), (16.3, 0.1, "CANNOT_TELL"), (16.51, 0.1, "YES"), (9.0, math.nan,
                                                                           "CANNOT_TELL"),
    (math.nan, 0.1, "NOT_ASKED")])
def test_a_grade_is_left_only_beyond_the_precision_of_the_test(kv100, u, answer):
    assert Answer(int(left_grade(kv100, 12.5, 16.3, u=u))).name == answer
    assert Answer(int(left_grade(kv100, math.nan, math.nan, u=u))) is Answer.NOT_ASKED


def test_a_winter_grade_alone_has_no_upper_edge():
    assert Answer(int(left_grade(40.0, 4.1, math.inf, u=0.2))) is Answer.NO
    assert float(edge_distance(5.0, 4.1, math.inf)) == pytest.approx(0.9)
