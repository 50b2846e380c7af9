"""Samples as rows of the database and back: one packed row each, a fleet in one sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.records import SampleTable, empty_samples
from oiltrend.samplekeys import content_hashes
from oiltrend.store.packing import pack, unpack
from oiltrend.store.schema import SAMPLE_COLUMNS

__all__ = ["SAID", "columns_of_table", "merged", "order_of", "table_of_columns"]

# What a sample says, column by column, as the database holds it.
SAID = tuple(name for name, _ in SAMPLE_COLUMNS)
_KIND = dict(SAMPLE_COLUMNS)


def columns_of_table(table: SampleTable) -> dict[str, list[Any]]:
    """Turn a table of samples into columns of database values.

    Parameters
    ----------
    table : SampleTable [-]
        Samples.

    Returns
    -------
    dict [-]
        Column to values, NaN and NaT as None; with ``content_hash``.

    Examples
    --------
    >>> columns_of_table(empty_samples(1))["meter"]
    [None]
    """
    values, qualifiers = pack(table.value, table.qualifier)
    columns: dict[str, list[Any]] = {"panel_values": values, "panel_qualifiers": qualifiers,
                                     "content_hash": content_hashes(table)}
    for name, kind in SAMPLE_COLUMNS:
        if kind == "number":
            columns[name] = _known(getattr(table, name), np.isnan)
        elif kind == "date":
            columns[name] = _known(np.datetime_as_string(
                getattr(table, name).astype("datetime64[D]")), _not_a_date)
        elif kind == "whole":
            columns[name] = getattr(table, name).astype(np.int64).tolist()
        elif kind == "text":
            columns[name] = getattr(table, name).tolist()
    return columns


def _not_a_date(words: NDArray[Any]) -> NDArray[np.bool_]:
    return np.asarray(words == "NaT")


def _known(array: NDArray[Any], unknown: Any) -> list[Any]:
    plain = array.astype(object)
    plain[unknown(array)] = None
    return list(plain.tolist())


def table_of_columns(columns: dict[str, Sequence[Any]]) -> SampleTable:
    """Turn columns of database values into a table of samples.

    Parameters
    ----------
    columns : dict [-]
        Column to values; a text column that was not asked for comes out blank.

    Returns
    -------
    SampleTable [-]
        Samples, in the same order.

    Examples
    --------
    >>> table = table_of_columns(columns_of_table(empty_samples(2)))
    >>> len(table), str(table.sample_date[0])
    (2, 'NaT')
    """
    rows = len(columns["engine"])
    empty = empty_samples(rows)
    value, qualifier = unpack(columns["panel_values"], columns["panel_qualifiers"])
    arrays: dict[str, NDArray[Any]] = {"value": value, "qualifier": qualifier}
    for name, kind in _KIND.items():
        if kind == "bytes":
            continue
        blank = getattr(empty, name)
        if kind == "text":
            if name in columns:
                blank[:] = columns[name]
            arrays[name] = blank
        else:
            # None becomes NaN or NaT by NumPy itself.
            arrays[name] = np.array(columns[name], dtype=blank.dtype)
    return SampleTable(**arrays)


def order_of(table: SampleTable, sample: NDArray[np.int64]) -> NDArray[np.intp]:
    """Find the order of a fleet: by engine, then date, meter and number, unknown last.

    Parameters
    ----------
    table : SampleTable [-]
        Samples.
    sample : array of int, shape (n,) [-]
        Their numbers.

    Returns
    -------
    array of int, shape (n,) [-]
        Rows in order. Engines sort by code point, on either database.
    """
    names = table.engine.tolist()
    rank = {name: place for place, name in enumerate(sorted(set(names)))}
    engine = np.array([rank[name] for name in names], dtype=np.int64)
    return np.lexsort((sample, table.meter, table.sample_date, engine))


def merged(drawn: SampleTable, result: SampleTable) -> SampleTable:
    """Put a result onto what was noted when the sample was drawn.

    Parameters
    ----------
    drawn, result : SampleTable [-]
        Tables of the same length; what ``result`` knows counts.

    Returns
    -------
    SampleTable [-]
        No longer awaited.

    Examples
    --------
    >>> drawn, result = empty_samples(1), empty_samples(1)
    >>> drawn.meter[0], result.lab[0] = 81200.0, "Lab A"
    >>> both = merged(drawn, result)
    >>> float(both.meter[0]), both.lab[0]
    (81200.0, 'Lab A')
    """
    unknown = empty_samples(1)
    arrays: dict[str, NDArray[Any]] = {
        "value": result.value, "qualifier": result.qualifier, "raw": result.raw,
        "line": result.line, "awaited": np.zeros(len(drawn), dtype=bool)}
    for column in fields(SampleTable):
        if column.name in arrays:
            continue
        new, blank = getattr(result, column.name), getattr(unknown, column.name)[0]
        known = ~np.isnan(new) if new.dtype.kind == "f" else (
            ~np.isnat(new) if new.dtype.kind == "M" else new != blank)
        arrays[column.name] = np.where(known, new, getattr(drawn, column.name))
    # The unit belongs to the reading it was read with: 0 km is a statement, not a blank.
    arrays["meter_unit"] = np.where(np.isnan(result.meter), drawn.meter_unit, result.meter_unit)
    return SampleTable(**arrays)
