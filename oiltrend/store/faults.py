"""What the database says when it cannot, turned into a sentence and a hint."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from oiltrend.errors import StoreError

__all__ = ["DATABASE_FAULTS", "plain_fault", "plain_faults"]

# A damaged SQLite file can also surface as text that is not UTF-8; text with lone surrogates
# cannot be written to either database.
DATABASE_FAULTS = (SQLAlchemyError, sqlite3.Error, UnicodeError)

_KNOWN: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("database is locked", "lock timeout", "locknottavailable", "database table is locked"),
     "another program has been writing for longer than ten seconds", "try again"),
    (("disk i/o error", "disk is full", "no space left", "unable to open database file"),
     "the disk could not be written or read", "free some space, then try again"),
    (("readonly database", "read-only"),
     "the database may only be read here", "ask for the right to write in its folder"),
    (("malformed", "not a database", "codec can't decode", "invalid page"),
     "the database is damaged", "restore the last backup; keep the damaged file"),
    (("codec can't encode", "nul (0x00)", "surrogates"),
     "a text holds a character that cannot be stored", "remove the character"),
    (("unique constraint", "uniqueviolation", "duplicate key"),
     "there is already such a record", "open the one that is there"),
    (("foreign key", "foreignkeyviolation"),
     "it names something that the store does not have", "add that first"),
    (("rows are only ever added",),
     "what was written to the log stays as it is", ""),
    (("connection", "server closed", "terminating"),
     "the database server cannot be reached", "see that it runs, then try again"),
)


def plain_fault(fault: BaseException, *, during: str) -> StoreError:
    """Say in one sentence what a database error means.

    Parameters
    ----------
    fault : exception [-]
        As the database driver raised it.
    during : str [-]
        What was being done.

    Returns
    -------
    StoreError [-]
        The sentence, with what the database itself said, and a hint.

    Examples
    --------
    >>> fault = sqlite3.OperationalError("database is locked")
    >>> print(plain_fault(fault, during="writing").message)
    writing: another program has been writing for longer than ten seconds (database is locked)
    """
    # SQLAlchemy's own text carries the statement and its values; the driver's does not.
    cause = getattr(fault, "orig", None) or fault
    said = str(cause).strip().splitlines()[0] if str(cause).strip() else type(cause).__name__
    searched = f"{type(cause).__name__} {cause}".lower()
    for marks, words, hint in _KNOWN:
        if any(mark in searched for mark in marks):
            return StoreError(f"{during}: {words} ({said})", hint=hint)
    if isinstance(fault, IntegrityError):
        return StoreError(f"{during}: a rule of the store was broken ({said})",
                          hint="correct the value")
    return StoreError(f"{during}: the database refused ({said})", hint="see the health page")


@contextmanager
def plain_faults(during: str) -> Iterator[None]:
    """Turn database errors raised inside the block into :class:`StoreError`.

    Parameters
    ----------
    during : str [-]
        What is being done.

    Yields
    ------
    None [-]
        Nothing.

    Raises
    ------
    StoreError
        The database could not do what the block asked.
    """
    try:
        yield
    except DATABASE_FAULTS as fault:
        raise plain_fault(fault, during=during) from fault
