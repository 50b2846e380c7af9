"""Is the store well: version, journal, schema, room on the disk, damage."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, text

from oiltrend.store.faults import DATABASE_FAULTS
from oiltrend.store.migrate import newest_schema, schema_of
from oiltrend.store.sqlite import choose_journal

__all__ = ["look_after"]


def look_after(engine: Engine, folder: Path) -> dict[str, Any]:
    """Look at the state of a store. A damaged one is told about, not raised.

    Parameters
    ----------
    engine : Engine [-]
        Of the database.
    folder : Path [-]
        Of the store.

    Returns
    -------
    dict [-]
        ``database``, ``version``, ``journal``, ``journal_why``, ``synchronous``, ``schema``,
        ``newest_schema``, ``disk_free_bytes``, ``integrity`` (``ok`` or what was found) and
        ``foreign_keys`` (how many rows point to nothing; None where the database watches that
        itself).
    """
    found: dict[str, Any] = {"database": engine.dialect.name, "newest_schema": newest_schema(),
                             "disk_free_bytes": shutil.disk_usage(folder).free}
    try:
        with engine.connect() as connection:
            found["schema"] = schema_of(connection)
            found |= (_sqlite(connection) if engine.dialect.name == "sqlite"
                      else _postgresql(connection))
    except DATABASE_FAULTS as fault:
        found["integrity"] = str(getattr(fault, "orig", None) or fault)
    return found


def _sqlite(connection: Connection) -> dict[str, Any]:
    def ask(pragma: str) -> list[Any]:
        return list(connection.execute(text(f"PRAGMA {pragma}")).fetchall())

    levels = {0: "OFF", 1: "NORMAL", 2: "FULL", 3: "EXTRA"}
    faults = [row[0] for row in ask("quick_check")]
    return {"version": sqlite3.sqlite_version, "journal": ask("journal_mode")[0][0],
            "journal_why": choose_journal(sqlite3.sqlite_version_info)[1],
            "synchronous": levels[ask("synchronous")[0][0]],
            "integrity": "; ".join(faults[:5]),
            "foreign_keys": len(ask("foreign_key_check"))}


def _postgresql(connection: Connection) -> dict[str, Any]:
    def show(name: str) -> str:
        return str(connection.execute(text(f"SHOW {name}")).scalar_one())

    lost = [name for name in ("fsync", "full_page_writes") if show(name) != "on"]
    return {"version": show("server_version"), "journal": "wal",
            "journal_why": "PostgreSQL always writes its log ahead",
            "synchronous": show("synchronous_commit"),
            "integrity": f"the server runs with {', '.join(lost)} off" if lost else "ok",
            "foreign_keys": None}
