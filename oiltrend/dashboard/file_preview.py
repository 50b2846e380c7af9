"""The preview of a file, what became of it once stored, and rows that still wait."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from oiltrend.dashboard.books import engine_choices, family_names
from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.dashboard.file_options import Said
from oiltrend.dashboard.filing import (
    account_strip,
    held_form,
    match_table,
    notes_of,
    preview_table,
    question_form,
    reject_table,
)
from oiltrend.dashboard.parts import icon, note, sheet
from oiltrend.ingest import ParsedFile, columns_of
from oiltrend.service import held
from oiltrend.service.files import ImportReport

__all__ = ["QUESTION", "show_preview", "show_stored", "waiting_rows"]

QUESTION = "file-question"


def show_preview(parsed: ParsedFile, said: Said, *, lab: str) -> Any:
    """Show a file before anything is stored: what is asked first, then what became of every row.

    Parameters
    ----------
    parsed : ParsedFile [-]
        The file as it was understood.
    said : dict [-]
        What was said about it.
    lab : str [-]
        Laboratory it came from.

    Returns
    -------
    component [-]
        The preview.
    """
    engines = engine_choices("") if parsed.questions or parsed.held_rows else []
    asked = [question_form(parsed.questions, kind=QUESTION, engines=engines)]
    if parsed.held_rows:
        asked += [held_form(parsed.held_rows, kind=QUESTION, engines=engines,
                            said=said["engines"]), _new_engines(said)]
    parts: list[Any] = [account_strip(parsed), notes_of(parsed)]
    if parsed.rejects:
        parts += [html.H3("Rejected"), reject_table(parsed.rejects),
                  html.Div(html.Button([icon("download"), "Rejects as CSV"], id="file-rejects",
                                       className="button quiet"), className="buttons")]
    else:
        # The button has to exist for its callback; without rejects it is not shown.
        parts.append(html.Button(id="file-rejects", hidden=True))
    parts += [html.Details([html.Summary("What was understood"), match_table(parsed.matched),
                            _other_match(parsed)]),
              html.Details([html.Summary("First rows"), preview_table(parsed)])]
    return html.Div([*asked, sheet(f"{parsed.file}, before anything is stored", *parts,
                                   _store_buttons(parsed, said, lab))])


def _new_engines(said: Said) -> Any:
    families = family_names()
    if not families:
        return html.Div(className="question", children=[
            html.H2([icon("doubt"), "Or are they new engines?"]),
            html.P(["Then make their family first: ",
                    dcc.Link("New engine family", href="/workshop/family"), "."])])
    return html.Div(className="question", children=[
        html.H2([icon("doubt"), "Or are they new engines?"]),
        dmc.Select(id={"type": QUESTION, "code": "create_family", "column": ""},
                   label="Make them, in the family", data=families, clearable=True,
                   value=said["create_family"] or None, placeholder="do not make any")])


def _other_match(parsed: ParsedFile) -> Any:
    """Let the user take a column for something else than the program did."""
    columns = [column.name for column in columns_of(parsed.kind)]
    return html.Div(className="fields", children=[
        dmc.Select(id={"type": QUESTION, "code": "column", "column": one.heading},
                   label=f"'{one.heading}' is", searchable=True, placeholder=one.column or "?",
                   data=[{"value": "ignore", "label": "leave it out"},
                         *({"value": name, "label": name} for name in columns)])
        for one in parsed.matched if one.how != "" and one.heading])


def _store_buttons(parsed: ParsedFile, said: Said, lab: str) -> Any:
    def button(words: str, rows: str) -> Any:
        return html.Button(words, id={"type": "file-store", "rows": rows}, className="button")
    again = html.Button("Begin the answers again", className="button quiet",
                        id={"type": "file-again", "name": "answers"})
    if parsed.questions:
        return html.Div([html.P("Answer what is asked above; until then nothing can be stored."),
                         again], className="buttons")
    if not parsed.accepted and not parsed.held:
        return note("there is nothing to store in this file")
    waiting = 0 if said["create_family"] else parsed.held
    more = f", {waiting} wait for their engine" if waiting else ""
    parts: list[Any] = []
    learns = bool(said["engines"]) or any(one.how == "user" for one in parsed.matched) or any(
        said[code] for code in ("date_order", "decimal", "meter"))
    if learns:
        parts.append(html.Div(className="fields", children=[dmc.TextInput(
            id={"type": "file-name", "name": "mapping"}, value=lab,
            label="Remember these answers as", description="empty: do not remember")]))
    if parsed.rejected:
        parts.append(html.P("Correct the file and send it again, then all of it is stored; or "
                            "store what is good in it.", className="soft"))
        store = button(f"Store the {parsed.accepted} good rows, leave out {parsed.rejected}",
                       "good")
    else:
        store = button(f"Store {parsed.accepted + parsed.held - waiting} rows{more}", "all")
    return html.Div([*parts, html.Div([store, again] if learns else [store],
                                      className="buttons")])


def show_stored(report: ImportReport) -> Any:
    """Tell what became of a file.

    Parameters
    ----------
    report : ImportReport [-]
        Of the import.

    Returns
    -------
    component [-]
        Accounting, ways on, and the way back.
    """
    if report.import_id is None:
        return note("nothing was stored", hint="read the questions and rejects", kind="fault",
                    shape="stop-sign")
    return sheet(f"Stored: {report.stored} rows of {report.parsed.file}",
                 account_strip(report.parsed),
                 html.Div([dcc.Link("See who comes first", href="/", className="button"),
                           html.Button("Take this import back", className="button quiet",
                                       id={"type": "file-undo", "import": report.import_id})],
                          className="buttons"))


def waiting_rows() -> Any:
    """Ask about rows of earlier files whose engine nobody has named yet.

    Returns
    -------
    component [-]
        The questions, or nothing.
    """
    counted: dict[tuple[int, str, str], int] = {}
    for row in held.held_rows(current_store(), current_caller()):
        key = (row.import_id, row.file, row.engine_text)
        counted[key] = counted.get(key, 0) + 1
    if not counted:
        return html.Div()
    engines = engine_choices("")
    return sheet("Rows that wait for their engine", *(
        html.Div(className="fields", children=[
            dmc.Select(id={"type": "held-engine", "import": number, "name": name},
                       label=f"'{name}' in {file} ({count} rows)", data=engines,
                       searchable=True, placeholder="our engine"),
            html.Button("It is this one", className="button quiet",
                        id={"type": "held-save", "import": number, "name": name})])
        for (number, file, name), count in counted.items()),
        lead="They are kept; nothing is put to an engine by guess.")
