"""The store as the rest of the program sees it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from sqlalchemy import Connection, Engine

from oiltrend.errors import StoreError
from oiltrend.records import Caller
from oiltrend.store.audit import AuditReads
from oiltrend.store.faults import plain_faults
from oiltrend.store.files import FileShelf
from oiltrend.store.gateway import Gateway, Transaction
from oiltrend.store.health import look_after
from oiltrend.store.imports import ImportReads
from oiltrend.store.limitsets import LimitReads
from oiltrend.store.recordrows import RecordReads
from oiltrend.store.samples import SampleReads
from oiltrend.store.settings import SettingReads
from oiltrend.store.shells import ShellReads
from oiltrend.store.sqlite import copy_database
from oiltrend.store.verdicts import VerdictReads

__all__ = ["Store"]


class Store(RecordReads, ShellReads, SampleReads, LimitReads, ImportReads, VerdictReads,
            SettingReads, AuditReads, FileShelf):
    """A database and a folder of files. Made by :func:`~oiltrend.store.opening.open_store`.

    Questions can be asked from any thread, each on a connection of its own; what they return
    are copies. Changes are made inside :meth:`write` and nowhere else. A question asked of the
    store inside a write does not see it; ask the transaction instead. A store is not carried
    over into a process that was forked off: open another one there.

    Parameters
    ----------
    engine : Engine [-]
        Of the database, migrated.
    folder : Path [-]
        Holds the raw files, and the database where it is a file.
    """

    def __init__(self, engine: Engine, folder: Path) -> None:
        FileShelf.__init__(self, folder / "files")
        self.folder = folder
        self._engine = engine
        self._gateway = Gateway(engine)
        # One question may take several statements and shall see one state; a file database
        # gives that by itself.
        self._asking = (engine if engine.dialect.name == "sqlite"
                        else engine.execution_options(isolation_level="REPEATABLE READ"))

    def write(self, caller: Caller, why: str) -> AbstractContextManager[Transaction]:
        """Begin a write; it is committed at the end of the block, or nothing of it stays.

        Parameters
        ----------
        caller : Caller [-]
            Who writes.
        why : str [-]
            Reason, for the audit.

        Returns
        -------
        context manager [-]
            Gives the :class:`~oiltrend.store.gateway.Transaction` to write with.

        Raises
        ------
        ValueRefused
            No reason is given.
        StoreError
            The database cannot be written, or the block is inside another write.
        """
        return self._gateway.open(caller, why)

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with plain_faults("reading"), self._asking.connect() as connection:
            yield connection

    def health(self) -> dict[str, Any]:
        """Look at the state of the store, see :func:`oiltrend.store.health.look_after`.

        Returns
        -------
        dict [-]
            Version, journal, schema, room, damage.
        """
        return look_after(self._engine, self.folder)

    def backup_to(self, path: Path) -> None:
        """Copy the database, while it is in use, to a new file.

        Parameters
        ----------
        path : Path [-]
            The new file. Raw files are not in it.

        Raises
        ------
        StoreRefused
            There is such a file already.
        StoreError
            The database is not a file, or the disk could not be written.
        """
        if self._engine.dialect.name != "sqlite":
            raise StoreError("backup: must be of a database that is a file, found PostgreSQL",
                             hint="use pg_dump")
        with plain_faults("backup"):
            copy_database(self._engine, path)

    def close(self) -> None:
        """Let go of the database; what stands in its journal goes into the file."""
        if self._engine.dialect.name == "sqlite":
            with plain_faults("closing"), self._engine.connect() as connection:
                connection.connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.close()
