"""The rows of Watch: one engine a line, its level first and the reason beside it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from dash import dcc, html

from oiltrend.dashboard.context import address
from oiltrend.dashboard.parts import aria, awaited_tag, data_tag, day, icon, level_mark, sentence
from oiltrend.figures.table import show_use
from oiltrend.service.fleet import local_today
from oiltrend.store import WatchRow
from oiltrend.wording import TREND_WORDS

__all__ = ["watch_rows"]

_HEADS = ("Level", "Engine", "Why", "Last sample", "Next sample")
_TREND_SHAPES = {"rising": "rising", "falling": "falling", "level": "level"}


def watch_rows(rows: Sequence[WatchRow]) -> Any:
    """Draw the rows.

    Parameters
    ----------
    rows : sequence of WatchRow [-]
        As the service gives them; distances in the engine's own unit.

    Returns
    -------
    component [-]
        A list, one link a row; it reads as cards on a phone.
    """
    chances = any(row.chance is not None for row in rows)
    heads = (*_HEADS[:2], *(("Stage 3 or worse",) if chances else ()), *_HEADS[2:])
    return html.Div(className="watch with-chance" if chances else "watch", children=[
        html.Div([html.Span(head) for head in heads], className="watch-head",
                 **aria(hidden=True)),
        html.Ul([html.Li(_row(row, chances)) for row in rows])])


def _row(row: WatchRow, chances: bool) -> Any:
    unit = row.meter_unit
    marks = [level_mark(row.level or None), data_tag(row.data)]
    if row.awaiting:
        marks.append(awaited_tag(row.awaited_since))
    whose = " · ".join(filter(None, (row.family, row.car, row.owner)))
    chance = [html.Span(_chance(row.chance), className="chance")] if chances else []
    return dcc.Link(className="watch-row", href=address("/engine", row.engine), children=[
        html.Span(marks, className="state"),
        html.Span([html.Span(row.engine, className="id"),
                   html.Span(whose, className="soft small")], className="who"),
        *chance,
        html.Span([html.Span(sentence(row.reason_text)), *_trend(row)],
                  className="why"),
        html.Span([*_when("Last sample", row.last_sample_date, row.last_meter, unit,
                          none="none yet"), *_ago(row)], className="when"),
        html.Span([*_when("Next sample", row.next_by_date, row.next_by_meter, unit, none="–"),
                   *_due(row)], className="when")])


def _chance(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def _trend(row: WatchRow) -> list[Any]:
    word = row.trend_word
    if word not in _TREND_SHAPES:
        return []
    return [html.Span([icon(_TREND_SHAPES[word]),
                       html.Span(f"{row.measurand}: {TREND_WORDS[word]}", className="small")],
                      className="trend")]


def _ago(row: WatchRow) -> list[Any]:
    if row.last_sample_date is None:
        return []
    days = (local_today() - row.last_sample_date).days
    if days <= 0:
        return []
    return [html.Span(f"{days} day{'s' if days > 1 else ''} ago", className="num soft small")]


def _due(row: WatchRow) -> list[Any]:
    past = row.next_by_date is not None and row.next_by_date <= local_today()
    return [html.Strong("due", className="small")] if past and not row.awaiting else []


def _when(label: str, on: date | None, meter: float | None, unit: str, *, none: str) -> list[Any]:
    parts = [html.Span(label + " ", className="label")]
    if on is None and meter is None:
        return [*parts, html.Span(none, className="soft")]
    if meter is not None:
        parts.append(html.Span(show_use(meter, unit), className="num"))
    if on is not None:
        parts.append(html.Span(day(on), className="num soft small"))
    return parts
