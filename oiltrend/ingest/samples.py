"""Rows of a samples file to the table of samples: the wide layout, one row a sample."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from oiltrend.ingest.cells import Locale
from oiltrend.ingest.columns import METHOD_SUFFIX
from oiltrend.ingest.engines import OIL_METERS, RowEngines, find_engines, read_use
from oiltrend.ingest.fields import Fields, read_fields
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.matching import Plan
from oiltrend.ingest.model import Known, ReadOptions
from oiltrend.ingest.repeats import mark_repeats
from oiltrend.ingest.sheet import Sheet
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import (
    FILTER_FINDINGS,
    LEVELS_AT_SAMPLING,
    Qualifier,
    SampleTable,
    empty_samples,
)

__all__ = ["VOLUME_METHOD", "json_objects", "read_facts", "read_samples"]

VOLUME_METHOD = "% volume"
_BLOCK = 8192


def read_samples(sheet: Sheet, plan: Plan, findings: Findings, *, locale: Locale,
                 options: ReadOptions, known: Known) -> SampleTable:
    """Read a samples file of the wide layout.

    Parameters
    ----------
    sheet : Sheet [-]
        Rows of text.
    plan : Plan [-]
        Which column is which.
    findings : Findings [-]
        Takes rejects, held rows, duplicates and notes.
    locale : Locale [-]
        Decimal sign and order of dates.
    options : ReadOptions [-]
        Engine, laboratory and method of rows that name none.
    known : Known [-]
        Engines and samples of the store.

    Returns
    -------
    SampleTable [-]
        The accepted rows.
    """
    fields = read_fields(sheet, plan, findings, locale=locale)
    engines = find_engines(fields, findings, options=options, known=known)
    table = read_facts(fields, engines, sheet, plan, findings, options=options)
    symbols = [name for name in plan.position if name in PANEL_INDEX]
    for symbol in symbols:
        found, codes = fields.understood[symbol], fields.cells[symbol].codes
        table.value[:, PANEL_INDEX[symbol]] = found.values[codes]
        if found.qualifiers is not None:
            table.qualifier[:, PANEL_INDEX[symbol]] = found.qualifiers[codes]
    table = replace(table, raw=_raw(fields, symbols), methods=_methods(fields, plan, table))
    mark_repeats(table, findings, known.existing)
    return table.take(findings.accepted)


def read_facts(fields: Fields, engines: RowEngines, sheet: Sheet, plan: Plan, findings: Findings,
               *, options: ReadOptions) -> SampleTable:
    """Read everything of a sample but its readings.

    Parameters
    ----------
    fields : Fields [-]
        The columns as read.
    engines : RowEngines [-]
        Engine of each row.
    sheet : Sheet [-]
        For the lines.
    plan : Plan [-]
        For the headings.
    findings : Findings [-]
        Takes rows without date and meter.
    options : ReadOptions [-]
        Laboratory and method of rows that name none.

    Returns
    -------
    SampleTable [-]
        One row for each row of the sheet, with every reading MISSING.
    """
    meter = read_use(fields, findings, plan, engines)
    oil_distance = read_use(fields, findings, plan, engines, names=OIL_METERS)
    dates = fields.dates("sample_date")
    findings.rows(np.isnat(dates) & np.isnan(meter), "",
                  "a sample must have a date or a meter reading", "give one of the two")
    mapping = options.mapping
    lab = options.lab or (mapping.lab if mapping else "")
    return replace(
        empty_samples(fields.rows),
        engine=engines.name, sample_date=dates, meter=meter,
        meter_unit=engines.hours.astype(np.int8), oil_distance=oil_distance,
        oil_changed=fields.flags("oil_changed"), top_up_l=fields.numbers("top_up_l"),
        level_at_sampling=fields.codes("level_at_sampling", LEVELS_AT_SAMPLING),
        refill_l=fields.numbers("refill_l"), oil_product=fields.texts("oil_product"),
        refill_product=fields.texts("refill_product"), lab=fields.texts("lab", default=lab),
        method=fields.texts("method", default=options.method), sample_id=fields.texts("sample_id"),
        note=fields.texts("note"), filter_finding=fields.codes("filter_finding", FILTER_FINDINGS),
        hot_oil_pressure_bar=fields.numbers("hot_oil_pressure_bar"),
        noise=fields.flags("noise"), glitter=fields.flags("glitter"), line=sheet.lines)


def _raw(fields: Fields, symbols: list[str]) -> NDArray[np.object_]:
    """Build each row's readings as received, symbol to text."""
    out = np.empty(fields.rows, dtype=object)
    makers = [_member_maker(symbol, fields) for symbol in symbols]
    # Block by block, so that the members of the whole file never stand in memory together.
    for start in range(0, fields.rows, _BLOCK):
        block = slice(start, min(start + _BLOCK, fields.rows))
        out[block] = json_objects([make(block) for make in makers], block.stop - start)
    return out


def _member_maker(symbol: str, fields: Fields) -> Callable[[slice], list[str]]:
    """Give the way to make a block of JSON members of one column."""
    cells, odd = fields.cells[symbol], fields.understood[symbol].odd
    texts = _objects(cells.texts)
    if len(texts) * 4 < fields.rows:
        # Few texts on many rows: each member is made once.
        members = _objects([_member(symbol, text.strip()) for text in cells.texts])
        return lambda block: members[cells.codes[block]].tolist()
    is_odd = np.zeros(len(texts), dtype=bool)
    is_odd[list(odd)] = True

    def make(block: slice) -> list[str]:
        # Plain numbers need no escaping: a block of them is made by one replacement.
        codes = cells.codes[block]
        words, rows = texts[codes], np.flatnonzero(is_odd[codes]).tolist()
        words[rows] = ""
        before, after = f'"{symbol}":"', '",'
        joined = "\n".join(words.tolist()).replace("\n", f"{after}\n{before}")
        made = f"{before}{joined}{after}".split("\n")
        for row in rows:
            made[row] = _member(symbol, texts[codes[row]].strip())
        return made
    return make


def _member(symbol: str, text: str) -> str:
    return f'"{symbol}":{json.dumps(text, ensure_ascii=False)},' if text else ""


def _methods(fields: Fields, plan: Plan, table: SampleTable) -> NDArray[np.object_]:
    """Build each row's methods by measurand: what the file says, and shares of volume."""
    pieces = []
    for symbol in PANEL:
        named = fields.texts(f"{symbol}{METHOD_SUFFIX}")
        volume = symbol in plan.position and plan.unit(symbol).endswith("(V/V)")
        if volume:
            named = np.where(named == "", VOLUME_METHOD, named + f", {VOLUME_METHOD}")
        elif f"{symbol}{METHOD_SUFFIX}" not in fields.values:
            continue
        missing = table.qualifier[:, PANEL_INDEX[symbol]] == Qualifier.MISSING
        texts, codes = np.unique(np.where(missing, "", named).astype(str), return_inverse=True)
        made = _objects([_member(symbol, text) for text in texts.tolist()])
        pieces.append(made[codes].tolist())
    return json_objects(pieces, fields.rows)


def _objects(texts: list[str]) -> NDArray[np.object_]:
    out = np.empty(len(texts), dtype=object)
    out[:] = texts
    return out


def json_objects(pieces: list[list[str]], rows: int) -> NDArray[np.object_]:
    """Join the members of each row to one JSON object.

    Parameters
    ----------
    pieces : list of list of str [-]
        For each measurand one ``"symbol":"text",`` a row, ``""`` where there is none.
    rows : int [-]
        Number of rows.

    Returns
    -------
    array of str, shape (n,) [-]
        One object a row, ``""`` where it has no member.

    Examples
    --------
    >>> json_objects([['"Fe":"1",', ""], ['"Cu":"<1",', ""]], 2).tolist()
    ['{"Fe":"1","Cu":"<1"}', '']
    """
    joined: Iterable[str] = map("".join, zip(*pieces, strict=True)) if pieces else [""] * rows
    out = np.empty(rows, dtype=object)
    out[:] = [f"{{{members[:-1]}}}" if members else "" for members in joined]
    return out
