"""Limits: see them, try others, see what that does to the fleet, and only then set them."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update

from oiltrend.dashboard.books import family_names
from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.dashboard.inputs import short_text
from oiltrend.dashboard.limit_forms import limit_form, trial_view, typed_limit
from oiltrend.dashboard.limit_tables import REMOVE, force_table, history_table
from oiltrend.dashboard.limit_trial import trial_limits, trial_of, with_removed, with_typed
from oiltrend.dashboard.parts import error_note, note, page_frame, sheet
from oiltrend.errors import OiltrendError
from oiltrend.service import limits

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/limits"
BELOW: tuple[str, ...] = ()
NAME = "Limits"
ICON = "nav-limits"


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
        limit_form(), dcc.Loading(html.Div(id="limit-effect"), type="dot"),
        html.Div(id="limit-force"), html.Div(id="limit-history"))


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
            if isinstance(pressed, dict):
                return with_removed(trial_of(found), pressed), None
            return with_typed(trial_of(found), typed_limit(said)), None
        except OiltrendError as error:
            return no_update, error_note(error)

    @app.callback(Output("limit-effect", "children"), Input("limit-trial", "data"),
                  prevent_initial_call=True)
    def _effect(found: object) -> Any:
        return trial_view(trial_of(found))

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

