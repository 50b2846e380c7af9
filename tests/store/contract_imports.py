"""What the store promises about imports, raw files and taking imports back."""

import hashlib
import re

import pytest

from oiltrend.errors import NotThere, StoreError
from oiltrend.records import Car, Engine, Event, Family, Qualifier, Reading, Teardown
from oiltrend.store import HeldRow, Left, RejectRow, Store
from tests.store.made import (
    DAY,
    FINDINGS,
    KIM,
    ROBIN,
    assert_same,
    awaited,
    furnish,
    limit,
    one_sample,
    samples,
    slot,
)

SHA = "ab" * 32


def add_import(tx, sha: str = SHA, kind: str = "samples") -> int:
    return tx.add_import("march.csv", sha, kind, counts={"records": 4, "accepted": 3},
                         options={"date_order": "dmy"}, mapping="lab a")


class ImportContract:
    def test_an_import_says_what_it_was(self, store: Store):
        with store.write(KIM, "test") as tx:
            number = add_import(tx)
        (found,) = store.imports()
        assert (found.id, found.file, found.sha256, found.kind) == (number, "march.csv", SHA,
                                                                   "samples")
        assert (found.counts, found.options) == ({"records": 4, "accepted": 3},
                                                 {"date_order": "dmy"})
        assert (found.mapping, found.made_by, found.state) == ("lab a", "Kim", "done")
        assert store.import_of(SHA, "samples") == found
        assert store.import_of(SHA, "events") is None

    def test_the_same_file_comes_in_once(self, store: Store):
        with store.write(ROBIN, "test") as tx:
            number = add_import(tx)
        day = store.imports()[0].made_at
        with pytest.raises(StoreError, match=re.escape(
                f"march.csv: a file must come in once, found it as import no. {number} "
                f"('march.csv') by Robin on {day:%Y-%m-%d}; nothing is left to do; to read it "
                f"again, undo import no. {number} first")), store.write(KIM, "test") as tx:
            add_import(tx)
        with store.write(KIM, "another kind") as tx:
            add_import(tx, kind="events")

    def test_after_an_undo_it_may_come_again(self, store: Store):
        with store.write(KIM, "test") as tx:
            number = add_import(tx)
            tx.undo_import(number)
            again = add_import(tx)
        assert [(i.id, i.state) for i in store.imports()] == [(again, "done"), (number, "undone")]

    def test_rejects_and_held_rows(self, store: Store):
        with store.write(KIM, "test") as tx:
            number = add_import(tx)
            assert tx.add_rejects(number, [(9, "Fe", "1,2,3", "not a number", "correct it"),
                                           (2, "", "", "too few cells", "")]) == 2
            assert tx.add_held(number, [(5, "unit 7", '{"Fe": 1}'), (4, "unit 8", "x")]) == 2
        assert store.rejects(number) == [RejectRow(2, "", "", "too few cells", ""),
                                         RejectRow(9, "Fe", "1,2,3", "not a number",
                                                   "correct it")]
        held = store.held()
        assert [HeldRow(h.line, h.engine_text, h.raw) for h in held] == [
            (4, "unit 8", "x"), (5, "unit 7", '{"Fe": 1}')]
        with store.write(KIM, "test") as tx:
            tx.release_held([held[0].id])
        assert [h.line for h in store.held()] == [5]
        with pytest.raises(NotThere, match=re.escape(
                f"held row: must be one that waits, found no. {held[0].id}; "
                "someone may have dealt with it meanwhile")), store.write(KIM, "test") as tx:
            tx.release_held([held[1].id, held[0].id])
        assert [h.line for h in store.held()] == [5]

    def test_raw_files_are_kept_by_what_is_in_them(self, store: Store):
        data = b"engine;Fe\nE1;12\n\x00"
        name = store.keep_file(data)
        assert name == hashlib.sha256(data).hexdigest() == store.keep_file(data)
        assert store.file(name) == data
        kept = [p for p in (store.folder / "files").rglob("*") if p.is_file()]
        assert kept == [store.folder / "files" / name[:2] / name]

    def test_a_raw_file_that_is_not_there_or_not_a_name(self, store: Store):
        with pytest.raises(NotThere, match=re.escape(
                f"file: must be one that was kept, found '{SHA}'; restore the last backup if it "
                "should be there")):
            store.file(SHA)
        with pytest.raises(NotThere, match=re.escape(
                "file: must be named by 64 hex digits, found '../../etc/passwd'; use the hash "
                "under which it was kept")):
            store.file("../../etc/passwd")

    def test_a_damaged_raw_file_is_noticed(self, store: Store):
        name = store.keep_file(b"engine;Fe\n")
        (store.folder / "files" / name[:2] / name).write_bytes(b"engine;Cu\n")
        other = hashlib.sha256(b"engine;Cu\n").hexdigest()
        with pytest.raises(StoreError, match=re.escape(
                f"file {name}: must be what it was when kept, found content with hash {other}; "
                "restore the last backup")):
            store.file(name)


class UndoContract:
    def test_samples_go_and_what_was_there_before_stays(self, store: Store):
        furnish(store)
        with store.write(KIM, "by hand") as tx:
            (mine,) = tx.add_samples(one_sample())
        before = store.fleet()
        with store.write(KIM, "import") as tx:
            number = add_import(tx)
            tx.add_samples(samples(5), import_id=number)
            tx.add_held(number, [(5, "unit 7", "x")])
        assert sorted(store.fleet().import_id) == [-1] + [number] * 5
        with store.write(KIM, "wrong file") as tx:
            report = tx.undo_import(number)
        assert (report.voided, report.edited_since, report.in_use) == (5, (), ())
        after = store.fleet()
        assert after.sample.tolist() == [mine]
        assert_same(after.table, before.table)
        assert store.held() == []
        entry = store.audit(object="import", object_id=number)[0]
        assert (entry.field, entry.new["voided"], entry.why) == ("state", 5, "wrong file")

    def test_what_someone_worked_on_since_stays_and_is_told(self, store: Store):
        furnish(store)
        with store.write(KIM, "import") as tx:
            number = add_import(tx)
            first, second, _ = tx.add_samples(samples(3), import_id=number)
            event = tx.add(Event("E1", "oil_change", date=DAY), import_id=number)
        with store.write(ROBIN, "work") as tx:
            tx.edit_sample(first, {"note": "looked at"}, 1)
            tx.answer_doubt(second, "confirmed", 1)
            tx.save(event, Event("E1", "oil_change", date=DAY, litres=8.0), 1)
        with store.write(KIM, "undo") as tx:
            report = tx.undo_import(number)
        assert report.voided == 1
        assert [(left.object, left.id, left.why) for left in report.edited_since] == [
            ("sample", first, "changed since"), ("sample", second, "changed since"),
            ("event", event, "changed since")]
        assert len(store.fleet()) == 2
        assert len(store.all(Event)) == 1

    def test_records_go_unless_something_else_uses_them(self, store: Store):
        with store.write(KIM, "import") as tx:
            number = add_import(tx, kind="engines")
            tx.add(Family("F"), import_id=number)
            tx.add_all([Car("J-1"), Car("J-2")], import_id=number)
            tx.add_all([Engine("E1", "F"), Engine("E2", "F", car="J-1")], import_id=number)
            tx.fit_shells("E2", [slot(1, "rod")], import_id=number)
            tx.add(Teardown("E2", DAY, 5.0, FINDINGS), import_id=number)
        with store.write(ROBIN, "by hand") as tx:
            tx.add_samples(one_sample("E1"))
        with store.write(KIM, "undo") as tx:
            report = tx.undo_import(number)
        assert report.removed == {"slot": 1, "teardown": 1, "engine": 1, "car": 2}
        families, engines = store.all(Family), store.all(Engine)
        assert report.in_use == (
            Left("engine", engines[0].id, "E1", "used by 1 sample"),
            Left("family", families[0].id, "F", "used by 1 engine"))
        assert [e.record.engine for e in engines] == ["E1"]
        assert store.bearing_set("E2").slots == ()

    def test_a_record_that_came_back_to_life_goes_again(self, store: Store):
        with store.write(KIM, "test") as tx:
            old = tx.add(Car("J-1"))
            tx.remove(Car, old, 1)
        with store.write(KIM, "import") as tx:
            number = add_import(tx)
            tx.add_all([Car("J-1")], import_id=number)
        with store.write(KIM, "undo") as tx:
            assert tx.undo_import(number).removed == {"car": 1}
        assert store.all(Car) == []

    def test_results_that_were_awaited_are_awaited_again(self, store: Store):
        furnish(store)
        with store.write(ROBIN, "drawn") as tx:
            first, second = (tx.add_samples(awaited())[0] for _ in range(2))
        drawn = store.sample(first)
        with store.write(KIM, "import") as tx:
            number = add_import(tx)
            for one in (first, second):
                tx.fill_awaited(one, one_sample(), 1, import_id=number)
        with store.write(ROBIN, "work") as tx:
            tx.edit_sample(second, {"Fe": Reading(3.0, Qualifier.EXACT, "3")}, 2)
        with store.write(KIM, "undo") as tx:
            report = tx.undo_import(number)
        assert (report.awaited, [left.id for left in report.edited_since]) == (1, [second])
        assert_same(store.sample(first).row, drawn.row)
        assert store.awaited_samples().sample.tolist() == [first]

    def test_limits_go_back_to_what_they_were(self, store: Store):
        with store.write(KIM, "test") as tx:
            first = tx.set_limits([limit(30.0)], "own")
            number = add_import(tx, kind="limits")
            tx.set_limits([limit(20.0)], "from the file", based_on=first, import_id=number)
        with store.write(KIM, "undo") as tx:
            assert tx.undo_import(number).removed == {"limit_version": 1}
        assert store.limits() == [limit(30.0)]

    def test_limits_that_were_built_upon_stay(self, store: Store):
        with store.write(KIM, "test") as tx:
            number = add_import(tx, kind="limits")
            first = tx.set_limits([limit(20.0)], "from the file", import_id=number)
            tx.set_limits([limit(25.0)], "softer", based_on=first)
            report = tx.undo_import(number)
        assert report.in_use == (Left("limit_version", first, "from the file",
                                      "limits were set on top of it since"),)
        assert store.limits() == [limit(25.0)]

    def test_undoing_twice_or_nothing(self, store: Store):
        with store.write(ROBIN, "test") as tx:
            number = add_import(tx)
            tx.undo_import(number)
        day = store.imports()[0].undone_at
        with pytest.raises(StoreError, match=re.escape(
                f"import no. {number}: must not be undone already, found that Robin undid it on "
                f"{day:%Y-%m-%d}; nothing is left to do")), store.write(KIM, "test") as tx:
            tx.undo_import(number)
        with pytest.raises(NotThere, match=re.escape(
                "import: must be one that the store has, found no. 99; see the list of imports")), \
                store.write(KIM, "test") as tx:
            tx.undo_import(99)
