"""Long tables to rectangles, and bounds for what a laboratory left unbounded."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.series import bounded, same_length, to_padded

lengths = st.lists(st.integers(1, 6), min_size=1, max_size=8)


def starts_of(counts):
    return np.concatenate([[0], np.cumsum(counts)[:-1]])


@given(lengths, st.integers(1, 3))
def test_padding_puts_every_row_in_its_place_and_nothing_else(counts, columns):
    rows = sum(counts)
    table = np.arange(rows * columns, dtype=float).reshape(rows, columns)
    padded = to_padded(table, starts_of(counts))
    assert padded.shape == (len(counts), columns, max(counts))
    for series, (first, count) in enumerate(zip(starts_of(counts), counts, strict=True)):
        assert (padded[series, :, :count] == table[first:first + count].T).all()
        assert np.isnan(padded[series, :, count:]).all()


@given(lengths)
def test_groups_of_equal_length_take_every_row_once(counts):
    taken, seen = [], []
    for series, rows in same_length(starts_of(counts), sum(counts)):
        assert (np.array(counts)[series] == rows.shape[1]).all()
        assert (rows[:, 0] == starts_of(counts)[series]).all()
        taken += rows.ravel().tolist()
        seen += series.tolist()
    assert sorted(taken) == list(range(sum(counts)))
    assert sorted(seen) == list(range(len(counts)))


def test_a_mask_comes_back_as_zeros_and_ones():
    assert to_padded([True, False, True], [0, 2]).tolist()[0] == [1.0, 0.0]


def test_no_series_at_all_is_an_empty_rectangle():
    assert to_padded(np.zeros((0, 2)), []).shape == (0, 2, 0)
    assert list(same_length([], 0)) == []


@pytest.mark.parametrize("starts", [[0, 2, 2], [1, 2], [0, 5], [0, 3, 1], []])
def test_starts_that_do_not_fit_are_refused_in_full_words(starts):
    for use in (lambda: to_padded(np.zeros(5), starts), lambda: list(same_length(starts, 5))):
        with pytest.raises(ValueRefused) as refused:
            use()
        assert str(refused.value) == (
            f"starts: must begin at 0 and rise to less than the number of rows (5), found "
            f"{starts}; give the first row of each series that has rows, and no empty series")


def test_an_unknown_bound_is_below_the_smallest_detected_value_of_its_own_series():
    value, below = bounded([[7.0, np.nan, 3.0, np.nan], [9.0, np.nan, np.nan, np.nan]],
                           [[False, True, False, False], [True, True, False, False]])
    assert value[0, 1] == 3.0
    assert below[0].tolist() == [False, True, False, False]
    # Nothing was detected in the second series: the bound stays unknown.
    assert np.isnan(value[1, 1])
    assert below[1].tolist() == [True, False, False, False]


def test_on_a_log_scale_a_reported_zero_is_below_the_smallest_positive_value():
    value, below = bounded([0.0, 4.0, 6.0], [False, False, False], positive=True)
    assert value.tolist() == [4.0, 4.0, 6.0]
    assert below.tolist() == [True, False, False]
    assert bounded([0.0, 4.0], [False, False])[0].tolist() == [0.0, 4.0]
