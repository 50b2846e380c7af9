"""One record of the workshop: its form, and for cars and engines what happens to them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from oiltrend.dashboard.books import engine_choices
from oiltrend.dashboard.context import address, current_caller, current_store
from oiltrend.dashboard.inputs import choice
from oiltrend.dashboard.parts import day, ledger, note, sheet
from oiltrend.dashboard.record_fields import KINDS, record_form, typed_record
from oiltrend.figures.strips import EVENT_SYMBOLS
from oiltrend.records import EVENT_KINDS, Car, Engine, EngineStay, Event, Ownership
from oiltrend.service import workshop
from oiltrend.service.access import require
from oiltrend.service.fleet import local_today
from oiltrend.store import Stored

__all__ = ["find_record", "record_page", "save_typed"]


def find_record(kind: str, name: str) -> Stored[Any]:
    """Fetch a record by its name.

    Parameters
    ----------
    kind : str [-]
        engine, family, car, lab or oil.
    name : str [-]
        Its name.

    Returns
    -------
    Stored [-]
        The record with its version.

    Raises
    ------
    NotThere
        When there is none of that name.
    """
    require(current_caller(), "see the fleet")
    return current_store().get(KINDS[kind].record, name)  # type: ignore[no-any-return]


def record_page(kind: str, stored: Stored[Any] | None) -> list[Any]:
    """Lay out the form of a record, and what can happen to it.

    Parameters
    ----------
    kind : str [-]
        engine, family, car, lab or oil.
    stored : Stored or None [-]
        The record; None for a new one.

    Returns
    -------
    list of component [-]
        Sheets.
    """
    own = KINDS[kind]
    version = None if stored is None else {"id": stored.id, "rev": stored.rev}
    sheets: list[Any] = [
        dcc.Store(id="book-version", data=version), html.Div(id="book-told"),
        sheet("", html.Div(record_form(own, stored.record if stored else None),
                           className="fields"),
              html.Div([html.Button("Save", id="book-save", className="button"),
                        dcc.Link("Back to the list", href="/workshop",
                                 className="button quiet")], className="buttons"))]
    if stored is not None and isinstance(stored.record, Car):
        sheets += _car_sheets(stored.record.car)
    if stored is not None and isinstance(stored.record, Engine):
        sheets += _engine_sheets(stored.record)
    return sheets


def _day_field(name: str, label: str) -> Any:
    today = local_today().isoformat()
    return dmc.DateInput(id={"type": "book-act", "name": name}, label=label, value=today,
                         valueFormat="D MMM YYYY", maxDate=today)


def _act_text(name: str, label: str) -> Any:
    return dmc.TextInput(id={"type": "book-act", "name": name}, label=label, value="")


def _do(words: str, name: str) -> Any:
    return html.Div(html.Button(words, id={"type": "book-do", "name": name},
                                className="button quiet"), className="buttons")


def _car_sheets(car: str) -> list[Any]:
    store = current_store()
    owners: Sequence[Any] = store.find(Ownership, {"car": car})
    stays: Sequence[Any] = store.find(EngineStay, {"car": car})
    owned = [[one.record.owner, day(one.record.from_date), day(one.record.to_date)]
             for one in owners]
    sat = [[dcc.Link(one.record.engine, href=address("/engine", one.record.engine)),
            day(one.record.from_date), day(one.record.to_date)] for one in stays]
    return [
        sheet("Owner", ledger("Owners", ("owner", "from", "to"), owned),
              html.Div([_act_text("owner", "New owner"), _day_field("owner_on", "From")],
                       className="fields"), _do("Hand the car over", "hand_over")),
        sheet("Engine", ledger("Engines that sat in it", ("engine", "from", "to"), sat),
              html.Div(className="fields", children=[
                  dmc.Select(id={"type": "book-act", "name": "engine"}, label="Engine",
                             data=engine_choices(""), searchable=True, value=None),
                  _day_field("engine_on", "Fitted on"),
                  _act_text("car_meter", "Meter of the car [km or h]"),
                  _act_text("engine_meter", "The engine's own [km or h], if known")]),
              _do("Fit this engine", "swap"))]


def _engine_sheets(engine: Engine) -> list[Any]:
    events: Sequence[Any] = current_store().find(Event, {"engine": engine.engine})
    rows = [[day(one.record.date), "" if one.record.meter is None else f"{one.record.meter:g}",
             EVENT_SYMBOLS[one.record.event][2], one.record.note] for one in events]
    kinds = [{"value": kind, "label": EVENT_SYMBOLS[kind][2]} for kind in EVENT_KINDS]
    unit = "h" if engine.meter_unit == "h" else "km"
    return [sheet(
        "Between samples",
        ledger("Events", ("on", f"at [{unit}]", "event", "note"), rows, cards=True),
        html.Div(className="fields", children=[
            dmc.Select(id={"type": "book-act", "name": "event"}, label="Event", data=kinds,
                       value="oil_change", allowDeselect=False),
            _day_field("event_on", "On"), _act_text("event_meter", f"Meter [{unit}]"),
            _act_text("litres", "Oil [L]"), _act_text("product", "Oil product"),
            _act_text("new_meter", f"New instrument shows [{unit}]"),
            _act_text("event_note", "Note")]),
        _do("Record it", "event"),
        html.P(dcc.Link("See the engine", href=address("/engine", engine.engine))))]


def save_typed(kind: str, name: tuple[str, ...], typed: dict[str, object], version: object
               ) -> tuple[Any, dict[str, int]]:
    """Save a record as it was typed.

    Parameters
    ----------
    kind : str [-]
        engine, family, car, lab or oil.
    name : tuple of str [-]
        Name of the record that is changed; empty for a new one.
    typed : dict [-]
        Field to its content, as received.
    version : object [-]
        Number and version that was shown, as received.

    Returns
    -------
    told, version : component and dict [-]
        What was done, and the version that is shown now.
    """
    own = KINDS[choice(kind, KINDS, default="engine")]
    held = version if isinstance(version, dict) and name else {}
    before = find_record(kind, name[0]).record if name else None
    record = typed_record(own, typed, before)
    workshop.save_record(current_store(), current_caller(), record,
                         id=held.get("id"), rev=held.get("rev"))
    stored = find_record(kind, getattr(record, own.key))
    return (note(f"{own.one} {getattr(record, own.key)} is saved", kind="done"),
            {"id": stored.id, "rev": stored.rev})
