"""The store: everything that is kept, on SQLite by default and on PostgreSQL by URL.

:func:`open_store` makes, checks or migrates a store. A :class:`Store` answers questions from
any thread. Changes go through the one gateway::

    with store.write(caller, "why it is done") as tx:
        tx.add(...)

and are there when the block ends, with their audit, or not at all. A record or sample that is
changed must be given with the version (``rev``) that was read; if someone was faster,
:class:`~oiltrend.errors.ChangedMeanwhile` says who and when. Nothing is ever overwritten or
deleted for good: samples keep their former versions, records and samples are only put out of
sight, limits and verdicts are added to.
"""

from __future__ import annotations

from oiltrend.store.audit import AuditEntry
from oiltrend.store.gateway import Transaction
from oiltrend.store.imports import HeldRow, RejectRow, StoredHeld, StoredImport
from oiltrend.store.limitsets import LimitVersion
from oiltrend.store.opening import DATABASE_NAME, open_store
from oiltrend.store.recordrows import Stored
from oiltrend.store.samples import FleetSamples, SampleVersion, StoredSample
from oiltrend.store.settings import StoredContext
from oiltrend.store.shells import FittedShell
from oiltrend.store.store import Store
from oiltrend.store.undo import Left, UndoReport
from oiltrend.store.verdicts import LoggedVerdict, WatchRow

__all__ = [
    "DATABASE_NAME",
    "AuditEntry",
    "FittedShell",
    "FleetSamples",
    "HeldRow",
    "Left",
    "LimitVersion",
    "LoggedVerdict",
    "RejectRow",
    "SampleVersion",
    "Store",
    "Stored",
    "StoredContext",
    "StoredHeld",
    "StoredImport",
    "StoredSample",
    "Transaction",
    "UndoReport",
    "WatchRow",
    "open_store",
]
