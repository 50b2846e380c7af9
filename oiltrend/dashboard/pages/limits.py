"""Limits: see them, try others, see what that does to the fleet, and only then set them."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update

from oiltrend.dashboard.books import family_names
from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.dashboard.inputs import choice, short_text
from oiltrend.dashboard.limit_tables import (
    REMOVE,
    effect_view,
    force_table,
    history_table,
    trial_list,
)
from oiltrend.dashboard.limit_trial import (
    plain_limit,
    preview,
    trial_limits,
    trial_of,
    typed_limits,
    without,
)
from oiltrend.dashboard.parts import error_note, note, page_frame, sheet
from oiltrend.errors import OiltrendError
from oiltrend.nomenclature import PANEL
from oiltrend.records import LIMIT_QUANTITIES
from oiltrend.service import limits
from oiltrend.wording import measurand_name

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/limits"
BELOW: tuple[str, ...] = ()
NAME = "Limits"
ICON = "nav-limits"

_ON = {"level": "the measured level", "per_1000": "ppm per 1000 km since the change",
       "wear_rate": "wear rate, mg per 1000 km"}
_SIGNS = {">": "above", ">=": "at or above", "<": "below", "<=": "at or below"}


def layout(**_: Any) -> Any:
    """Lay out the page.

    Parameters
    ----------
    _ : object [-]
        Query of the address; it has no say.

    Returns
    -------
    component [-]
        The page.
    """
    families = [{"value": "*", "label": "every family"},
                *({"value": name, "label": name} for name in family_names())]
    return page_frame(
        NAME, "Your own alert and alarm, each with its reason.",
        dcc.Store(id="limit-trial"), html.Div(id="limit-told"),
        html.Div(className="fields", children=[
            dmc.Select(id="limit-family", label="Family", data=families, value="*",
                       allowDeselect=False, searchable=True)]),
        _form(), dcc.Loading(html.Div(id="limit-effect"), type="dot"),
        html.Div(id="limit-force"), html.Div(id="limit-history"))


def _form() -> Any:
    names = [{"value": s, "label": f"{s} · {measurand_name(s)}"} for s in PANEL]
    return sheet("Try a limit", html.Div(className="fields", children=[
        dmc.Select(id="limit-measurand", label="Measurand", data=names, value="Pb",
                   searchable=True, allowDeselect=False),
        dmc.Select(id="limit-quantity", label="On", value="level", allowDeselect=False,
                   data=[{"value": k, "label": _ON[k]} for k in LIMIT_QUANTITIES]),
        dmc.Select(id="limit-operator", label="Speaks when", value=">", allowDeselect=False,
                   data=[{"value": k, "label": v} for k, v in _SIGNS.items()]),
        dmc.TextInput(id="limit-alert", label="Alert", value="",
                      inputProps={"inputMode": "decimal"}),
        dmc.TextInput(id="limit-alarm", label="Alarm", value="",
                      inputProps={"inputMode": "decimal"}),
        dmc.TextInput(id="limit-source", label="Source", value="",
                      placeholder="where the number comes from")]),
        html.Div(html.Button("See what it would do", id="limit-try", className="button"),
                 className="buttons"),
        lead="Nothing is set before you have seen what it does to the fleet.")


def _trial_view(trial: Any) -> Any:
    """Show the trial, its effect, and the way to set it or to drop it."""
    if not trial["changes"] and not trial["removed"]:
        return None
    return sheet("On trial", trial_list(trial["changes"], trial["removed"]),
                 effect_view(preview(trial)),
                 html.Div(className="fields", children=[dmc.TextInput(
                     id={"type": "limit-note", "name": "why"}, value="", label="Why",
                     placeholder="what changed and why")]),
                 html.Div([html.Button("Set these limits", className="button",
                                       id={"type": "limit-end", "name": "set"}),
                           html.Button("Drop the trial", className="button quiet",
                                       id={"type": "limit-end", "name": "drop"})],
                          className="buttons"))


def register(app: Dash) -> None:
    """Connect the table, the trial and setting it.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    @app.callback(Output("limit-force", "children"), Output("limit-history", "children"),
                  Input("limit-family", "value"), Input("limit-trial", "data"))
    def _force(family: object, _trial: object) -> Any:
        chosen = short_text(family) or "*"
        found = limits.limits_of_family(current_store(), current_caller(), chosen)
        return (sheet("In force", force_table(found)),
                sheet("History", history_table(limits.limit_history(
                    current_store(), current_caller()))))

    @app.callback(
        Output("limit-trial", "data"), Output("limit-told", "children"),
        Input("limit-try", "n_clicks"),
        Input({"type": REMOVE, "family": ALL, "measurand": ALL, "quantity": ALL, "level": ALL,
               "operator": ALL}, "n_clicks"),
        State("limit-trial", "data"), State("limit-family", "value"),
        State("limit-measurand", "value"), State("limit-quantity", "value"),
        State("limit-operator", "value"), State("limit-alert", "value"),
        State("limit-alarm", "value"), State("limit-source", "value"), prevent_initial_call=True)
    def _try(clicks: int | None, removed: list[int | None], found: object, *said: object) -> Any:
        pressed = ctx.triggered_id
        if not (clicks if pressed == "limit-try" else any(removed)):
            return no_update, no_update
        try:
            return _with_change(trial_of(found), pressed, said), None
        except OiltrendError as error:
            return no_update, error_note(error)

    @app.callback(Output("limit-effect", "children"), Input("limit-trial", "data"),
                  prevent_initial_call=True)
    def _effect(found: object) -> Any:
        return _trial_view(trial_of(found))

    @app.callback(
        Output("limit-trial", "data", allow_duplicate=True),
        Output("limit-told", "children", allow_duplicate=True),
        Input({"type": "limit-end", "name": ALL}, "n_clicks"),
        State({"type": "limit-note", "name": ALL}, "value"), State("limit-trial", "data"),
        prevent_initial_call=True)
    def _end(clicks: list[int | None], why: list[object], found: object) -> Any:
        if not any(clicks) or not isinstance(ctx.triggered_id, dict):
            return no_update, no_update
        if ctx.triggered_id.get("name") != "set":
            return None, None
        trial = trial_of(found)
        try:
            number = limits.set_limits(
                current_store(), current_caller(), trial_limits(trial),
                note=short_text(why[0] if why else "", most=500), based_on=trial["based_on"])
        except OiltrendError as error:
            return no_update, error_note(error)
        return None, note(f"set {number} is in force; every engine was judged anew", kind="done",
                          shape="nav-limits")


def _with_change(trial: Any, pressed: object, said: tuple[object, ...]) -> Any:
    """Add what was typed, or what is to be taken out, to the trial."""
    if trial["based_on"] is None:
        current = [v.id for v in limits.limit_history(current_store(), current_caller())
                   if v.state == "current"]
        trial["based_on"] = current[0] if current else None
    if isinstance(pressed, dict):
        same = [one for one in map(plain_limit, current_store().limits(trial["based_on"]))
                if all(one[name] == value for name, value in pressed.items() if name != "type")]
        trial["removed"] = [*without(trial["removed"], pressed), *same]
        trial["changes"] = without(trial["changes"], pressed)
        return trial
    family, measurand, quantity, operator, alert, alarm, source = said
    for one in typed_limits(
            short_text(family) or "*", choice(measurand, PANEL, default="Pb"),
            choice(quantity, LIMIT_QUANTITIES, default="level"),
            choice(operator, _SIGNS, default=">"), alert=short_text(alert),
            alarm=short_text(alarm), source=short_text(source, most=500)):
        plain = plain_limit(one)
        trial["changes"] = [*without(trial["changes"], plain), plain]
        trial["removed"] = without(trial["removed"], plain)
    return trial
