"""When are two records of the other kinds the same one, and do they say the same thing."""

from __future__ import annotations

import json
from dataclasses import fields
from hashlib import blake2b
from typing import Any

from oiltrend.ingest.model import Item
from oiltrend.records import Engine, Event, Family, Limit, NewOil, Reading, ShellFinding, Teardown

__all__ = ["item_hash", "item_key"]


def item_key(item: Item) -> str:
    """Name the thing that a record is about.

    Parameters
    ----------
    item : record [-]
        Event, Teardown, Engine, Family, NewOil or Limit.

    Returns
    -------
    str [-]
        A JSON list: the kind, then what tells one from another.

    Examples
    --------
    >>> item_key(Engine("E1", "F1")), item_key(Family("F1"))
    ('["engine", "E1"]', '["family", "F1"]')
    """
    parts: tuple[object, ...]
    if isinstance(item, Event):
        parts = ("event", item.engine, item.event, _day(item.date), item.meter)
    elif isinstance(item, Teardown):
        parts = ("teardown", item.engine, _day(item.teardown_date), item.meter)
    elif isinstance(item, Engine):
        parts = ("engine", item.engine)
    elif isinstance(item, Family):
        parts = ("family", item.family)
    elif isinstance(item, NewOil):
        parts = ("new-oil", item.oil_product, item.batch, item.lab, _day(item.sample_date))
    else:
        parts = ("limit", item.family, item.measurand, item.quantity, item.level,
                 _day(item.valid_from))
    return json.dumps(parts, ensure_ascii=False)


def item_hash(item: Item) -> str:
    """Give a record a hash of what it says.

    Blank fields, file lines and texts as received do not count, so that a field added later
    does not change the hash of records that do not have it.

    Parameters
    ----------
    item : record [-]
        Event, Teardown, Engine, Family, NewOil or Limit.

    Returns
    -------
    str [-]
        32 hexadecimal digits.

    Examples
    --------
    >>> item_hash(Engine("E1", "F1")) == item_hash(Engine("E1", "F1", note="rebuilt"))
    False
    """
    text = json.dumps(_said(item), ensure_ascii=False, sort_keys=True)
    return blake2b(text.encode("utf-8", "replace"), digest_size=16).hexdigest()


def _day(day: Any) -> str:
    return day.isoformat() if day else ""


def _said(value: Any) -> Any:
    if isinstance(value, Reading):
        return [value.value, int(value.qualifier)]
    if isinstance(value, (Event, Teardown, Engine, Family, NewOil, Limit, ShellFinding)):
        return {f.name: _said(getattr(value, f.name)) for f in fields(value)
                if f.name != "line" and getattr(value, f.name) not in (None, "", ())}
    if isinstance(value, dict):
        return {key: _said(one) for key, one in value.items()}
    if isinstance(value, tuple):
        return [_said(one) for one in value]
    return value.isoformat() if hasattr(value, "isoformat") else value
