"""Limits by version: a set of limits is replaced whole, and what it was stays to be read.

The current set is what engines are judged by; a trial set is kept beside it to see what it
would do. A limit in a version is never changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from sqlalchemy import select, update

from oiltrend.errors import NotThere, StoreError
from oiltrend.records import Limit
from oiltrend.store.base import Reads, Writes
from oiltrend.store.codec import from_row, to_row
from oiltrend.store.recordwrites import changed_meanwhile
from oiltrend.store.schema import TABLES

__all__ = ["LimitReads", "LimitVersion", "LimitWrites"]


@dataclass(frozen=True, slots=True)
class LimitVersion:
    """One set of limits: when, by whom, why, and whether it is the one in force."""

    id: int
    made_at: datetime
    made_by: str
    note: str
    state: Literal["current", "trial", "past"]
    import_id: int | None


class LimitReads(Reads):
    """Questions about limits."""

    def limits(self, *, version: int | None = None) -> list[Limit]:
        """Fetch a set of limits.

        Parameters
        ----------
        version : int or None [-]
            Its number; None for the current set.

        Returns
        -------
        list of Limit [-]
            Empty when none was ever set.

        Raises
        ------
        NotThere
            No version with this number.
        """
        head, rows = TABLES["limit_version"], TABLES["limit"]
        rule = head.c.state == "current" if version is None else head.c.id == version
        with self._reading() as connection:
            found = connection.execute(select(head.c.id).where(rule)).scalar_one_or_none()
            if found is None:
                if version is None:
                    return []
                raise NotThere(f"limits: must be a version that was set, found no. {version}",
                               hint="see the history of the limits")
            return [from_row(Limit, row) for row in connection.execute(
                select(rows).where(rows.c.version == found).order_by(rows.c.id)).mappings()]

    def limit_versions(self) -> list[LimitVersion]:
        """List all sets of limits.

        Returns
        -------
        list of LimitVersion [-]
            Newest first.
        """
        head = TABLES["limit_version"]
        with self._reading() as connection:
            rows = connection.execute(select(head).order_by(head.c.id.desc())).mappings().all()
        return [LimitVersion(row["id"], datetime.fromisoformat(row["made_at"]), row["made_by"],
                             row["note"], row["state"], row["import_id"]) for row in rows]


class LimitWrites(LimitReads, Writes):
    """Changes of limits."""

    def set_limits(self, limits: Sequence[Limit], note: str, *, trial: bool = False,
                   based_on: int | None = None, import_id: int | None = None) -> int:
        """Make a new set of limits.

        Parameters
        ----------
        limits : sequence of Limit [-]
            The whole set, for all families.
        note : str [-]
            What changed and why, shown in the history.
        trial : bool [-]
            Keep it beside the current set instead of putting it in force.
        based_on : int or None [-]
            The current version that the caller had before him; None where there was none.
        import_id : int or None [-]
            The import it came from.

        Returns
        -------
        int [-]
            The number of the new version.

        Raises
        ------
        ChangedMeanwhile
            Someone else set limits since.
        StoreError
            Two limits of the set are about the same thing.
        """
        head = TABLES["limit_version"]
        current = self._connection.execute(
            select(head).where(head.c.state == "current")).mappings().one_or_none()
        if not trial:
            self._refuse_overtaken(dict(current) if current else None, based_on)
        before = {} if current is None or trial else _by_place(self.limits(version=current["id"]))
        after = _by_place(limits)
        if current is not None and not trial:
            self._connection.execute(
                update(head).where(head.c.id == current["id"]).values(state="past"))
        (version,) = self._insert("limit_version", [{
            "made_at": self._at, "made_by": self._caller.name, "note": note,
            "state": "trial" if trial else "current", "import_id": import_id,
            "follows": None if current is None else current["id"]}])
        self._insert("limit", [{"version": version, **to_row(limit)} for limit in limits])
        self._note("limit_version", version, field="trial" if trial else "current",
                   old=None if current is None else current["id"],
                   new={"limits": len(limits), "note": note})
        if import_id is None and not trial:
            for place in sorted({*before, *after}):
                old, new = before.get(place), after.get(place)
                if old != new:
                    self._note("limit", version, field=place, old=old and to_row(old),
                               new=new and to_row(new))
        return version

    def _carry_limits(self, *, old: str, new: str) -> None:
        """Make a set in which a family that was renamed keeps its limits."""
        head = TABLES["limit_version"]
        version = self._connection.execute(
            select(head.c.id).where(head.c.state == "current")).scalar_one_or_none()
        limits = self.limits()
        if any(limit.family == old for limit in limits):
            self.set_limits(
                [replace(limit, family=new) if limit.family == old else limit
                 for limit in limits], f"family '{old}' is called '{new}' now", based_on=version)

    @staticmethod
    def _refuse_overtaken(current: dict[str, object] | None, based_on: int | None) -> None:
        now = None if current is None else current["id"]
        if now != based_on and current is not None:
            raise changed_meanwhile("limits", rev=based_on or 0, row={
                "rev": now, "changed_at": current["made_at"], "changed_by": current["made_by"]})


def _by_place(limits: Sequence[Limit]) -> dict[str, Limit]:
    placed: dict[str, Limit] = {}
    for limit in limits:
        place = (f"{limit.family} {limit.measurand} {limit.quantity} {limit.level} "
                 f"{limit.operator}")
        if place in placed:
            raise StoreError(f"limits: each must be about something else, found two for '{place}'",
                             hint="leave one of them out")
        placed[place] = limit
    return placed
