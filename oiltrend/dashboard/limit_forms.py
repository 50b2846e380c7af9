"""A limit as it is typed, and the trial with its effect before anything is set."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html

from oiltrend.dashboard.inputs import choice, short_text
from oiltrend.dashboard.limit_tables import effect_view, trial_list
from oiltrend.dashboard.limit_trial import Trial, TypedLimit, preview
from oiltrend.dashboard.parts import sheet
from oiltrend.nomenclature import PANEL
from oiltrend.records import LIMIT_QUANTITIES
from oiltrend.wording import measurand_name

__all__ = ["limit_form", "trial_view", "typed_limit"]

_ON = {"level": "the measured level", "per_1000": "ppm per 1000 km since the change",
       "wear_rate": "wear rate, mg per 1000 km"}
_SIGNS = {">": "above", ">=": "at or above", "<": "below", "<=": "at or below"}


def limit_form() -> Any:
    """Lay out the form for a limit.

    Returns
    -------
    component [-]
        The form.
    """
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


def trial_view(trial: Trial) -> Any:
    """Show a trial, its effect, and the way to set it or to drop it.

    Parameters
    ----------
    trial : dict [-]
        The trial.

    Returns
    -------
    component [-]
        The view; None for an empty trial.
    """
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


def typed_limit(said: Sequence[object]) -> TypedLimit:
    """Take what stands in the form as a limit.

    Parameters
    ----------
    said : sequence of object [-]
        Family, measurand, quantity, operator, alert, alarm and source, as received.

    Returns
    -------
    TypedLimit [-]
        What was typed.
    """
    family, measurand, quantity, operator, alert, alarm, source = said
    return TypedLimit(
        short_text(family) or "*", choice(measurand, PANEL, default="Pb"),
        choice(quantity, LIMIT_QUANTITIES, default="level"),
        choice(operator, _SIGNS, default=">"), short_text(alert), short_text(alarm),
        short_text(source, most=500))
