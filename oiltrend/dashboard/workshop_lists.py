"""The workshop's books as lists: records, imports, and who changed what."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from oiltrend.dashboard.context import address
from oiltrend.dashboard.parts import day, empty_state, ledger, sheet
from oiltrend.dashboard.record_fields import KINDS
from oiltrend.service.workshop import Overview
from oiltrend.store import AuditEntry, StoredImport

__all__ = ["audit_list", "import_list", "record_list"]

_MOST_SHOWN = 200
_COLUMNS = {
    "engine": (("family", "family"), ("car", "car"), ("meter_unit", "counted in"),
               ("note", "note")),
    "family": (("rods", "rods"), ("crankpins", "crankpins"), ("oil_fill_l", "oil fill [L]"),
               ("note", "note")),
    "car": (("note", "note"),),
    "lab": (("date_order", "dates"), ("decimal", "decimals"), ("note", "note")),
    "oil": (("grade", "grade"), ("note", "note"))}


def record_list(kind: str, books: Overview, search: str) -> Any:
    """List the records of a kind whose name holds what is searched for.

    Parameters
    ----------
    kind : str [-]
        engine, family, car, lab or oil.
    books : Overview [-]
        The books.
    search : str [-]
        Part of a name.

    Returns
    -------
    component [-]
        The list, with the way to a new one.
    """
    own = KINDS[kind]
    stored: dict[str, Sequence[Any]] = {
        "engine": books.engines, "family": books.families, "car": books.cars,
        "lab": books.labs, "oil": books.oils}
    wanted = search.casefold()
    found = sorted((entry.record for entry in stored[kind]
                    if wanted in str(getattr(entry.record, own.key)).casefold()),
                   key=lambda record: str(getattr(record, own.key)))
    new = dcc.Link(f"New {own.one}", href=f"/workshop/{kind}", className="button")
    if not stored[kind]:
        return empty_state(f"No {own.one} yet", _FIRST[kind], new)
    rows = [[dcc.Link(getattr(record, own.key), className="id",
                      href=address("/workshop", kind, getattr(record, own.key))),
             *(_cell(getattr(record, name)) for name, _ in _COLUMNS[kind]),
             *([_owner(books, record.car)] if kind == "car" else [])]
            for record in found[:_MOST_SHOWN]]
    heads = (own.one, *(label for _, label in _COLUMNS[kind]),
             *(("owner today",) if kind == "car" else ()))
    caption = f"{len(found)} of {len(stored[kind])}" + (
        f", the first {_MOST_SHOWN} shown; search for the others" if len(found) > len(rows)
        else "")
    return sheet(own.many, html.Div(new, className="buttons"),
                 ledger(caption, heads, rows, cards=True))


_FIRST = {
    "engine": ["Make its family first, under Engine families.",
               "Or hand in a file that names engines, under Add result."],
    "family": ["A family is what engines have in common: layout, oil fill, shells.",
               "Leave empty what you do not know; the program then says what it assumes."],
    "car": ["A car has a job number here, and an owner from one day to another."],
    "lab": ["A laboratory is remembered with how it writes dates and decimals."],
    "oil": ["An oil is needed to know what the fresh oil brings along."]}


def _cell(value: object) -> str:
    return "" if value is None else str(value)


def _owner(books: Overview, car: str) -> str:
    return next((entry.record.owner for entry in books.owners
                 if entry.record.car == car and entry.record.to_date is None), "")


def import_list(imports: Sequence[StoredImport], *, kind: str) -> Any:
    """List the files that were taken in.

    Parameters
    ----------
    imports : sequence of StoredImport [-]
        Imports.
    kind : str [-]
        Type of the undo buttons' ids.

    Returns
    -------
    component [-]
        The list.
    """
    def counts(entry: StoredImport) -> str:
        shown = ("accepted", "held", "rejected", "duplicates")
        return ", ".join(f"{entry.counts[name]} {name}" for name in shown if entry.counts.get(name))
    rows = [[str(entry.id), entry.file, entry.kind, counts(entry),
             html.Span(day(entry.made_at.date()), className="num"), entry.made_by,
             "taken back" if entry.state == "undone" else html.Button(
                 "Take back", id={"type": kind, "import": entry.id}, className="button quiet")]
            for entry in sorted(imports, key=lambda one: -one.id)[:_MOST_SHOWN]]
    if not rows:
        return empty_state("No file yet", ["Files that you hand in under Add result stand here, "
                                           "and can be taken back."],
                           dcc.Link("Add result", href="/add", className="button"))
    return sheet("Files", ledger("Newest first", ("number", "file", "holds", "rows", "on", "by",
                                                  ""), rows, cards=True))


def audit_list(entries: Sequence[AuditEntry]) -> Any:
    """List the latest changes.

    Parameters
    ----------
    entries : sequence of AuditEntry [-]
        Changes.

    Returns
    -------
    component [-]
        The list.
    """
    rows = [[html.Span(f"{day(entry.at.date())}, {entry.at:%H:%M}", className="num"), entry.who,
             entry.object, entry.field, _short(entry.old), _short(entry.new), entry.why]
            for entry in entries]
    return sheet("Changes", ledger("The latest, times in UTC", (
        "when", "who", "what", "field", "before", "after", "why"), rows, cards=True),
        lead="Nothing in this list is ever changed or taken out.")


def _short(value: object) -> str:
    text = "" if value is None else str(value)
    return text if len(text) <= 60 else text[:57] + "…"
