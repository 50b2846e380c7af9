"""From figures to a level: published fills, the two-pieces rule, findings, doubts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from oiltrend.assessment.assess import assess
from oiltrend.assessment.own_history import own_limits_of
from oiltrend.assessment.results import Figures, Verdict
from oiltrend.assessment.work import work_out
from oiltrend.records import Limit
from tests.assessment.fleets import fleet, published

DAY = date(2020, 1, 1)


def limit(measurand: str, quantity: str, level: str, value: float, *, operator: str = ">",
          family: str = "*") -> Limit:
    return Limit(family, measurand, quantity, level, operator, value,  # type: ignore[arg-type]
                 "set by the shop for the test", DAY)


def one(entries: list[dict[str, object]], **options: object) -> Verdict:
    (verdict,) = assess(fleet(entries, **options)).verdicts  # type: ignore[arg-type]
    return verdict


def figures(entries: list[dict[str, object]], **options: object) -> Figures:
    (verdict,) = assess(fleet(entries, **options),  # type: ignore[arg-type]
                        with_figures=True).verdicts
    assert verdict.figures is not None
    return verdict.figures


SOUND = [{"engine": "E1", "sample_date": f"202{year}-05-01", "meter": 40000 + 8000 * year,
          "oil_distance": 8000, "oil_changed": 1, "Fe": 20 + year % 2, "Cu": 4, "Pb": 5 + year % 2}
         for year in range(1, 5)]
LAST = {"engine": "E1", "sample_date": "2025-05-01", "meter": 80000, "oil_distance": 8000,
        "oil_changed": 1}


def test_step_in_published_iron_raises_the_level_and_the_reason_names_iron() -> None:
    before = assess(published(without_last=True)).verdicts[1]
    after = assess(published()).verdicts[1]
    assert before.engine == after.engine == "B"
    assert before.level == "no_alarm"
    assert after.level == "alert"
    assert [reason.measurand for reason in after.reasons] == ["Fe"]


def test_without_any_limit_passed_the_lowest_level_stands_beside_the_data_state() -> None:
    verdict = one(SOUND)
    assert (verdict.level, verdict.data, verdict.reasons) == ("no_alarm", "out_of_date", ())
    assert one(SOUND, as_of=date(2024, 8, 1)).data == "enough"


def test_no_sample_no_verdict() -> None:
    verdict = one([{"engine": "E1", "sample_date": "2025-12-20", "awaited": True}])
    assert verdict.level is None
    assert verdict.awaiting_result
    assert verdict.awaited_since == date(2025, 12, 20)


@pytest.mark.parametrize(("lead", "expected"), [(25.0, "no_alarm"), (26.0, "alert")])
def test_operator_of_a_limit_is_kept(lead: float, expected: str) -> None:
    verdict = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": lead}],
                  limits=[limit("Pb", "level", "alert", 25.0)])
    codes = [reason for reason in verdict.reasons if reason.code == "fixed"]
    assert bool(codes) == (expected == "alert")


def test_one_value_beyond_an_alarm_limit_asks_for_a_second_piece() -> None:
    limits = [limit("Pb", "level", "alarm", 20.0), limit("Cu", "level", "alarm", 15.0)]
    alone = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 24}], limits=limits)
    agreed = one([*SOUND, {**LAST, "Fe": 20, "Cu": 18, "Pb": 24}], limits=limits)
    fixed = next(reason for reason in alone.reasons if reason.code == "fixed")
    assert (alone.level, fixed.level, fixed.alone) == ("alert", "alert", True)
    assert agreed.level == "alarm"
    assert {r.measurand for r in agreed.reasons if r.level == "alarm"} >= {"Pb", "Cu"}


def test_two_samples_of_one_metal_are_two_pieces() -> None:
    entries = [*SOUND[:-1], {**SOUND[-1], "Pb": 23}, {**LAST, "Fe": 20, "Cu": 4, "Pb": 24}]
    assert one(entries, limits=[limit("Pb", "level", "alarm", 20.0)]).level == "alarm"


def test_one_value_far_beyond_needs_no_second_piece() -> None:
    verdict = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 45}],
                  limits=[limit("Pb", "level", "alarm", 20.0)])
    assert verdict.level == "alarm"


@pytest.mark.parametrize("finding", [
    {"filter_finding": 3}, {"noise": 1}, {"glitter": 1}, {"hot_oil_pressure_bar": 0.4}])
def test_a_finding_suffices_whatever_the_ppm(finding: dict[str, object]) -> None:
    verdict = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 5, **finding}])
    assert verdict.level == "alarm"
    assert verdict.reasons[0].quantity == "finding"


def test_limit_on_the_rate_per_distance_is_judged_by_the_plain_figure() -> None:
    # 13.1 ppm, start 0.5 of residue: (13.1 − 0.5)/8 = 1.575 per 1000 km.
    verdict = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 13.1}],
                  limits=[limit("Pb", "per_1000", "alert", 1.5)])
    found = next(reason for reason in verdict.reasons if reason.quantity == "per_1000")
    assert found.value == pytest.approx(1.575)
    assert found.unit == "mg/kg per 1000 km"


def test_family_limit_replaces_the_common_one() -> None:
    limits = [limit("Pb", "level", "alert", 10.0), limit("Pb", "level", "alert", 40.0,
                                                         family="AQ-V8-40")]
    verdict = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 12}], limits=limits)
    assert not [reason for reason in verdict.reasons if reason.code == "fixed"]


def test_reading_whose_reporting_limit_hides_it_is_not_judged_and_says_so() -> None:
    entries = [*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": "<30"}]
    verdict = one(entries, limits=[limit("Pb", "level", "alert", 25.0)])
    assert verdict.not_judged == ("Pb",)
    lead = figures(entries).interval["Pb"]
    assert lead.ppm is None
    assert lead.below_limit


def test_doubted_low_sample_does_not_lower_a_level() -> None:
    high = [*SOUND, {**LAST, "oil_changed": 0, "Fe": 60, "Cu": 30, "Pb": 45}]
    low = {"engine": "E1", "sample_date": "2025-08-01", "meter": 83000, "oil_distance": 11000,
           "Fe": 6, "Cu": 1, "Pb": 2}
    limits = [limit("Pb", "level", "alarm", 20.0)]
    verdict = one([*high, low], limits=limits)
    assert verdict.doubts[-1].code == "metals_fell_together"
    assert verdict.level == "alarm"


def test_doubted_high_sample_still_counts() -> None:
    metals = {"Fe": 20, "Cu": 4, "Pb": 5, "Al": 4, "Cr": 2, "Ni": 2}
    start = [{**row, **metals} for row in SOUND]
    mid = {**LAST, "oil_changed": 0, "oil_distance": 4000, "meter": 76000, **metals}
    jump = {**LAST, "meter": 77000, "oil_distance": 5000, "sample_date": "2025-06-01",
            **{symbol: 12 * value for symbol, value in metals.items()}}
    verdict = one([*start, mid, jump], limits=[limit("Pb", "level", "alarm", 20.0)])
    assert verdict.doubts[-1].code == "metals_rose_together"
    assert verdict.level == "alarm"


def test_an_engine_in_alarm_that_stays_away_stays_in_alarm() -> None:
    entries = [*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 45}]
    verdict = one(entries, limits=[limit("Pb", "level", "alarm", 20.0)], as_of=date(2029, 1, 1))
    assert (verdict.level, verdict.data) == ("alarm", "out_of_date")


def test_new_shells_start_a_new_account() -> None:
    entries = [*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 45}]
    verdict = one(entries, limits=[limit("Pb", "level", "alarm", 20.0)],
                  set_fitted={"E1": "2025-05-02"}, as_of=date(2025, 6, 1))
    assert (verdict.level, verdict.data, verdict.samples) == (None, "little", 0)


def test_population_needs_engines_not_samples() -> None:
    entries = [{"engine": f"E{number:03d}", "sample_date": "2025-05-01", "meter": 50000,
                "oil_distance": 8000, "oil_changed": 1, "top_up_l": 0.0, "level_at_sampling": 1,
                "Pb": 4 + number % 7} for number in range(70)]
    few = assess(fleet(entries[:20])).context
    enough = assess(fleet(entries)).context
    group = "AQ-V8-40 | method not told | km"
    assert few.groups[group]["Pb"]["alert"].value is None
    assert "20 of 59 engines" in few.groups[group]["Pb"]["alert"].note
    assert enough.groups[group]["Pb"]["alert"].n == 70
    assert enough.groups[group]["Pb"]["alert"].value is not None
    # 95 % with 95 % confidence needs 59 engines, one-sided (Wilks 1941, from memory);
    # 97.5 % with 95 % confidence needs 119 engines.
    assert "70 of 119 engines" in enough.groups[group]["Pb"]["alarm"].note


def test_engine_beyond_its_population_is_named_and_the_context_can_be_kept() -> None:
    entries = [{"engine": f"E{number:03d}", "sample_date": "2025-05-01", "meter": 50000,
                "oil_distance": 8000, "oil_changed": 1, "top_up_l": 0.0, "level_at_sampling": 1,
                "Pb": 30 if number == 69 else 4 + number % 7} for number in range(70)]
    whole = assess(fleet(entries))
    kept = type(whole.context).from_document(whole.context.as_document())
    alone = assess(fleet(entries[69:]), context=kept)
    assert [replace(reason, sample=0) for reason in alone.verdicts[0].reasons] == [
        replace(reason, sample=0) for reason in whole.verdicts[69].reasons]
    assert alone.verdicts[0].level == whole.verdicts[69].level == "alert"
    assert whole.verdicts[69].reasons[0].limit_kind == "population"
    assert whole.verdicts[69].reasons[0].n == 70


def test_rising_rate_of_a_shell_metal_is_a_reason() -> None:
    entries = [{"engine": "E1", "sample_date": f"{2015 + n}-05-01", "meter": 8000 * n,
                "oil_distance": 8000, "oil_changed": 1, "top_up_l": 0.0, "level_at_sampling": 1,
                "Pb": 4 + 2 * n} for n in range(9)]
    verdict = one(entries, as_of=date(2023, 8, 1))
    assert figures(entries, as_of=date(2023, 8, 1)).trend["Pb"].word == "rising"
    assert "trend_rising" in [reason.code for reason in verdict.reasons]


def test_unknown_numbers_are_none() -> None:
    verdict = one(SOUND)
    values = [rate.value for rate in figures(SOUND).wear_rate.values()]
    assert values
    assert all(value is None or np.isfinite(value) for value in values)
    assert verdict.chance is None


def test_not_found_answers_a_limit_of_zero() -> None:
    verdict = one([*SOUND, {**LAST, "Fe": 20, "Cu": 4, "Pb": 5, "glycol_pct": "<0.05"}],
                  limits=[limit("glycol_pct", "level", "alert", 0.0)])
    assert (verdict.not_judged, verdict.level) == ((), "no_alarm")


@pytest.mark.parametrize(("lead", "why"), [
    ((5, 6, 5, 7), "needs 5 earlier intervals, has 3"),
    ((5, 6, 5, 7, 6, 5, 6, "<1"), "gives no rate"),
    (("<1", "<1", "<1", "<1", "<1", "<1", "<1", 9), "below the reporting limit"),
])
def test_a_missing_own_limit_says_why(lead: tuple[object, ...], why: str) -> None:
    made = fleet([{"engine": "E1", "sample_date": f"{2010 + year}-05-01",
                   "meter": 40000 + 8000 * year, "oil_distance": 8000, "oil_changed": 1, "Pb": ppm}
                  for year, ppm in enumerate(lead)])
    shown = [entry for entry in own_limits_of(made, work_out(made), 0) if entry.measurand == "Pb"]
    assert len(shown) == 2
    assert all(entry.value is None and why in entry.note for entry in shown)
