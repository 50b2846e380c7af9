"""Workshop: the books about engines, families, cars, laboratories and oils, files and changes."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, html, no_update

from oiltrend.dashboard.context import current_caller, current_store, parts_from, parts_in_path
from oiltrend.dashboard.inputs import choice, short_text, whole
from oiltrend.dashboard.parts import aria, error_note, note, page_frame, sentence
from oiltrend.dashboard.record_fields import FIELD, KINDS
from oiltrend.dashboard.workshop_acts import act_on
from oiltrend.dashboard.workshop_forms import find_record, record_page, save_typed
from oiltrend.dashboard.workshop_lists import audit_list, import_list, record_list
from oiltrend.errors import OiltrendError
from oiltrend.service import files, workshop

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/workshop"
BELOW = (PATH + "/<kind>", PATH + "/<kind>/<name>")
NAME = "Workshop"
ICON = "nav-workshop"

_UNDO = "book-undo"
_LISTS = {**{kind: own.many for kind, own in KINDS.items()}, "files": "Files",
          "changes": "Changes"}
_WHERE = State("_pages_location", "pathname")


def layout(**_: Any) -> Any:
    """Lay out the lists, or the form of the record that the path names.

    Parameters
    ----------
    _ : object [-]
        Parts of the address as the framework read them; they have no say.

    Returns
    -------
    component [-]
        The page.
    """
    where = parts_in_path(PATH)
    if where and where[0] in KINDS:
        kind = KINDS[where[0]]
        stored = find_record(where[0], where[1]) if len(where) > 1 else None
        title = where[1] if stored else f"New {kind.one}"
        return page_frame(title, sentence(kind.one) if stored else "Leave empty what you do not "
                          "know.", *record_page(where[0], stored))
    lists = [{"value": key, "label": word} for key, word in _LISTS.items()]
    return page_frame(
        NAME, "Your books.", html.Div(id="book-told"),
        html.Div(className="fields", children=[
            dmc.Select(id="book-list", label="Book", data=lists, value="engine",
                       allowDeselect=False),
            dmc.TextInput(id="book-search", label="Search", value="", debounce=250,
                          placeholder="part of a name")]),
        html.Div(id="book-rows", **aria(live=True)))


def register(app: Dash) -> None:
    """Connect lists, forms, undo and what happens to cars and engines.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    @app.callback(Output("book-rows", "children"), Input("book-list", "value"),
                  Input("book-search", "value"))
    def _list(chosen: object, search: object) -> Any:
        books = workshop.overview(current_store(), current_caller())
        shown = choice(chosen, _LISTS, default="engine")
        if shown == "files":
            return import_list(books.imports, kind=_UNDO)
        if shown == "changes":
            return audit_list(books.audit)
        return record_list(shown, books, short_text(search))

    @app.callback(Output("book-told", "children"), Output("book-version", "data"),
                  Input("book-save", "n_clicks"), State({"type": FIELD, "name": ALL}, "value"),
                  State("book-version", "data"), _WHERE, prevent_initial_call=True)
    def _save(clicks: int | None, _: list[object], version: object, where: object) -> Any:
        if not clicks:
            return no_update, no_update
        place = parts_from(PATH, where)
        typed = {state["id"]["name"]: state.get("value") for state in ctx.states_list[0]}
        try:
            return save_typed(place[0] if place else "", place[1:], typed, version)
        except OiltrendError as error:
            return error_note(error), no_update

    @app.callback(Output("book-told", "children", allow_duplicate=True),
                  Input({"type": _UNDO, "import": ALL}, "n_clicks"), prevent_initial_call=True)
    def _undo(clicks: list[int | None]) -> Any:
        if not any(clicks) or not isinstance(ctx.triggered_id, dict):
            return no_update
        number = whole(ctx.triggered_id.get("import"), low=0, high=2**53, default=0)
        files.undo_import(current_store(), current_caller(), number,
                          why="taken back in the workshop's books")
        return note(f"import {number} was taken back", kind="done")

    @app.callback(Output("book-told", "children", allow_duplicate=True),
                  Input({"type": "book-do", "name": ALL}, "n_clicks"),
                  State({"type": "book-act", "name": ALL}, "value"), _WHERE,
                  prevent_initial_call=True)
    def _act(clicks: list[int | None], _: list[object], where: object) -> Any:
        place = parts_from(PATH, where)
        if not any(clicks) or not isinstance(ctx.triggered_id, dict) or len(place) != 2:
            return no_update
        typed = {state["id"]["name"]: state.get("value") for state in ctx.states_list[0]}
        try:
            return note(act_on(str(ctx.triggered_id.get("name")), place[1], typed), kind="done")
        except OiltrendError as error:
            return error_note(error)

