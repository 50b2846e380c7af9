"""The invented workshop holds every situation it promises, and the same one every time."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import fields
from datetime import date, timedelta

import numpy as np
import pytest

from oiltrend.demo.confounders import CONFOUNDER_INDEX, CONFOUNDERS
from oiltrend.demo.families import OWNERS
from oiltrend.demo.garage import KM_PER_HOUR
from oiltrend.demo.truth import SITUATIONS
from oiltrend.demo.workshop import Workshop, simulate
from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import Qualifier, SampleTable
from tests.demo.conftest import TODAY


def same_table(one: SampleTable, other: SampleTable, *, but: tuple[str, ...] = ()) -> bool:
    names = [f.name for f in fields(SampleTable) if f.name not in but]
    return all(
        np.array_equal(getattr(one, name), getattr(other, name),
                       equal_nan=getattr(one, name).dtype.kind == "f") for name in names)


def rows_touched(works: Workshop, kind: str) -> np.ndarray:
    return np.flatnonzero(works.truth.samples.touched[:, CONFOUNDER_INDEX[kind]])


def test_the_same_number_gives_the_same_workshop(works: Workshop) -> None:
    again = simulate(today=TODAY)
    assert same_table(works.samples, again.samples)
    assert works.teardowns == again.teardowns
    assert works.events == again.events
    assert works.new_oils == again.new_oils


def test_another_number_gives_another_workshop(works: Workshop) -> None:
    other = simulate(seed=21, today=TODAY)
    assert len(other.engines) == len(works.engines)
    assert not same_table(works.samples, other.samples)


def test_the_story_does_not_depend_on_the_day(works: Workshop) -> None:
    """Loaded on any day, the demo tells the same story, shifted."""
    shift = timedelta(days=401)
    later = simulate(today=TODAY + shift)
    assert same_table(works.samples, later.samples, but=("sample_date",))
    moved = later.samples.sample_date - works.samples.sample_date
    assert set(moved.tolist()) == {shift}
    assert later.truth.situations == works.truth.situations


def test_forty_six_engines_of_three_families(works: Workshop) -> None:
    assert Counter(engine.family for engine in works.engines) == {
        "AQ-V8-40": 30, "AQ-I6-32": 9, "AQ-F4-25": 7}
    assert {family.family: (family.rods, family.pin_mm, family.shell_width_mm, family.oil_fill_l)
            for family in works.families} == {
        "AQ-V8-40": (8, 52.0, 19.5, 8.8), "AQ-I6-32": (6, 49.0, 21.0, 5.5),
        "AQ-F4-25": (4, 52.0, 18.0, 4.3)}
    materials = Counter((e.family, e.shell_material) for e in works.engines)
    assert materials == {
        ("AQ-V8-40", "PbSn10Cu2/CuPb24Sn"): 20, ("AQ-V8-40", "AlSn20Cu"): 10,
        ("AQ-I6-32", "PbIn7/CuPb24Sn"): 9, ("AQ-F4-25", "AlSn20Cu"): 7}


def test_eight_years_up_to_today(works: Workshop) -> None:
    days = works.samples.sample_date
    assert days.max() <= np.datetime64(TODAY)
    first = min(event.date for event in works.events if event.date is not None)
    assert timedelta(days=7.5 * 365) < TODAY - first <= timedelta(days=8 * 365.25 + 1)
    for engine in works.truth.engines.engine:
        rows = works.samples.engine == engine
        assert (np.diff(works.samples.sample_date[rows]) > np.timedelta64(0, "D")).all()


def test_every_situation_has_its_engine(works: Workshop) -> None:
    assert not [name for name in SITUATIONS if not works.truth.situations[name]]
    counts = {name: len(who) for name, who in works.truth.situations.items()}
    assert counts["opened_alarm"] >= 5
    assert counts["opened_planned"] >= 5
    assert counts["set_replaced"] >= 3
    assert counts["set_partly_replaced"] >= 2
    assert counts["set_refitted"] >= 3
    assert counts["distressed"] >= 10
    assert counts["few_samples"] == 2
    assert counts["overdue"] == 4


def test_every_confounder_is_present(works: Workshop) -> None:
    least = {"cooler_copper": 3, "dirt": 3, "coolant": 2, "fuel_dilution": 3,
             "bottle_mixed_up": 3, "lab_change": 4, "method_change": 10,
             "unrecorded_oil_change": 3, "unrecorded_top_ups": 4}
    assert set(least) == set(CONFOUNDERS)
    for kind, count in least.items():
        assert len(works.truth.confounders[kind]) >= count, kind


def test_a_larger_fleet_has_every_situation_in_proportion(large_fleet: Workshop) -> None:
    assert all(large_fleet.truth.situations[name] for name in SITUATIONS)
    assert all(large_fleet.truth.confounders[kind] for kind in CONFOUNDERS)
    assert len(large_fleet.engines) == 600
    assert len(large_fleet.truth.situations["overdue"]) == pytest.approx(4 * 600 / 46, abs=1)


def test_copper_of_a_new_cooler_comes_without_lead(works: Workshop) -> None:
    samples, truth = works.samples, works.truth.samples
    rows = rows_touched(works, "cooler_copper")
    no_lead = rows[truth.material[rows, 0] == 1]
    assert len(no_lead) >= 2
    assert (truth.value[no_lead, PANEL_INDEX["Cu"]] > 10).all()
    assert (truth.value[no_lead, PANEL_INDEX["Pb"]] < 1).all()
    assert (samples.qualifier[no_lead, PANEL_INDEX["Pb"]] == Qualifier.BELOW).mean() > 0.5


def test_dirt_brings_silicon_with_aluminium(works: Workshop) -> None:
    """Outside source: ISO 12103-1 dust has silicon to aluminium between 4.0 and 6.7 by mass."""
    sources = works.truth.samples.sources
    rows = rows_touched(works, "dirt")
    strong = rows[works.truth.samples.value[rows, PANEL_INDEX["Si"]] > 15]
    assert len(strong) >= 2
    from oiltrend.demo.materials import SOURCES, signatures
    dirt = signatures()[SOURCES.index("dirt")]
    assert 4.0 < dirt[PANEL_INDEX["Si"]] / dirt[PANEL_INDEX["Al"]] < 6.7
    assert (sources[strong, SOURCES.index("dirt")] > 0).all()


def test_coolant_brings_sodium_and_potassium_together(works: Workshop) -> None:
    truth = works.truth.samples
    rows = rows_touched(works, "coolant")
    others = np.setdiff1d(np.arange(len(works.samples)), rows)
    for symbol in ("Na", "K"):
        column = truth.value[:, PANEL_INDEX[symbol]]
        assert column[rows].max() > 3 * np.median(column[others])


def test_fuel_thins_the_oil(works: Workshop) -> None:
    truth = works.truth.samples
    rows = rows_touched(works, "fuel_dilution")
    assert (truth.value[rows, PANEL_INDEX["fuel_pct"]] > 3).all()
    for row in rows:
        others = (works.samples.oil_product == works.samples.oil_product[row])
        usual = np.median(truth.value[others, PANEL_INDEX["KV100"]])
        assert truth.value[row, PANEL_INDEX["KV100"]] < 0.9 * usual


def test_mixed_up_bottles_carry_each_others_results(works: Workshop) -> None:
    """The additives reported are nearer to the partner's oil than to the engine's own."""
    truth = works.truth
    additives = [PANEL_INDEX[s] for s in ("Ca", "Mg", "Zn", "P", "Mo", "B")]
    assert len(truth.mixed_up) == 2
    for one, other in truth.mixed_up:
        for row, partner in ((one, other), (other, one)):
            reported = works.samples.value[row, additives]
            away = np.abs(np.log(reported + 5) - np.log(truth.samples.value[row, additives] + 5))
            near = np.abs(np.log(reported + 5)
                          - np.log(truth.samples.value[partner, additives] + 5))
            assert near.sum() < away.sum()
        assert works.samples.engine[one] != works.samples.engine[other]


def test_an_unrecorded_change_makes_the_oil_younger_than_written(works: Workshop) -> None:
    truth, samples = works.truth.samples, works.samples
    rows = rows_touched(works, "unrecorded_oil_change")
    unit = np.where(samples.meter_unit == 1, KM_PER_HOUR, 1.0)
    written = samples.oil_distance * unit
    assert (written[rows] > 1.5 * truth.oil_km[rows]).all()
    rest = np.setdiff1d(np.arange(len(samples)), rows)
    assert written[rest] == pytest.approx(truth.oil_km[rest], abs=3)


def test_top_ups_that_nobody_wrote_are_blank_not_zero(works: Workshop) -> None:
    rows = rows_touched(works, "unrecorded_top_ups")
    assert np.isnan(works.samples.top_up_l[rows]).all()
    assert (works.samples.top_up_l == 0).sum() > 20


def test_lab_change_is_one_sample_per_engine(works: Workshop) -> None:
    samples = works.samples
    for row in rows_touched(works, "lab_change"):
        assert samples.engine[row] == samples.engine[row - 1]
        assert samples.lab[row] != samples.lab[row - 1]


def test_the_car_with_a_swapped_engine(works: Workshop) -> None:
    (out,) = works.truth.situations["engine_swapped_out"]
    (into,) = works.truth.situations["engine_swapped_in"]
    stays = {stay.engine: stay for stay in works.stays}
    assert stays[out].car == stays[into].car
    assert stays[out].to_meter == stays[into].from_meter
    assert stays[out].to_date < stays[into].from_date
    for engine in (out, into):
        assert (works.samples.engine == engine).sum() >= 2
    kinds = {(e.engine, e.event) for e in works.events}
    assert (out, "engine_removed") in kinds
    assert (into, "engine_fitted") in kinds
    fitted = next(e for e in works.events if e.event == "engine_fitted")
    rows = np.flatnonzero(works.samples.engine == into)
    own = works.samples.meter[rows] - fitted.meter + fitted.new_meter
    assert own == pytest.approx(works.truth.samples.own_km[rows], abs=2)
    rows = np.flatnonzero(works.samples.engine == out)
    assert works.samples.meter[rows].max() <= stays[out].to_meter


def test_the_engine_counted_in_hours(works: Workshop) -> None:
    (name,) = works.truth.situations["hours_meter"]
    rows = np.flatnonzero(works.samples.engine == name)
    assert (works.samples.meter_unit[rows] == 1).all()
    assert works.samples.meter[rows] * KM_PER_HOUR == pytest.approx(
        works.truth.samples.own_km[rows], abs=KM_PER_HOUR)
    assert next(e for e in works.engines if e.engine == name).meter_unit == "h"


def test_the_replaced_meter(works: Workshop) -> None:
    (name,) = works.truth.situations["meter_replaced"]
    (event,) = [e for e in works.events if e.event == "meter_replaced"]
    rows = np.flatnonzero(works.samples.engine == name)
    later = works.samples.sample_date[rows] > np.datetime64(event.date)
    assert 2 <= later.sum() < len(rows)
    shift = np.where(later, event.meter - event.new_meter, 0.0)
    assert works.samples.meter[rows] + shift == pytest.approx(
        works.truth.samples.own_km[rows], abs=2)


def test_awaited_results(works: Workshop) -> None:
    samples = works.samples
    awaited = np.flatnonzero(samples.awaited)
    assert len(awaited) == 2
    assert (samples.qualifier[awaited] == Qualifier.MISSING).all()
    (last_week,) = works.truth.situations["awaited_last_week"]
    row = awaited[samples.engine[awaited] == last_week]
    assert 0 < (np.datetime64(TODAY) - samples.sample_date[row][0]).astype(int) <= 7
    assert (samples.qualifier[~samples.awaited] != Qualifier.MISSING).any(axis=1).all()


def test_overdue_owners_stayed_away(works: Workshop) -> None:
    for engine in works.truth.situations["overdue"]:
        last = works.samples.sample_date[works.samples.engine == engine].max()
        assert (np.datetime64(TODAY) - last).astype(int) > 1.5 * 365


def test_engines_with_few_samples(works: Workshop) -> None:
    for engine in works.truth.situations["few_samples"]:
        assert 1 <= (works.samples.engine == engine).sum() <= 3


def test_use_is_that_of_enthusiasts(works: Workshop) -> None:
    """4 000 to 15 000 km a year, 5 000 to 12 000 km on a fill, some in mid-fill."""
    truth, samples = works.truth.samples, works.samples
    change = samples.oil_changed == 1
    assert 4000 < np.quantile(truth.oil_km[change], 0.05)
    assert np.quantile(truth.oil_km[change], 0.95) < 12_600
    assert 0.1 < (samples.oil_changed == 0).mean() < 0.5


def test_bearing_sets_follow_the_openings(works: Workshop) -> None:
    first = works.bearing_sets[:len(works.engines)]
    assert [s.engine for s in first] == [e.engine for e in works.engines]
    for engine, fitted in zip(works.engines, first, strict=True):
        rods = {"AQ-V8-40": 8, "AQ-I6-32": 6, "AQ-F4-25": 4}[engine.family]
        assert len(fitted.slots) == 2 * rods
    later = works.bearing_sets[len(works.engines):]
    with_new = [t for t in works.teardowns if any(f.action == "replaced" for f in t.findings)]
    assert len(later) == len(with_new)
    for fitted, teardown in zip(later, with_new, strict=True):
        places = {(f.number, f.half) for f in teardown.findings if f.action == "replaced"}
        assert {(s.number, s.half) for s in fitted.slots} == places
        assert {s.fitted_date for s in fitted.slots} == {teardown.teardown_date}


def test_alarms_lead_to_actions(works: Workshop) -> None:
    kinds = Counter(action.action for action in works.actions)
    assert set(kinds) == {"told", "resample_asked", "booked", "opened", "declined"}
    booked = {a.engine for a in works.actions if a.action == "booked"}
    assert booked <= set(works.truth.situations["opened"])


def test_nobody_real_is_named(works: Workshop) -> None:
    assert all(re.fullmatch(r"J-\d{4}", car.car) for car in works.cars)
    assert all(owner.owner in OWNERS for owner in works.ownerships)
    assert all(re.fullmatch(r"\w+", owner) for owner in OWNERS)
    assert {lab.lab for lab in works.labs} == {"Lab A", "Lab B"}
    assert all(oil.oil_product.split()[0] in ("Quay", "Harbour") for oil in works.oil_products)
    assert all(re.fullmatch(r"(V8|I6|F4)-\d{3}", engine.engine) for engine in works.engines)
    assert all("invented" in record.note for record in (*works.families, *works.labs))


def test_new_owners_take_over_on_a_day(works: Workshop) -> None:
    by_car: dict[str, list[tuple[date | None, date | None]]] = {}
    for entry in works.ownerships:
        by_car.setdefault(entry.car, []).append((entry.from_date, entry.to_date))
    handed = [spans for spans in by_car.values() if len(spans) == 2]
    assert len(handed) == 2
    assert all(spans[0][1] == spans[1][0] is not None for spans in handed)


def test_too_few_engines_are_refused() -> None:
    with pytest.raises(ValueRefused, match=(
            r"^engines: must be at least 46, so that every situation has its engine, found 12; "
            r"ask for more engines$")):
        simulate(engines=12, today=TODAY)
