"""Questions about samples: a fleet as arrays, one sample with its history, keys for repeats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Select, select

from oiltrend.errors import NotThere
from oiltrend.records import SampleTable
from oiltrend.samplekeys import SampleKey, sample_key
from oiltrend.store.base import Reads, chunks, raw_rows
from oiltrend.store.samplerows import SAID, order_of, table_of_columns
from oiltrend.store.schema import TABLES

__all__ = ["FleetSamples", "SampleReads", "SampleVersion", "StoredSample"]

_NOT_JUDGED = ("raw", "note", "sample_id", "methods")


@dataclass(frozen=True, slots=True)
class FleetSamples:
    """Samples of a fleet, sorted by engine, then date, meter and number; unknown comes last.

    ``sample`` and ``rev`` are number and version, ``doubt_answer`` is "", "confirmed" or
    "set_aside", ``import_id`` is -1 for a sample that came by hand.
    """

    sample: NDArray[np.int64]
    rev: NDArray[np.int64]
    doubt_answer: NDArray[np.object_]
    import_id: NDArray[np.int64]
    table: SampleTable

    def __len__(self) -> int:
        return len(self.sample)


@dataclass(frozen=True, slots=True)
class StoredSample:
    """One sample as it is kept; ``row`` is a table of one."""

    id: int
    rev: int
    row: SampleTable
    doubt_answer: str
    import_id: int | None
    voided: bool
    changed_at: datetime
    changed_by: str


@dataclass(frozen=True, slots=True)
class SampleVersion:
    """A sample as it was before a change; ``replaced_at``, ``by`` and ``why`` are of the change."""

    rev: int
    row: SampleTable
    replaced_at: datetime
    replaced_by: str
    why: str


class SampleReads(Reads):
    """Questions about samples."""

    def fleet(self, *, engines: Sequence[str] | None = None, until: date | None = None,
              texts: bool = True) -> FleetSamples:
        """Fetch the samples of a fleet, voided ones left out.

        Parameters
        ----------
        engines : sequence of str or None [-]
            Engines; None for all.
        until : date or None [-]
            Leave out samples drawn later; those without a date stay.
        texts : bool [-]
            Fetch what nobody judges by too: the texts as received, notes, sample numbers and
            the methods of single readings; without, a large fleet is read faster and these
            are blank.

        Returns
        -------
        FleetSamples [-]
            Sorted.
        """
        table = TABLES["sample"]
        rules: list[ColumnElement[bool]] = [table.c.voided_at.is_(None)]
        if until is not None:
            rules.append(table.c.sample_date.is_(None)
                         | (table.c.sample_date <= until.isoformat()))
        names = [name for name in SAID if texts or name not in _NOT_JUDGED]
        return self._fleet(_ask(names).where(*rules), names, engines)

    def awaited_samples(self) -> FleetSamples:
        """Fetch the samples that were drawn and whose result is not back.

        Returns
        -------
        FleetSamples [-]
            Sorted.
        """
        table = TABLES["sample"]
        return self._fleet(_ask(SAID).where(table.c.awaited == 1, table.c.voided_at.is_(None)),
                           SAID, None)

    def _fleet(self, question: Select[Any], names: Sequence[str],
               engines: Sequence[str] | None) -> FleetSamples:
        column = TABLES["sample"].c.engine
        parts = [question] if engines is None else [
            question.where(column.in_(part)) for part in chunks(list(dict.fromkeys(engines)))]
        with self._reading() as connection:
            rows = [row for part in parts for row in raw_rows(connection, part)]
        fixed = 4
        columns = list(zip(*rows, strict=True)) or [()] * (fixed + len(names))
        table = table_of_columns(dict(zip(names, columns[fixed:], strict=True)))
        sample = np.array(columns[0], dtype=np.int64)
        order = order_of(table, sample)
        answer = np.full(len(rows), "", dtype=object)
        answer[:] = columns[2]
        origin = np.array([-1 if number is None else number for number in columns[3]],
                          dtype=np.int64)
        return FleetSamples(sample[order], np.array(columns[1], dtype=np.int64)[order],
                            answer[order], origin[order], table.take(order))

    def sample(self, id: int) -> StoredSample:
        """Fetch one sample, also a voided one.

        Parameters
        ----------
        id : int [-]
            Its number.

        Returns
        -------
        StoredSample [-]
            The sample with its version.

        Raises
        ------
        NotThere
            No such sample.
        """
        table = TABLES["sample"]
        with self._reading() as connection:
            row = connection.execute(select(table).where(table.c.id == int(id))).mappings(
                ).one_or_none()
        if row is None:
            raise NotThere(f"sample: must be one that the store has, found no. {id}",
                           hint="see the engine's list of samples")
        return StoredSample(
            row["id"], row["rev"], _one(row), row["doubt_answer"], row["import_id"],
            row["voided_at"] is not None, datetime.fromisoformat(row["changed_at"]),
            row["changed_by"])

    def sample_versions(self, id: int) -> list[SampleVersion]:
        """Fetch what a sample said before it was changed.

        Parameters
        ----------
        id : int [-]
            Its number.

        Returns
        -------
        list of SampleVersion [-]
            Oldest first, without the present one.
        """
        table = TABLES["sample_version"]
        with self._reading() as connection:
            rows = connection.execute(select(table).where(table.c.id == int(id))
                                      .order_by(table.c.rev)).mappings().all()
        return [SampleVersion(row["rev"], _one(row), datetime.fromisoformat(row["replaced_at"]),
                              row["replaced_by"], row["why"]) for row in rows]

    def sample_keys(self, engines: Sequence[str]) -> dict[SampleKey, bytes]:
        """Fetch what the store already holds, to tell a repeat from a contradiction.

        An awaited sample has said nothing yet and is left out. Ask inside the write, so that
        nothing can come in between.

        Parameters
        ----------
        engines : sequence of str [-]
            Engines.

        Returns
        -------
        dict [-]
            Key to content hash, see :mod:`oiltrend.samplekeys`; the hash is of the sample as
            it came, whatever was corrected since.
        """
        table = TABLES["sample"]
        question = select(table.c.engine, table.c.sample_id, table.c.sample_date, table.c.meter,
                          table.c.content_hash).where(table.c.voided_at.is_(None),
                                                      table.c.awaited == 0)
        known: dict[SampleKey, bytes] = {}
        with self._reading() as connection:
            for part in chunks(list(dict.fromkeys(engines))):
                for engine, number, day, meter, content in raw_rows(
                        connection, question.where(table.c.engine.in_(part))):
                    known[sample_key(engine, sample_id=number, sample_date=day or "",
                                     meter=meter)] = bytes(content)
        return known


def _ask(names: Sequence[str]) -> Select[Any]:
    table = TABLES["sample"]
    return select(table.c.id, table.c.rev, table.c.doubt_answer, table.c.import_id,
                  *(table.c[name] for name in names))


def _one(row: Any) -> SampleTable:
    return table_of_columns({name: [row[name]] for name in SAID})
