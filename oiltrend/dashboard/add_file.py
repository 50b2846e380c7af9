"""From a file: preview, questions, accounting, and only then the store."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update

from oiltrend.dashboard.books import lab_names, mapping_names
from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.dashboard.downloads import csv_text
from oiltrend.dashboard.file_options import Said, file_options, learned, said_more
from oiltrend.dashboard.file_preview import QUESTION, show_preview, show_stored, waiting_rows
from oiltrend.dashboard.inputs import choice, short_text, whole
from oiltrend.dashboard.parts import attribute, error_note, icon, note
from oiltrend.dashboard.uploads import upload_shelf
from oiltrend.errors import OiltrendError
from oiltrend.ingest import KINDS, WEB_CAPS, ParsedFile
from oiltrend.service import files, fleet, held, mappings, reading

__all__ = ["file_way", "register_file"]

_KIND_WORDS = {"samples": "oil results", "events": "events: changes, top-ups", "teardowns":
               "teardowns", "engines": "engines", "families": "engine families",
               "new-oil": "new oil", "limits": "limits"}
_ABOUT = (Input("file-kind", "value"), Input("file-lab", "value"), Input("file-mapping", "value"))
_ABOUT_STATE = (State("file-kind", "value"), State("file-lab", "value"),
                State("file-mapping", "value"))


def file_way() -> Any:
    """Lay out the way in for files.

    Returns
    -------
    component [-]
        The way in; the preview comes once a file was sent.
    """
    return html.Div([
        dcc.Store(id="file-token"), dcc.Store(id="file-said"), dcc.Download(id="file-download"),
        html.Div([
            html.Button([icon("nav-add"), "Choose a file"], className="button",
                        **attribute("data-choose", "file-token")),
            html.Span("or drop it here", className="soft"),
            html.Span(id="file-name", className="id", role="status"),
            html.P("A table as text (CSV), at most 5 MiB. A workbook: save it as CSV first.",
                   className="small soft")],
            className="drop", **attribute("data-upload", "file-token")),
        html.Div(className="fields", children=[
            dmc.Select(id="file-kind", label="It holds", value="samples", allowDeselect=False,
                       data=[{"value": kind, "label": _KIND_WORDS[kind]} for kind in KINDS]),
            dmc.Autocomplete(id="file-lab", label="Laboratory", data=lab_names(), value="",
                             debounce=400, placeholder="where the file names none"),
            dmc.Select(id="file-mapping", label="Read it as", data=mapping_names(),
                       clearable=True, placeholder="as it comes"),
        ]),
        html.Div(id="file-told"), dcc.Loading(html.Div(id="file-preview"), type="dot"),
        html.Div(waiting_rows(), id="file-waiting")])


def _read(token: object, said: Said, about: tuple[object, object, object]) -> ParsedFile:
    upload = upload_shelf().get(token, current_caller())
    kind, lab, mapping = about
    return reading.preview_file(
        current_store(), current_caller(), upload.data, filename=upload.filename,
        kind=choice(kind, KINDS, default="samples"), size_caps=WEB_CAPS,
        options=file_options(said, lab=short_text(lab), mapping=short_text(mapping)))


def register_file(app: Dash) -> None:
    """Connect preview, answers, store, rejects and undo.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    @app.callback(Output("file-said", "data"), Input("file-token", "data"),
                  Input({"type": QUESTION, "code": ALL, "column": ALL}, "value"),
                  Input({"type": "file-again", "name": ALL}, "n_clicks"),
                  State("file-said", "data"), prevent_initial_call=True)
    def _answers(_token: object, _values: list[object], again: list[int | None],
                 said: object) -> Any:
        triggered = ctx.triggered_id
        fresh = triggered == "file-token" or (
            isinstance(triggered, dict) and triggered.get("type") == "file-again" and any(again))
        answers = [] if fresh else [(field["id"]["code"], field["id"]["column"],
                                     field.get("value")) for field in ctx.inputs_list[1]]
        now = said_more(None if fresh else said, answers)
        return no_update if now == said and not fresh else now

    @app.callback(Output("file-preview", "children"), Output("file-told", "children"),
                  Input("file-said", "data"), *_ABOUT, State("file-token", "data"),
                  prevent_initial_call=True)
    def _preview(said: object, kind: object, lab: object, mapping: object, token: object) -> Any:
        if token is None or said is None:
            return no_update, no_update
        now = said_more(said, [])
        try:
            parsed = _read(token, now, (kind, lab, mapping))
        except OiltrendError as error:
            return None, error_note(error)
        return show_preview(parsed, now, lab=short_text(lab)), None

    _register_rejects(app)
    _register_store(app)
    _register_held(app)


def _register_rejects(app: Dash) -> None:
    @app.callback(Output("file-download", "data"), Input("file-rejects", "n_clicks"),
                  State("file-token", "data"), State("file-said", "data"), *_ABOUT_STATE,
                  prevent_initial_call=True)
    def _rejects(clicks: int | None, token: object, said: object, *about: object) -> Any:
        if not clicks:
            return no_update
        parsed = _read(token, said_more(said, []), about)  # type: ignore[arg-type]
        rows = [(one.line, one.column, one.raw, one.reason, one.hint) for one in parsed.rejects]
        return {"content": csv_text(("line", "column", "raw", "reason", "hint"), rows),
                "filename": f"rejects-{parsed.file}", "type": "text/csv"}


def _register_store(app: Dash) -> None:
    @app.callback(
        Output("file-preview", "children", allow_duplicate=True),
        Output("file-told", "children", allow_duplicate=True),
        Output("file-waiting", "children"),
        Input({"type": "file-store", "rows": ALL}, "n_clicks"), State("file-token", "data"),
        State("file-said", "data"), State({"type": "file-name", "name": ALL}, "value"),
        *_ABOUT_STATE, prevent_initial_call=True)
    def _store(clicks: list[int | None], token: object, said: object, names: list[object],
               *about: object) -> Any:
        if not any(clicks) or not isinstance(ctx.triggered_id, dict):
            return [no_update] * 3
        now = said_more(said, [])
        kind, lab, mapping = about
        try:
            upload = upload_shelf().get(token, current_caller())
            report = files.import_file(
                current_store(), current_caller(), upload.data, filename=upload.filename,
                kind=choice(kind, KINDS, default="samples"), size_caps=WEB_CAPS,
                options=file_options(now, lab=short_text(lab), mapping=short_text(mapping)),
                good_rows_only=ctx.triggered_id.get("rows") == "good",
                create_family=now["create_family"])
            wanted = short_text(names[0] if names else "")
            if wanted and report.import_id is not None:
                mappings.remember_mapping(current_store(), current_caller(), learned(
                    report.parsed, now, name=wanted, lab=short_text(lab)))
            fleet.refresh_verdicts(current_store(), current_caller())
        except OiltrendError as error:
            return no_update, error_note(error), no_update
        return show_stored(report), None, waiting_rows()

    @app.callback(
        Output("file-told", "children", allow_duplicate=True),
        Output("file-preview", "children", allow_duplicate=True),
        Input({"type": "file-undo", "import": ALL}, "n_clicks"), prevent_initial_call=True)
    def _undo(clicks: list[int | None]) -> Any:
        if not any(clicks) or not isinstance(ctx.triggered_id, dict):
            return no_update, no_update
        number = whole(ctx.triggered_id.get("import"), low=0, high=2**53, default=0)
        report = files.undo_import(current_store(), current_caller(), number,
                                   why="undone right after the import")
        stays = len(report.edited_since) + len(report.in_use)
        left = f" {stays} things stay, because they were changed or used since." if stays else ""
        return note("the import was taken back." + left, kind="done"), None


def _register_held(app: Dash) -> None:
    @app.callback(
        Output("file-waiting", "children", allow_duplicate=True),
        Output("file-told", "children", allow_duplicate=True),
        Input({"type": "held-save", "import": ALL, "name": ALL}, "n_clicks"),
        State({"type": "held-engine", "import": ALL, "name": ALL}, "value"),
        prevent_initial_call=True)
    def _held(clicks: list[int | None], _engines: list[object]) -> Any:
        pressed = ctx.triggered_id
        if not any(clicks) or not isinstance(pressed, dict):
            return no_update, no_update
        chosen = next((short_text(state.get("value")) for state in ctx.states_list[0]
                       if {**state["id"], "type": ""} == {**pressed, "type": ""}), "")
        try:
            stored = held.answer_held(
                current_store(), current_caller(),
                whole(pressed.get("import"), low=0, high=2**53, default=0),
                short_text(pressed.get("name")), chosen)
        except OiltrendError as error:
            return no_update, error_note(error)
        return waiting_rows(), note(f"{stored} rows now belong to {chosen}", kind="done")
