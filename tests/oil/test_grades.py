"""SAE J300 edges. Source: J300 2015-01 table as reprinted publicly; SAE 20 least 6.9 since 2013."""

import numpy as np
import pytest

from oiltrend.oil.grades import grade_range, grades_of, outside_grade


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
