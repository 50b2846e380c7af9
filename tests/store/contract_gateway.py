"""What the store promises about writing: whole or not, in turn, and told in the audit."""

import re
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import delete, insert, update

from oiltrend.errors import ChangedMeanwhile, StoreError, ValueRefused
from oiltrend.records import Caller, Car, Engine
from oiltrend.store import Store
from oiltrend.store.schema import TABLES
from tests.store.contract_verdicts import ROWS, put
from tests.store.made import KIM, furnish, one_sample

WRITERS, TRIES = 8, 10


class GatewayContract:
    def test_an_error_in_the_block_leaves_nothing(self, store: Store):
        furnish(store)
        audit, version = store.audit(), store.data_version()
        def fail() -> None:
            with store.write(KIM, "test") as tx:
                tx.add(Car("J-1"))
                tx.add_samples(one_sample())
                tx.set_setting("s", 1)
                raise RuntimeError("stop")

        with pytest.raises(RuntimeError, match="stop"):
            fail()
        assert store.all(Car) == []
        assert len(store.fleet()) == 0
        assert store.setting("s", None) is None
        assert (store.audit(), store.data_version()) == (audit, version)
        with store.write(KIM, "the next one goes through") as tx:
            tx.add(Car("J-1"))

    def test_a_write_sees_itself_and_others_see_it_afterwards(self, store: Store):
        with store.write(KIM, "test") as tx:
            tx.add(Car("J-1"))
            assert len(tx.all(Car)) == 1
        assert len(store.all(Car)) == 1

    def test_a_reason_is_given(self, store: Store):
        with pytest.raises(ValueRefused, match=re.escape(
                "why: a change must carry its reason, found none; "
                "say in a few words what is done")), store.write(KIM, " "):
            pass

    def test_no_write_inside_a_write(self, store: Store):
        with pytest.raises(StoreError, match=re.escape(
                "write: must not begin inside another write, found one open; "
                "use the transaction that is there")), store.write(KIM, "outer"), \
                store.write(KIM, "inner"):
            pass

    def test_the_audit_counts_without_a_gap_over_writes_that_failed(self, store: Store):
        def fail(name: str) -> None:
            with store.write(KIM, "test") as tx:
                tx.add(Car(name))
                raise RuntimeError("stop")

        for name in ("J-1", "J-2"):
            with pytest.raises(RuntimeError, match="stop"):
                fail(name)
            with store.write(KIM, "test") as tx:
                tx.add(Car(name))
        assert [entry.seq for entry in store.audit()] == [2, 1]

    def test_the_audit_is_read_in_parts(self, store: Store):
        with store.write(KIM, "test") as tx:
            for n in range(5):
                tx.add(Car(f"J-{n}"))
        assert [e.seq for e in store.audit(offset=1, limit=2)] == [4, 3]

    def test_what_was_written_to_a_log_stays(self, store: Store):
        furnish(store, "E1")
        put(store, ROWS[0])
        with store.write(KIM, "test") as tx:
            (number,) = tx.add_samples(one_sample())
            tx.answer_doubt(number, "confirmed", 1)
        for name, column in (("audit", "who"), ("verdict", "level"), ("sample_version", "raw")):
            table = TABLES[name]
            for change in (update(table).values({column: "nobody"}), delete(table)):
                with pytest.raises(StoreError, match=re.escape(
                        "writing: what was written to the log stays as it is "
                        f"({name}: rows are only ever added)")), store.write(KIM, "forge") as tx:
                    tx._connection.execute(change)
        # The control: a table that is no log can be changed the same way.
        with store.write(KIM, "test") as tx:
            assert tx._connection.execute(update(TABLES["sample"]).values(note="x")).rowcount == 1

    def test_the_database_itself_keeps_the_rules(self, store: Store):
        furnish(store)
        row = {"id": 1, "rev": 1, "changed_at": "", "changed_by": "", "note": "", "event": "x",
               "oil_product": "", "car": ""}
        with pytest.raises(StoreError, match="writing: it names something that the store does "
                           r"not have \(.*\); add that first"), store.write(KIM, "test") as tx:
            tx._connection.execute(insert(TABLES["event"]).values(engine="E9", **row))
        with pytest.raises(StoreError, match=r"writing: .*"), store.write(KIM, "t") as tx:
            tx._connection.execute(insert(TABLES["event"]).values(engine="E1", **{**row, "rev": 0}))
        with pytest.raises(StoreError, match=r"writing: .*"), store.write(KIM, "t") as tx:
            tx._connection.execute(
                insert(TABLES["event"]).values(engine="E1", **{**row, "rev": "text"}))

    def test_text_that_no_database_can_hold(self, store: Store):
        with pytest.raises(StoreError, match=r"writing: a text holds a character that cannot be "
                           r"stored \(.*\); remove the character"), \
                store.write(KIM, "test") as tx:
            tx.add(Car("J-1", note="\ud800"))

    def test_values_are_never_taken_for_statements(self, store: Store):
        evil = "J'); DROP TABLE car; -- %s %(x)s ? :name"
        with store.write(KIM, evil) as tx:
            tx.add(Car(evil, note=evil))
        assert store.get(Car, evil).record.note == evil
        assert store.audit()[0].why == evil


class CrowdContract:
    """Several at once. Each promise has a control beside it that must break it."""

    def _crowd(self, work) -> list[object]:
        gate = threading.Barrier(WRITERS)

        def start(number):
            gate.wait()
            return work(number)

        with ThreadPoolExecutor(WRITERS) as pool:
            return list(pool.map(start, range(WRITERS)))

    def test_no_edit_of_one_record_is_lost(self, store: Store):
        furnish(store)

        def work(writer: int) -> tuple[int, int]:
            accepted = told = 0
            for _ in range(TRIES):
                seen = store.get(Engine, "E1")
                record = Engine("E1", "F", note=str(int(seen.record.note or 0) + 1))
                try:
                    with store.write(Caller(f"W{writer}", "shop"), "count") as tx:
                        tx.save(seen.id, record, seen.rev)
                except ChangedMeanwhile:
                    told += 1
                else:
                    accepted += 1
            return accepted, told

        done = self._crowd(work)
        accepted, told = (sum(column) for column in zip(*done, strict=True))
        assert accepted + told == WRITERS * TRIES
        assert store.get(Engine, "E1").record.note == str(accepted)
        assert store.get(Engine, "E1").rev == accepted + 1

    def test_control_without_the_version_edits_are_lost(self, store: Store):
        furnish(store)
        turn = threading.Barrier(WRITERS)

        def work(writer: int) -> None:
            for _ in range(TRIES):
                seen = store.get(Engine, "E1")
                record = Engine("E1", "F", note=str(int(seen.record.note or 0) + 1))
                turn.wait()
                with store.write(KIM, "count") as tx:
                    tx.save(seen.id, record, tx.get(Engine, "E1").rev)
                turn.wait()

        self._crowd(work)
        assert int(store.get(Engine, "E1").record.note) < WRITERS * TRIES / 2

    def test_the_same_file_at_once_comes_in_once(self, store: Store):
        furnish(store)
        files = 5

        def work(writer: int) -> list[str]:
            told = []
            for n in range(files):
                try:
                    with store.write(KIM, "upload") as tx:
                        number = tx.add_import(f"{n}.csv", f"{n:064x}", "samples", counts={},
                                               options={})
                        tx.add_samples(one_sample(number=f"L-{n}"), import_id=number)
                except StoreError as refused:
                    told.append(refused.message)
            return told

        told = [words for one in self._crowd(work) for words in one]
        assert len(told) == files * (WRITERS - 1)
        assert all(".csv: a file must come in once, found it as import no." in words
                   for words in told)
        assert len(store.imports()) == len(store.fleet()) == files

    def test_control_looking_first_lets_it_in_several_times(self, store: Store):
        furnish(store)
        turn = threading.Barrier(WRITERS)

        def work(writer: int) -> None:
            there = store.import_of("0" * 64, "samples")
            turn.wait()
            if there is None:
                with store.write(KIM, "upload") as tx:
                    tx.add_samples(one_sample())

        self._crowd(work)
        assert len(store.fleet()) > 1

    def test_readers_never_see_half_a_write(self, store: Store):
        furnish(store)
        stop = threading.Event()
        seen: set[int] = set()

        def read() -> None:
            while not stop.is_set():
                seen.add(len(store.fleet()) % 10)

        reader = threading.Thread(target=read)
        reader.start()
        try:
            for _ in range(10):
                with store.write(KIM, "ten") as tx:
                    for _ in range(10):
                        tx.add_samples(one_sample())
        finally:
            stop.set()
            reader.join()
        assert seen == {0}

    def test_the_lock_is_of_the_database_and_not_only_of_the_process(self, store: Store,
                                                                   second: Store):
        furnish(store)
        order: list[str] = []
        inside = threading.Event()

        def slow() -> None:
            with store.write(KIM, "slow") as tx:
                tx.add(Car("J-1"))
                inside.set()
                threading.Event().wait(0.3)
                order.append("slow")

        writer = threading.Thread(target=slow)
        writer.start()
        inside.wait()
        with second.write(KIM, "quick") as tx:
            order.append("quick")
            assert len(tx.all(Car)) == 1
        writer.join()
        assert order == ["slow", "quick"]

