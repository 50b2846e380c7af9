import os
import re
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import event, text

from oiltrend.errors import StoreError, StoreRefused
from oiltrend.records import Car, Event, Teardown
from oiltrend.store import DATABASE_NAME, Store, open_store, opening
from oiltrend.store.schema import APPLICATION_ID, WATCH_SORTS
from oiltrend.store.sqlite import choose_journal
from tests.store.contract import StoreContract
from tests.store.made import KIM, furnish, one_sample, samples


@pytest.fixture
def store(tmp_path: Path, migrated_sqlite: Path) -> Iterator[Store]:
    shutil.copy(migrated_sqlite, tmp_path / DATABASE_NAME)
    with open_store(folder=tmp_path) as opened:
        yield opened


class TestSqlite(StoreContract):
    @pytest.fixture
    def second(self, store: Store) -> Iterator[Store]:
        with open_store(folder=store.folder) as opened:
            yield opened


# Fixed in 3.51.3, and in the backports 3.50.7 and 3.44.6 (SQLite's release notes).
@pytest.mark.parametrize(("version", "journal"), [
    ((3, 7, 0), "delete"), ((3, 40, 1), "delete"), ((3, 44, 5), "delete"), ((3, 44, 6), "wal"),
    ((3, 45, 0), "delete"), ((3, 50, 6), "delete"), ((3, 50, 7), "wal"), ((3, 51, 0), "delete"),
    ((3, 51, 2), "delete"), ((3, 51, 3), "wal"), ((3, 52, 0), "wal"), ((4, 0, 0), "wal")])
def test_wal_only_where_its_fault_is_fixed(version, journal):
    assert choose_journal(version)[0] == journal


def pragma(store: Store, name: str) -> object:
    with store._reading() as connection:
        return connection.execute(text(f"PRAGMA {name}")).scalar()


def test_every_connection_is_set_up_with_care(store: Store):
    found = {name: pragma(store, name) for name in (
        "foreign_keys", "busy_timeout", "synchronous", "trusted_schema", "cell_size_check",
        "secure_delete", "mmap_size", "application_id", "user_version", "journal_mode")}
    wal = found["journal_mode"] == "wal"
    assert found == {"foreign_keys": 1, "busy_timeout": 10_000, "synchronous": 2 if wal else 3,
                     "trusted_schema": 0, "cell_size_check": 1, "secure_delete": 1, "mmap_size": 0,
                     "application_id": APPLICATION_ID, "user_version": 1,
                     "journal_mode": choose_journal(sqlite3.sqlite_version_info)[0]}


def test_health_tells_what_was_chosen_and_why(store: Store):
    health = store.health()
    assert health["journal"] == choose_journal(sqlite3.sqlite_version_info)[0]
    assert health["journal_why"] == choose_journal(sqlite3.sqlite_version_info)[1]
    assert (health["schema"], health["newest_schema"]) == (1, 1)
    assert health["version"] == sqlite3.sqlite_version
    assert health["disk_free_bytes"] > 0
    assert (health["integrity"], health["foreign_keys"]) == ("ok", 0)


def test_health_sees_rows_that_point_to_nothing(store: Store):
    furnish(store)
    link = sqlite3.connect(store.folder / DATABASE_NAME)
    link.execute("DELETE FROM family")
    link.commit()
    link.close()
    assert store.health()["foreign_keys"] == 1


def test_a_program_with_the_fault_fixed_uses_wal_and_one_without_goes_back(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(opening, "choose_journal", lambda _: ("wal", "for the test"))
    with open_store(folder=tmp_path) as store:
        furnish(store)
        assert (pragma(store, "journal_mode"), pragma(store, "synchronous")) == ("wal", 2)
    monkeypatch.setattr(opening, "choose_journal", lambda _: ("delete", "for the test"))
    with open_store(folder=tmp_path) as store:
        assert (pragma(store, "journal_mode"), pragma(store, "synchronous")) == ("delete", 3)
        assert len(store.all(Car)) == 0
    assert [p.name for p in tmp_path.iterdir()] == [DATABASE_NAME]


def test_a_program_that_still_holds_it_in_wal_keeps_it_there(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(opening, "choose_journal", lambda _: ("wal", "for the test"))
    monkeypatch.setattr("oiltrend.store.sqlite.BUSY_MS", 100)
    with open_store(folder=tmp_path) as store:
        furnish(store)
        monkeypatch.setattr(opening, "choose_journal", lambda _: ("delete", "for the test"))
        with pytest.raises(StoreRefused, match=re.escape(
                f"{tmp_path / DATABASE_NAME}: must be writable and its journal 'delete', found "
                "'database is locked'; ask for the right to write, or stop the other program")):
            open_store(folder=tmp_path)


def test_another_program_that_writes_too_long_is_told_of(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("oiltrend.store.sqlite.BUSY_MS", 100)
    with open_store(folder=tmp_path) as store:
        link = sqlite3.connect(tmp_path / DATABASE_NAME, isolation_level=None)
        link.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match=re.escape(
                "writing: another program has been writing for longer than ten seconds (database "
                "is locked); try again")), store.write(KIM, "test"):
            pass
        link.execute("ROLLBACK")
        link.close()
        furnish(store)


def another_process_may_write(database: Path) -> bool:
    words = ("import sqlite3, sys; link = sqlite3.connect(sys.argv[1], isolation_level=None, "
             "timeout=0); link.execute('BEGIN IMMEDIATE')")
    done = subprocess.run([sys.executable, "-c", words, database], capture_output=True, text=True)
    assert done.returncode == 0 or "database is locked" in done.stderr
    return done.returncode == 0


def test_a_second_store_in_this_process_does_not_drop_the_locks(store: Store):
    """POSIX forgets all locks of a process on a file when it closes any handle on it."""
    furnish(store)
    database = store.folder / DATABASE_NAME
    with store.write(KIM, "slow") as tx:
        tx.add(Car("J-1"))
        open_store(folder=store.folder).close()
        assert not another_process_may_write(database)
        if os.name != "nt":
            # The control: to look at the bytes meanwhile lets a second writer in.
            database.open("rb").close()
            assert another_process_may_write(database)


@pytest.mark.parametrize("kept_out", [False, True], ids=["as set", "control"])
def test_a_large_import_does_not_keep_readers_out(store: Store, kept_out: bool):
    if pragma(store, "journal_mode") == "wal":
        pytest.skip("readers and writers do not meet in WAL")
    furnish(store)
    other = sqlite3.connect(store.folder / DATABASE_NAME, timeout=0)
    # The one connection in the pool; inside a transaction SQLite would pass over the pragma.
    link = store._engine.raw_connection()
    # A page cache that is too small for the import, without making it really large.
    link.cursor().execute("PRAGMA cache_size=10")
    if kept_out:
        link.cursor().execute("PRAGMA cache_spill=ON")
    link.close()
    with store.write(KIM, "large") as tx:
        tx.add_samples(samples(500))
        try:
            seen = other.execute("SELECT count(*) FROM sample").fetchone()
        except sqlite3.OperationalError as fault:
            seen = str(fault)
    other.close()
    assert seen == ("database is locked" if kept_out else (0,))


def test_a_backup_of_a_live_database_is_whole(store: Store, tmp_path: Path):
    furnish(store)
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            with store.write(KIM, "two at a time") as tx:
                tx.add_samples(one_sample())
                tx.add_samples(one_sample())

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(5):
            folder = tmp_path / f"copy{number}"
            store.backup_to(folder / DATABASE_NAME)
            with open_store(folder=folder) as copy:
                assert copy.health()["integrity"] == "ok"
                assert len(copy.fleet()) % 2 == 0
    finally:
        stop.set()
        writer.join()
    with pytest.raises(StoreRefused, match=re.escape(
            f"{folder / DATABASE_NAME}: a backup must be a new file, found one there; "
            "choose another name")):
        store.backup_to(folder / DATABASE_NAME)


def plans(store: Store, ask: Callable[[], object]) -> list[str]:
    """How SQLite goes about the questions that a call asks."""
    asked: list[tuple[str, object]] = []

    def listen(_, __, statement, values, *___) -> None:
        asked.append((statement, values))

    event.listen(store._engine, "before_cursor_execute", listen)
    ask()
    event.remove(store._engine, "before_cursor_execute", listen)
    with store._reading() as connection:
        return [" / ".join(row[3] for row in connection.exec_driver_sql(
            "EXPLAIN QUERY PLAN " + statement, values))
            for statement, values in asked if statement.startswith("SELECT")]


def test_questions_about_one_engine_do_not_grow_with_the_fleet(store: Store):
    for ask, table in ((lambda: store.fleet(engines=["E1"]), "sample"),
                       (lambda: store.sample_keys(["E1"]), "sample"),
                       (lambda: store.find(Event, {"engine": "E1"}), "event"),
                       (lambda: store.find(Teardown, {"engine": "E1"}), "teardown"),
                       (lambda: store.shells(engines=["E1"]), "slot"),
                       (lambda: store.verdict_log("E1"), "verdict")):
        (way,) = plans(store, ask)
        assert way.startswith(f"SEARCH {table} USING INDEX ix_{table}_engine"), way


@pytest.mark.parametrize("sort", WATCH_SORTS)
@pytest.mark.parametrize("descending", [False, True])
def test_a_page_of_the_list_is_read_in_order_and_not_sorted(store: Store, sort, descending):
    page, _ = plans(store, lambda: store.watch_rows(sort=sort, descending=descending))
    assert "TEMP B-TREE" not in page


def test_control_another_order_would_have_to_be_sorted(store: Store):
    with store._reading() as connection:
        (way,) = connection.exec_driver_sql(
            "EXPLAIN QUERY PLAN SELECT * FROM watch ORDER BY reason_text LIMIT 5").fetchall()[1:]
    assert "TEMP B-TREE" in way[3]


def test_a_page_of_one_family_is_read_in_order(store: Store):
    page, count = plans(store, lambda: store.watch_rows(family="F"))
    assert page == "SEARCH watch USING INDEX ix_watch_family_pressing (family=?)"
    assert "ix_watch_family" in count


def test_numbers_out_of_arrays_are_taken(store: Store):
    furnish(store)
    with store.write(KIM, "test") as tx:
        ids = tx.add_samples(samples(2))
        tx.answer_doubt(ids[0], "confirmed", np.int64(1))
        tx.void_samples(ids[1:])
    assert store.fleet().sample.tolist() == [ids[0]]
