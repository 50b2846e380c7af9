"""What the store promises about samples, whatever the database."""

import re
from datetime import date

import numpy as np
import pytest
from sqlalchemy import update

from oiltrend.errors import ChangedMeanwhile, NotThere, StoreError, ValueRefused
from oiltrend.nomenclature import PANEL
from oiltrend.records import Qualifier, Reading, empty_samples
from oiltrend.samplekeys import content_hashes, keys_of
from oiltrend.store import Store
from oiltrend.store.schema import TABLES
from tests.store.made import KIM, ROBIN, assert_same, awaited, furnish, one_sample, samples


class FleetContract:
    def test_samples_come_back_as_they_went_in(self, store: Store):
        furnish(store)
        table = samples(40)
        with store.write(KIM, "test") as tx:
            ids = tx.add_samples(table)
        fleet = store.fleet()
        back = np.argsort(fleet.sample)
        np.testing.assert_array_equal(fleet.sample[back], ids)
        assert_same(fleet.table.take(back), table)
        assert set(fleet.rev) == {1}
        assert set(fleet.doubt_answer) == {""}
        assert set(fleet.import_id) == {-1}

    def test_engine_then_date_then_meter_then_number_unknown_last(self, store: Store):
        furnish(store, "E10", "E2", "e1")
        table = empty_samples(7)
        table.engine[:] = ["e1", "E2", "E10", "E2", "E2", "E2", "E2"]
        table.sample_date[:] = np.array(["2020-01-01", "NaT", "2020-01-01", "2021-01-01",
                                         "2020-01-01", "2021-01-01", "2021-01-01"],
                                        dtype="datetime64[D]")
        table.meter[:] = [0, 1, 0, np.nan, 9, 5, 5]
        with store.write(KIM, "test") as tx:
            ids = tx.add_samples(table)
        assert (store.fleet().sample - ids[0]).tolist() == [2, 4, 5, 6, 3, 1, 0]

    def test_some_engines_and_none(self, store: Store):
        furnish(store, "E1", "E2", "E3")
        with store.write(KIM, "test") as tx:
            for engine in ("E1", "E2", "E3"):
                tx.add_samples(samples(3, engine=engine))
        some = store.fleet(engines=["E3", "E1", "E1"])
        assert some.table.engine.tolist() == ["E1"] * 3 + ["E3"] * 3
        assert len(store.fleet(engines=["E9"])) == len(store.fleet(engines=[])) == 0
        assert store.fleet(engines=[]).table.value.shape == (0, len(PANEL))

    def test_until_a_day_keeps_that_day_and_what_has_no_date(self, store: Store):
        furnish(store)
        table = empty_samples(3)
        table.engine[:] = "E1"
        table.sample_date[:] = np.array(["2025-03-01", "2025-03-02", "NaT"],
                                        dtype="datetime64[D]")
        with store.write(KIM, "test") as tx:
            ids = tx.add_samples(table)
        assert store.fleet(until=date(2025, 3, 1)).sample.tolist() == [ids[0], ids[2]]

    def test_without_texts_only_texts_are_blank(self, store: Store):
        furnish(store)
        table = samples(5)
        table.note[:] = "n"
        table.methods[:] = "Fe=ASTM D5185"
        with store.write(KIM, "test") as tx:
            tx.add_samples(table)
        lean, full = store.fleet(texts=False).table, store.fleet().table
        for name in ("raw", "note", "methods", "sample_id"):
            assert set(getattr(lean, name)) == {""}, name
        assert set(full.note) == {"n"}
        np.testing.assert_array_equal(lean.value, full.value)
        assert lean.lab.tolist() == full.lab.tolist()

    def test_what_is_returned_is_a_copy_that_may_be_changed(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            tx.add_samples(samples(2))
        fleet = store.fleet()
        fleet.table.value[:] = -1
        assert not (store.fleet().table.value == -1).any()

    def test_an_older_shorter_row_is_filled_up_with_missing(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (first, _) = tx.add_samples(samples(2))
            table = TABLES["sample"]
            tx._connection.execute(update(table).where(table.c.id == int(first)).values(
                panel_values=np.array([1.5, np.nan]).tobytes(), panel_qualifiers=b"\x01\x02"))
        fleet = store.fleet()
        row = fleet.sample.tolist().index(first)
        assert fleet.table.value[row, 0] == 1.5
        assert np.isnan(fleet.table.value[row, 1:]).all()
        assert fleet.table.qualifier[row, :3].tolist() == [1, 2, 0]

    def test_no_samples_are_no_trouble(self, store: Store):
        furnish(store)
        before = store.data_version()
        with store.write(KIM, "test") as tx:
            assert tx.add_samples(empty_samples(0)).tolist() == []
        assert store.data_version() == before

    def test_one_unknown_engine_refuses_all(self, store: Store):
        furnish(store)
        table = samples(5)
        table.engine[3] = "E77"
        with pytest.raises(NotThere, match=re.escape(
                "engine: must be one that the store has, found 'E77'; add the engine first")), \
                store.write(KIM, "test") as tx:
            tx.add_samples(table)
        assert len(store.fleet()) == 0

    def test_keys_tell_what_is_there(self, store: Store):
        furnish(store, "E1", "E2")
        table = samples(6)
        table.sample_id[:3] = ""
        with store.write(KIM, "test") as tx:
            tx.add_samples(table)
            tx.add_samples(samples(2, engine="E2"))
            tx.add_samples(awaited())
            assert tx.sample_keys(["E1"]) == dict(zip(keys_of(table), content_hashes(table),
                                                      strict=True))
        assert len(store.sample_keys(["E1", "E2"])) == 8
        assert store.sample_keys([]) == {}


class EditContract:
    def test_a_correction_keeps_what_was(self, store: Store):
        furnish(store, "E1", "E2")
        with store.write(KIM, "typed in") as tx:
            (number,) = tx.add_samples(one_sample())
        before = store.sample(number)
        with store.write(ROBIN, "read the paper again") as tx:
            rev = tx.edit_sample(number, {
                "engine": "E2", "meter": 81300, "sample_date": date(2025, 3, 2), "noise": 1,
                "Fe": Reading(21.0, Qualifier.EXACT, "21"),
                "Pb": Reading(1.0, Qualifier.BELOW, "<1")}, before.rev)
        after = store.sample(number)
        assert (rev, after.rev, after.changed_by, after.voided) == (2, 2, "Robin", False)
        assert (after.row.engine[0], after.row.meter[0], after.row.noise[0]) == ("E2", 81300.0, 1)
        assert after.row.value[0, :3].tolist()[0::2] == [21.0, 1.0]
        assert after.row.raw[0] == '{"Fe": "21", "Pb": "<1"}'
        (was,) = store.sample_versions(number)
        assert_same(was.row, before.row)
        assert (was.rev, was.replaced_by, was.why) == (1, "Robin", "read the paper again")
        told = {e.field: (e.old, e.new)
                for e in store.audit(object="sample", object_id=int(number)) if e.who == "Robin"}
        assert told == {"engine": ("E1", "E2"), "meter": (81200.0, 81300.0), "noise": (-1, 1),
                        "sample_date": ("2025-03-01", "2025-03-02"),
                        "Fe": ([12.0, 1, "12.0"], [21.0, 1, "21"]),
                        "Pb": ([None, 0, ""], [1.0, 2, "<1"])}

    def test_unknown_is_a_correction_too(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(one_sample())
            tx.edit_sample(number, {"meter": None, "sample_date": None, "Fe": None}, 1)
        row = store.sample(number).row
        assert np.isnan(row.meter[0])
        assert np.isnat(row.sample_date[0])
        assert (row.qualifier[0, 0], row.raw[0]) == (0, "")

    def test_no_difference_is_no_new_version(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(one_sample())
            assert tx.edit_sample(number, {"meter": 81200.0}, 1) == 1
        assert store.sample_versions(number) == []

    def test_a_correction_is_still_a_repeat_of_the_file_it_came_in(self, store: Store):
        furnish(store)
        table = one_sample(number="L-1")
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(table)
            tx.edit_sample(number, {"Fe": Reading(21.0, Qualifier.EXACT, "21")}, 1)
        assert store.sample_keys(["E1"]) == {("E1", "id", "L-1"): content_hashes(table)[0]}

    @pytest.mark.parametrize(("changes", "words"), [
        ({"meter": "12"}, "meter: must be a number, found '12'; correct the value"),
        ({"note": None}, "note: must be text, found None; correct the value"),
        ({"sample_date": "2025-03-01"},
         "sample_date: must be a date, found '2025-03-01'; correct the value"),
        ({"noise": 0.5}, "noise: must be a whole number, found 0.5; correct the value"),
        ({"awaited": 1}, "awaited: must be yes or no, found 1; correct the value"),
        ({"Fee": None}, "sample: must be changed in one of its columns, found 'Fee'; use a "
         "measurand or one of engine, sample_date, meter, meter_unit, oil_distance, oil_changed, "
         "top_up_l, level_at_sampling, refill_l, oil_product, refill_product, lab, method, "
         "sample_id, note, filter_finding, hot_oil_pressure_bar, noise, glitter, awaited, "
         "methods")])
    def test_what_does_not_fit(self, store: Store, changes, words):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(one_sample())
        with pytest.raises(ValueRefused, match=f"^{re.escape(words)}$"), \
                store.write(KIM, "test") as tx:
            tx.edit_sample(number, changes, 1)
        assert store.sample(number).rev == 1

    def test_whoever_comes_second_is_told(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(one_sample())
        with store.write(ROBIN, "test") as tx:
            tx.answer_doubt(number, "confirmed", 1)
        with pytest.raises(ChangedMeanwhile, match=re.escape(
                f"sample no. {number}: must be changed from its present version 2, found version "
                "1; it was changed by Robin on ") + ".* UTC; look at the present version first"), \
                store.write(KIM, "test") as tx:
            tx.edit_sample(number, {"meter": 1.0}, 1)

    def test_answers_to_a_doubt(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(one_sample())
            rev = tx.answer_doubt(number, "set_aside", 1)
            assert tx.answer_doubt(number, "set_aside", rev) == rev
        assert store.fleet().doubt_answer.tolist() == ["set_aside"]
        with store.write(KIM, "test") as tx:
            tx.answer_doubt(number, "", rev)
        assert store.sample(number).doubt_answer == ""
        with pytest.raises(ValueRefused, match=re.escape(
                "answer: must be 'confirmed', 'set_aside' or '', found 'maybe'; "
                "use one of them")), store.write(KIM, "test") as tx:
            tx.answer_doubt(number, "maybe", 3)

    def test_voided_samples_are_out_of_sight_but_there(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            ids = tx.add_samples(samples(3))
            assert tx.void_samples(ids[:2]) == 2
            assert tx.void_samples(ids[:2]) == 0
        assert store.fleet().sample.tolist() == [ids[2]]
        assert store.sample(ids[0]).voided
        assert len(store.sample_keys(["E1"])) == 1
        with pytest.raises(NotThere, match=re.escape(
                f"sample: must be one that the store has, found no. {ids[0]}; "
                "it may have been voided meanwhile")), store.write(KIM, "test") as tx:
            tx.edit_sample(ids[0], {"meter": 1.0}, 2)

    def test_a_sample_that_never_was(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                "sample: must be one that the store has, found no. 77; "
                "see the engine's list of samples")):
            store.sample(77)


class AwaitedContract:
    def test_the_result_comes_onto_what_was_noted_at_the_draw(self, store: Store):
        furnish(store)
        with store.write(ROBIN, "drawn") as tx:
            (number,) = tx.add_samples(awaited())
        assert store.awaited_samples().sample.tolist() == [number]
        result = one_sample(number="L-5")
        result.meter[0] = np.nan
        with store.write(KIM, "result") as tx:
            tx.fill_awaited(number, result, 1)
        row = store.sample(number).row
        assert (row.meter[0], row.meter_unit[0], row.note[0]) == (81200.0, 1, "drawn hot")
        assert (row.sample_id[0], row.value[0, 0], bool(row.awaited[0])) == ("L-5", 12.0, False)
        assert len(store.awaited_samples()) == 0
        assert bool(store.sample_versions(number)[0].row.awaited[0])
        assert store.sample_keys(["E1"]) == {("E1", "id", "L-5"): content_hashes(result)[0]}

    def test_two_results_for_one_bottle(self, store: Store):
        furnish(store)
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(awaited())
            tx.fill_awaited(number, one_sample(), 1)
        with pytest.raises(ChangedMeanwhile, match=re.escape(
                f"sample no. {number}: must be changed from its present version 2, found version "
                "1; it was changed by Kim on ") + ".* UTC; look at the present version first"), \
                store.write(KIM, "test") as tx:
            tx.fill_awaited(number, one_sample(fe=99.0), 1)

    def test_only_an_awaited_sample_of_that_engine_is_filled(self, store: Store):
        furnish(store, "E1", "E2")
        with store.write(KIM, "test") as tx:
            (drawn,) = tx.add_samples(awaited())
            (done,) = tx.add_samples(one_sample())
        for number, engine, found in ((drawn, "E2", "'E1' that is awaited"),
                                      (done, "E1", "'E1' that is not awaited")):
            with pytest.raises(StoreError, match=re.escape(
                    f"sample no. {number}: must be awaited from engine '{engine}', found one of "
                    f"{found}; add the result as a sample of its own")), \
                    store.write(KIM, "test") as tx:
                tx.fill_awaited(number, one_sample(engine), 1)
