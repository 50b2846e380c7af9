"""Open a store: make it, or check and migrate what is there. Refusals leave no trace."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine, insert, select

from oiltrend.errors import StoreRefused
from oiltrend.nomenclature import PANEL
from oiltrend.store.faults import plain_faults
from oiltrend.store.migrate import VERSION_TABLE, migrate, newest_schema, schema_of
from oiltrend.store.place import prepare_folder, refuse_far_folder, sweep_parts
from oiltrend.store.postgres import check_database, lock_writers, make_postgres, parse_url
from oiltrend.store.schema import TABLES
from oiltrend.store.sqlite import (
    WRITING,
    build_beside,
    check_header,
    choose_journal,
    copy_database,
    make_sqlite,
    set_journal,
)
from oiltrend.store.store import Store

__all__ = ["DATABASE_NAME", "open_store"]

DATABASE_NAME = "oiltrend.sqlite3"


def open_store(*, folder: Path | None = None, url: str | None = None) -> Store:
    """Open a store; it is made if it is not there, and migrated if it is old.

    Parameters
    ----------
    folder : Path or None [-]
        Holds the raw files, and the SQLite database unless a URL is given.
    url : str or None [-]
        Address of a PostgreSQL database.

    Returns
    -------
    Store [-]
        Ready; close it when done.

    Raises
    ------
    StoreRefused
        The folder is on a network drive, in a cloud or read-only; the database belongs to
        another program or a newer version; the server does not answer. Nothing was changed.
    StoreError
        The database could not be read or written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place, open_store(folder=Path(place)) as store:
    ...     store.health()["integrity"]
    'ok'
    """
    if folder is None:
        raise StoreRefused("store: must be given a folder, found none",
                           hint="name one with --data")
    folder = folder.absolute()
    database = folder / DATABASE_NAME
    if url is None:
        refuse_far_folder(folder)
        if database.exists():
            check_header(database, newest=newest_schema())
    prepare_folder(folder)
    sweep_parts(folder)
    engine = _open_sqlite(database) if url is None else _open_postgres(url)
    try:
        _agree_on_panel(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, folder)


def _open_sqlite(database: Path) -> Engine:
    journal, _ = choose_journal(sqlite3.sqlite_version_info)
    synchronous = "FULL" if journal == "wal" else "EXTRA"
    if not database.exists():
        build_beside(database, _build)
    check_header(database, newest=newest_schema())
    engine = make_sqlite(database, synchronous=synchronous)
    try:
        set_journal(engine, journal=journal, database=database)
        schema = _schema(engine)
        if schema < newest_schema():
            stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
            with plain_faults("backup before the migration"):
                copy_database(engine, database.parent / "backups"
                              / f"schema-{schema:04d}-{stamp}.sqlite3")
        if schema != newest_schema():
            migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _build(part: Path) -> None:
    engine = make_sqlite(part, synchronous="EXTRA")
    try:
        migrate(engine)
    finally:
        engine.dispose()


def _schema(engine: Engine) -> int:
    with plain_faults("reading"), engine.connect() as connection:
        return schema_of(connection)


def _open_postgres(url: str) -> Engine:
    engine = make_postgres(parse_url(url))
    try:
        check_database(engine, version_table=VERSION_TABLE)
        if _schema(engine) != newest_schema():
            migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _agree_on_panel(engine: Engine) -> None:
    """See that packed rows mean the same to the database and to this program."""
    table = TABLES["panel"]
    question = select(table.c.symbol).order_by(table.c.position)
    with plain_faults("reading"), engine.connect() as connection:
        known = tuple(connection.execute(question).scalars())
    if known == PANEL:
        return
    if known != PANEL[:len(known)]:
        odd = next(place for place, symbol in enumerate(known)
                   if place >= len(PANEL) or PANEL[place] != symbol)
        raise StoreRefused(
            f"database: position {odd + 1} of a packed row must be "
            f"{PANEL[odd] if odd < len(PANEL) else 'unused'}, found {known[odd]}",
            hint="use the newer version of oiltrend that wrote it")
    with plain_faults("writing"), engine.connect().execution_options(
            **{WRITING: True}) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            lock_writers(connection)
        # Another program may have been faster.
        known = tuple(connection.execute(question).scalars())
        rows = [{"position": place, "symbol": symbol}
                for place, symbol in enumerate(PANEL) if place >= len(known)]
        if rows:
            connection.execute(insert(table), rows)
