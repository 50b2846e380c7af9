"""The chain up to the rates, on published fills and on small stories with a known end."""

from __future__ import annotations

import numpy as np
import pytest

from oiltrend.assessment.doubts import DOUBT_CODES
from oiltrend.assessment.rates import WORN
from oiltrend.assessment.work import work_out
from oiltrend.nomenclature import PANEL_INDEX
from tests.assessment.fleets import fleet, one_event, published

FE, CU, PB = (PANEL_INDEX[symbol] for symbol in ("Fe", "Cu", "Pb"))


def test_published_oddity_is_doubted_for_the_right_reason_and_its_neighbours_are_not() -> None:
    made = published()
    worked = work_out(made)
    doubted = made.samples.sample_id[worked.doubted].tolist()
    assert doubted == ["A6-345"]
    row = int(np.flatnonzero(worked.doubted)[0])
    codes = [code for code, on in zip(DOUBT_CODES, worked.doubts[row], strict=True) if on]
    assert codes == ["metals_fell_together"]


def test_published_fills_are_told_apart() -> None:
    made = published()
    worked = work_out(made)
    names = [name.split("-")[0] for name in made.samples.sample_id.tolist()]
    numbers = worked.fills.number.tolist()
    assert len(set(zip(names, numbers, strict=True))) == len(set(numbers)) == 4


def test_sample_after_a_doubted_one_is_measured_from_the_last_trusted_one() -> None:
    made = published()
    worked = work_out(made)
    after = made.samples.sample_id.tolist().index("A6-408")
    assert made.samples.sample_id[worked.ledger.before[after]] == "A6-239"
    assert worked.ledger.use[after] == 408 - 239


def test_plain_figures_can_be_redone_on_paper() -> None:
    # 12 ppm lead drained; one tenth stays: 1.2 ppm at the start. 11.2 ppm after 8000 km is
    # 10.0 gained, 1.25 ppm per 1000 km.
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_distance": 9000,
         "oil_changed": 1, "Pb": 12},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 58000, "oil_distance": 8000,
         "oil_changed": 1, "Pb": 11.2}])
    worked = work_out(made)
    assert worked.ledger.start[1, PB] == pytest.approx(1.2)
    assert worked.ledger.per_1000[1, PB] == pytest.approx(1.25)
    assert np.isnan(worked.ledger.mid_fill_per_1000[1, PB])


def test_mid_fill_difference_is_a_second_figure() -> None:
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_distance": 4000,
         "oil_changed": 0, "Pb": 4},
        {"engine": "E1", "sample_date": "2025-03-01", "meter": 52000, "oil_distance": 6000,
         "oil_changed": 1, "Pb": 9}])
    ledger = work_out(made).ledger
    assert ledger.mid_fill_per_1000[1, PB] == pytest.approx(2.5)
    start = ledger.start[1, PB]
    assert ledger.per_1000[1, PB] == pytest.approx((9 - start) / 6)


def test_wear_rate_of_an_interval_holds_the_hand_calculation() -> None:
    # Level known at both ends and nothing added: 4.25 kg of oil, 10 ppm gained in 10 000 km
    # is 42.5 mg, 4.25 mg per 1000 km.
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_changed": 1, "Pb": 0},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 60000, "oil_distance": 10000,
         "oil_changed": 1, "Pb": 10, "top_up_l": 0.0, "level_at_sampling": 1}])
    wear = work_out(made).ledger.wear
    assert wear.rate[1, PB] == pytest.approx(4.25, rel=1e-6)
    assert wear.low[1, PB] < 4.25 < wear.high[1, PB]


def test_unrecorded_top_up_widens_the_interval_and_is_never_zero() -> None:
    base = {"engine": "E1", "sample_date": "2025-09-01", "meter": 60000,
            "oil_distance": 10000, "oil_changed": 1, "Pb": 10, "level_at_sampling": 1}
    first = {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_changed": 1,
             "Pb": 0}
    known = work_out(fleet([first, {**base, "top_up_l": 0.0}])).ledger.wear
    unknown = work_out(fleet([first, base])).ledger.wear
    width = known.high[1, PB] - known.low[1, PB]
    assert unknown.high[1, PB] - unknown.low[1, PB] > 1.02 * width
    assert unknown.rate[1, PB] > known.rate[1, PB]


def test_recorded_top_up_event_counts_as_fresh_oil_of_the_interval() -> None:
    entries = [
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_changed": 1, "Pb": 0},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 60000, "oil_distance": 10000,
         "oil_changed": 1, "Pb": 10, "level_at_sampling": 1}]
    with_event = work_out(fleet(entries, events=one_event("top_up", on="2025-05-01", meter=55000,
                                                          litres=1.0))).ledger.wear
    noted = work_out(fleet([entries[0], {**entries[1], "top_up_l": 1.0}])).ledger.wear
    # The same litre: dated in the middle or spread evenly agree within a few per cent.
    assert with_event.rate[1, PB] == pytest.approx(noted.rate[1, PB], rel=0.05)
    assert with_event.rate[1, PB] > 4.4


def test_replaced_meter_keeps_the_axis_rising() -> None:
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 120000, "Fe": 10},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 3000, "oil_distance": 8000,
         "Fe": 12}], events=one_event("meter_replaced", on="2025-06-01", meter=125000,
                                      new_meter=0))
    worked = work_out(made)
    assert worked.axis.tolist() == [120000, 128000]
    assert not worked.doubted.any()


def test_meter_that_runs_backwards_without_an_event_is_doubted() -> None:
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "Fe": 10},
        {"engine": "E1", "sample_date": "2025-05-01", "meter": 85000, "Fe": 11},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 61000, "Fe": 12},
        {"engine": "E1", "sample_date": "2026-01-01", "meter": 66000, "Fe": 12}])
    worked = work_out(made)
    assert worked.doubted.tolist() == [False, True, False, False]
    assert worked.doubts[1, DOUBT_CODES.index("meter_backwards")]


def test_engine_without_any_meter_has_its_fills_laid_end_to_end() -> None:
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "oil_distance": 5000, "oil_changed": 1,
         "Fe": 10},
        {"engine": "E1", "sample_date": "2025-06-01", "oil_distance": 4000, "Fe": 9},
        {"engine": "E1", "sample_date": "2025-09-01", "oil_distance": 7000, "Fe": 12}])
    worked = work_out(made)
    assert worked.axis.tolist() == [5000, 9000, 12000]
    assert worked.fills.number.tolist() == [1, 2, 2]


def test_report_repeated_to_the_digit_is_doubted_only_with_enough_results() -> None:
    same = {"Fe": 10, "Cu": 3, "Pb": 4, "Al": 5, "Si": 6, "Ca": 2100}
    few = {"Fe": 9, "Cu": 2}
    stamp = [{"engine": "E1", "sample_date": f"2025-0{month}-01", "meter": 50000 + 1000 * month,
              "oil_distance": 1000 * month} for month in (1, 2)]
    many = work_out(fleet([{**entry, **same} for entry in stamp]))
    little = work_out(fleet([{**entry, **few} for entry in stamp]))
    assert many.doubted.tolist() == [False, True]
    assert not little.doubted.any()


def test_oil_distance_longer_than_since_the_change_is_doubted() -> None:
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_changed": 1, "Fe": 10},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 55000, "oil_distance": 9000,
         "Fe": 10}])
    worked = work_out(made)
    assert worked.doubts[1, DOUBT_CODES.index("oil_distance_too_long")]


def test_what_was_drawn_before_the_present_shells_does_not_count_for_them() -> None:
    entries = [{"engine": "E1", "sample_date": day, "meter": meter, "Fe": 10}
               for day, meter in (("2024-01-01", 40000), ("2024-06-01", 45000),
                                  ("2025-01-01", 50000))]
    worked = work_out(fleet(entries, set_fitted={"E1": "2024-06-01"}))
    assert worked.current.tolist() == [False, False, True]
    assert worked.latest.tolist() == [2]
    assert worked.earlier.tolist() == [-1]


def test_result_below_the_limit_gives_a_range_and_no_number() -> None:
    made = fleet([
        {"engine": "E1", "sample_date": "2025-01-01", "meter": 50000, "oil_changed": 1, "Pb": 0},
        {"engine": "E1", "sample_date": "2025-09-01", "meter": 60000, "oil_distance": 10000,
         "oil_changed": 1, "Pb": "<1", "top_up_l": 0.0, "level_at_sampling": 1}])
    wear = work_out(made).ledger.wear
    assert np.isnan(wear.rate[1, PB])
    assert wear.low[1, PB] <= 0 < wear.high[1, PB] < 3.0


def test_confirmed_doubt_counts_again() -> None:
    made = published()
    made.answered[made.samples.sample_id == "A6-345"] = "confirmed"
    assert not work_out(made).doubted.any()


def test_what_wears_or_is_carried_in_stands_side_by_side_in_the_panel() -> None:
    # The ledger takes it as one slice of the panel.
    assert list(range(WORN[0], WORN[-1] + 1)) == WORN
