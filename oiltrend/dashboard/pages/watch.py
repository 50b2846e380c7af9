"""Watch: all engines, most pressing first."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update

from oiltrend.dashboard.books import family_names
from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.dashboard.inputs import choice, short_text, whole
from oiltrend.dashboard.parts import empty_state, page_frame
from oiltrend.dashboard.watch_list import watch_rows
from oiltrend.service import fleet

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/"
BELOW: tuple[str, ...] = ()
NAME = "Watch"
ICON = "nav-watch"

_PAGE = 40
_LEVELS = {"": "every level", "alarm": "alarm", "alert": "alert", "no_alarm": "no alarm"}
# Word in the list; column of the service ("" is most pressing first), and the largest first.
_ORDERS = {"pressing": ("most pressing first", "", False), "engine": ("by engine", "engine", False),
           "due": ("next sample due first", "next_by_date", False),
           "newest": ("newest sample first", "last_sample_date", True),
           "fewest": ("fewest samples first", "samples", False)}


def layout(**_: Any) -> Any:
    """Lay out the page with its first rows.

    Parameters
    ----------
    _ : object [-]
        Query of the address; it has no say.

    Returns
    -------
    component [-]
        The page.
    """
    families = family_names()
    return page_frame(
        NAME, "Every engine, most pressing first.",
        html.Div(className="filters", role="search", children=[
            dmc.TextInput(id="watch-search", label="Search", debounce=250,
                          placeholder="engine, car, owner"),
            dmc.Select(id="watch-family", label="Family", clearable=True, placeholder="every",
                       data=families, searchable=len(families) > 8),
            dmc.Select(id="watch-level", label="Level", value="", allowDeselect=False,
                       data=[{"value": k, "label": v} for k, v in _LEVELS.items()]),
            dmc.Select(id="watch-order", label="Order", value="pressing", allowDeselect=False,
                       data=[{"value": k, "label": v[0]} for k, v in _ORDERS.items()]),
        ]),
        dcc.Store(id="watch-page", data=0),
        html.Div(_rows("", "", "", "pressing", 0), id="watch-rows"))


def _rows(search: str, family: str, level: str, order: str, page: int) -> Any:
    """Fetch one page of rows from the service and draw it."""
    found = fleet.watch(
        current_store(), current_caller(), search=search, family=family, level=level,
        sort=_ORDERS[order][1], descending=_ORDERS[order][2], offset=page * _PAGE, limit=_PAGE)
    if not found.rows and not (search or family or level or page):
        return _first_steps()
    first = page * _PAGE + 1
    said = (f"{first}–{first + len(found.rows) - 1} of {found.total}" if found.rows
            else "No engine fits; take a filter away.")
    return [watch_rows(found.rows),
            html.Div(className="pager", children=[
                html.Button("Earlier", id="watch-back", className="button quiet",
                            disabled=page == 0),
                html.Span(said, role="status"),
                html.Button("Further", id="watch-on", className="button quiet",
                            disabled=first + len(found.rows) > found.total),
            ])]


def _first_steps() -> Any:
    return empty_state(
        "No engine yet",
        [html.Span(["Make an engine family: ", dcc.Link("New engine family",
                                                        href="/workshop/family"), "."]),
         html.Span(["Take a result file of your laboratory, or ",
                    html.A("a file to try", href="/data/try-results.csv", download=""), "."]),
         "Hand it in under Add result. You see every row before anything is stored.",
         "Come back: the engines stand here, most pressing first."],
        dcc.Link("Add result", href="/add", className="button"))


def register(app: Dash) -> None:
    """Connect search, filters, order and paging.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    @app.callback(
        Output("watch-rows", "children"), Output("watch-page", "data"),
        Input("watch-search", "value"), Input("watch-family", "value"),
        Input("watch-level", "value"), Input("watch-order", "value"),
        Input("watch-back", "n_clicks"), Input("watch-on", "n_clicks"),
        State("watch-page", "data"), prevent_initial_call=True)
    def _show(search: object, family: object, level: object, order: object, back: object,
              on: object, page: object) -> Any:
        step = {"watch-back": (back, -1), "watch-on": (on, 1)}.get(ctx.triggered_id, (True, 0))
        if not step[0]:
            return no_update, no_update
        turned = step[1] != 0
        number = max(0, whole(page, low=0, high=10**6, default=0) + step[1]) if turned else 0
        rows = _rows(short_text(search), short_text(family), choice(level, _LEVELS, default=""),
                     choice(order, _ORDERS, default="pressing"), number)
        return rows, number
