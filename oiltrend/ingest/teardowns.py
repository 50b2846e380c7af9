"""Rows of a teardown file, one half of a bearing each, to openings of engines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any, Literal, cast

import numpy as np

from oiltrend.errors import ValueRefused
from oiltrend.ingest.cells import Locale
from oiltrend.ingest.engines import find_engines, read_use
from oiltrend.ingest.fields import Fields, read_fields
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.items import item_hash, item_key
from oiltrend.ingest.matching import Plan
from oiltrend.ingest.model import Known, ReadOptions
from oiltrend.ingest.registers import row_reader
from oiltrend.ingest.repeats import look_up, mark_groups
from oiltrend.ingest.sheet import Sheet
from oiltrend.records import ShellFinding, Teardown

__all__ = ["read_teardowns"]

_NUMBERS = ("layer_pct", "back_pct", "wall_crown_mm", "wall_end_mm", "wall_new_mm", "clearance_mm",
            "journal_mm", "new_clearance_mm")
_TEXTS = ("failed", "journal_surface", "material", "action", "new_material", "note")
# One value for the whole opening: every row that fills it must say the same.
_OPENING = ("reason", "oil_verdict_seen", "oil_changed", "refill_l", "refill_product",
            "filter_finding")
# One value for both halves of a rod.
_OF_THE_ROD = ("clearance_mm", "new_clearance_mm")
_HINT = "correct the row that is wrong"

Opening = tuple[str, date, float | None]
Half = tuple[str, int, str]


def read_teardowns(sheet: Sheet, plan: Plan, findings: Findings, *, locale: Locale,
                   options: ReadOptions, known: Known) -> tuple[Teardown, ...]:
    """Read a teardown file: rows of one engine, day and meter make one opening.

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
        Engine of a file that names none.
    known : Known [-]
        Engines, their rods and mains, and stored openings.

    Returns
    -------
    tuple of Teardown [-]
        Openings with their accepted halves.
    """
    fields = read_fields(sheet, plan, findings, locale=locale)
    engines = find_engines(fields, findings, options=options, known=known)
    meter = read_use(fields, findings, plan, engines)
    halves = _halves(fields, plan, findings)
    _check_numbers(halves, engines.name, plan, findings, known)
    get = row_reader(fields)
    openings: defaultdict[Opening, list[int]] = defaultdict(list)
    for row in np.flatnonzero(~findings.bad & ~findings.unknown).tolist():
        at = None if np.isnan(meter[row]) else float(meter[row])
        openings[(str(engines.name[row]), get("teardown_date", row), at)].append(row)
    made: dict[Opening, Teardown] = {}
    for opening, rows in openings.items():
        _check_opening(rows, get, plan, findings)
        shells = _shells([r for r in rows if not findings.bad[r]], halves, get, sheet, findings)
        _mark_repeated_halves(shells, findings)
        _check_rods(shells, plan, findings)
        kept = [row for row in rows if findings.accepted[row]]
        if kept:
            made[opening] = _teardown(opening, kept, shells, get)
    _against_store(made, openings, findings, known)
    return tuple(teardown for opening, teardown in made.items()
                 if any(findings.accepted[row] for row in openings[opening]))


def _halves(fields: Fields, plan: Plan, findings: Findings) -> dict[int, Half]:
    """Say which half of which bearing each row is about."""
    rods = fields.texts("rod")
    mains = fields.numbers("main")
    words = fields.texts("half")
    given = (rods != "") & (rods != None)  # noqa: E711 - element by element
    findings.rows(given & ~np.isnan(mains), plan.heading("rod"),
                  "a row must be about a rod or a main bearing, not both",
                  "leave one of the two blank")
    findings.rows(~given & np.isnan(mains), plan.heading("rod"),
                  "a row must name its rod, or its main bearing", "fill it in")
    halves: dict[int, Half] = {}
    for row in np.flatnonzero(~findings.bad).tolist():
        kind, number = str(rods[row]).split() if given[row] else ("main", str(int(mains[row])))
        halves[row] = (kind, int(number), str(words[row]))
    return halves


def _check_numbers(halves: Mapping[int, Half], engines: Any, plan: Plan, findings: Findings,
                   known: Known) -> None:
    for row, (kind, number, _) in halves.items():
        most = (known.rods if kind == "rod" else known.mains).get(str(engines[row]))
        if most is not None and number > most:
            what = "rods" if kind == "rod" else "main bearings"
            column = "rod" if "rod" in plan.position else "main"
            findings.row(row, plan.heading(column), f"this engine has {most} {what}, found "
                         f"number {number}", "correct the number, or the engine's family")


def _check_opening(rows: list[int], get: Any, plan: Plan, findings: Findings) -> None:
    """Reject an opening whose rows contradict each other on what holds for all of it."""
    for name in _OPENING:
        said = {get(name, row) for row in rows} - {None, ""}
        if len(said) > 1:
            for row in rows:
                findings.row(row, plan.heading(name), f"{name} must be the same on every row of "
                             "one opening", _HINT)


def _shells(rows: list[int], halves: Mapping[int, Half], get: Any, sheet: Sheet,
            findings: Findings) -> dict[int, ShellFinding]:
    shells: dict[int, ShellFinding] = {}
    for row in rows:
        kind, number, half = halves[row]
        stage = get("wear_stage", row) or ""
        rest: dict[str, Any] = {**{name: get(name, row) for name in _NUMBERS},
                                **{name: get(name, row) or "" for name in _TEXTS}}
        try:
            shells[row] = ShellFinding(
                kind=cast(Literal["rod", "main"], kind), number=number,
                half=cast(Literal["rod", "cap"], half),
                wear_stage=int(stage) if stage.isdigit() else None,
                not_scorable=stage == "not_scorable",
                damage=tuple(filter(None, (term.strip() for term in
                                           (get("damage", row) or "").split(";")))),
                line=int(sheet.lines[row]), **rest)
        except ValueRefused as error:
            findings.row(row, "", error.message, error.hint)
    return shells


def _mark_repeated_halves(shells: Mapping[int, ShellFinding], findings: Findings) -> None:
    groups: defaultdict[tuple[str, int, str], list[int]] = defaultdict(list)
    for row, shell in shells.items():
        groups[(shell.kind, shell.number, shell.half)].append(row)
    mark_groups(groups, {row: replace(shell, line=0) for row, shell in shells.items()}, {},
                findings, what="half of a bearing")


def _check_rods(shells: Mapping[int, ShellFinding], plan: Plan, findings: Findings) -> None:
    """Reject both halves of a rod that are given two clearances."""
    bearings: defaultdict[tuple[str, int], list[int]] = defaultdict(list)
    for row, shell in shells.items():
        if findings.accepted[row]:
            bearings[(shell.kind, shell.number)].append(row)
    for (kind, number), rows in bearings.items():
        for name in _OF_THE_ROD:
            said = {getattr(shells[row], name) for row in rows} - {None}
            if len(said) > 1:
                values = " and ".join(f"{value:g}" for value in sorted(said))
                for row in rows:
                    findings.row(row, plan.heading(name), f"{name} is one number for both halves "
                                 f"of {kind} {number}, found {values} mm", _HINT)


def _teardown(opening: Opening, rows: list[int], shells: Mapping[int, ShellFinding],
              get: Any) -> Teardown:
    said = {name: next((v for row in rows if (v := get(name, row)) not in (None, "")), None)
            for name in _OPENING}
    engine, day, meter = opening
    return Teardown(engine=engine, teardown_date=day, meter=meter,
                    findings=tuple(shells[row] for row in rows), reason=said["reason"] or "",
                    oil_verdict_seen=said["oil_verdict_seen"], oil_changed=said["oil_changed"],
                    refill_l=said["refill_l"], refill_product=said["refill_product"] or "",
                    filter_finding=said["filter_finding"] or "")


def _against_store(made: Mapping[Opening, Teardown], openings: Mapping[Opening, list[int]],
                   findings: Findings, known: Known) -> None:
    keys = {opening: item_key(teardown) for opening, teardown in made.items()}
    stored = look_up(known.stored_items, list(keys.values()))
    for opening, key in keys.items():
        if key not in stored:
            continue
        same = stored[key] == item_hash(made[opening])
        for row in openings[opening]:
            if not findings.accepted[row]:
                continue
            if same:
                findings.repeated[row] = True
            else:
                findings.row(row, "", "this teardown is stored already and says something else "
                             "there", "correct the stored teardown, or delete these rows")
