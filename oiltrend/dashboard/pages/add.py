"""Add result: by hand within a minute, from a file with every row accounted for, or drawn only."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update

from oiltrend.dashboard import add_hand
from oiltrend.dashboard.add_file import file_way, register_file
from oiltrend.dashboard.books import engine_choices
from oiltrend.dashboard.context import id_in_path
from oiltrend.dashboard.inputs import choice, short_text
from oiltrend.dashboard.parts import aria, page_frame

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/add"
BELOW = (PATH + "/<engine>",)
NAME = "Add result"
ICON = "nav-add"

_WAYS = {"hand": "By hand", "file": "From a file", "drawn": "Sample drawn"}


def layout(**_: Any) -> Any:
    """Lay out the page; the path may name the engine.

    Parameters
    ----------
    _ : object [-]
        Parts of the address as the framework read them; they have no say.

    Returns
    -------
    component [-]
        The page.
    """
    engine = id_in_path(PATH)
    ways = [{"value": key, "label": word} for key, word in _WAYS.items()]
    return page_frame(
        NAME, "What the laboratory found, on paper or as a file.",
        html.Div(role="group", className="ways", **aria(label="Way to add"), children=[
            dmc.SegmentedControl(id="add-way", data=ways, value="hand" if engine else "file",
                                 fullWidth=True)]),
        html.Div(id="add-engine-box", className="fields", children=[
            dmc.Select(id="add-engine", label="Engine", searchable=True, value=engine or None,
                       data=engine_choices("", keep=engine), placeholder="type a part of its name",
                       nothingFoundMessage="no such engine", clearable=True)]),
        html.Div(id="add-told"), html.Div(id="add-body"))


def register(app: Dash) -> None:
    """Connect the three ways.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    @app.callback(Output("add-engine", "data"), Input("add-engine", "searchValue"),
                  State("add-engine", "value"), prevent_initial_call=True)
    def _search(search: object, engine: object) -> Any:
        # The field shows the chosen name as if it were searched for; then nothing is to do.
        if search == engine:
            return no_update
        return engine_choices(short_text(search), keep=short_text(engine))

    @app.callback(Output("add-body", "children"), Output("add-engine-box", "style"),
                  Input("add-way", "value"), Input("add-engine", "value"))
    def _way(way: object, engine: object) -> Any:
        chosen = choice(way, _WAYS, default="file")
        if chosen == "file":
            return file_way(), {"display": "none"}
        return add_hand.hand_way(short_text(engine), drawn=chosen == "drawn"), {}

    add_hand.register_hand(app)
    register_file(app)
