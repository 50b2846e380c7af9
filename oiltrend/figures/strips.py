"""Strip charts: one strip per quantity, one above the other over one use axis.

Every figure about an engine is drawn as a strip recorder would: the strips share the
distance axis, and below them runs a narrow lane with what happened to the engine.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.results import AppliedLimit, Marker
from oiltrend.figures.table import show, show_use
from oiltrend.figures.theme import Theme, plain
from oiltrend.figures.use import UseUnit

__all__ = ["EVENT_SYMBOLS", "LANE_AXIS", "axis_suffix", "event_lane", "events_along", "limit_marks",
           "strip_axes", "use_range", "visible_range"]

# Kind of event: symbol, the same as a sign for the legend, and word.
EVENT_SYMBOLS: dict[str, tuple[str, str, str]] = {
    "oil_change": ("line-ns", "|", "oil change"),
    "top_up": ("triangle-up-open", "△", "top-up"),
    "filter_change": ("circle-open", "○", "filter change"),
    "shells_fitted": ("square-open", "□", "shells fitted"),
    "teardown": ("x-thin", "✕", "teardown"),
    "meter_replaced": ("diamond-tall-open", "◊", "meter replaced"),
    "engine_fitted": ("triangle-right-open", "▷", "engine fitted"),
    "engine_removed": ("triangle-left-open", "◁", "engine removed"),
    "series_break": ("line-ew", "—", "laboratory or method changed"),
    "awaited": ("hourglass-open", "⧖", "sample drawn, result awaited"),
}
# Events that cut a history in two get a line through all strips.
_CUTS = frozenset({"shells_fitted", "teardown", "engine_fitted", "engine_removed",
                   "meter_replaced"})
LANE_AXIS = 99
_LANE_PIXELS = 34
_GAP_PIXELS = 26
_FOOT_PIXELS = 68
_KIND_WORDS = {"fixed": "fixed", "population": "this family", "own": "own history",
               "finding": "finding"}
# A limit far above the data is named on the chart but does not squash the data.
_REACH = 2.5
# Events within this share of the sampled stretch belong to it.
_EVENT_REACH = 0.25
_EDGE_SHARE = 0.04


def axis_suffix(index: int) -> str:
    """Give plotly's ending for the axis of a strip: none for the first, then 2 and on.

    Parameters
    ----------
    index : int [-]
        Strip, counted from 0.

    Returns
    -------
    str [-]
        The ending.

    Examples
    --------
    >>> axis_suffix(0), axis_suffix(2)
    ('', '3')
    """
    return "" if index == 0 else str(index + 1)


def strip_axes(titles: Sequence[str], *, strip_pixels: int, use: UseUnit,
               theme: Theme) -> tuple[dict[str, Any], list[dict[str, Any]], int]:
    """Lay out the axes of strips and lane. Titles stand above the strips, where a phone has room.

    Parameters
    ----------
    titles : sequence of str [-]
        What each strip shows, with its unit, from the top.
    strip_pixels : int [-]
        Height of one strip.
    use : UseUnit [-]
        How use is counted.
    theme : Theme [-]
        Colours.

    Returns
    -------
    axes, titles, height : dict, list of dict and int [-]
        Axes of the layout, annotations, and the height of the whole in pixels.
    """
    plot = len(titles) * (strip_pixels + _GAP_PIXELS) + _LANE_PIXELS
    line = {"gridcolor": theme.rule, "zeroline": False, "linecolor": theme.soft,
            "tickcolor": theme.soft, "ticks": "outside", "ticklen": 4}
    axes: dict[str, Any] = {
        "xaxis": {**line, "title": {"text": use.title, "standoff": 6}, "tickformat": ",.0f",
                  "anchor": f"y{LANE_AXIS}", "showline": True},
        f"yaxis{LANE_AXIS}": {"domain": [0.0, (_LANE_PIXELS - 8) / plot], "range": [-1, 1],
                              "visible": False, "fixedrange": True},
    }
    names = []
    for index, title in enumerate(titles):
        top = plot - _GAP_PIXELS - index * (strip_pixels + _GAP_PIXELS)
        axes[f"yaxis{axis_suffix(index)}"] = {
            **line, "domain": [(top - strip_pixels) / plot, top / plot], "anchor": "x",
            "nticks": 5, "showline": True, "fixedrange": True}
        names.append({"xref": "x domain", "yref": f"y{axis_suffix(index)} domain", "x": 0, "y": 1,
                      "xanchor": "left", "yanchor": "bottom", "showarrow": False,
                      "text": f"<b>{plain(title)}</b>",
                      "font": {"size": 13, "color": theme.ink}})
    return axes, names, plot + _FOOT_PIXELS


def visible_range(low: NDArray[np.float64], value: NDArray[np.float64],
                  high: NDArray[np.float64], limits: Sequence[float]) -> tuple[float, float]:
    """Choose the value range so that the data fill it and near limits are seen.

    Parameters
    ----------
    low, value, high : array, shape (n,) [-]
        Lower end, value and upper end of each mark, in the reader's unit; NaN where unknown.
    limits : sequence of float [-]
        Limits in the same unit.

    Returns
    -------
    bottom, top : float [-]
        Range of the axis; limits above ``top`` are named at the edge.

    Examples
    --------
    >>> import numpy as np
    >>> none = np.array([np.nan])
    >>> visible_range(none, np.array([4.0]), none, [8.0, 400.0])
    (0.0, 8.96)
    """
    known = value[np.isfinite(value)]
    ends = high[np.isfinite(high)]
    largest = float(known.max()) if known.size else float(ends.max()) if ends.size else 0.0
    near = [limit for limit in limits if limit <= _REACH * largest]
    top = max([largest, *near])
    if top <= 0:
        top = min((limit for limit in limits if limit > 0), default=1.0)
    if ends.size:
        top = max(top, min(float(ends.max()), _REACH * top))
    downs = np.concatenate([low[np.isfinite(low)], known])
    lowest = min(0.0, float(downs.min())) if downs.size else 0.0
    return max(lowest, -0.3 * top), round(top * 1.12, 6)


def limit_marks(limits: Sequence[AppliedLimit], values: Sequence[float], *, strip: int,
                span: tuple[float, float], theme: Theme,
                decimal: str) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Draw limits as named lines, with a band beyond the lowest upper limit of each level.

    Parameters
    ----------
    limits : sequence of AppliedLimit [-]
        Limits that have a value.
    values : sequence of float [-]
        Their values in the reader's unit.
    strip : int [-]
        Strip, counted from 0.
    span : tuple of float [-]
        Range of the strip's axis in the reader's unit.
    theme : Theme [-]
        Colours.
    decimal : str [-]
        Decimal sign of the reader.

    Returns
    -------
    shapes, annotations : list of dict [-]
        Layout entries.
    """
    suffix = axis_suffix(strip)
    shapes: list[dict[str, Any]] = []
    annotations: list[dict[str, Any]] = []
    off = []
    for limit, value in zip(limits, values, strict=True):
        alarm = limit.level == "alarm"
        colour = theme.alarm if alarm else theme.alert
        kind = _KIND_WORDS[limit.kind]
        words = f"{limit.level} {limit.operator} {show(value, decimal=decimal)} · {kind}"
        if value > span[1]:
            off.append(words)
            continue
        shapes.append({"type": "line", "xref": "x domain", "yref": f"y{suffix}",
                       "x0": 0, "x1": 1, "y0": value, "y1": value, "layer": "above",
                       "line": {"color": colour, "width": 2 if alarm else 1.5,
                                "dash": "solid" if alarm else "dash"}})
        annotations.append({
            "xref": "x domain", "yref": f"y{suffix}", "x": 0.0 if alarm else 1.0, "y": value,
            "xanchor": "left" if alarm else "right", "yanchor": "bottom", "showarrow": False,
            "text": plain(words), "font": {"size": 11, "color": colour}})
    if off:
        annotations.append({
            "xref": "x domain", "yref": f"y{suffix} domain", "x": 1.0, "y": 1, "xanchor": "right",
            "yanchor": "bottom", "showarrow": False,
            "text": plain("↑ above: " + ", ".join(off)),
            "font": {"size": 11, "color": theme.soft}})
    shapes += _bands(limits, values, suffix=suffix, top=span[1], theme=theme)
    return shapes, annotations


def _bands(limits: Sequence[AppliedLimit], values: Sequence[float], *, suffix: str, top: float,
           theme: Theme) -> list[dict[str, Any]]:
    upper: dict[str, float] = {}
    for limit, value in zip(limits, values, strict=True):
        if limit.operator.startswith(">") and value < top:
            upper[limit.level] = min(value, upper.get(limit.level, value))
    start = {"alert": upper.get("alert"), "alarm": upper.get("alarm")}
    bands = []
    for level, fill in (("alert", theme.alert_fill), ("alarm", theme.alarm_fill)):
        bottom = start[level]
        if bottom is None:
            continue
        end = start["alarm"] if level == "alert" and start["alarm"] is not None else top
        if end > bottom:
            bands.append({"type": "rect", "xref": "x domain", "yref": f"y{suffix}", "x0": 0,
                          "x1": 1, "y0": bottom, "y1": end, "layer": "below", "fillcolor": fill,
                          "line": {"width": 0}})
    return bands


def use_range(places: NDArray[np.float64], events: Sequence[float]) -> tuple[float, float]:
    """Choose the stretch of the use axis: all samples, and what happened near them.

    Parameters
    ----------
    places : array, shape (n,) [-]
        Where samples and beginnings of fills stand, in the reader's unit; NaN where unknown.
    events : sequence of float [-]
        Where events stand, in the same unit.

    Returns
    -------
    low, high : float [-]
        Ends of the axis; an event far away is named at the edge and does not squash the data.

    Examples
    --------
    >>> import numpy as np
    >>> low, high = use_range(np.array([160.0, 260.0]), [0.0, 280.0])
    >>> round(low, 1), round(high, 1)
    (155.2, 284.8)
    """
    known = places[np.isfinite(places)]
    if not known.size:
        known = np.array(events or [0.0, 1.0])
    low, high = float(known.min()), float(known.max())
    reach = _EVENT_REACH * (high - low) or 1.0
    near = [event for event in events if low - reach <= event <= high + reach]
    low, high = min([low, *near]), max([high, *near])
    pad = _EDGE_SHARE * (high - low) or 1.0
    return low - pad, high + pad


def events_along(markers: Sequence[Marker], use: UseUnit) -> list[float]:
    """Say where events stand.

    Parameters
    ----------
    markers : sequence of Marker [-]
        Events; those without a place are passed over.
    use : UseUnit [-]
        How use is counted.

    Returns
    -------
    list of float [-]
        Places in the reader's unit.
    """
    return [float(use.along(marker.axis)) for marker in markers if marker.axis is not None]


def event_lane(markers: Sequence[Marker], *, use: UseUnit, span: tuple[float, float],
               theme: Theme) -> tuple[list[dict[str, Any]], list[dict[str, Any]],
                                      list[dict[str, Any]]]:
    """Draw what happened to the engine: a lane of symbols, and lines where a history is cut.

    Parameters
    ----------
    markers : sequence of Marker [-]
        Events; those without a place on the axis are left to the table.
    use : UseUnit [-]
        How use is counted.
    span : tuple of float [-]
        Ends of the use axis, in the reader's unit.
    theme : Theme [-]
        Colours.

    Returns
    -------
    traces, shapes, annotations : list of dict [-]
        Data and layout entries; events beyond the ends are named at the edge.
    """
    placed = [(marker, float(use.along(marker.axis))) for marker in markers
              if marker.axis is not None]
    inside = [(marker, x) for marker, x in placed if span[0] <= x <= span[1]]
    beyond = _beyond([one for one in placed if one[1] < span[0]], "← ", 0.0, use, theme)
    beyond += _beyond([one for one in placed if one[1] > span[1]], "→ ", 1.0, use, theme)
    if not inside:
        return [], [], beyond
    symbols = [EVENT_SYMBOLS.get(marker.kind, ("asterisk-open", "", ""))[0]
               for marker, _ in inside]
    trace = {
        "type": "scatter", "mode": "markers", "name": "events", "x": [x for _, x in inside],
        "y": [0.0] * len(inside), "yaxis": f"y{LANE_AXIS}", "hoverinfo": "text",
        "hovertext": [plain(_said(marker)) for marker, _ in inside], "cliponaxis": False,
        "marker": {"symbol": symbols, "size": 11, "color": theme.ink,
                   "line": {"width": 1.6, "color": theme.ink}}}
    shapes = [{"type": "line", "xref": "x", "yref": "paper", "x0": x, "x1": x, "y0": 0, "y1": 1,
               "layer": "below", "line": {"color": theme.soft, "width": 1, "dash": "dot"}}
              for marker, x in inside if marker.kind in _CUTS]
    return [trace], shapes, beyond


def _beyond(events: Sequence[tuple[Marker, float]], arrow: str, edge: float, use: UseUnit,
            theme: Theme) -> list[dict[str, Any]]:
    if not events:
        return []
    if len(events) == 1:
        marker, x = events[0]
        text = f"{arrow}{_word(marker)}, {show_use(x, use.unit)}"
    else:
        text = f"{arrow}{len(events)} {'later' if edge else 'earlier'} events"
    # Below the title of the axis: in the lane it would lie over the signs.
    return [{"xref": "paper", "yref": "paper", "x": edge, "y": 0, "yshift": -44,
             "showarrow": False, "xanchor": "right" if edge else "left", "yanchor": "top",
             "text": plain(text), "font": {"size": 11, "color": theme.soft}}]


def _word(marker: Marker) -> str:
    return EVENT_SYMBOLS.get(marker.kind, ("", "", marker.kind.replace("_", " ")))[2]


def _said(marker: Marker) -> str:
    word = _word(marker)
    return f"{word}: {marker.text}" if marker.text and marker.text != word else word
