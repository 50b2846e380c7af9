"""The long layout of a samples file: one row a reading, several rows a sample."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass, replace
from dataclasses import fields as fields_of

import numpy as np
from numpy.typing import NDArray

from oiltrend.ingest.cells import Locale, understand_numbers
from oiltrend.ingest.engines import find_engines
from oiltrend.ingest.fields import Fields, read_fields
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.headings import match_key, measurand_named, units_for
from oiltrend.ingest.matching import IGNORE, Matcher, Plan
from oiltrend.ingest.model import Known, Question, ReadOptions
from oiltrend.ingest.repeats import look_up, mark_groups
from oiltrend.ingest.samples import VOLUME_METHOD, json_objects, read_facts
from oiltrend.ingest.sheet import Sheet
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import Qualifier, SampleTable
from oiltrend.samplekeys import content_hashes, keys_of
from oiltrend.units import parse_unit

__all__ = ["long_questions", "read_long"]

_SKIP = ("measurand", "value", "unit")
# A row of the long layout is about one reading, so these may differ inside a sample.
_OWN = ("engine", "sample_date", "meter", "sample_id", "method", "note", "value", "qualifier",
        "raw", "methods", "line", "meter_unit", "awaited")


@dataclass(frozen=True, slots=True)
class _Readings:
    """What each row says: place of the measurand in the panel (-1 none), number, qualifier."""

    place: NDArray[np.int64]
    value: NDArray[np.float64]
    qualifier: NDArray[np.int8]
    volume: NDArray[np.bool_]


def long_questions(sheet: Sheet, plan: Plan, matcher: Matcher) -> tuple[Question, ...]:
    """Ask for the names in the measurand column that are not known.

    Parameters
    ----------
    sheet : Sheet [-]
        Rows of text.
    plan : Plan [-]
        Of the long layout.
    matcher : Matcher [-]
        Names matched by hand or remembered.

    Returns
    -------
    tuple of Question [-]
        One for each name.
    """
    texts = sheet.cells[plan.position["measurand"]].texts
    return tuple(
        Question("measurand", text.strip(), f"Which measurand is '{text.strip()}'?",
                 (*PANEL, IGNORE))
        for text in texts if text.strip() and not _measurand(text, matcher)[0])


def _measurand(text: str, matcher: Matcher) -> tuple[str, str]:
    """Symbol and unit of a name: said, remembered or known; ``ignore`` is a symbol here."""
    key = match_key(text)
    said, unit = matcher.user.get(key, ("", ""))
    said = said or matcher.remembered.get(key, "")
    if said in PANEL_INDEX or said == IGNORE:
        return said, unit
    return measurand_named(text)


def read_long(sheet: Sheet, plan: Plan, findings: Findings, *, locale: Locale,
              options: ReadOptions, known: Known, matcher: Matcher) -> SampleTable:
    """Read a samples file of the long layout.

    Parameters
    ----------
    sheet : Sheet [-]
        Rows of text.
    plan : Plan [-]
        Which column is which.
    findings : Findings [-]
        Takes rejects, held rows, duplicates and notes; they count rows of the file.
    locale : Locale [-]
        Decimal sign and order of dates.
    options : ReadOptions [-]
        Engine, laboratory and method of rows that name none.
    known : Known [-]
        Engines and samples of the store.
    matcher : Matcher [-]
        Names of measurands matched by hand or remembered.

    Returns
    -------
    SampleTable [-]
        One row a sample, with the readings of the accepted rows.
    """
    found = read_fields(sheet, plan, findings, locale=locale, skip=_SKIP)
    readings = _read_values(sheet, plan, findings, locale, matcher)
    engines = find_engines(found, findings, options=options, known=known)
    facts = read_facts(found, engines, sheet, plan, findings, options=options)
    group, first = _groups(facts, findings)
    _check_agreement(facts, group, first, plan, findings)
    _mark_repeated_readings(group, readings, findings)
    samples = _assemble(facts, found, readings, group, first, findings)
    _against_store(samples, group, findings, known)
    stays = np.zeros(len(first), dtype=bool)
    stays[np.unique(group[findings.accepted])] = True
    return samples.take(stays)


def _read_values(sheet: Sheet, plan: Plan, findings: Findings, locale: Locale,
                 matcher: Matcher) -> _Readings:
    """Read each distinct pair of measurand, unit and text once."""
    names = sheet.cells[plan.position["measurand"]]
    cells = sheet.cells[plan.position["value"]]
    rows = len(sheet.lines)
    place = np.full(rows, -1, dtype=np.int64)
    value = np.full(rows, np.nan)
    qualifier = np.zeros(rows, dtype=np.int8)
    volume = np.zeros(rows, dtype=bool)
    findings.cells(plan.heading("measurand"), names, {
        code: ("must not be blank", "name the measurand")
        for code, text in enumerate(names.texts) if not text.strip()})
    units = sheet.cells[plan.position["unit"]] if "unit" in plan.position else None
    unit_codes = units.codes if units else np.zeros(rows, dtype=np.int32)
    unit_texts = units.texts if units else [""]
    pairs = names.codes.astype(np.int64) * len(unit_texts) + unit_codes
    # A loop over measurands and units, of which a file has a few dozen.
    for pair in np.unique(pairs[~findings.bad]).tolist():
        name, unit_code = divmod(pair, len(unit_texts))
        symbol, named_unit = _measurand(names.texts[name], matcher)
        mask = (pairs == pair) & ~findings.bad
        if symbol == IGNORE:
            findings.remark(plan.heading("measurand"), f"'{names.texts[name].strip()}' was left "
                            f"out as asked, rows: {int(mask.sum())}")
            continue
        unit = _unit(symbol, unit_texts[unit_code], named_unit, names.texts[name], plan, matcher)
        if not unit:
            allowed = ", ".join(units_for(matcher.columns[symbol]))
            findings.rows(mask, plan.heading("unit"), f"the unit of {symbol} must be one of "
                          f"{allowed}", "correct the unit")
            continue
        codes, inverse = np.unique(cells.codes[mask], return_inverse=True)
        read = understand_numbers(matcher.columns[symbol], [cells.texts[c] for c in codes],
                                  unit=unit, decimal=locale.decimal)
        at = np.flatnonzero(mask)
        place[at], value[at] = PANEL_INDEX[symbol], read.values[inverse]
        volume[at] = unit.endswith("(V/V)")
        if read.qualifiers is not None:
            qualifier[at] = read.qualifiers[inverse]
        for code, (reason, hint) in read.problems.items():
            findings.rows(mask & (cells.codes == codes[code]), plan.heading("value"),
                          f"{symbol}: {reason}", hint)
        findings.remarks(plan.heading("value"), cells,
                         {int(codes[code]): text for code, text in read.notes.items()})
    return _Readings(place, value, qualifier, volume)


def _unit(symbol: str, cell: str, named: str, name: str, plan: Plan, matcher: Matcher) -> str:
    """Give the unit of a reading: its own cell, then its name, then the measurand's unit."""
    allowed = units_for(matcher.columns[symbol])
    if cell.strip():
        found = parse_unit(cell) or ""
        return found if found in allowed else ""
    if named:
        return named if named in allowed else ""
    # Absorbances are reported per cm and per 0.1 mm: only our own name says which.
    if matcher.columns[symbol].unit == "Abs/cm" and name.strip() != symbol:
        return ""
    return matcher.columns[symbol].unit


def _groups(facts: SampleTable, findings: Findings) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give each row the number of its sample (-1 for none) and each sample its first row."""
    rows = np.flatnonzero(~findings.bad & ~findings.unknown)
    group = np.full(len(findings.bad), -1, dtype=np.int64)
    numbers: defaultdict[object, int] = defaultdict()
    numbers.default_factory = numbers.__len__
    if len(rows):
        group[rows] = [numbers[key] for key in keys_of(facts.take(rows))]
    first = np.full(len(numbers), -1, dtype=np.int64)
    first[group[rows][::-1]] = rows[::-1]
    return group, first


def _check_agreement(facts: SampleTable, group: NDArray[np.int64], first: NDArray[np.int64],
                     plan: Plan, findings: Findings) -> None:
    """Reject samples whose rows contradict each other outside the readings."""
    rows = np.flatnonzero(group >= 0)
    for column in fields_of(SampleTable):
        if column.name in _OWN or not len(rows):
            continue
        array = getattr(facts, column.name)
        here, there = array[rows], array[first[group[rows]]]
        same = here == there
        if array.dtype.kind == "f":
            same |= np.isnan(here) & np.isnan(there)
        wrong = np.unique(group[rows[~same]])
        findings.rows(np.isin(group, wrong) & (group >= 0), "",
                      f"the rows of one sample must agree on {column.name}",
                      "correct it, or give each sample its own sample_id")


def _mark_repeated_readings(group: NDArray[np.int64], readings: _Readings,
                            findings: Findings) -> None:
    rows = np.flatnonzero((group >= 0) & (readings.place >= 0) & ~findings.bad)
    keys = group[rows] * len(PANEL) + readings.place[rows]
    _, inverse, counts = np.unique(keys, return_inverse=True, return_counts=True)
    groups: defaultdict[int, list[int]] = defaultdict(list)
    for row, key in zip(rows[counts[inverse] > 1].tolist(), keys[counts[inverse] > 1].tolist(),
                        strict=True):
        groups[key].append(row)
    said = {row: (repr(float(readings.value[row])), int(readings.qualifier[row]))
            for found in groups.values() for row in found}
    mark_groups(groups, said, {}, findings, what="reading of a sample")


def _assemble(facts: SampleTable, found: Fields, readings: _Readings, group: NDArray[np.int64],
              first: NDArray[np.int64], findings: Findings) -> SampleTable:
    samples = facts.take(first)
    rows = np.flatnonzero(findings.accepted & (readings.place >= 0))
    samples.value[group[rows], readings.place[rows]] = readings.value[rows]
    samples.qualifier[group[rows], readings.place[rows]] = readings.qualifier[rows]
    raw = [[""] * len(first) for _ in PANEL]
    methods = [[""] * len(first) for _ in PANEL]
    texts = found.cells["value"]
    for row in rows.tolist():
        if readings.qualifier[row] == Qualifier.MISSING and not texts.text(row).strip():
            continue
        place, at = int(readings.place[row]), int(group[row])
        raw[place][at] = _member(place, texts.text(row).strip())
        method = str(facts.method[row])
        if readings.volume[row]:
            method = ", ".join(filter(None, (method, VOLUME_METHOD)))
        if method and (readings.volume[row] or "method" in found.values):
            methods[place][at] = _member(place, method)
    return replace(samples, raw=json_objects(raw, len(first)),
                   methods=json_objects(methods, len(first)),
                   method=_none_if_own(samples.method, found),
                   note=_joined_notes(facts.note, group, len(first)))


def _member(place: int, text: str) -> str:
    return f'"{PANEL[place]}":{json.dumps(text, ensure_ascii=False)},' if text else ""


def _none_if_own(method: NDArray[np.object_], found: Fields) -> NDArray[np.object_]:
    """Leave the method of the sample open where each reading carries its own."""
    return np.full(len(method), "", dtype=object) if "method" in found.values else method


def _joined_notes(notes: NDArray[np.object_], group: NDArray[np.int64],
                  samples: int) -> NDArray[np.object_]:
    said: list[dict[str, None]] = [{} for _ in range(samples)]
    for row in np.flatnonzero((group >= 0) & (notes != "")).tolist():
        said[group[row]][str(notes[row])] = None
    out = np.empty(samples, dtype=object)
    out[:] = ["; ".join(texts) for texts in said]
    return out


def _against_store(samples: SampleTable, group: NDArray[np.int64], findings: Findings,
                   known: Known) -> None:
    keys = keys_of(samples)
    stored = look_up(known.existing, keys)
    if not stored:
        return
    hashes = content_hashes(samples)
    for number, key in enumerate(keys):
        if key not in stored:
            continue
        rows = np.flatnonzero((group == number) & findings.accepted)
        if stored[key] == hashes[number]:
            findings.repeated[rows] = True
        else:
            for row in rows.tolist():
                findings.row(row, "", "this sample is stored already and says something else "
                             "there", "correct the stored sample, or delete this row")
