"""The frame around every page: rail or bar, theme switch, demo band, footer with cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, dcc, html

from oiltrend import __version__
from oiltrend.dashboard.parts import aria, icon
from oiltrend.wording import LIMITS_OF_USE

__all__ = ["INDEX", "NOTICE", "SIGNS_PATH", "THEME", "frame", "register_shell"]

NOTICE = "shell-notice"
# Holds "light" or "dark": what the browser really shows, also when the choice is "auto".
THEME = "shell-theme"
SIGNS_PATH = "/stop-signs"

INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<link rel="icon" type="image/svg+xml" href="/assets/icons/wordmark.svg">
{%css%}
</head>
<body>
{%app_entry%}
<div>{%config%}{%scripts%}{%renderer%}</div>
</body>
</html>"""

_SHADES = ["#eef4f6", "#d8e6eb", "#bcd6df", "#9cc5d3", "#8cc6da", "#5f9fb6", "#8cc6da", "#2a6a82",
           "#1c5368", "#143e4e"]
_MANTINE: dict[str, Any] = {
    "colors": {"petrol": _SHADES}, "primaryColor": "petrol",
    "primaryShade": {"light": 8, "dark": 6}, "defaultRadius": 3, "respectReducedMotion": True,
    "autoContrast": True, "fontFamily": "var(--sans)", "fontFamilyMonospace": "var(--mono)",
    "headings": {"fontFamily": "var(--serif)"}}


def frame(entries: Sequence[tuple[str, str, str]], *, demo: bool) -> Any:
    """Lay out the frame.

    Parameters
    ----------
    entries : sequence of (path, name, icon) [-]
        What the rail offers.
    demo : bool [-]
        Whether the store holds the invented workshop.

    Returns
    -------
    component [-]
        The layout of the app.
    """
    links = [dcc.Link([icon(mark), html.Span(name)], href=path) for path, name, mark in entries]
    band = html.Aside(html.Span("demo workshop, invented data"), className="band",
                      **aria(label="Demo"))
    return dmc.MantineProvider(id="shell-provider", theme=_MANTINE, children=[
        dcc.Store(id=THEME), html.A("Skip to the page", href="#main", className="skip"),
        html.Div(className="frame", children=[
            html.Header(className="rail", children=[
                dcc.Link([icon("wordmark"), html.Span("oiltrend")], href="/",
                         className="wordmark"),
                html.Nav(links, className="nav", **aria(label="Pages")),
                html.Div(_switch(), className="rail-foot"),
            ]),
            html.Div(className="column", children=[
                *([band] if demo else []),
                html.Div(id=NOTICE, className="notice", role="status",
                         **aria(live=True)),
                html.Main(dash.page_container, id="main", tabIndex="-1"),
                _foot(),
            ]),
        ]),
    ])


def _switch() -> Any:
    choices = [{"value": "auto", "label": "Auto"}, {"value": "light", "label": "Light"},
               {"value": "dark", "label": "Dark"}]
    return html.Div(role="group", className="theme-switch", **aria(label="Theme"), children=[
        dmc.SegmentedControl(id="shell-choice", data=choices, value="auto", size="xs",
                             persistence=True, persistence_type="local"),
        html.P("Open on this computer only. Accounts come later.", className="local small soft")])


def _foot() -> Any:
    return html.Footer(className="foot", children=[
        html.P(dcc.Link([icon("stop-sign"), "Signs to stop driving, whatever the oil says"],
                        href=SIGNS_PATH), className="stop"),
        html.P(LIMITS_OF_USE),
        html.P(f"oiltrend {__version__} · answers on this computer only, because there are no "
               "accounts yet.")])


def register_shell(app: Dash) -> None:
    """Connect the theme switch and the pointer of the rail; both live in the browser.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("oiltrend", "theme"),
        Output("shell-provider", "forceColorScheme"), Output(THEME, "data"),
        Input("shell-choice", "value"))
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("oiltrend", "arrive"),
        Output(NOTICE, "children", allow_duplicate=True), Input("_pages_location", "pathname"),
        prevent_initial_call="initial_duplicate")
