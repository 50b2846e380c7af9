"""The oil-mass side of the ledger. Expected figures are worked out from the balance here, or
follow from what must not change; the integrated truth is in test_against_integration."""

from functools import reduce

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear.masses import IntervalMasses, RowNote, solve_rows
from oiltrend.wear.transfer import compose, lump, segment

PLAIN = {"use": np.array([10e3]), "start_mass": 5.0, "start_mass_half": 0.0, "end_mass": 4.8,
         "end_mass_half": 0.0, "added_mass": 0.6, "added_mass_half": 0.0, "liquid_share": 0.7,
         "liquid_share_half": 0.0}
START, END, ADDED, SHARE, TIME = range(5)


def rows(**changes):
    return IntervalMasses(**{**PLAIN, **changes})


def note(**changes):
    return RowNote(solve_rows(rows(**changes)).note[0])


def form(transfer):
    return 1e3 * np.array([1.0, transfer.p, transfer.r]) / transfer.q


class TestSolution:
    def test_undated_oil_is_spread_evenly(self):
        expected = form(segment(5.0, 4.8, 0.6, use=10e3, liquid_share=0.7, filter_rate=2e-5))
        np.testing.assert_allclose(solve_rows(rows(filter_rate=2e-5)).form[:, 0], expected,
                                   rtol=1e-14)

    def test_dated_oil_goes_in_where_it_did(self):
        # 5.0 kg, loss 0.8 kg in all, evenly: 0.24 kg at 30 %, 0.56 kg on the rest.
        path = compose(compose(segment(5.0, 4.76, 0.0, use=3e3, liquid_share=0.7),
                               lump(4.76, 0.6)),
                       segment(5.36, 4.8, 0.0, use=7e3, liquid_share=0.7))
        found = solve_rows(rows(added_mass=0.0, top_up_mass=np.array([[0.6]]),
                                top_up_position=np.array([[0.3]])))
        np.testing.assert_allclose(found.form[:, 0], form(path), rtol=1e-13)
        assert not found.moves.any()

    def test_order_and_padding_of_dated_oil_do_not_matter(self):
        sorted_ = rows(top_up_mass=np.array([[0.2, 0.5]]), top_up_position=np.array([[0.2, 0.8]]))
        mixed = rows(top_up_mass=np.array([[np.nan, 0.5, np.nan, 0.2]]),
                     top_up_position=np.array([[np.nan, 0.8, np.nan, 0.2]]))
        np.testing.assert_array_equal(solve_rows(sorted_).form, solve_rows(mixed).form)

    def test_no_top_up_at_all_is_the_same_as_no_list(self):
        empty = rows(top_up_mass=np.full((1, 2), np.nan),
                     top_up_position=np.full((1, 2), np.nan))
        np.testing.assert_array_equal(solve_rows(empty).form, solve_rows(rows()).form)

    def test_only_what_has_a_range_moves(self):
        names = {START: "start_mass_half", END: "end_mass_half", ADDED: "added_mass_half",
                 SHARE: "liquid_share_half"}
        for index, name in names.items():
            moves = solve_rows(rows(**{name: 0.1})).moves
            assert moves[index].any()
            assert not any(moves[other].any() for other in names if other != index)

    def test_time_of_undated_oil_moves_the_solution_and_dated_oil_does_not(self):
        found = solve_rows(rows()).moves[TIME]
        base = segment(5.0, 4.8, 0.6, use=10e3, liquid_share=0.7)
        first = compose(lump(5.0, 0.6), segment(5.6, 4.8, 0.0, use=10e3, liquid_share=0.7))
        last = compose(segment(5.0, 4.2, 0.0, use=10e3, liquid_share=0.7), lump(4.2, 0.6))
        np.testing.assert_allclose(found[0, :, 0], form(first) - form(base), rtol=1e-9)
        np.testing.assert_allclose(found[1, :, 0], form(last) - form(base), rtol=1e-9)

    def test_undated_oil_goes_in_at_once_up_to_half_the_start_mass(self):
        found = solve_rows(rows(end_mass=5.0, added_mass=4.0)).moves[TIME]
        base = segment(5.0, 5.0, 4.0, use=10e3, liquid_share=0.7)
        last = compose(segment(5.0, 2.5, 1.5, use=10e3, liquid_share=0.7), lump(2.5, 2.5))
        np.testing.assert_allclose(found[1, :, 0], form(last) - form(base), rtol=1e-9)

    def test_undated_oil_that_came_last_left_no_less_than_a_tenth_before(self):
        found = solve_rows(rows(end_mass=1.5, added_mass=2.0)).moves[TIME]
        base = segment(5.0, 1.5, 2.0, use=10e3, liquid_share=0.7)
        last = compose(segment(5.0, 0.5, 1.0, use=10e3, liquid_share=0.7), lump(0.5, 1.0))
        np.testing.assert_allclose(found[1, :, 0], form(last) - form(base), rtol=1e-9)

    def test_undated_oil_beside_a_dated_top_up(self):
        # 5.0 kg + 0.5 kg half way + 0.6 kg at some time − 4.8 kg: 1.3 kg lost evenly.
        found = solve_rows(rows(top_up_mass=np.array([[0.5]]), top_up_position=np.array([[0.5]])))
        rest = {"use": 5e3, "liquid_share": 0.7}
        paths = [
            [segment(5.0, 4.65, 0.3, **rest), lump(4.65, 0.5), segment(5.15, 4.8, 0.3, **rest)],
            [lump(5.0, 0.6), segment(5.6, 4.95, 0.0, **rest), lump(4.95, 0.5),
             segment(5.45, 4.8, 0.0, **rest)],
            [segment(5.0, 4.35, 0.0, **rest), lump(4.35, 0.5), segment(4.85, 4.2, 0.0, **rest),
             lump(4.2, 0.6)],
        ]
        spread, first, last = (form(reduce(compose, path)) for path in paths)
        np.testing.assert_allclose(found.form[:, 0], spread, rtol=1e-13)
        np.testing.assert_allclose(found.moves[TIME, 0, :, 0], first - spread, rtol=1e-9)
        np.testing.assert_allclose(found.moves[TIME, 1, :, 0], last - spread, rtol=1e-9)

    def test_share_moves_within_nought_and_one_only(self):
        low, high = solve_rows(rows(liquid_share=0.9, liquid_share_half=0.5)).moves[SHARE, ..., 0]
        to_one = solve_rows(rows(liquid_share=1.0)).form[:, 0] - solve_rows(
            rows(liquid_share=0.9)).form[:, 0]
        np.testing.assert_allclose(high, to_one, rtol=1e-9)
        assert np.abs(low).max() > np.abs(high).max()

    def test_share_counts_more_where_more_may_have_been_lost(self):
        recorded = solve_rows(rows(liquid_share_half=0.3)).moves[SHARE]
        unrecorded = solve_rows(rows(liquid_share_half=0.3, added_mass_half=0.6)).moves[SHARE]
        assert np.abs(unrecorded).max() > 1.5 * np.abs(recorded).max()

    @settings(derandomize=True, deadline=None, max_examples=200)
    @given(start=st.floats(2.0, 12.0), end=st.floats(0.3, 1.3), added=st.floats(0.0, 10.0),
           share=st.floats(0.0, 1.0), halves=st.tuples(*[st.floats(0.0, 20.0)] * 3),
           share_half=st.floats(0.0, 1.0), dated=st.floats(0.0, 2.0), place=st.floats(0.0, 1.0))
    def test_a_row_with_a_solution_has_all_its_moves(self, start, end, added, share, halves,
                                                     share_half, dated, place):
        found = solve_rows(IntervalMasses(
            np.array([8e3]), start, halves[0], end * start, halves[1], added, halves[2], share,
            share_half, top_up_mass=np.array([[dated]]), top_up_position=np.array([[place]])))
        if found.note[0] in (RowNote.CLEAR, RowNote.MASS_GAINED):
            assert np.isfinite(found.form).all()
            assert np.isfinite(found.moves).all()
        else:
            assert found.note[0] == RowNote.RAN_DRY


class TestNotes:
    def test_masses_that_add_up(self):
        assert note() == RowNote.CLEAR

    def test_mass_from_nowhere(self):
        assert note(end_mass=5.7) == RowNote.MASS_GAINED
        assert np.isfinite(solve_rows(rows(end_mass=5.7)).form).all()

    def test_mass_from_nowhere_counts_as_no_loss(self):
        found = solve_rows(rows(end_mass=5.7)).form[:, 0]
        expected = form(segment(5.0, 5.7, 0.7, use=10e3, liquid_share=0.1))
        np.testing.assert_allclose(found, expected, rtol=1e-14)

    @pytest.mark.parametrize("name", ["start_mass_half", "end_mass_half", "added_mass_half"])
    def test_a_range_that_explains_the_gain_is_no_contradiction(self, name):
        assert note(end_mass=5.7, **{name: 0.09}) == RowNote.MASS_GAINED
        assert note(end_mass=5.7, **{name: 0.11}) == RowNote.CLEAR

    def test_a_gain_by_rounding_is_none(self):
        assert 0.9 - 0.3 - 0.6 > 0
        assert note(start_mass=0.3, end_mass=0.9, added_mass=0.6) == RowNote.CLEAR

    def test_dated_oil_counts_in_the_balance(self):
        lists = {"top_up_mass": np.array([[0.7]]), "top_up_position": np.array([[0.5]])}
        assert note(end_mass=6.2) == RowNote.MASS_GAINED
        assert note(end_mass=6.2, **lists) == RowNote.CLEAR

    @pytest.mark.parametrize("changes", [
        {"end_mass": 0.4}, {"end_mass": 0.0}, {"start_mass": 0.0}, {"start_mass": -1.0},
        # 5 kg lost evenly before 5 kg went in at 95 % of the way: nothing was left by then.
        {"added_mass": 0.0, "top_up_mass": np.array([[5.0]]),
         "top_up_position": np.array([[0.95]])},
    ])
    def test_oil_that_ran_out_has_no_solution(self, changes):
        assert note(**changes) == RowNote.RAN_DRY
        assert np.isnan(solve_rows(rows(**changes)).form).all()

    @pytest.mark.parametrize("use", [0.0, -100.0])
    def test_no_use_has_no_solution(self, use):
        assert note(use=np.array([use])) == RowNote.NO_USE
        assert np.isnan(solve_rows(rows(use=np.array([use]))).form).all()

    @pytest.mark.parametrize("name", [*PLAIN, "filter_rate", "fresh_in_start"])
    def test_an_unknown_makes_its_row_unknown_and_no_other(self, name):
        two = {key: np.full(2, float(np.ravel(value)[0])) for key, value in
               {**PLAIN, "filter_rate": 1e-5, "fresh_in_start": 0.9}.items()}
        whole = solve_rows(IntervalMasses(**two))
        two[name] = np.array([np.nan, two[name][1]])
        found = solve_rows(IntervalMasses(**two))
        assert found.note.tolist() == [RowNote.UNKNOWN, RowNote.CLEAR]
        assert np.isnan(found.form[:, 0]).all()
        np.testing.assert_array_equal(found.form[:, 1], whole.form[:, 1])


REFUSALS = [
    ({"use": 1e4}, "use: must have one number per row, found shape (); "
                   "give an array of shape (n,)"),
    ({"end_mass": np.ones(3)},
     "end_mass: must have one number per row, 1 rows, found shape (3,); "
     "give an array of shape (n,) or one number for all rows"),
    ({"liquid_share": 1.5},
     "liquid_share: must lie between 0 and 1, found 1.5; correct the value or leave it blank"),
    ({"fresh_in_start": -0.5},
     "fresh_in_start: must lie between 0 and 1, found -0.5; "
     "correct the value or leave it blank"),
    *[({name: -0.25}, f"{name}: must not be negative, found -0.25; "
                      "correct the value or leave it blank")
      for name in ("start_mass_half", "end_mass_half", "added_mass", "added_mass_half",
                   "liquid_share_half", "filter_rate")],
    ({"top_up_mass": np.ones((1, 2))},
     "top_up_mass and top_up_position: must both have one line per row, 1 rows, "
     "found shapes (1, 2) and None; "
     "give two arrays of shape (n, k), NaN where there is no top-up"),
    ({"top_up_mass": np.ones((2, 2)), "top_up_position": np.ones((2, 2))},
     "top_up_mass and top_up_position: must both have one line per row, 1 rows, "
     "found shapes (2, 2) and (2, 2); "
     "give two arrays of shape (n, k), NaN where there is no top-up"),
    ({"top_up_mass": np.ones((1, 2)), "top_up_position": np.array([[0.5, np.nan]])},
     "top_up_mass and top_up_position: a top-up must have both or neither, "
     "found one without the other; count a top-up without a date in added_mass"),
    ({"top_up_mass": np.array([[-1.0]]), "top_up_position": np.array([[0.5]])},
     "top_up_mass: must not be negative, found -1; correct the value or leave it blank"),
    ({"top_up_mass": np.array([[1.0]]), "top_up_position": np.array([[1.5]])},
     "top_up_position: must lie between 0 and 1, found 1.5; "
     "correct the value or leave it blank"),
]


@pytest.mark.parametrize(("changes", "words"), REFUSALS)
def test_what_cannot_be_is_refused(changes, words):
    with pytest.raises(ValueRefused) as refused:
        rows(**changes)
    assert str(refused.value) == words
