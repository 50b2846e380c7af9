"""The one way to write: a transaction that is whole or not there, and audited by itself."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext

from sqlalchemy import Connection, Engine

from oiltrend.errors import StoreError, ValueRefused
from oiltrend.records import Caller
from oiltrend.store.audit import AuditWrites
from oiltrend.store.faults import plain_faults
from oiltrend.store.limitsets import LimitWrites
from oiltrend.store.postgres import lock_writers
from oiltrend.store.settings import SettingWrites
from oiltrend.store.shells import ShellWrites
from oiltrend.store.sqlite import WRITING
from oiltrend.store.undo import UndoWrites
from oiltrend.store.verdicts import VerdictWrites

__all__ = ["Gateway", "Transaction"]

_TURN_S = 60.0


class Transaction(UndoWrites, ShellWrites, LimitWrites, VerdictWrites, SettingWrites,
                  AuditWrites):
    """Everything that can be changed and asked inside one write."""

    def _reading(self) -> AbstractContextManager[Connection]:
        return nullcontext(self._connection)

    def _renamed(self, table: str, *, old: str, new: str) -> None:
        super()._renamed(table, old=old, new=new)
        if table == "family":
            self._carry_limits(old=old, new=new)

    def _finish(self) -> None:
        if self._audit:
            self._write_audit()
            self._grow("data")
        if self._watch_changed:
            self._grow("watch")


class Gateway:
    """Lets one write through at a time.

    Inside this process by a lock; against other processes by the database: an immediate
    transaction on SQLite, an advisory lock on PostgreSQL. A write therefore never reads
    something that another one is about to change.

    Parameters
    ----------
    engine : Engine [-]
        Of the database.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._turn = threading.Lock()
        self._writer: int | None = None

    @contextmanager
    def open(self, caller: Caller, why: str) -> Iterator[Transaction]:
        """Begin a write; it is committed at the end of the block, or nothing of it stays.

        Parameters
        ----------
        caller : Caller [-]
            Who writes.
        why : str [-]
            Reason, for the audit.

        Yields
        ------
        Transaction [-]
            To write with.

        Raises
        ------
        ValueRefused
            No reason is given.
        StoreError
            The database cannot be written, or the block is inside another write.
        """
        if not why.strip():
            raise ValueRefused("why: a change must carry its reason, found none",
                               hint="say in a few words what is done")
        if self._writer == threading.get_ident():
            raise StoreError("write: must not begin inside another write, found one open",
                             hint="use the transaction that is there")
        if not self._turn.acquire(timeout=_TURN_S):
            raise StoreError(f"write: another write has been running for more than {_TURN_S:g} s",
                             hint="try again when it is done")
        self._writer = threading.get_ident()
        try:
            with plain_faults("writing"), self._engine.connect().execution_options(
                    **{WRITING: True}) as connection, connection.begin():
                if connection.dialect.name == "postgresql":
                    lock_writers(connection)
                transaction = Transaction(connection, caller=caller, why=why)
                yield transaction
                transaction._finish()
        finally:
            self._writer = None
            self._turn.release()
