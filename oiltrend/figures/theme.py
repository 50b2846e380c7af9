"""The look that all figures share: colours for light and dark, chart settings, safe text.

Figures are plain dicts (no object is built for each mark), so a page answers within
milliseconds. Every colour has a second carrier beside it: dash, shape or word.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["DARK", "GRAPH_CONFIG", "LIGHT", "Theme", "base_layout", "numbers", "plain", "theme_of"]


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours of one theme; the same values stand in the stylesheet.

    Parameters
    ----------
    name : str [-]
        light or dark.
    sheet, ink, soft, rule : str [-]
        Ground, text and marks, secondary text, grid.
    line : str [-]
        Data.
    alert, alarm : str [-]
        Limit lines and their labels.
    alert_fill, alarm_fill : str [-]
        Bands beyond the limits.
    """

    name: str
    sheet: str
    ink: str
    soft: str
    rule: str
    line: str
    alert: str
    alarm: str
    alert_fill: str
    alarm_fill: str


LIGHT = Theme("light", "#fdfbf6", "#1d2326", "#4d565a", "#e2dacb", "#1c5368", "#8f4a08", "#6d0f4c",
              "rgba(176, 98, 16, 0.09)", "rgba(109, 15, 76, 0.11)")
DARK = Theme("dark", "#1c2225", "#ece6d9", "#a9b0ad", "#343d41", "#8cc6da", "#f0a964", "#f5a3d3",
             "rgba(240, 169, 100, 0.10)", "rgba(245, 163, 211, 0.12)")

# The vendor's "share" button would offer to send a customer's chart to another host.
GRAPH_CONFIG: dict[str, Any] = {
    "showSendToCloud": False,
    "displaylogo": False,
    "responsive": True,
    "scrollZoom": False,
    "modeBarButtonsToRemove": ["toImage", "select2d", "lasso2d", "autoScale2d",
                               "sendChartToCloud"],
}

_FONT = "system-ui, -apple-system, 'Segoe UI', 'Noto Sans', 'DejaVu Sans', sans-serif"


def theme_of(name: str | None) -> Theme:
    """Pick the theme by its name; anything but dark is light.

    Parameters
    ----------
    name : str or None [-]
        What the browser says it shows.

    Returns
    -------
    Theme [-]
        The colours.

    Examples
    --------
    >>> theme_of("dark").name, theme_of(None).name
    ('dark', 'light')
    """
    return DARK if name == "dark" else LIGHT


def plain(text: str) -> str:
    """Make text from the store harmless in a chart, whose labels know a little HTML.

    Parameters
    ----------
    text : str [-]
        Any text.

    Returns
    -------
    str [-]
        The text with ``&``, ``<`` and ``>`` written out.

    Examples
    --------
    >>> plain("<a href='x'>shop & sons</a>")
    "&lt;a href='x'&gt;shop &amp; sons&lt;/a&gt;"
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def numbers(values: ArrayLike) -> list[float | None]:
    """Give an array as a list that JSON can carry: what is not finite becomes None.

    Parameters
    ----------
    values : array, shape (n,) [-]
        Numbers of any unit.

    Returns
    -------
    list of float or None [-]
        The same numbers, in the same unit.

    Examples
    --------
    >>> numbers([1.0, float("nan")])
    [1.0, None]
    """
    array = np.asarray(values, dtype=float)
    return [value if finite else None
            for value, finite in zip(array.tolist(), np.isfinite(array).tolist(), strict=True)]


def base_layout(theme: Theme, *, height: int, decimal: str = ".", keep: str = "") -> dict[str, Any]:
    """Give the part of the layout that every figure has.

    Parameters
    ----------
    theme : Theme [-]
        Colours.
    height : int [-]
        Pixels; fixed, so that the page does not jump.
    decimal : str [-]
        Decimal sign of the reader.
    keep : str [-]
        While this stays the same, the reader's zoom is kept.

    Returns
    -------
    dict [-]
        A plotly layout.
    """
    return {
        "height": height,
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": _FONT, "size": 13, "color": theme.ink},
        "margin": {"l": 44, "r": 14, "t": 4, "b": 64},
        "separators": decimal + "\u202f",
        "showlegend": False,
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": theme.sheet, "bordercolor": theme.soft,
                       "font": {"family": _FONT, "size": 13, "color": theme.ink},
                       "align": "left"},
        "modebar": {"bgcolor": "rgba(0,0,0,0)", "color": theme.soft, "activecolor": theme.ink},
        # A finger that scrolls the page must not zoom the chart.
        "dragmode": False,
        "uirevision": keep or "oiltrend",
    }
