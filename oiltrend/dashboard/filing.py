"""A file on its way in, shown: what became of every row, what is asked, what was understood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html

from oiltrend.dashboard.parts import aria, icon, ledger, note, sentence
from oiltrend.ingest import HeldRow, MatchedColumn, ParsedFile, Question, Reject

__all__ = ["account_strip", "held_form", "match_table", "notes_of", "preview_table",
           "question_form", "reject_table"]

_PARTS = (("header", "heading"), ("accepted", "fit to be stored"),
          ("held", "waiting for an answer"), ("rejected", "rejected"),
          ("duplicates", "known already"), ("blank", "blank"))
_HOW = {"known": "known name", "mapping": "remembered", "user": "you said so", "": "asked above"}
_CHOICE_WORDS = {
    "ymd": "year, month, day", "dmy": "day, month, year", "mdy": "month, day, year",
    "point": "point: 1.5", "comma": "comma: 1,5", "km": "kilometres", "mi": "miles",
    "h": "running hours", "ignore": "leave this column out"}
_MOST_SHOWN = 60


def account_strip(parsed: ParsedFile) -> Any:
    """Show what became of every row: a bar cut in shares, each with its number and pattern.

    Parameters
    ----------
    parsed : ParsedFile [-]
        The file as it was understood.

    Returns
    -------
    component [-]
        The strip, with the sum written out.
    """
    counts = [(name, words, getattr(parsed, name)) for name, words in _PARTS]
    shown = [part for part in counts if part[2] or part[0] in ("accepted", "rejected")]
    bar = html.Div([html.I(className=f"part-{name}", style={"flexGrow": str(count)})
                    for name, _, count in counts if count],
                   className="account-bar", **aria(hidden=True))
    names = html.Dl([html.Div([html.I(className=f"part-{name}", **aria(hidden=True)),
                               html.Dd(str(count)), html.Dt(words)])
                     for name, words, count in shown])
    added = " + ".join(f"{count} {words}" for _, words, count in counts if count) or "nothing"
    return html.Div([bar, names, html.P(f"{parsed.records} rows = {added}",
                                        className="account-sum")], className="account")


def question_form(questions: Sequence[Question], *, kind: str, engines: Sequence[str]) -> Any:
    """Ask what only the user can answer.

    Parameters
    ----------
    questions : sequence of Question [-]
        What is open.
    kind : str [-]
        Type of the fields' ids.
    engines : sequence of str [-]
        Engines to choose from, where one is asked for.

    Returns
    -------
    component [-]
        One box a question.
    """
    return html.Div([_question(question, kind, engines) for question in questions])


def _question(question: Question, kind: str, engines: Sequence[str]) -> Any:
    choices = list(question.choices) or (list(engines) if question.code == "engine" else [])
    field = {"type": kind, "code": question.code, "column": question.column}
    examples = html.Ul([html.Li(example) for example in question.examples],
                       className="small soft") if question.examples else None
    answer: Any
    if choices:
        answer = dmc.Select(
            id=field, label="Answer", searchable=len(choices) > 8, value=None,
            placeholder="choose", nothingFoundMessage="nothing of that name",
            data=[{"value": one, "label": _CHOICE_WORDS.get(one, one)} for one in choices])
    else:
        answer = dmc.TextInput(id=field, label="Answer", debounce=True)
    return html.Div([html.H2([icon("doubt"), question.text]),
                     *([examples] if examples is not None else []), answer],
                    className="question")


def held_form(held: Sequence[HeldRow], *, kind: str, engines: Sequence[str],
              said: Mapping[str, str]) -> Any:
    """Ask which engine each unknown name stands for.

    Parameters
    ----------
    held : sequence of HeldRow [-]
        Rows that wait.
    kind : str [-]
        Type of the fields' ids.
    engines : sequence of str [-]
        Our engines.
    said : mapping of str to str [-]
        What was answered already.

    Returns
    -------
    component [-]
        One box, a field a name.
    """
    rows: dict[str, int] = {}
    for row in held:
        rows[row.engine_text] = rows.get(row.engine_text, 0) + 1
    fields = [dmc.Select(
        id={"type": kind, "code": "held", "column": name}, searchable=True, clearable=True,
        label=f"'{name}' ({count} row{'s' if count > 1 else ''})", placeholder="our engine",
        data=list(engines), value=said.get(name), nothingFoundMessage="no such engine")
        for name, count in rows.items()]
    return html.Div(className="question", children=[
        html.H2([icon("doubt"), "The file names engines that are not known here"]),
        html.P("Say which of yours each one is. Rows without an answer wait; they are kept with "
               "the import and never put to an engine by guess."),
        html.Div(fields, className="fields")])


def reject_table(rejects: Sequence[Reject]) -> Any:
    """List what cannot be used: line, column, text, reason and what to do.

    Parameters
    ----------
    rejects : sequence of Reject [-]
        One a bad cell.

    Returns
    -------
    component [-]
        The table; the first ones when there are many, with their number.
    """
    rows = [[str(one.line), one.column, html.Code(one.raw), sentence(one.reason), one.hint]
            for one in rejects[:_MOST_SHOWN]]
    more = len(rejects) - len(rows)
    caption = ("one cell that cannot be used" if len(rejects) == 1
               else f"{len(rejects)} cells that cannot be used")
    table = ledger(caption, ("line", "column", "found", "reason", "what to do"), rows,
                   cards=True)
    return html.Div([table, html.P(f"and {more} more in the download", className="soft")]
                    if more > 0 else [table])


def match_table(matched: Sequence[MatchedColumn]) -> Any:
    """Show what every heading was taken for.

    Parameters
    ----------
    matched : sequence of MatchedColumn [-]
        One a heading.

    Returns
    -------
    component [-]
        The table.
    """
    rows = [[one.heading, {"ignore": "left out", "": "?"}.get(one.column, one.column),
             "" if one.unit == "-" else one.unit, _HOW[one.how]] for one in matched]
    return ledger("What every column was taken for", ("heading in the file", "taken for", "unit",
                                                      "how"), rows)


def preview_table(parsed: ParsedFile) -> Any:
    """Show the first rows as they were read.

    Parameters
    ----------
    parsed : ParsedFile [-]
        The file as it was understood.

    Returns
    -------
    component [-]
        The table.
    """
    return ledger("The first rows as read", parsed.headings, parsed.preview)


def notes_of(parsed: ParsedFile) -> Any:
    """Tell what was read but should be looked at.

    Parameters
    ----------
    parsed : ParsedFile [-]
        The file as it was understood.

    Returns
    -------
    component [-]
        Boxes for the whole file, a table for single rows.
    """
    whole = [note(one.text) for one in parsed.notes if not one.line]
    rows = [[str(one.line), one.column, html.Code(one.raw), sentence(one.text)]
            for one in parsed.notes if one.line][:_MOST_SHOWN]
    if rows:
        whole.append(ledger("Read, but worth a look", ("line", "column", "found", "remark"), rows,
                            cards=True))
    return html.Div(whole)
