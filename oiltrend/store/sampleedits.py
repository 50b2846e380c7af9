"""Changes of samples: add, correct, answer a doubt, fill in an awaited result, void.

What a laboratory reported is never overwritten: before a sample changes, the whole row as it
was goes to ``sample_version``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from collections.abc import Mapping as AnyMapping
from datetime import date
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, insert, select, update

from oiltrend.errors import NotThere, StoreError, ValueRefused
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import Reading, SampleTable
from oiltrend.samplekeys import content_hashes
from oiltrend.store.base import Writes, chunks
from oiltrend.store.codec import json_of, json_texts
from oiltrend.store.recordwrites import changed_meanwhile
from oiltrend.store.samplerows import SAID, columns_of_table, merged, table_of_columns
from oiltrend.store.samples import SampleReads
from oiltrend.store.schema import TABLES

__all__ = ["SampleWrites"]

DoubtAnswer = Literal["", "confirmed", "set_aside"]
_EDITED = tuple(name for name in SAID
                if name not in ("panel_values", "panel_qualifiers", "raw", "line"))


class SampleWrites(SampleReads, Writes):
    """Changes of samples."""

    def add_samples(self, table: SampleTable, *, import_id: int | None = None) -> NDArray[np.int64]:
        """Add samples, all of them or none.

        Parameters
        ----------
        table : SampleTable [-]
            Samples.
        import_id : int or None [-]
            The import they came from; None for samples typed in.

        Returns
        -------
        array of int, shape (n,) [-]
            Their numbers, in the same order.

        Raises
        ------
        NotThere
            A sample names an engine that is not there.
        """
        rows = len(table)
        if not rows:
            return np.empty(0, dtype=np.int64)
        self._require("engine", table.engine.tolist())
        ids = self._new_ids(TABLES["sample"], rows)
        columns: dict[str, Sequence[Any]] = {
            **columns_of_table(table), "id": list(ids), "rev": [1] * rows,
            "doubt_answer": [""] * rows, "import_id": [import_id] * rows,
            "changed_at": [self._at] * rows, "changed_by": [self._caller.name] * rows}
        self._insert_fast(columns)
        names = sorted(set(table.engine.tolist()))
        self._note("sample", ids[0] if rows == 1 else None, field="added",
                   new={"count": rows, "first": ids[0], "last": ids[-1], "engines": len(names),
                        "engine": names[0] if len(names) == 1 else None, "import": import_id})
        return np.arange(ids[0], ids[-1] + 1, dtype=np.int64)

    def _insert_fast(self, columns: AnyMapping[str, Sequence[Any]]) -> None:
        # Past SQLAlchemy's handling of every value, which takes four times as long.
        statement = insert(TABLES["sample"]).compile(
            dialect=self._connection.dialect, column_keys=list(columns))
        order = statement.positiontup or []
        rows = list(zip(*(columns[name] for name in order), strict=True))
        for part in chunks(rows):
            self._connection.exec_driver_sql(str(statement), list(part))

    def edit_sample(self, id: int, changes: AnyMapping[str, Any], rev: int) -> int:
        """Correct a sample; the version before stays.

        Parameters
        ----------
        id : int [-]
            Its number.
        changes : mapping [-]
            Column of :class:`~oiltrend.records.SampleTable` to value (None for not known), and
            measurand to :class:`~oiltrend.records.Reading` (None for missing).
        rev : int [-]
            The version that was read.

        Returns
        -------
        int [-]
            The new version; the same when nothing differs.

        Raises
        ------
        ChangedMeanwhile
            Someone else changed it since.
        NotThere
            No such sample, or it was voided; or the engine is not there.
        ValueRefused
            A column that samples do not have, or a value that does not fit.
        """
        old = self._present_sample(id, rev)
        before = table_of_columns({name: [old[name]] for name in SAID})
        after = before.take(np.array([0]))
        for name, value in changes.items():
            if name in PANEL_INDEX:
                _set_reading(after, name, value)
            else:
                _set_column(after, name, value)
        notes = _differences(before, after)
        if not notes:
            return rev
        if "engine" in changes:
            self._require("engine", [changes["engine"]])
        new = {name: column[0] for name, column in columns_of_table(after).items()
               if name in SAID}
        self._replace(old, new)
        for name, was, becomes in notes:
            self._note("sample", old["id"], field=name, old=was, new=becomes)
        return rev + 1

    def answer_doubt(self, id: int, answer: DoubtAnswer, rev: int) -> int:
        """Answer whether a doubted sample is what it says.

        Parameters
        ----------
        id : int [-]
            Its number.
        answer : str [-]
            "confirmed", "set_aside", or "" to open the question again.
        rev : int [-]
            The version that was read.

        Returns
        -------
        int [-]
            The new version; the same when the answer is that already.

        Raises
        ------
        ChangedMeanwhile
            Someone else changed it since.
        NotThere
            No such sample, or it was voided.
        ValueRefused
            Another answer.
        """
        if answer not in ("", "confirmed", "set_aside"):
            raise ValueRefused(f"answer: must be 'confirmed', 'set_aside' or '', found '{answer}'",
                               hint="use one of them")
        old = self._present_sample(id, rev)
        if old["doubt_answer"] == answer:
            return rev
        self._replace(old, {"doubt_answer": answer})
        self._note("sample", old["id"], field="doubt_answer", old=old["doubt_answer"], new=answer)
        return rev + 1

    def fill_awaited(self, id: int, row: SampleTable, rev: int, *,
                     import_id: int | None = None) -> int:
        """Put the result of an awaited sample in.

        What the result says counts; what it does not say (the meter, the observations at the
        change) stays as noted when the sample was drawn.

        Parameters
        ----------
        id : int [-]
            Number of the awaited sample.
        row : SampleTable [-]
            The result, a table of one.
        rev : int [-]
            The version that was read.
        import_id : int or None [-]
            The import it came from; undoing that makes the sample awaited again.

        Returns
        -------
        int [-]
            The new version.

        Raises
        ------
        ChangedMeanwhile
            Someone else changed it since, for instance by putting the result in.
        NotThere
            No such sample, or it was voided.
        StoreError
            The sample is not awaited, or is of another engine.
        """
        old = self._present_sample(id, rev)
        if not old["awaited"] or old["engine"] != row.engine[0]:
            raise StoreError(
                f"sample no. {id}: must be awaited from engine '{row.engine[0]}', found one of "
                f"'{old['engine']}' that is {'' if old['awaited'] else 'not '}awaited",
                hint="add the result as a sample of its own")
        drawn = table_of_columns({name: [old[name]] for name in SAID})
        filled = merged(drawn, row)
        new = {name: column[0] for name, column in columns_of_table(filled).items()}
        # The hash is of the result as it came, so that the same file again is seen as a repeat.
        new["content_hash"] = content_hashes(row)[0]
        self._replace(old, {**new, "filled_by": import_id})
        for name, was, becomes in _differences(drawn, filled):
            self._note("sample", old["id"], field=name, old=was, new=becomes)
        return rev + 1

    def void_samples(self, ids: Iterable[int]) -> int:
        """Take samples out of sight; they stay in the table.

        Parameters
        ----------
        ids : iterable of int [-]
            Their numbers; those voided already are passed over.

        Returns
        -------
        int [-]
            How many were voided.
        """
        table = TABLES["sample"]
        voided: list[int] = []
        for part in chunks([int(id_) for id_ in ids]):
            rule = table.c.id.in_(part) & table.c.voided_at.is_(None)
            voided += self._connection.execute(
                select(table.c.id).where(rule).order_by(table.c.id)).scalars()
            self._void(rule)
        for id_ in voided:
            self._note("sample", id_, field="voided", new=self._at)
        return len(voided)

    def _void(self, rule: ColumnElement[bool]) -> int:
        table = TABLES["sample"]
        return self._connection.execute(update(table).where(rule).values(
            voided_at=self._at, rev=table.c.rev + 1, changed_at=self._at,
            changed_by=self._caller.name)).rowcount

    def _present_sample(self, id: int, rev: int) -> dict[str, Any]:
        # A number out of an array is not one to the databases.
        id, rev = int(id), int(rev)
        table = TABLES["sample"]
        row = self._connection.execute(select(table).where(
            table.c.id == id, table.c.voided_at.is_(None))).mappings().one_or_none()
        if row is None:
            raise NotThere(f"sample: must be one that the store has, found no. {id}",
                           hint="it may have been voided meanwhile")
        if row["rev"] != rev:
            raise changed_meanwhile(f"sample no. {id}", rev=rev, row=dict(row))
        return dict(row)

    def _replace(self, old: AnyMapping[str, Any], changes: AnyMapping[str, Any]) -> None:
        table = TABLES["sample"]
        self._insert("sample_version", [{**old, "replaced_at": self._at, "why": self._why,
                                         "replaced_by": self._caller.name}])
        self._connection.execute(
            update(table).where(table.c.id == old["id"], table.c.rev == old["rev"]).values(
                {**changes, "rev": old["rev"] + 1, "changed_at": self._at,
                 "changed_by": self._caller.name}))


def _set_column(table: SampleTable, name: str, value: Any) -> None:
    if name not in _EDITED:
        raise ValueRefused(f"sample: must be changed in one of its columns, found '{name}'",
                           hint="use a measurand or one of " + ", ".join(_EDITED))
    array = getattr(table, name)
    fits = {"O": isinstance(value, str), "M": value is None or isinstance(value, date),
            "f": value is None or isinstance(value, int | float), "i": isinstance(value, int),
            "b": isinstance(value, bool)}[array.dtype.kind]
    if not fits:
        kind = {"O": "text", "M": "a date", "f": "a number", "i": "a whole number",
                "b": "yes or no"}[array.dtype.kind]
        raise ValueRefused(f"{name}: must be {kind}, found {value!r}", hint="correct the value")
    unknown = {"M": np.datetime64("NaT"), "f": np.nan}
    array[0] = unknown[array.dtype.kind] if value is None else value


def _set_reading(table: SampleTable, symbol: str, reading: Reading | None) -> None:
    column = PANEL_INDEX[symbol]
    known = reading is not None and reading.value is not None
    table.value[0, column] = reading.value if reading is not None and known else np.nan
    table.qualifier[0, column] = 0 if reading is None else reading.qualifier
    texts = json_texts(table.raw[0])
    texts.pop(symbol, None)
    if reading is not None and reading.raw:
        texts[symbol] = reading.raw
    table.raw[0] = json_of(texts)


def _differences(before: SampleTable, after: SampleTable) -> list[tuple[str, object, object]]:
    was, becomes = columns_of_table(before), columns_of_table(after)
    notes: list[tuple[str, object, object]] = [
        (name, was[name][0], becomes[name][0]) for name in _EDITED
        if was[name][0] != becomes[name][0]]
    for symbol in PANEL_INDEX:
        old, new = _shown(before, symbol), _shown(after, symbol)
        if old != new:
            notes.append((symbol, old, new))
    return notes


def _shown(table: SampleTable, symbol: str) -> list[object]:
    column = PANEL_INDEX[symbol]
    value = float(table.value[0, column])
    return [None if np.isnan(value) else value, int(table.qualifier[0, column]),
            json_texts(table.raw[0]).get(symbol, "")]
