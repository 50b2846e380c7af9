"""Uses about fleet, samples, limits and the books, tried as the shop would."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest

from oiltrend.errors import ChangedMeanwhile, NotAllowed, NotThere, ValueRefused
from oiltrend.records import Car, Engine, Family, Limit, Ownership
from oiltrend.service.files import import_file
from oiltrend.service.fleet import assess_fleet, engine_view, local_today, watch
from oiltrend.service.limits import changed_limits, preview_limits, set_limits
from oiltrend.service.samples import (
    SampleForm,
    answer_doubt,
    check_form,
    correct_sample,
    last_values,
    mark_drawn,
    record_sample,
)
from oiltrend.service.workshop import hand_over_car, overview, save_record, swap_engine
from oiltrend.store import Store
from tests.service.conftest import OWNER, SHOP, TECHNICIAN


def sheet(*rows: str) -> bytes:
    heading = "engine,sample_date,odometer_km,oil_distance_km,oil_changed,Fe,Cu,Pb"
    return "\n".join([heading, *rows, ""]).encode()


def give(store: Store, *rows: str) -> None:
    assert import_file(store, SHOP, sheet(*rows), filename=f"{len(rows)}-{rows[0]}.csv"
                       ).stored == len(rows)
    assess_fleet(store, SHOP)


@pytest.fixture
def history(store: Store) -> Store:
    """E1 with a lead above the starting alert, E2 without."""
    give(store, "E1,2025-01-01,80000,8000,yes,20,5,6", "E1,2025-09-01,88000,8000,yes,22,6,31",
         "E2,2025-09-01,60000,8000,yes,30,6,7")
    return store


def test_watch_puts_the_engine_with_the_alert_first(history: Store) -> None:
    page = watch(history, SHOP)
    assert [(row.engine, row.level) for row in page.rows] == [
        ("E1", "alert"), ("E2", "no_alarm"), ("E3", "")]
    assert "lead 31 mg/kg is above 25 mg/kg" in page.rows[0].reason_text
    assert page.total == 3


def test_watch_filters_and_pages(history: Store) -> None:
    assert [row.engine for row in watch(history, SHOP, family="AQ-I6-32").rows] == ["E3"]
    assert [row.engine for row in watch(history, SHOP, search="e2").rows] == ["E2"]
    page = watch(history, SHOP, offset=1, limit=1)
    assert ([row.engine for row in page.rows], page.total) == (["E2"], 3)


def test_sample_drawn_last_week_shows_as_awaited(history: Store) -> None:
    drawn = local_today() - timedelta(days=7)
    mark_drawn(history, SHOP, "E2", on=drawn)
    row = next(row for row in watch(history, SHOP).rows if row.engine == "E2")
    assert (row.awaiting, row.awaited_since, row.level) == (True, drawn, "no_alarm")


def test_drawn_in_the_future_is_refused(history: Store) -> None:
    later = local_today() + timedelta(days=1)
    with pytest.raises(ValueRefused, match=f"must not lie in the future, found {later}"):
        mark_drawn(history, SHOP, "E2", on=later)


def test_engine_page_has_history_limits_and_log(history: Store) -> None:
    view = engine_view(history, SHOP, "E1")
    assert view.history.measurands == ("Fe", "Cu", "Pb")
    assert len(view.history.sample) == 2
    assert view.verdict.level == "alert"
    assert [entry.level for entry in view.log][0] == "alert"
    kinds = {(limit.measurand, limit.kind) for limit in view.history.limits}
    assert ("Pb", "fixed") in kinds
    assert ("Pb", "population") in kinds


def test_unknown_engine(history: Store) -> None:
    with pytest.raises(NotThere, match="found 'E9'"):
        engine_view(history, SHOP, "E9")
    with pytest.raises(NotThere, match="found 'E9'"):
        assess_fleet(history, SHOP, engines=["E9"])


def test_verdict_is_logged_once_until_it_changes(history: Store) -> None:
    before = len(history.verdict_log("E2"))
    assess_fleet(history, SHOP)
    assert len(history.verdict_log("E2")) == before
    give(history, "E2,2025-11-01,64000,4000,yes,30,8,40")
    log = history.verdict_log("E2")
    assert len(log) == before + 1
    assert json.loads(log[0].document)["reasons"][0]["measurand"] == "Pb"


def test_as_of_tells_what_would_have_been_said_and_keeps_nothing(history: Store) -> None:
    logged = len(history.verdict_log("E1"))
    then = assess_fleet(history, SHOP, as_of=date(2025, 6, 1), engines=["E1"])
    assert [verdict.level for verdict in then] == ["no_alarm"]
    assert len(history.verdict_log("E1")) == logged


FORM = SampleForm("E1", "2025-11-20", "93000", "5000", {"Fe": "25", "Pb": "<1", "Cu": "7,5"})


def test_typed_result_gives_the_new_verdict(history: Store) -> None:
    verdict = record_sample(history, TECHNICIAN, FORM)
    assert verdict.samples == 3
    figures = engine_view(history, SHOP, "E1").verdict.figures
    assert figures is not None
    assert figures.interval["Pb"].below_limit
    assert figures.interval["Cu"].ppm == 7.5
    row = next(row for row in watch(history, SHOP).rows if row.engine == "E1")
    assert row.last_sample_date == date(2025, 11, 20)


def test_typed_miles_are_kept_as_kilometres(history: Store) -> None:
    record_sample(history, SHOP, SampleForm("E3", "2025-11-20", "10000", "3000", {"Fe": "9"}))
    assert history.fleet(engines=["E3"]).table.meter[0] == pytest.approx(16093.44)


@pytest.mark.parametrize(("form", "column", "rule"), [
    (SampleForm("E1", "2025-02-30", "93000", "", {"Fe": "1"}), "sample_date", "day"),
    (SampleForm("E1", "2025-11-20", "93000", "", {"Fe": "lots"}), "Fe", "number"),
    (SampleForm("E1", "2025-11-20", "-5", "", {"Fe": "1"}), "odometer_km", "0")])
def test_typed_nonsense_is_named_while_typing_and_not_stored(
        history: Store, form: SampleForm, column: str, rule: str) -> None:
    check = check_form(history, SHOP, form)
    assert not check.ready
    assert check.rejects[0].column == column
    assert rule in check.rejects[0].reason
    with pytest.raises(ValueRefused, match=column):
        record_sample(history, SHOP, form)
    assert len(history.fleet(engines=["E1"])) == 2


def test_same_result_twice_is_refused(history: Store) -> None:
    record_sample(history, SHOP, FORM)
    assert check_form(history, SHOP, FORM).duplicate
    with pytest.raises(ValueRefused, match="must be a new one, found one of E1"):
        record_sample(history, SHOP, FORM)


def test_previous_values_are_hints(history: Store) -> None:
    record_sample(history, SHOP, FORM)
    hints = last_values(history, SHOP, "E1")
    assert (hints["Pb"], hints["Fe"], hints["meter"]) == ("<1", "25", "93000")


def test_corrected_sample_keeps_the_old_version(history: Store) -> None:
    from oiltrend.records import Qualifier, Reading

    fleet = history.fleet(engines=["E1"])
    sample, rev = int(fleet.sample[1]), int(fleet.rev[1])
    verdict = correct_sample(history, SHOP, sample, {"Pb": Reading(3.1, Qualifier.EXACT, "3.1")},
                             rev=rev, why="typing error")
    assert verdict.level == "no_alarm"
    assert history.sample_versions(sample)[0].row.value[0, 2] == 31.0
    with pytest.raises(ChangedMeanwhile):
        correct_sample(history, SHOP, sample, {"note": "x"}, rev=rev, why="late")


def test_doubt_is_answered(store: Store) -> None:
    give(store, "E1,2025-01-01,80000,3000,no,30,20,10", "E1,2025-03-01,82000,5000,no,6,3,1",
         "E1,2025-05-01,84000,7000,yes,50,30,18")
    view = engine_view(store, SHOP, "E1")
    (doubt,) = view.verdict.doubts
    assert (doubt.code, view.verdict.samples) == ("metals_fell_together", 2)
    verdict = answer_doubt(store, SHOP, doubt.sample, "confirmed", rev=1)
    assert verdict.samples == 3
    with pytest.raises(ValueRefused, match="must be confirmed or set_aside, found 'maybe'"):
        answer_doubt(store, SHOP, doubt.sample, "maybe", rev=2)


def test_own_limits_change_the_ranking_before_they_are_saved(history: Store) -> None:
    day = date(2025, 1, 1)
    wanted = [Limit("AQ-V8-40", "Pb", "level", "alert", ">", 50.0, "our openings", day),
              Limit("AQ-V8-40", "Fe", "per_1000", "alert", ">", 2.6, "our openings", day)]
    current = history.limits()
    effect = preview_limits(history, SHOP, changed_limits(current, wanted))
    places = {row.engine: (row.before, row.after, row.place_after) for row in effect.rows}
    assert places["E1"][:2] == ("alert", "no_alarm")
    assert places["E2"] == ("no_alarm", "alert", 1)
    assert effect.changed == 2
    assert history.limits() == current
    assert watch(history, SHOP).rows[0].engine == "E1"
    version = history.limit_versions()[0].id
    set_limits(history, SHOP, changed_limits(current, wanted), note="openings of spring",
               based_on=version)
    assert watch(history, SHOP).rows[0].engine == "E2"


def test_limits_need_a_reason_and_the_shop(history: Store) -> None:
    version = history.limit_versions()[0].id
    with pytest.raises(ValueRefused, match="new limits must carry a reason, found none"):
        set_limits(history, SHOP, history.limits(), note=" ", based_on=version)
    with pytest.raises(NotAllowed, match="to set limits you must be shop, found technician"):
        set_limits(history, TECHNICIAN, history.limits(), note="mine", based_on=version)
    with pytest.raises(ChangedMeanwhile):
        set_limits(history, SHOP, history.limits(), note="late", based_on=version - 1)


def test_owner_sees_no_fleet(history: Store) -> None:
    for use in (watch, assess_fleet, overview):
        with pytest.raises(NotAllowed, match="found owner"):
            use(history, OWNER)


def test_records_have_names_of_their_own(store: Store) -> None:
    save_record(store, SHOP, Car("J-1042"))
    with pytest.raises(ValueRefused, match="car: must have a name of its own, found another"):
        save_record(store, SHOP, Car("J-1042"))
    with pytest.raises(ValueRefused, match="family: must have a name, found none"):
        save_record(store, SHOP, Family(" "))


def lead_rate(store: Store) -> float:
    (verdict,) = assess_fleet(store, SHOP, engines=["E1"], with_figures=True)
    assert verdict.figures is not None
    rate = verdict.figures.wear_rate["Pb"].value
    assert rate is not None
    return rate


def test_family_edit_moves_the_verdicts(history: Store) -> None:
    entry = history.get(Family, "AQ-V8-40")
    before = lead_rate(history)
    save_record(history, SHOP, Family("AQ-V8-40", oil_fill_l=4.4), id=entry.id, rev=entry.rev)
    after = lead_rate(history)
    assert after == pytest.approx(before / 2)


def test_car_is_handed_over_and_engines_swapped(history: Store) -> None:
    save_record(history, SHOP, Car("J-1042"))
    hand_over_car(history, SHOP, "J-1042", owner="Ines", on=date(2020, 1, 1))
    hand_over_car(history, SHOP, "J-1042", owner="Jon", on=date(2025, 1, 1))
    owners = [entry.record for entry in history.all(Ownership)]
    assert [(o.owner, o.to_date) for o in owners] == [("Ines", date(2025, 1, 1)), ("Jon", None)]
    swap_engine(history, SHOP, car="J-1042", engine="E1", on=date(2024, 1, 1), meter=70000.0)
    swap_engine(history, SHOP, car="J-1042", engine="E2", on=date(2025, 10, 1), meter=90000.0,
                engine_meter=60000.0)
    assert history.get(Engine, "E1").record.car == ""
    assert history.get(Engine, "E2").record.car == "J-1042"
    give(history, "E2,2025-11-01,92000,2000,yes,10,3,2")
    axis = engine_view(history, SHOP, "E2").history.axis.tolist()
    assert axis == [60000.0, 62000.0]
