"""Duplicates and contradictions: inside a file and against the store.

What says the same is a duplicate; what says something else under the same key is a conflict,
and neither side silently wins.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from oiltrend.ingest.findings import Findings
from oiltrend.ingest.model import StoredSamples
from oiltrend.records import SampleTable
from oiltrend.samplekeys import SampleKey, content_hashes, keys_of

__all__ = ["look_up", "mark_groups", "mark_repeats"]

Key = TypeVar("Key", bound=Hashable)
Content = TypeVar("Content")


def look_up(stored: Mapping[Key, Content] | Callable[[Sequence[Key]], Mapping[Key, Content]],
            keys: Sequence[Key]) -> Mapping[Key, Content]:
    """Ask a mapping or a function what is stored under some keys.

    Parameters
    ----------
    stored : mapping, or function of a sequence of keys [-]
        What the store knows.
    keys : sequence [-]
        Keys that are asked for.

    Returns
    -------
    mapping [-]
        Key to content hash, for keys that are stored.

    Examples
    --------
    >>> look_up({"a": 1}, ["a", "b"]), look_up(lambda keys: {keys[0]: 2}, ["a"])
    ({'a': 1}, {'a': 2})
    """
    if isinstance(stored, Mapping):
        return {key: stored[key] for key in keys if key in stored} if stored else {}
    return stored(keys)


def mark_repeats(table: SampleTable, findings: Findings, existing: StoredSamples) -> None:
    """Mark samples that repeat or contradict another one of the file or the store.

    Parameters
    ----------
    table : SampleTable [-]
        One sample for each row of the sheet.
    findings : Findings [-]
        Takes duplicates and conflicts; rows that are bad or held are left alone.
    existing : mapping, or function of a sequence of keys [-]
        Stored samples: key to content hash.
    """
    rows = np.flatnonzero(~findings.bad & ~findings.unknown)
    if not len(rows):
        return
    keys = keys_of(table.take(rows))
    first = dict(zip(reversed(keys), reversed(rows.tolist()), strict=True))
    stored = look_up(existing, list(first))
    # Only samples that have a twin are compared by what they say.
    compared: dict[SampleKey, list[int]] = {key: [first[key]] for key in stored}
    if len(first) < len(keys):
        for row, key in zip(rows.tolist(), keys, strict=True):
            if row != first[key]:
                compared.setdefault(key, [first[key]]).append(row)
    wanted = [row for found in compared.values() for row in found]
    contents = dict(zip(wanted, content_hashes(table.take(np.array(wanted, dtype=np.intp))),
                        strict=True)) if wanted else {}
    mark_groups(compared, contents, stored, findings, what="sample")


def mark_groups(groups: Mapping[Key, Sequence[int]], contents: Mapping[int, Content],
                stored: Mapping[Key, Content], findings: Findings, *, what: str) -> None:
    """Judge groups of rows that stand for the same thing.

    Parameters
    ----------
    groups : mapping of key to sequence of int [-]
        Rows under one key.
    contents : mapping of int to object [-]
        Row to what it says.
    stored : mapping of key to object [-]
        What the store says under the key.
    findings : Findings [-]
        Takes duplicates and conflicts.
    what : str [-]
        Word for the thing, for messages.
    """
    for key, rows in groups.items():
        said = {contents[row] for row in rows}
        if len(said) > 1:
            lines = [int(findings.sheet.lines[row]) for row in rows]
            for row, line in zip(rows, lines, strict=True):
                others = ", ".join(str(n) for n in lines if n != line)
                findings.row(row, "", f"the same {what} must say the same everywhere; line "
                             f"{others} says something else",
                             "delete the wrong row, or give each its own sample_id"
                             if what == "sample" else "delete the wrong row")
        elif key in stored and stored[key] not in said:
            for row in rows:
                findings.row(row, "", f"this {what} is stored already and says something else "
                             "there", f"correct the stored {what}, or delete this row")
        else:
            repeated = rows if key in stored else rows[1:]
            findings.repeated[list(repeated)] = True
