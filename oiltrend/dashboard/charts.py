"""A chart on a page: its summary in words, the marks explained, the table and the downloads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from dash import dcc, html

from oiltrend.assessment.results import Marker
from oiltrend.dashboard.parts import aria, attribute, icon, table_of
from oiltrend.figures.marks import MARK_WORDS
from oiltrend.figures.strips import EVENT_SYMBOLS
from oiltrend.figures.table import FigureTable
from oiltrend.figures.theme import GRAPH_CONFIG

__all__ = ["chart", "chart_foot", "figure_style", "lane_legend", "legend"]

_BLANK = {"data": [], "layout": {"xaxis": {"visible": False}, "yaxis": {"visible": False},
                                 "paper_bgcolor": "rgba(0,0,0,0)",
                                 "plot_bgcolor": "rgba(0,0,0,0)"}}
_SIGNS = ("●", "○", "↓", "↑")


def chart(name: str, *, label: str, pixels: int) -> Any:
    """Place a chart; its figure comes by callback, once the browser has said which theme it shows.

    Parameters
    ----------
    name : str [-]
        Id of the graph.
    label : str [-]
        What it shows, for those who do not see it.
    pixels : int [-]
        Height that is kept free.

    Returns
    -------
    component [-]
        The chart.
    """
    graph = dcc.Graph(id=name, figure=_BLANK, config=cast("Any", GRAPH_CONFIG), responsive=True,
                      style=figure_style(pixels))
    return html.Div(graph, className="figure", role="figure", **aria(label=label))


def figure_style(pixels: int) -> dict[str, str]:
    """Give the style of a chart of this height; a fixed height keeps the page still.

    Parameters
    ----------
    pixels : int [-]
        Height.

    Returns
    -------
    dict [-]
        Style of the graph.
    """
    return {"height": f"{pixels}px"}


def chart_foot(name: str, table: FigureTable, *, decimal: str, download: str) -> Any:
    """Put the table behind a chart, and the way to take it along.

    Parameters
    ----------
    name : str [-]
        Id of the graph.
    table : FigureTable [-]
        What the chart draws.
    decimal : str [-]
        Decimal sign of the reader.
    download : str [-]
        Address of the same numbers as CSV.

    Returns
    -------
    component [-]
        Foot of the chart.
    """
    return html.Div([
        html.Details([html.Summary("The numbers behind it"), table_of(table, decimal=decimal)]),
        html.Div([html.A([icon("download"), "Numbers as CSV"], href=download, download=""),
                  html.Button([icon("download"), "Chart as image"], className="as-link",
                              **attribute("data-chart", name))], className="figure-foot")])


def lane_legend(markers: Sequence[Marker]) -> Any:
    """Explain the signs in the lane below the strips, as far as they occur.

    Parameters
    ----------
    markers : sequence of Marker [-]
        Events on the axis.

    Returns
    -------
    component [-]
        The list, or nothing.
    """
    kinds = dict.fromkeys(marker.kind for marker in markers if marker.axis is not None)
    known = [EVENT_SYMBOLS[kind] for kind in kinds if kind in EVENT_SYMBOLS]
    return html.Ul([html.Li(f"{sign} {word}") for _, sign, word in known], className="legend")


def legend() -> Any:
    """Explain the marks in words.

    Returns
    -------
    component [-]
        The list.
    """
    return html.Ul([html.Li(f"{sign} {word}") for sign, word
                    in zip(_SIGNS, MARK_WORDS, strict=True)], className="legend")
