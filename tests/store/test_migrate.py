"""Schemas move by numbered steps; what an older program wrote is read and used."""

import gzip
import re
import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, inspect
from sqlalchemy.pool import NullPool

from oiltrend.errors import StoreError, StoreRefused
from oiltrend.records import Car, Qualifier, Reading, Teardown
from oiltrend.records import Engine as EngineRecord
from oiltrend.store import DATABASE_NAME, migrate, open_store
from oiltrend.store.schema import META, TABLES
from tests.store.made import KIM, furnish, one_sample

OLD = Path(__file__).with_name("old_databases")


def anatomy(address: str, *, make: bool = False) -> dict[str, Any]:
    """All that a database knows about its tables, in a form that can be compared."""
    engine = create_engine(address.replace("postgresql", "postgresql+psycopg"), poolclass=NullPool)
    if make:
        META.create_all(engine)
    look = inspect(engine)
    return {name: {
        "columns": [(c["name"], str(c["type"]), c["nullable"]) for c in look.get_columns(name)],
        "key": look.get_pk_constraint(name)["constrained_columns"],
        "keys": sorted((k["name"], k["constrained_columns"], k["referred_table"],
                        k["referred_columns"], str(k["options"].get("onupdate")))
                       for k in look.get_foreign_keys(name)),
        "unique": sorted((u["name"], u["column_names"])
                         for u in look.get_unique_constraints(name)),
        "checks": sorted((c["name"], re.sub(r"[\s()]|::\w+|ANYARRAY|\[\]", "", c["sqltext"]))
                         for c in look.get_check_constraints(name)),
        "indexes": sorted((i["name"], str(i.get("expressions") or i["column_names"]), i["unique"],
                           str({k: str(v) for k, v in i.get("dialect_options", {}).items()}))
                          for i in look.get_indexes(name)),
    } for name in look.get_table_names() if name != migrate.VERSION_TABLE}


def test_the_steps_lead_to_the_tables_that_the_program_uses(tmp_path: Path, migrated_sqlite):
    found = anatomy(f"sqlite:///{migrated_sqlite}")
    expected = anatomy(f"sqlite:///{tmp_path / 'fresh'}", make=True)
    assert found.keys() == TABLES.keys()
    for name in expected:
        assert found[name] == expected[name], name
    link = sqlite3.connect(migrated_sqlite)
    statements = [row[0] for row in link.execute(
        "SELECT sql FROM sqlite_schema WHERE type = 'table' AND name <> ?",
        (migrate.VERSION_TABLE,))]
    link.close()
    assert all(statement.rstrip().endswith("STRICT") for statement in statements)


def test_the_steps_lead_there_on_postgresql(migrated_postgres: str, new_database):
    found, expected = anatomy(migrated_postgres), anatomy(new_database(), make=True)
    assert found.keys() == TABLES.keys()
    for name in expected:
        assert found[name] == expected[name], name


def test_the_number_of_the_schema_is_that_of_the_last_step():
    assert int(migrate._scripts().get_current_head()) == migrate.newest_schema()


def test_every_constraint_has_a_name(migrated_sqlite: Path):
    for name, table in anatomy(f"sqlite:///{migrated_sqlite}").items():
        for kind in ("keys", "unique", "checks", "indexes"):
            assert all(entry[0] for entry in table[kind]), (name, kind)


@pytest.mark.parametrize("old", sorted(OLD.glob("*.gz")), ids=lambda path: path.name)
def test_an_old_database_is_opened_and_used(tmp_path: Path, old: Path, migrated_sqlite: Path):
    (tmp_path / DATABASE_NAME).write_bytes(gzip.decompress(old.read_bytes()))
    with open_store(folder=tmp_path) as store:
        assert store.health()["integrity"] == "ok"
        assert store.health()["schema"] == migrate.newest_schema()
        # What tests/store/old_databases/make.py put in.
        assert store.get(EngineRecord, "E1").record.note == "first schema µ"
        (number, second) = store.fleet(engines=["E1"]).sample.tolist()
        sample = store.sample(number)
        assert (sample.rev, sample.row.value[0, 0], sample.row.raw[0]) == (2, 21.0, '{"Fe": "21"}')
        assert store.sample_versions(number)[0].row.value[0, 0] == 12.0
        (teardown,) = store.all(Teardown)
        assert teardown.record.findings[0].damage == ("scratches", "dirt µ")
        assert [limit.value for limit in store.limits()] == [30.0]
        assert store.watch_rows()[0][0].engine == "E1"
        assert store.setting("currency", "") == "shells"
        assert len(store.audit()) == 11
        with store.write(KIM, "used") as tx:
            tx.edit_sample(number, {"Fe": Reading(22.0, Qualifier.EXACT, "22")}, 2)
            tx.add_samples(one_sample(number="new"))
            assert tx.undo_import(store.imports()[0].id).voided == 1
        assert len(store.fleet()) == 2
    assert anatomy(f"sqlite:///{tmp_path / DATABASE_NAME}") == anatomy(
        f"sqlite:///{migrated_sqlite}")


SECOND = '''
from alembic import op
import sqlalchemy as sa
revision, down_revision = "0002", "0001"
def upgrade():
    with op.batch_alter_table("car", table_kwargs={"sqlite_strict": True}) as table:
        table.add_column(sa.Column("colour", sa.Text(), server_default="", nullable=False))
        table.create_check_constraint("ck_car_colour", "colour <> 'none'")
    EXTRA
'''


@pytest.fixture
def second_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Teach the program a second schema that does one thing more, until it is forgotten."""
    def teach(extra: str) -> None:
        scripts = tmp_path / "migrations"
        shutil.copytree(Path(migrate.__file__).with_name("migrations"), scripts)
        (scripts / "versions" / "v0002_second.py").write_text(SECOND.replace("EXTRA", extra))
        config = Config()
        config.set_main_option("script_location", str(scripts))
        directory = ScriptDirectory.from_config(config)
        monkeypatch.setattr(migrate, "_scripts", lambda: directory)
        monkeypatch.setattr(migrate, "SCHEMA", 2)

    teach.forget = monkeypatch.undo
    return teach


def test_a_step_copies_the_database_first_and_then_runs(tmp_path: Path, second_step):
    folder = tmp_path / "store"
    with open_store(folder=folder) as store:
        furnish(store)
        with store.write(KIM, "test") as tx:
            tx.add(Car("J-1"))
    second_step("pass")
    with open_store(folder=folder) as store:
        assert store.get(Car, "J-1").record == Car("J-1")
        assert store.health()["schema"] == 2
    (backup,) = (folder / "backups").iterdir()
    assert re.fullmatch(r"schema-0001-\d{8}T\d{12}Z\.sqlite3", backup.name)
    link = sqlite3.connect(folder / DATABASE_NAME)
    assert link.execute("PRAGMA user_version").fetchone() == (2,)
    (statement,) = link.execute("SELECT sql FROM sqlite_schema WHERE name = 'car'").fetchone()
    assert statement.rstrip().endswith("STRICT")
    assert "CONSTRAINT uq_car_car" in statement
    assert "CONSTRAINT ck_car_colour" in statement
    link.close()
    # The program before it leaves the new database alone, and can go on with the copy.
    second_step.forget()
    with pytest.raises(StoreRefused, match="^" + re.escape(
            f"{folder / DATABASE_NAME}: the schema must be 1 or older, found 2; use the newer "
            "version of oiltrend that wrote it; the file was not touched") + "$"):
        open_store(folder=folder)
    backup.replace(folder / DATABASE_NAME)
    with open_store(folder=folder) as store:
        assert store.get(Car, "J-1").record == Car("J-1")


@pytest.mark.parametrize(("extra", "error", "words"), [
    ("op.execute('SELECT * FROM nowhere')", StoreError, "migration: the database refused (no such "
     "table: nowhere); see the health page"),
    ("op.execute('DELETE FROM family')", StoreRefused, "migration: every row must point to one "
     "that is there, found 1 that do not, the first in 'engine'; nothing was changed; restore "
     "the last backup")])
def test_a_step_that_fails_leaves_the_database_as_it_was(tmp_path: Path, second_step, extra,
                                                         error, words):
    folder = tmp_path / "store"
    with open_store(folder=folder) as store:
        furnish(store)
    before = (folder / DATABASE_NAME).read_bytes()
    second_step(extra)
    with pytest.raises(error, match=f"^{re.escape(words)}$"):
        open_store(folder=folder)
    assert (folder / DATABASE_NAME).read_bytes() == before


def test_a_step_on_postgresql(tmp_path: Path, new_database, second_step):
    address = new_database()
    with open_store(folder=tmp_path, url=address) as store:
        furnish(store)
    second_step("op.execute('SELECT * FROM nowhere')")
    with pytest.raises(StoreError, match=r"^migration: the database refused \(relation "
                       r'"nowhere" does not exist\); see the health page$'):
        open_store(folder=tmp_path, url=address)
    second_step.forget()
    with open_store(folder=tmp_path, url=address) as store:
        assert store.health()["schema"] == 1


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_several_that_start_at_once_share_one_database(tmp_path: Path, kind, request):
    url = None if kind == "sqlite" else request.getfixturevalue("new_database")()

    def start(number: int) -> None:
        with open_store(folder=tmp_path, url=url) as store, store.write(KIM, "start") as tx:
            tx.add(Car(f"J-{number}"))

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(start, range(6)))
    with open_store(folder=tmp_path, url=url) as store:
        assert len(store.all(Car)) == 6
    assert not list(tmp_path.rglob("*.part*"))
