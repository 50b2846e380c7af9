"""By hand, and drawn samples: the forms of Add result, connected."""

from __future__ import annotations

from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update

from oiltrend.assessment.results import Verdict
from oiltrend.dashboard.context import address, current_caller, current_store, decimal_sign
from oiltrend.dashboard.hand_form import (
    MORE,
    READING,
    TOP,
    drawn_fields,
    form_of,
    hand_fields,
    notes_table,
    reject_texts,
)
from oiltrend.dashboard.inputs import choice, short_text
from oiltrend.dashboard.parts import day, error_note, note, sheet
from oiltrend.dashboard.typed import typed_day, typed_number
from oiltrend.dashboard.verdict import reason_list, verdict_block
from oiltrend.errors import InputError, OiltrendError
from oiltrend.records import Engine
from oiltrend.service import samples
from oiltrend.service.fleet import engine_view, local_today
from oiltrend.units import convert

__all__ = ["hand_way", "register_hand"]

_TOP = {"type": TOP, "name": ALL}
_MORE = {"type": MORE, "name": ALL}
_READING = {"type": READING, "name": ALL}


def _engine(name: str) -> Engine:
    return engine_view(current_store(), current_caller(), name).record.record


def hand_way(engine: str, *, drawn: bool) -> Any:
    """Lay out the form, once the engine is chosen.

    Parameters
    ----------
    engine : str [-]
        Engine; "" while none is chosen.
    drawn : bool [-]
        Only note that a sample was drawn.

    Returns
    -------
    component [-]
        The form.
    """
    if not engine:
        return note("choose the engine first", hint="one that is not in the list is made in the "
                    "workshop, or by a file that names it")
    record = _engine(engine)
    if drawn:
        return sheet(f"A sample of {engine} was drawn",
                     drawn_fields(record.meter_unit, local_today()),
                     html.Div(html.Button("Note it", id="drawn-save", className="button"),
                              className="buttons"),
                     lead="Watch then says that its result is awaited.")
    last = samples.last_values(current_store(), current_caller(), engine)
    before = typed_day(last.get("sample_date", ""), where="sample date")
    hint = (f"The pale figures are those of {day(before)}." if before
            else "This is its first result.")
    return sheet(f"Result of {engine}", hand_fields(record, last, local_today()),
                 dcc.Store(id="hand-pause"), html.Div(id="hand-check"),
                 html.Div(html.Button("Store the result", id="hand-save", className="button"),
                          className="buttons"),
                 lead=hint + " Leave a field empty for what was not measured; write <1 for "
                 "below 1, ND for not detected.")


def _named(states: list[dict[str, Any]]) -> dict[str, object]:
    """Pair the names of a group of fields with their contents."""
    return {str(state["id"]["name"]): state.get("value") for state in states}


def register_hand(app: Dash) -> None:
    """Connect check and store of both forms.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    # Fields hand over every keystroke, so that none is lost to a quick click on "store"; the
    # server is asked once the typing pauses.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("oiltrend", "pause"), Output("hand-pause", "data"),
        Input(_READING, "value"), Input(_TOP, "value"), Input(_MORE, "value"),
        prevent_initial_call=True)

    @app.callback(
        Output(_READING, "error"), Output(_TOP, "error"), Output("hand-check", "children"),
        Input("hand-pause", "data"), State("add-engine", "value"), State(_READING, "value"),
        State(_TOP, "value"), State(_MORE, "value"), prevent_initial_call=True)
    def _check(_pause: object, engine: object, readings: list[object], top: list[object],
               _more: list[object]) -> Any:
        fields = [_named(group) for group in ctx.states_list[1:]]
        form = form_of(short_text(engine), fields[1], fields[2], fields[0])
        if not form.readings and not form.meter:
            return [""] * len(readings), [""] * len(top), None
        found = samples.check_form(current_store(), current_caller(), form)
        said = [note(text) for text in found.questions]
        if found.duplicate:
            said.append(note("this result is stored already"))
        return (reject_texts(found.rejects, list(fields[0])),
                reject_texts(found.rejects, list(fields[1])),
                html.Div([*said, notes_table(found.notes)]))

    @app.callback(
        Output("add-told", "children"), Output("add-body", "children", allow_duplicate=True),
        Input("hand-save", "n_clicks"), State("add-engine", "value"), State(_READING, "value"),
        State(_TOP, "value"), State(_MORE, "value"), prevent_initial_call=True,
        running=[(Output("hand-save", "disabled"), True, False)])
    def _store(clicks: int | None, engine: object, *_: object) -> Any:
        if not clicks:
            return no_update, no_update
        readings, top, more = (_named(group) for group in ctx.states_list[1:])
        form = form_of(short_text(engine), top, more, readings)
        try:
            verdict = samples.record_sample(current_store(), current_caller(), form)
        except InputError as error:
            return error_note(error), no_update
        return _stored(verdict), hand_way("", drawn=False)

    _register_drawn(app)


def _stored(verdict: Verdict) -> Any:
    more = [reason_list(verdict.reasons)] if verdict.reasons else []
    return sheet(f"Stored. {verdict.engine} now reads", verdict_block(verdict), *more,
                 html.Div(dcc.Link("See the engine", className="button",
                                   href=address("/engine", verdict.engine)),
                          className="buttons"))


def _register_drawn(app: Dash) -> None:
    @app.callback(
        Output("add-told", "children", allow_duplicate=True), Input("drawn-save", "n_clicks"),
        State("add-engine", "value"), State("drawn-on", "value"), State("drawn-meter", "value"),
        State("drawn-lab", "value"), State("drawn-number", "value"),
        State("drawn-changed", "value"), prevent_initial_call=True,
        running=[(Output("drawn-save", "disabled"), True, False)])
    def _drawn(clicks: int | None, engine: object, on: object, meter: object, lab: object,
               number: object, changed: object) -> Any:
        if not clicks:
            return no_update
        name = short_text(engine)
        try:
            samples.mark_drawn(
                current_store(), current_caller(), name,
                on=typed_day(short_text(on), where="drawn on") or local_today(),
                meter=_meter(short_text(meter), _engine(name).meter_unit), lab=short_text(lab),
                sample_id=short_text(number),
                oil_changed={"yes": True, "no": False}.get(
                    choice(changed, ("yes", "no"), default="")))
        except OiltrendError as error:
            return error_note(error)
        return note(f"noted: a sample of {name} is awaited", kind="done", shape="awaited")



def _meter(text: str, unit: str) -> float | None:
    value = typed_number(text, where="meter", decimal=decimal_sign())
    return value if value is None or unit == "h" else convert(value, unit, "km")
