"""The audit: who changed what, when and why. Rows are only ever added."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, insert, select

from oiltrend.store.base import Reads, Writes, chunks
from oiltrend.store.schema import TABLES

__all__ = ["AuditEntry", "AuditReads", "AuditWrites"]


@dataclass(frozen=True, slots=True)
class AuditEntry:
    """One change. ``seq`` counts without a gap; ``field`` is "" for a record that was added.

    ``old`` and ``new`` are values as stored; for many rows at once (``field`` "added") ``new``
    says how many and which.
    """

    seq: int
    at: datetime
    who: str
    role: str
    object: str
    object_id: int | None
    field: str
    old: Any
    new: Any
    why: str


class AuditReads(Reads):
    """Questions about the audit."""

    def audit(self, *, object: str = "", object_id: int | None = None, offset: int = 0,
              limit: int = 100) -> list[AuditEntry]:
        """Fetch entries of the audit, newest first.

        Parameters
        ----------
        object : str [-]
            Only about this kind of thing (``engine``, ``sample``, ``limit`` …); "" for all.
        object_id : int or None [-]
            Only about the thing with this number.
        offset, limit : int [-]
            Which part of the list.

        Returns
        -------
        list of AuditEntry [-]
            At most ``limit``.
        """
        table = TABLES["audit"]
        question = select(table).order_by(table.c.seq.desc()).offset(offset).limit(limit)
        if object:
            question = question.where(table.c.object == object)
        if object_id is not None:
            question = question.where(table.c.object_id == object_id)
        with self._reading() as connection:
            rows = connection.execute(question).mappings().all()
        return [AuditEntry(**{**row, "at": datetime.fromisoformat(row["at"]),
                              "old": json.loads(row["old"]), "new": json.loads(row["new"])})
                for row in rows]


class AuditWrites(AuditReads, Writes):
    """Writing the audit, which the gateway does with the commit."""

    def _write_audit(self) -> None:
        table = TABLES["audit"]
        last = self._connection.execute(select(func.max(table.c.seq))).scalar() or 0
        rows = [{"seq": last + step, **entry} for step, entry in enumerate(self._audit, start=1)]
        for part in chunks(rows):
            self._connection.execute(insert(table), list(part))
