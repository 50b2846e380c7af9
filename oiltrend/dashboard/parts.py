"""Pieces that every page is made of: marks, notes, facts, tables, empty states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from dash import html

from oiltrend.errors import OiltrendError
from oiltrend.figures.table import FigureTable, show
from oiltrend.wording import DATA_WORDS, LEVEL_WORDS

__all__ = ["aria", "attribute", "awaited_tag", "data_tag", "day", "empty_state", "error_note",
           "facts", "icon", "ledger", "level_mark", "note", "page_frame", "sentence", "sheet",
           "table_of"]

_LEVEL_SHAPES = {"no_alarm": "level-no-alarm", "alert": "level-alert", "alarm": "level-alarm",
                 None: "level-none"}
_DATA_SHAPES = {"enough": "data-enough", "little": "data-little",
                "out_of_date": "data-out-of-date"}


def icon(name: str) -> Any:
    """Draw one of the marks under ``assets/icons``; the word beside it carries the meaning.

    Parameters
    ----------
    name : str [-]
        Name of the file.

    Returns
    -------
    component [-]
        A mark that readers of the page aloud pass over.
    """
    return html.Span(className=f"icon icon-{name}", **aria(hidden=True))


def level_mark(level: str | None, *, large: bool = False) -> Any:
    """Show a level by shape, word and colour together.

    Parameters
    ----------
    level : str or None [-]
        no_alarm, alert, alarm or None.
    large : bool [-]
        As the heading of an engine.

    Returns
    -------
    component [-]
        The mark.
    """
    shape = _LEVEL_SHAPES[level]
    return html.Span([icon(shape), html.Span(sentence(LEVEL_WORDS[level]))],
                     className=f"level {shape}" + (" large" if large else ""))


def data_tag(state: str) -> Any:
    """Show whether there are data enough; it stands beside the level and never replaces it.

    Parameters
    ----------
    state : str [-]
        enough, little or out_of_date.

    Returns
    -------
    component [-]
        The tag.
    """
    strong = "" if state == "enough" else " strong"
    return html.Span([icon(_DATA_SHAPES[state]), html.Span(DATA_WORDS[state])],
                     className="tag" + strong)


def aria(*, label: str = "", hidden: bool = False, live: bool = False) -> dict[str, Any]:
    """Give the attributes that tell a reader of the page aloud what it cannot see.

    Parameters
    ----------
    label : str [-]
        Name of a part that has no heading of its own.
    hidden : bool [-]
        Decoration, to be passed over.
    live : bool [-]
        What changes here is read out.

    Returns
    -------
    dict [-]
        Attributes.

    Examples
    --------
    >>> aria(label="Pages")
    {'aria-label': 'Pages'}
    """
    found = {"aria-label": label, "aria-hidden": "true" if hidden else "",
             "aria-live": "polite" if live else ""}
    return {name: value for name, value in found.items() if value}


def attribute(name: str, value: str) -> dict[str, Any]:
    """Give an attribute that the scripts under ``assets`` look for.

    Parameters
    ----------
    name, value : str [-]
        For instance data-chart and the id of a graph.

    Returns
    -------
    dict [-]
        The attribute.
    """
    return {name: value}


def awaited_tag(since: date | None) -> Any:
    """Show that a sample was drawn and its result is awaited.

    Parameters
    ----------
    since : date or None [-]
        When it was drawn.

    Returns
    -------
    component [-]
        The tag.
    """
    words = "result awaited" + (f" since {day(since)}" if since else "")
    return html.Span([icon("awaited"), html.Span(words)], className="tag strong")


def day(when: date | None) -> str:
    """Write a date so that nobody can read it another way.

    Parameters
    ----------
    when : date or None [-]
        The date.

    Returns
    -------
    str [-]
        For instance 4 Mar 2025; a dash when it is not known.

    Examples
    --------
    >>> day(date(2025, 3, 4)), day(None)
    ('4 Mar 2025', '–')
    """
    return "–" if when is None else f"{when.day} {when:%b %Y}"


def sentence(text: str) -> str:
    """Begin a text with a capital.

    Parameters
    ----------
    text : str [-]
        A text.

    Returns
    -------
    str [-]
        The same, as the beginning of a sentence.

    Examples
    --------
    >>> sentence("lead is high")
    'Lead is high'
    """
    return text[:1].upper() + text[1:]


def page_frame(title: str, lead: Any, *children: Any) -> Any:
    """Put the heading with its scale above the page.

    Parameters
    ----------
    title : str [-]
        Heading.
    lead : str or component [-]
        What the page is for, in one line.
    children : component [-]
        The page.

    Returns
    -------
    component [-]
        The page with its heading.
    """
    return html.Div([html.Div([html.H1(title), html.P(lead)], className="page-head"), *children])


def sheet(title: str, *children: Any, lead: str = "", name: str = "") -> Any:
    """Put a part of a page on a sheet of its own.

    Parameters
    ----------
    title : str [-]
        Heading; none when "".
    children : component [-]
        What is on it.
    lead : str [-]
        One line under the heading.
    name : str [-]
        Id, for links into the page.

    Returns
    -------
    component [-]
        The sheet.
    """
    head: list[Any] = [html.H2(title)] if title else []
    head += [html.P(lead)] if lead else []
    more: dict[str, Any] = {"id": name} if name else {}
    return html.Section([*head, *children], className="sheet", **more)


def note(text: str, *, hint: str = "", kind: str = "", shape: str = "doubt") -> Any:
    """Tell something in a box: a remark, a fault or that something is done.

    Parameters
    ----------
    text : str [-]
        The sentence.
    hint : str [-]
        What to do.
    kind : str [-]
        "", fault or done.
    shape : str [-]
        Name of the mark.

    Returns
    -------
    component [-]
        The box.
    """
    lines = [html.P(sentence(text))]
    if hint:
        lines.append(html.P(sentence(hint) + ".", className="hint"))
    return html.Div([icon(shape), *lines], className=f"note {kind}".strip(),
                    role="alert" if kind == "fault" else "status")


def error_note(error: OiltrendError) -> Any:
    """Tell an error: its sentence, and what to do.

    Parameters
    ----------
    error : OiltrendError [-]
        The error.

    Returns
    -------
    component [-]
        The box.
    """
    return note(error.message + ".", hint=error.hint, kind="fault", shape="stop-sign")


def empty_state(title: str, steps: Sequence[Any], *actions: Any) -> Any:
    """Teach what to do first where there is nothing yet.

    Parameters
    ----------
    title : str [-]
        What is missing.
    steps : sequence of str or component [-]
        What to do, in order.
    actions : component [-]
        Links and buttons.

    Returns
    -------
    component [-]
        The box.
    """
    return html.Div([html.H2(title), html.Ol([html.Li(step) for step in steps]),
                     html.Div(list(actions), className="buttons")], className="empty")


def facts(pairs: Mapping[str, Any]) -> Any:
    """List names and values; values that are None are left out.

    Parameters
    ----------
    pairs : mapping of str to component [-]
        Name and value.

    Returns
    -------
    component [-]
        The list.
    """
    return html.Dl([part for name, value in pairs.items() if value is not None
                    for part in (html.Dt(name), html.Dd(value))], className="facts")


def ledger(caption: str, columns: Sequence[str], rows: Sequence[Sequence[Any]], *,
           right: Sequence[int] = (), cards: bool = False) -> Any:
    """Write a table with ledger lines.

    Parameters
    ----------
    caption : str [-]
        What the rows are.
    columns : sequence of str [-]
        Headings; "" for a column of buttons.
    rows : sequence of sequence of component [-]
        Cells; None and "" stay blank.
    right : sequence of int [-]
        Columns of numbers.
    cards : bool [-]
        On a phone every row becomes a card; otherwise the table scrolls sideways.

    Returns
    -------
    component [-]
        The table.
    """
    def side(index: int) -> str:
        return "r num" if index in right else ""
    head = html.Tr([html.Th(name or html.Span("to do", className="away"), scope="col",
                            className=side(k)) for k, name in enumerate(columns)], role="row")
    body = [html.Tr([html.Td("" if cell is None else cell, className=side(k), role="cell",
                             **attribute("data-label", columns[k]))
                     for k, cell in enumerate(row)], role="row") for row in rows]
    # The roles are said outright, because a card is no longer laid out as a table.
    table = html.Table([html.Caption(caption), html.Thead(head, role="rowgroup"),
                        html.Tbody(body, role="rowgroup")], role="table",
                       className="ledger cards" if cards else "ledger")
    return html.Div(table, className="table-wrap", tabIndex="0", role="region",
                    **aria(label=caption))


def table_of(table: FigureTable, *, decimal: str) -> Any:
    """Write the table behind a figure.

    Parameters
    ----------
    table : FigureTable [-]
        Numbers, dates and words.
    decimal : str [-]
        Decimal sign of the reader.

    Returns
    -------
    component [-]
        The table.
    """
    def text(cell: object) -> str:
        if isinstance(cell, date):
            return day(cell)
        if isinstance(cell, int):
            return str(cell)
        if isinstance(cell, float):
            return show(cell, decimal=decimal)
        return "" if cell is None else str(cell)
    numeric = [k for k in range(len(table.columns))
               if any(isinstance(row[k], float) for row in table.rows)]
    return ledger(table.caption, table.columns, [[text(c) for c in row] for row in table.rows],
                  right=numeric)
