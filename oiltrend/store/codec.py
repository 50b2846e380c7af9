"""Records to rows and back, read off the records themselves: a column is a field.

A record's field types say how a field is stored; there is no second list to keep in step.
Dates are ISO text and yes/no is 1 or 0, so that both databases hold the very same values;
dictionaries and word lists are JSON text; readings are packed like those of a sample.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping as AnyMapping
from dataclasses import fields, is_dataclass
from datetime import date
from types import UnionType
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from oiltrend.errors import StoreError
from oiltrend.records import Reading
from oiltrend.store.packing import pack_readings, unpack_readings

__all__ = ["Field", "columns_of", "fields_of", "from_row", "json_of", "json_texts", "to_row"]

R = TypeVar("R")

# kind: text, number, whole, flag, date, json, words, readings, rows
Field = tuple[str, str, bool]
_KNOWN: dict[type[Any], tuple[Field, ...]] = {}
_PACKED = ("panel_values", "panel_qualifiers", "raw")


def fields_of(record: type[Any]) -> tuple[Field, ...]:
    """List a record's fields: name, how it is stored, may it be unknown (None).

    Parameters
    ----------
    record : type [-]
        A record class.

    Returns
    -------
    tuple [-]
        Per field its name, kind and whether None is allowed.

    Examples
    --------
    >>> from oiltrend.records import Ownership
    >>> fields_of(Ownership)[1:3]
    (('owner', 'text', False), ('from_date', 'date', True))
    """
    if record not in _KNOWN:
        # Both namespaces are given: a field called ``date`` must not hide the type ``date``.
        hints = get_type_hints(record, vars(sys.modules[record.__module__]), {})
        _KNOWN[record] = tuple((f.name, *_kind(record, f.name, hints[f.name]))
                               for f in fields(record))
    return _KNOWN[record]


def _kind(record: type[Any], name: str, hint: Any) -> tuple[str, bool]:
    optional = False
    if get_origin(hint) is UnionType or type(None) in get_args(hint):
        optional = True
        (hint,) = (part for part in get_args(hint) if part is not type(None))
    plain = {str: "text", float: "number", int: "whole", bool: "flag", date: "date"}
    if isinstance(hint, type) and hint in plain:
        return plain[hint], optional
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Literal:
        return "text", optional
    if origin is dict:
        return ("readings" if parts[1] is Reading else "json"), optional
    if origin is tuple:
        return ("rows" if is_dataclass(parts[0]) else "words"), optional
    raise StoreError(f"{record.__name__}.{name}: no way is known to store {hint}",
                     hint="add the type to the codec, and a migration")


def json_of(texts: AnyMapping[str, str]) -> str:
    """Write texts by symbol as a sample holds them.

    Parameters
    ----------
    texts : mapping [-]
        Symbol to text.

    Returns
    -------
    str [-]
        A JSON object, ``""`` when there is none.

    Examples
    --------
    >>> json_of({"Fe": "<1"}), json_of({})
    ('{"Fe": "<1"}', '')
    """
    return json.dumps(dict(texts), ensure_ascii=False, sort_keys=True) if texts else ""


def json_texts(text: str) -> dict[str, str]:
    """Read texts by symbol as a sample holds them; the inverse of :func:`json_of`.

    Parameters
    ----------
    text : str [-]
        A JSON object or ``""``.

    Returns
    -------
    dict [-]
        Symbol to text.

    Examples
    --------
    >>> json_texts("")
    {}
    """
    return dict(json.loads(text)) if text else {}


def columns_of(record: type[Any]) -> tuple[str, ...]:
    """List the columns that hold a record, in order.

    Parameters
    ----------
    record : type [-]
        A record class.

    Returns
    -------
    tuple of str [-]
        Column names; rows of their own (the findings of a teardown) have none.
    """
    names: list[str] = []
    for name, kind, _ in fields_of(record):
        if kind == "readings":
            names.extend(_PACKED)
        elif kind != "rows":
            names.append(name)
    return tuple(names)


def to_row(record: Any) -> dict[str, Any]:
    """Turn a record into column values.

    Parameters
    ----------
    record : record [-]
        One of :mod:`oiltrend.records`.

    Returns
    -------
    dict [-]
        Column to value as stored.

    Examples
    --------
    >>> from oiltrend.records import Ownership
    >>> to_row(Ownership("J-1", "Ines", date(2020, 5, 1)))["from_date"]
    '2020-05-01'
    """
    row: dict[str, Any] = {}
    for name, kind, _ in fields_of(type(record)):
        value = getattr(record, name)
        if kind == "readings":
            row.update(zip(_PACKED, pack_readings(value), strict=True))
        elif kind != "rows":
            row[name] = _stored(kind, value)
    return row


def _stored(kind: str, value: Any) -> Any:
    if value is None or value != value:  # NaN says the same as None
        return None
    if kind == "date":
        return value.isoformat()
    if kind in ("flag", "whole"):
        return int(value)
    if kind == "number":
        return float(value)
    if kind in ("json", "words"):
        return json.dumps(value, ensure_ascii=False, sort_keys=True)
    return value


def from_row(record: type[R], row: AnyMapping[Any, Any], *,
             more: AnyMapping[str, Any] | None = None) -> R:
    """Make a record from column values.

    Parameters
    ----------
    record : type [-]
        A record class.
    row : mapping [-]
        Column to value as stored; columns that are no field are passed over.
    more : mapping or None [-]
        Fields that are rows of their own.

    Returns
    -------
    record [-]
        The record.

    Examples
    --------
    >>> from oiltrend.records import Ownership
    >>> row = to_row(Ownership("J-1", "Ines", date(2020, 5, 1)))
    >>> from_row(Ownership, row).from_date
    datetime.date(2020, 5, 1)
    """
    values: dict[str, Any] = dict(more or {})
    for name, kind, _ in fields_of(record):
        if kind == "readings":
            values[name] = unpack_readings(*(row[column] for column in _PACKED))
        elif kind != "rows":
            values[name] = _loaded(kind, row[name])
    return record(**values)


def _loaded(kind: str, value: Any) -> Any:
    if value is None:
        return None
    if kind == "date":
        return date.fromisoformat(value)
    if kind == "flag":
        return bool(value)
    if kind == "json":
        return json.loads(value)
    if kind == "words":
        return tuple(json.loads(value))
    return value
