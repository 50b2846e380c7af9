"""Settings by name, the fleet context that verdicts rest on, and the counters of change."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import delete, insert, select, update

from oiltrend.errors import ValueRefused
from oiltrend.store.base import Reads, Writes, as_json
from oiltrend.store.schema import TABLES

__all__ = ["SettingReads", "SettingWrites", "StoredContext"]


@dataclass(frozen=True, slots=True)
class StoredContext:
    """What was worked out from the whole fleet, for verdicts about single engines."""

    id: int
    kind: str
    made_at: datetime
    document: dict[str, Any]


class SettingReads(Reads):
    """Questions about settings."""

    def setting(self, name: str, default: Any) -> Any:
        """Fetch a setting.

        Parameters
        ----------
        name : str [-]
            Its name.
        default : object [-]
            What to give when it was never set.

        Returns
        -------
        object [-]
            What was set: text, number, yes/no, None, list or dict of these.
        """
        table = TABLES["setting"]
        with self._reading() as connection:
            found = connection.execute(
                select(table.c.value).where(table.c.name == name)).scalar_one_or_none()
        return default if found is None else json.loads(found)

    def context(self, kind: str) -> StoredContext | None:
        """Fetch the newest fleet context of a kind.

        Parameters
        ----------
        kind : str [-]
            What it is for.

        Returns
        -------
        StoredContext or None [-]
            None when none was ever kept.
        """
        table = TABLES["context"]
        with self._reading() as connection:
            row = connection.execute(select(table).where(table.c.kind == kind).order_by(
                table.c.id.desc()).limit(1)).mappings().one_or_none()
        if row is None:
            return None
        return StoredContext(row["id"], kind, datetime.fromisoformat(row["made_at"]),
                             json.loads(row["document"]))

    def data_version(self) -> int:
        """Tell a number that grows with every change of what verdicts rest on.

        Returns
        -------
        int [-]
            From 0 upwards; verdicts and contexts do not move it.
        """
        return self._counter("data")

    def watch_version(self) -> int:
        """Tell a number that grows with every change of a verdict in the list.

        Returns
        -------
        int [-]
            From 0 upwards.
        """
        return self._counter("watch")

    def versions(self) -> tuple[int, ...]:
        """Tell all numbers that grow with changes, in one look.

        Returns
        -------
        tuple of int [-]
            The same as long as nothing was written that an answer could rest on.
        """
        table = TABLES["counter"]
        with self._reading() as connection:
            return tuple(connection.execute(
                select(table.c.value).order_by(table.c.name)).scalars())

    def _counter(self, name: str) -> int:
        table = TABLES["counter"]
        with self._reading() as connection:
            return int(connection.execute(
                select(table.c.value).where(table.c.name == name)).scalar_one())


class SettingWrites(SettingReads, Writes):
    """Changes of settings."""

    def set_setting(self, name: str, value: Any) -> None:
        """Keep a setting.

        Parameters
        ----------
        name : str [-]
            Its name.
        value : object [-]
            Text, number, yes/no, None, list or dict of these.

        Raises
        ------
        ValueRefused
            Something that JSON does not know.
        """
        table = TABLES["setting"]
        text = _json(name, value)
        old = self._connection.execute(
            select(table.c.value).where(table.c.name == name)).scalar_one_or_none()
        if old == text:
            return
        self._connection.execute(delete(table).where(table.c.name == name))
        self._connection.execute(insert(table).values(name=name, value=text))
        self._note("setting", None, field=name, old=None if old is None else json.loads(old),
                   new=value)

    def put_context(self, kind: str, document: dict[str, Any]) -> int:
        """Keep what was worked out from the whole fleet.

        Parameters
        ----------
        kind : str [-]
            What it is for.
        document : dict [-]
            JSON values only; unknown numbers None.

        Returns
        -------
        int [-]
            Its number, to be named by verdicts that rest on it.

        Raises
        ------
        ValueRefused
            Something that JSON does not know, such as NaN.
        """
        (number,) = self._insert("context", [{"kind": kind, "made_at": self._at,
                                              "document": _json(kind, document)}])
        return number

    def _grow(self, name: str) -> None:
        table = TABLES["counter"]
        self._connection.execute(update(table).where(table.c.name == name).values(
            value=table.c.value + 1))


def _json(name: str, value: Any) -> str:
    try:
        return as_json(value)
    except (TypeError, ValueError) as fault:
        raise ValueRefused(f"{name}: must hold JSON values only, found one that is none ({fault})",
                           hint="write unknown numbers as None") from fault
