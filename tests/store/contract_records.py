"""What the store promises about records, whatever the database."""

import re
from datetime import date

import pytest

from oiltrend.errors import ChangedMeanwhile, NotThere, StoreError
from oiltrend.records import (
    BearingSet,
    Car,
    Engine,
    Event,
    Family,
    Lab,
    NewOil,
    OilProduct,
    Qualifier,
    Reading,
    Slot,
    Teardown,
)
from oiltrend.store import Store
from tests.store.made import DAY, FINDINGS, KIM, RECORDS, ROBIN, furnish, limit, one_sample, slot


class RecordContract:
    def test_every_record_comes_back_as_it_went_in(self, store: Store):
        with store.write(KIM, "test") as tx:
            numbers = [tx.add(record) for record in RECORDS]
        for number, record in zip(numbers, RECORDS, strict=True):
            found = store.get(type(record), number)
            assert (found.record, found.rev, found.changed_by) == (record, 1, "Kim")

    def test_names_fetch_records(self, store: Store):
        furnish(store)
        assert store.get(Engine, "E1").record == Engine("E1", "F")

    def test_unknown_name(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                "engine: must be one that the store has, found 'E7'; "
                "see the list for what is there")):
            store.get(Engine, "E7")

    def test_kinds_without_a_name_are_asked_by_number(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "event: must be asked by number, it has no name of its own; "
                "use find() to search")):
            store.get(Event, "E1")

    def test_a_kind_that_is_not_kept(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "store: must be a kind of record it keeps, found BearingSet; "
                "use one of Family, Car, Lab, OilProduct, Mapping, NewOil, Ownership, Engine, "
                "EngineStay, Event, Teardown, Action, Slot")):
            store.all(BearingSet)

    def test_a_name_is_new(self, store: Store):
        furnish(store)
        with pytest.raises(StoreError, match=re.escape(
                "family: a name must be new, found 'F' which is there already; "
                "choose another name")), store.write(KIM, "test") as tx:
            tx.add(Family("F", rods=8))
        assert store.get(Family, "F").record.rods is None

    def test_a_name_comes_once_in_a_batch(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "car: a name must come once, found one that comes twice; add each one once")), \
                store.write(KIM, "test") as tx:
            tx.add_all([Car("J-1"), Car("J-1")])

    def test_what_is_named_must_be_there(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                "family: must be one that the store has, found 'G'; add the family first")), \
                store.write(KIM, "test") as tx:
            tx.add(Engine("E1", "G"))

    def test_long_lists_of_missing_names_are_cut(self, store: Store):
        events = [Event(f"E{n}", "oil_change", date=DAY) for n in range(8)]
        with pytest.raises(NotThere, match=re.escape(
                "found 'E0', 'E1', 'E2', 'E3', 'E4' and 3 more; add the engine first")), \
                store.write(KIM, "test") as tx:
            tx.add_all(events)

    def test_names_sort_by_code_point_on_every_database(self, store: Store):
        names = ["a", "B", "é", "Z", "10", "9", "_"]
        with store.write(KIM, "test") as tx:
            tx.add_all([Car(name) for name in names])
        assert [found.record.car for found in store.all(Car)] == sorted(names)

    def test_find_by_value_by_list_and_by_unknown(self, store: Store):
        furnish(store, "E1", "E2", "E3")
        with store.write(KIM, "test") as tx:
            tx.add_all([Event("E1", "top_up", date=DAY, litres=1.0),
                        Event("E2", "oil_change", meter=5.0), Event("E3", "top_up", date=DAY)])
        def engines(where):
            return [found.record.engine for found in store.find(Event, where)]
        assert engines({"engine": "E2"}) == ["E2"]
        assert engines({"engine": ["E1", "E3"], "litres": None}) == ["E3"]
        assert engines({"date": DAY}) == ["E1", "E3"]
        assert engines({"event": "meter_replaced"}) == []

    def test_find_by_something_that_is_no_field(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "car: must be asked by one of its fields, found 'car; DROP TABLE car'; "
                "use one of car, note")):
            store.find(Car, {"car; DROP TABLE car": "x"})


class ChangeContract:
    def test_a_change_is_there_with_its_audit_field_by_field(self, store: Store):
        furnish(store)
        before = store.get(Engine, "E1")
        with store.write(ROBIN, "oil filled by hand") as tx:
            rev = tx.save(before.id, Engine("E1", "F", oil_fill_l=8.5, note="µ"), before.rev)
        after = store.get(Engine, "E1")
        assert (after.rev, rev, after.changed_by) == (2, 2, "Robin")
        assert after.record == Engine("E1", "F", oil_fill_l=8.5, note="µ")
        entries = store.audit(object="engine", object_id=before.id)
        assert [(e.field, e.old, e.new) for e in entries] == [("note", "", "µ"),
                                                              ("oil_fill_l", None, 8.5)]
        assert {(e.who, e.role, e.why) for e in entries} == {
            ("Robin", "technician", "oil filled by hand")}
        assert entries[0].at.utcoffset().total_seconds() == 0

    def test_saving_what_is_there_already_changes_nothing(self, store: Store):
        furnish(store)
        before, count = store.get(Engine, "E1"), len(store.audit())
        with store.write(KIM, "test") as tx:
            assert tx.save(before.id, before.record, before.rev) == before.rev
        assert (store.get(Engine, "E1"), len(store.audit())) == (before, count)

    def test_whoever_comes_second_is_told_who_was_first_and_when(self, store: Store):
        furnish(store)
        seen = store.get(Engine, "E1")
        with store.write(ROBIN, "first") as tx:
            tx.save(seen.id, Engine("E1", "F", note="Robin's"), seen.rev)
        at = store.get(Engine, "E1").changed_at
        with pytest.raises(ChangedMeanwhile, match=re.escape(
                "engine 'E1': must be changed from its present version 2, found version 1; it was "
                f"changed by Robin on {at:%Y-%m-%d} at {at:%H:%M} UTC; "
                "look at the present version first")), store.write(KIM, "second") as tx:
            tx.save(seen.id, Engine("E1", "F", note="Kim's"), seen.rev)
        assert store.get(Engine, "E1").record.note == "Robin's"

    def test_a_record_that_is_not_there_cannot_be_changed(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                "car: must be one that the store has, found no. 5; "
                "it may have been removed meanwhile")), store.write(KIM, "test") as tx:
            tx.save(5, Car("J-1"), 1)

    def test_a_new_name_takes_everything_along(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            tx.add(Event("E1", "oil_change", date=DAY))
            tx.add_samples(one_sample())
        engine = store.get(Engine, "E1")
        with store.write(KIM, "renamed") as tx:
            tx.save(engine.id, Engine("E-001", "F"), engine.rev)
        assert store.find(Event, {"engine": "E-001"})[0].record.date == DAY
        assert (len(store.fleet(engines=["E-001"])), len(store.fleet(engines=["E1"]))) == (1, 0)

    def test_names_that_stand_as_text_go_along_too(self, store: Store):
        table = one_sample()
        table.lab[0], table.oil_product[0], table.refill_product[0] = "Lab A", "X", "X"
        limits = [limit(30.0), limit(20.0, family="*")]
        with store.write(KIM, "test") as tx:
            numbers = [tx.add(record) for record in (
                Family("F"), Car("J-1"), Lab("Lab A"), OilProduct("X"))]
            tx.add(Engine("E1", "F", car="J-1"))
            tx.add(Event("E1", "oil_change", date=DAY, oil_product="X", car="J-1"))
            tx.add(NewOil("X", {}, lab="Lab A"))
            tx.add_samples(table)
            tx.set_limits(limits, "own")
        with store.write(KIM, "renamed") as tx:
            for number, record in zip(numbers, (Family("G"), Car("J-2"), Lab("Lab B"),
                                                OilProduct("Y")), strict=True):
                tx.save(number, record, 1)
        assert store.get(Engine, "E1").record == Engine("E1", "G", car="J-2")
        (event,), (oil,) = store.all(Event), store.all(NewOil)
        assert (event.record.oil_product, event.record.car) == ("Y", "J-2")
        assert (oil.record.oil_product, oil.record.lab) == ("Y", "Lab B")
        row = store.fleet().table
        assert (row.lab[0], row.oil_product[0], row.refill_product[0]) == ("Lab B", "Y", "Y")
        # A family without its limits would be watched by nobody.
        assert store.limits() == [limit(30.0, family="G"), limit(20.0, family="*")]
        assert store.limit_versions()[0].note == "family 'F' is called 'G' now"

    def test_a_new_name_must_not_be_taken_nor_have_been(self, store: Store):
        furnish(store, "E1", "E2", "E3")
        first, gone = store.get(Engine, "E1"), store.get(Engine, "E3")
        with store.write(KIM, "test") as tx:
            tx.remove(Engine, gone.id, gone.rev)
        for name, why in (("E2", "which is there already"), ("E3", "which a removed one has")):
            with pytest.raises(StoreError, match=re.escape(
                    f"engine: a name must be new, found '{name}' {why}; choose another name")), \
                    store.write(KIM, "test") as tx:
                tx.save(first.id, Engine(name, "F"), first.rev)

    def test_a_changed_teardown_tells_shell_by_shell(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            number = tx.add(Teardown("E1", DAY, 9.0, FINDINGS))
        changed = Teardown("E1", DAY, 9.5, (FINDINGS[0],))
        with store.write(KIM, "measured again") as tx:
            tx.save(number, changed, 1)
        assert store.get(Teardown, number).record == changed
        fields = {e.field: (e.old, e.new) for e in store.audit(object="teardown")}
        assert fields["meter"] == (9.0, 9.5)
        assert fields["rod 1 cap new_material"] == ("aluminium-tin", None)
        assert not any(name.startswith("rod 1 rod") for name in fields)

    def test_changed_readings_are_told_by_measurand(self, store: Store):
        first = NewOil("X", {"Ca": Reading(2000.0, Qualifier.EXACT, "2000")})
        with store.write(KIM, "test") as tx:
            number = tx.add(first)
            tx.save(number, NewOil("X", {"Ca": Reading(2100.0, Qualifier.EXACT, "2100")}), 1)
        entry = store.audit(object="new_oil")[0]
        assert (entry.field, entry.old, entry.new) == ("Ca", [2000.0, 1, "2000"],
                                                       [2100.0, 1, "2100"])

    def test_many_at_once_make_one_entry(self, store: Store):
        with store.write(KIM, "test") as tx:
            numbers = tx.add_all([Car(f"J-{n}") for n in range(30)])
        entries = store.audit(object="car")
        assert [e.new for e in entries] == [{"count": 30, "first": numbers[0],
                                             "last": numbers[-1], "import": None}]


class RemovalContract:
    def test_what_is_removed_is_out_of_sight_and_comes_back_as_new(self, store: Store):
        with store.write(KIM, "test") as tx:
            number = tx.add(Car("J-1", note="blue"))
            tx.remove(Car, number, 1)
        assert store.all(Car) == []
        with pytest.raises(NotThere, match=re.escape(
                "car: must be one that the store has, found 'J-1'; "
                "see the list for what is there")):
            store.get(Car, "J-1")
        with store.write(KIM, "test") as tx:
            assert tx.add(Car("J-1", note="red")) == number
        assert store.get(Car, "J-1").record.note == "red"
        assert store.get(Car, "J-1").rev == 3

    def test_what_is_in_use_stays(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            tx.add_samples(one_sample())
            tx.add(Event("E1", "oil_change", date=DAY))
        engine = store.get(Engine, "E1")
        with pytest.raises(StoreError, match=re.escape(
                "engine 'E1': must not be in use to be removed, found 1 event, 1 sample; "
                "remove those first")), store.write(KIM, "test") as tx:
            tx.remove(Engine, engine.id, engine.rev)

    def test_nothing_is_hung_on_what_was_removed(self, store: Store):
        furnish(store)
        engine = store.get(Engine, "E1")
        with store.write(KIM, "test") as tx:
            tx.remove(Engine, engine.id, engine.rev)
        with pytest.raises(NotThere, match=re.escape(
                "engine: must be one that the store has, found 'E1'; add the engine first")), \
                store.write(KIM, "test") as tx:
            tx.add_samples(one_sample())

    def test_removing_what_someone_changed(self, store: Store):
        furnish(store)
        engine = store.get(Engine, "E1")
        with store.write(ROBIN, "test") as tx:
            tx.save(engine.id, Engine("E1", "F", note="x"), engine.rev)
        with pytest.raises(ChangedMeanwhile, match="engine 'E1': must be changed from its present "
                           r"version 2, found version 1; it was changed by Robin on .* UTC; look "
                           "at the present version first"), store.write(KIM, "test") as tx:
            tx.remove(Engine, engine.id, engine.rev)


class ShellContract:
    def test_the_set_is_what_went_in_last_place_by_place(self, store: Store):
        furnish(store)
        new = date(2024, 5, 1)
        with store.write(KIM, "built") as tx:
            tx.fit_shells("E1", [slot(1, "cap", meter=0.0), slot(1, "rod", meter=0.0),
                                 slot(10, "rod", meter=0.0), slot(2, "rod", meter=0.0)])
        with store.write(KIM, "opened") as tx:
            tx.fit_shells("E1", [slot(1, "rod", meter=90000.0, on=new, material="aluminium-tin")])
        now = store.bearing_set("E1")
        assert [(s.number, s.half, s.material) for s in now.slots] == [
            (1, "rod", "aluminium-tin"), (1, "cap", "copper-lead"), (2, "rod", "copper-lead"),
            (10, "rod", "copper-lead")]
        out = [shell for shell in store.shells(engines=["E1"]) if not shell.current]
        assert [(s.slot.number, s.out_meter, s.out_date) for s in out] == [(1, 90000.0, new)]

    def test_a_set_recorded_late_does_not_become_the_present_one(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            tx.fit_shells("E1", [slot(1, "rod", meter=90000.0, material="second")])
            tx.fit_shells("E1", [slot(1, "rod", meter=100.0, material="first")])
        assert [s.material for s in store.bearing_set("E1").slots] == ["second"]

    def test_dates_go_before_meters_that_may_have_been_exchanged(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            tx.fit_shells("E1", [slot(1, "rod", meter=90000.0, on=date(2020, 1, 1),
                                      material="first")])
            tx.fit_shells("E1", [slot(1, "rod", meter=12.0, on=date(2024, 1, 1),
                                      material="second")])
        assert [s.material for s in store.bearing_set("E1").slots] == ["second"]

    def test_an_entry_can_be_corrected_and_taken_back(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            first, second = (tx.fit_shells("E1", [slot(1, "rod", meter=m)])[0]
                             for m in (0.0, 500.0))
            tx.save(first, slot(1, "rod", meter=10.0), 1)
            tx.remove(Slot, second, 1)
        assert store.bearing_set("E1").slots == (slot(1, "rod", meter=10.0),)

    def test_a_shell_goes_into_an_engine(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "slot: must be fitted to an engine, found a shell alone; use fit_shells()")), \
                store.write(KIM, "test") as tx:
            tx.add(slot(1, "rod"))
        with pytest.raises(NotThere, match=re.escape(
                "engine: must be one that the store has, found 'E1'; add the engine first")), \
                store.write(KIM, "test") as tx:
            tx.fit_shells("E1", [slot(1, "rod")])

    def test_nothing_recorded(self, store: Store):
        assert store.bearing_set("E1") == BearingSet("E1", ())
        assert store.shells() == []
