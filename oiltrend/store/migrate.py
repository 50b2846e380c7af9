"""Bring a database to the schema of this program: numbered steps, one transaction."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Connection, Engine, column, inspect, select, table, text

from oiltrend.errors import StoreRefused
from oiltrend.store.faults import plain_faults
from oiltrend.store.postgres import lock_writers
from oiltrend.store.schema import APPLICATION_ID, SCHEMA
from oiltrend.store.sqlite import WRITING

if TYPE_CHECKING:
    from alembic.script import ScriptDirectory

__all__ = ["VERSION_TABLE", "migrate", "newest_schema", "schema_of"]

VERSION_TABLE = "oiltrend_version"
# Alembic's "op" is one for the whole process: two threads would write through one another's
# connection.
_ONE_AT_A_TIME = threading.Lock()


def newest_schema() -> int:
    """Give the number of the newest schema that this program knows.

    Returns
    -------
    int [-]
        From 1 upwards.
    """
    return SCHEMA


def schema_of(connection: Connection) -> int:
    """Give the number of the schema that a database has.

    Parameters
    ----------
    connection : Connection [-]
        To the database.

    Returns
    -------
    int [-]
        0 for an empty one.
    """
    if not inspect(connection).has_table(VERSION_TABLE):
        return 0
    found: Any = connection.execute(select(column("version_num")).select_from(table(VERSION_TABLE)))
    return int(found.scalar() or 0)


def migrate(engine: Engine) -> tuple[int, int]:
    """Run the steps that a database lacks.

    Foreign keys are off meanwhile on SQLite (a table may have to be copied) and checked before
    the commit; the schema number in the file's header changes in the same transaction.

    Parameters
    ----------
    engine : Engine [-]
        Of the database.

    Returns
    -------
    tuple of int [-]
        Schema before and after.

    Raises
    ------
    StoreRefused
        A newer program wrote the database, or a foreign key is broken.
    StoreError
        The database could not be written; it is as it was.
    """
    sqlite = engine.dialect.name == "sqlite"
    with _ONE_AT_A_TIME, plain_faults("migration"), engine.connect() as connection:
        if sqlite:
            # Before the transaction: inside one the pragma does nothing.
            _driver(connection).execute("PRAGMA foreign_keys=OFF").fetchall()
        try:
            with connection.execution_options(**{WRITING: True}).begin():
                if not sqlite:
                    lock_writers(connection)
                before = schema_of(connection)
                if before > newest_schema():
                    raise StoreRefused(
                        f"database: the schema must be {newest_schema()} or older, "
                        f"found {before}",
                        hint="use the newer version of oiltrend that wrote it")
                if before < newest_schema():
                    _run_steps(connection)
                if sqlite:
                    _mark(connection)
        finally:
            if sqlite:
                _driver(connection).execute("PRAGMA foreign_keys=ON").fetchall()
    return before, newest_schema()


def _driver(connection: Connection) -> Any:
    return cast(Any, connection.connection.driver_connection)


def _scripts() -> ScriptDirectory:
    # Alembic is loaded only where a step is to be run: it takes as long as all the rest.
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location",
                           str(Path(__file__).with_name("migrations")).replace("%", "%%"))
    return ScriptDirectory.from_config(config)


def _run_steps(connection: Connection) -> None:
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext

    scripts = _scripts()
    environment = EnvironmentContext(
        Config(), scripts, fn=lambda revision, _: scripts._upgrade_revs("head", revision))
    environment.configure(connection=connection, version_table=VERSION_TABLE,
                          transactional_ddl=True, render_as_batch=True)
    with environment.begin_transaction():
        environment.run_migrations()


def _mark(connection: Connection) -> None:
    broken = connection.execute(text("PRAGMA foreign_key_check")).fetchall()
    if broken:
        raise StoreRefused(
            f"migration: every row must point to one that is there, found {len(broken)} that "
            f"do not, the first in '{broken[0][0]}'; nothing was changed",
            hint="restore the last backup")
    for pragma in (f"application_id={APPLICATION_ID}", f"user_version={newest_schema()}"):
        connection.exec_driver_sql(f"PRAGMA {pragma}")
