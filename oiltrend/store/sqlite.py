"""SQLite: which way of journalling is right for this version, and how a connection is set up."""

from __future__ import annotations

import os
import sqlite3
import threading
import uuid
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

from sqlalchemy import URL, Connection, Engine, create_engine, event

from oiltrend.errors import StoreRefused
from oiltrend.store.faults import plain_fault, plain_faults
from oiltrend.store.place import fsync_folder
from oiltrend.store.schema import APPLICATION_ID

__all__ = ["WRITING", "build_beside", "check_header", "choose_journal", "copy_database",
           "make_sqlite", "set_journal"]

# Execution option that marks a connection as the writing one.
WRITING = "oiltrend_writing"
BUSY_MS = 10_000
# Database files that are open in this process, by device and inode.
_CLAIMED: Counter[tuple[int, int]] = Counter()
_CLAIMING = threading.Lock()


def choose_journal(version: tuple[int, int, int]) -> tuple[str, str]:
    """Choose the journal: WAL only where SQLite's WAL-reset fault is fixed.

    Versions 3.7.0 to 3.51.2 can corrupt a WAL database when two connections write and
    checkpoint at the same moment; fixed in 3.51.3, and in 3.50.7 and 3.44.6.

    Parameters
    ----------
    version : tuple of int [-]
        SQLite's version.

    Returns
    -------
    tuple of str [-]
        ``wal`` or ``delete``, and why.

    Examples
    --------
    >>> choose_journal((3, 51, 3))[0], choose_journal((3, 40, 1))[0]
    ('wal', 'delete')
    """
    fixed = (version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51, 0)
             or (3, 44, 6) <= version < (3, 45, 0))
    shown = ".".join(map(str, version))
    if fixed:
        return "wal", f"SQLite {shown} has the fix for the WAL-reset fault"
    return "delete", f"SQLite {shown} is without the fix for the WAL-reset fault"


def check_header(database: Path, *, newest: int) -> int:
    """Look at a file's marks without touching it, and refuse what is not ours.

    Parameters
    ----------
    database : Path [-]
        An existing file.
    newest : int [-]
        The newest schema that this program knows.

    Returns
    -------
    int [-]
        The schema number in the file's header; a journal may know a later one.

    Raises
    ------
    StoreRefused
        Another program's file, or one that a newer version of this program wrote.
    """
    with _CLAIMING:
        if _CLAIMED[_inode(database)]:
            # Open in this process already, so it is ours; and to close a second handle on the
            # file would drop the locks that this process holds on it.
            return newest
        with database.open("rb") as file:
            head = file.read(100)
    # Read as bytes: nothing is locked, rolled back or written. The mark is written before the
    # file gets its name and never changes, so it holds whatever a journal may say.
    if len(head) < 100 or head[:16] != b"SQLite format 3\x00":
        raise StoreRefused(f"{database}: must be a database of oiltrend, found a file that is none",
                           hint="choose another folder; the file was not touched")
    schema, mark = int.from_bytes(head[60:64], "big"), int.from_bytes(head[68:72], "big")
    if mark != APPLICATION_ID:
        raise StoreRefused(
            f"{database}: must be a database of oiltrend (mark {APPLICATION_ID}), found mark "
            f"{mark}", hint="choose another folder; the file was not touched")
    if schema > newest:
        raise StoreRefused(
            f"{database}: the schema must be {newest} or older, found {schema}",
            hint="use the newer version of oiltrend that wrote it; the file was not touched")
    return schema


def _inode(database: Path) -> tuple[int, int]:
    found = database.stat()
    return found.st_dev, found.st_ino


def make_sqlite(database: Path, *, synchronous: str) -> Engine:
    """Make the engine for a SQLite file, every connection set up the same way.

    Parameters
    ----------
    database : Path [-]
        The file.
    synchronous : str [-]
        FULL with WAL, EXTRA with a rollback journal.

    Returns
    -------
    Engine [-]
        SQLAlchemy engine; a connection with the option :data:`WRITING` begins IMMEDIATE.
    """
    engine = create_engine(URL.create("sqlite", database=str(database)),
                           connect_args={"timeout": BUSY_MS / 1000})
    event.listen(engine, "connect", _setup(synchronous))
    event.listen(engine, "begin", _begin)
    if database.exists():
        inode = _inode(database)
        with _CLAIMING:
            _CLAIMED[inode] += 1
        event.listen(engine, "engine_disposed", lambda _: _release(inode), once=True)
    return engine


def _release(inode: tuple[int, int]) -> None:
    with _CLAIMING:
        _CLAIMED[inode] -= 1


def _setup(synchronous: str) -> Callable[[Any, Any], None]:
    def on_connect(link: sqlite3.Connection, _: object) -> None:
        # Transactions are begun by hand: the driver would begin them late and deferred, and a
        # deferred one that reads, then writes fails at once whatever the busy timeout.
        link.isolation_level = None
        for pragma in (f"busy_timeout={BUSY_MS}", "foreign_keys=ON",
                       f"synchronous={synchronous}", "trusted_schema=OFF", "cell_size_check=ON",
                       "secure_delete=ON", "mmap_size=0", "cache_size=-65536",
                       # A large import stays in memory until its commit, so that readers are
                       # not kept out while it is put together.
                       "cache_spill=OFF"):
            link.execute(f"PRAGMA {pragma}").fetchall()
        if link.execute("PRAGMA foreign_keys").fetchone() != (1,):
            raise StoreRefused("SQLite: foreign keys must be watched, found a build without them",
                               hint="use another build of Python or PostgreSQL")
    return on_connect


def _begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get(WRITING)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def set_journal(engine: Engine, *, journal: str, database: Path) -> None:
    """Set how the file journals, and prove that it can be written.

    Parameters
    ----------
    engine : Engine [-]
        Of the file.
    journal : str [-]
        ``wal`` or ``delete``.
    database : Path [-]
        Named in the refusal.

    Raises
    ------
    StoreRefused
        The file may only be read, or another program holds it in the other mode.
    StoreError
        The file is damaged.
    """
    with plain_faults("opening"):
        link = engine.raw_connection()
    try:
        cursor = link.cursor()
        found = cursor.execute(f"PRAGMA journal_mode={journal}").fetchone()[0]
        _prove_writable(cursor)
    except sqlite3.Error as fault:
        if not any(word in str(fault) for word in ("locked", "readonly")):
            raise plain_fault(fault, during="opening") from fault
        raise StoreRefused(
            f"{database}: must be writable and its journal '{journal}', found '{fault}'",
            hint="ask for the right to write, or stop the other program") from fault
    finally:
        link.close()
    if found != journal:
        raise StoreRefused(f"{database}: the journal must be '{journal}', found '{found}'",
                           hint="stop the other program that has the database open")


def _prove_writable(cursor: Any) -> None:
    # To begin is not enough: on a file that may only be read it begins a mere reading.
    cursor.execute("PRAGMA busy_timeout=0")
    try:
        cursor.execute("BEGIN IMMEDIATE")
        (schema,) = cursor.execute("PRAGMA user_version").fetchone()
        cursor.execute(f"PRAGMA user_version={schema}")
        cursor.execute("ROLLBACK")
    except sqlite3.OperationalError as fault:
        # Whoever is writing just now proves it as well.
        if "locked" not in str(fault):
            raise
    finally:
        cursor.execute(f"PRAGMA busy_timeout={BUSY_MS}")


def build_beside(database: Path, build: Callable[[Path], None]) -> None:
    """Build a new database aside and put it in its place whole.

    A program that is stopped meanwhile leaves no half database behind, and of two that start
    at once, one wins and the other uses what is there.

    Parameters
    ----------
    database : Path [-]
        Its final name.
    build : callable [-]
        Makes the database under the name it is given.
    """
    part = database.with_name(f"{database.name}.{uuid.uuid4().hex}.part")
    try:
        build(part)
        try:
            os.link(part, database)
        except FileExistsError:
            return
        except OSError:
            # A disk without hard links: the gap between look and rename is accepted there.
            if database.exists():
                return
            part.rename(database)
        fsync_folder(database.parent)
    finally:
        for leftover in (part, part.with_name(part.name + "-journal")):
            leftover.unlink(missing_ok=True)


def copy_database(engine: Engine, target: Path) -> None:
    """Copy a live database page by page through SQLite's backup interface.

    Copying the file would lose what stands in the journal. The copy gets its name when whole.

    Parameters
    ----------
    engine : Engine [-]
        Of the source.
    target : Path [-]
        A new file.

    Raises
    ------
    StoreRefused
        There is such a file already.
    """
    if target.exists():
        raise StoreRefused(f"{target}: a backup must be a new file, found one there",
                           hint="choose another name")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".part")
    source = engine.raw_connection()
    copy = sqlite3.connect(part)
    try:
        cast(sqlite3.Connection, source.driver_connection).backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
    finally:
        copy.close()
        source.close()
    part.replace(target)
    fsync_folder(target.parent)
