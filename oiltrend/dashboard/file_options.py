"""What was said about a file so far: kept in the page as plain data, made into options here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from oiltrend.dashboard.context import current_store
from oiltrend.dashboard.inputs import short_text
from oiltrend.ingest import ParsedFile, ReadOptions
from oiltrend.records import Mapping as FileMapping
from oiltrend.service import mappings

__all__ = ["Said", "file_options", "learned", "said_more"]

# Answers by question code; those about one column or one engine are dicts by its name.
Said = dict[str, Any]
_OPTIONS = ("date_order", "decimal", "meter", "engine", "create_family")
_BY_COLUMN = {"column": "matches", "unit": "matches", "measurand": "matches", "held": "engines"}


def said_more(said: object, answers: Iterable[tuple[object, object, object]]) -> Said:
    """Add answers to what was said before; an empty one changes nothing.

    Parameters
    ----------
    said : object [-]
        What was said before, as received.
    answers : iterable of (code, column, value) [-]
        As received.

    Returns
    -------
    dict [-]
        Everything said so far.
    """
    before = said if isinstance(said, dict) else {}
    known: Said = {code: short_text(before.get(code)) for code in _OPTIONS}
    for group in ("matches", "engines"):
        held = before.get(group)
        known[group] = {short_text(k): short_text(v) for k, v in held.items()
                        } if isinstance(held, dict) else {}
    for code, column, value in answers:
        text = short_text(value)
        if not text:
            continue
        if code in _OPTIONS:
            known[str(code)] = text
        elif code in _BY_COLUMN:
            known[_BY_COLUMN[str(code)]][short_text(column)] = text
    return known


def file_options(said: Said, *, lab: str, mapping: str) -> ReadOptions:
    """Make the options of a reading.

    Parameters
    ----------
    said : dict [-]
        What was said.
    lab : str [-]
        Laboratory the file came from.
    mapping : str [-]
        Name of a remembered way to read; "" for none.

    Returns
    -------
    ReadOptions [-]
        For the service.
    """
    base = mappings.named_mapping(current_store(), mapping) if mapping else None
    if said["engines"]:
        held = base or FileMapping("", {}, {}, {})
        base = replace(held, engines={**held.engines, **said["engines"]})
    return ReadOptions(date_order=said["date_order"], decimal=said["decimal"],
                       meter=said["meter"], engine=said["engine"], mapping=base,
                       matches=said["matches"], lab=lab)


def learned(parsed: ParsedFile, said: Mapping[str, Any], *, name: str, lab: str) -> FileMapping:
    """Turn what was answered about a file into a way to read the next one.

    Parameters
    ----------
    parsed : ParsedFile [-]
        The file as it was understood.
    said : mapping [-]
        What was answered.
    name : str [-]
        Under which it is remembered.
    lab : str [-]
        Laboratory.

    Returns
    -------
    FileMapping [-]
        Headings whose meaning the program did not know by itself, their units, and answers.
    """
    own = [one for one in parsed.matched if one.how in ("user", "mapping")]
    return FileMapping(
        name, columns={one.heading: one.column for one in own}, engines=dict(said["engines"]),
        units={one.heading: one.unit for one in own if one.unit != "-"}, lab=lab,
        date_order=said["date_order"], decimal=said["decimal"], meter=said["meter"])
