"""What the laboratory measured, strip by strip: a saw-tooth that falls at every oil change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.results import AppliedLimit, EngineHistory, Marker
from oiltrend.errors import ValueRefused
from oiltrend.figures.marks import MARK_WORDS, mark_traces, marks
from oiltrend.figures.strips import (
    axis_suffix,
    event_lane,
    events_along,
    limit_marks,
    strip_axes,
    use_range,
    visible_range,
)
from oiltrend.figures.table import FigureTable, as_date, show, show_use
from oiltrend.figures.theme import Theme, base_layout, numbers, plain
from oiltrend.figures.use import UseUnit, use_unit
from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX
from oiltrend.records import Qualifier

__all__ = ["MOST_PANELS", "Panel", "PanelsInfo", "draw_panels", "panels_info", "table_of_panels"]

# More strips than this are not readable on a phone.
MOST_PANELS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One measurand over the use axis.

    Parameters
    ----------
    measurand, name, unit : str [-]
        Symbol, full name and unit.
    row : array, shape (n,) [-]
        Which samples of the figure were measured and can be placed.
    value : array, shape (n,) [-]
        Result in the measurand's unit; the reporting limit where it hides below it, 0 where
        the laboratory gave no limit.
    mark : array, shape (n,) [-]
        Index into :data:`oiltrend.figures.marks.MARK_WORDS`.
    tooth_x : array, shape (m,) [use]
        Line of the saw-tooth, NaN between fills.
    tooth_y : array, shape (m,) [-]
        Line of the saw-tooth in the measurand's unit, NaN between fills.
    limits : tuple of AppliedLimit [-]
        Limits on the level that have a value.
    """

    measurand: str
    name: str
    unit: str
    row: NDArray[np.intp]
    value: NDArray[np.float64]
    mark: NDArray[np.int8]
    tooth_x: NDArray[np.float64]
    tooth_y: NDArray[np.float64]
    limits: tuple[AppliedLimit, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PanelsInfo:
    """What the panels show; arrays are the engine's samples, oldest first.

    Parameters
    ----------
    engine : str [-]
        Engine.
    sample : array, shape (n,) [-]
        Sample ids.
    sample_date : array, shape (n,) [d]
        Dates, NaT where unknown.
    axis : array, shape (n,) [use]
        Place on the use axis, NaN where unknown.
    doubted : array, shape (n,) [-]
        Doubted samples.
    panels : tuple of Panel [-]
        From the top.
    markers : tuple of Marker [-]
        Events.
    empty : str [-]
        Why there is nothing to draw; "" when there is.
    """

    engine: str
    sample: NDArray[np.int64]
    sample_date: NDArray[np.datetime64]
    axis: NDArray[np.float64]
    doubted: NDArray[np.bool_]
    panels: tuple[Panel, ...]
    markers: tuple[Marker, ...]
    empty: str


def panels_info(history: EngineHistory, measurands: Sequence[str]) -> PanelsInfo:
    """Collect what the panels show.

    Parameters
    ----------
    history : EngineHistory [-]
        Samples, limits and events of one engine.
    measurands : sequence of str [-]
        Symbols from the top, at most :data:`MOST_PANELS`.

    Returns
    -------
    PanelsInfo [-]
        Data of the figure.

    Raises
    ------
    ValueRefused
        When there are too many, or the history does not hold one of them.
    """
    if len(measurands) > MOST_PANELS:
        raise ValueRefused(f"measurands: must be at most {MOST_PANELS}, found {len(measurands)}",
                           hint="choose the ones you want to compare")
    unknown = [symbol for symbol in measurands if symbol not in history.measurands]
    if unknown:
        raise ValueRefused(f"measurands: must be ones that engine {history.engine} has, found "
                           f"'{unknown[0]}'",
                           hint="use " + (", ".join(history.measurands) or "none yet"))
    panels = tuple(_panel(history, symbol) for symbol in measurands)
    drawn = sum(panel.row.size for panel in panels)
    return PanelsInfo(
        engine=history.engine, sample=history.sample, sample_date=history.sample_date,
        axis=history.axis, doubted=history.doubted, panels=panels, markers=history.markers,
        empty="" if drawn else "No result that can be placed on the distance axis yet.")


def _panel(history: EngineHistory, symbol: str) -> Panel:
    column = history.measurands.index(symbol)
    measurand = MEASURANDS[PANEL_INDEX[symbol]]
    qualifier = history.qualifier[:, column]
    raw = history.value[:, column]
    value = np.where((qualifier == Qualifier.BELOW) & ~np.isfinite(raw), 0.0, raw)
    rows = np.flatnonzero((qualifier != Qualifier.MISSING) & np.isfinite(history.axis)
                          & np.isfinite(value))
    tooth_x, tooth_y = _saw_tooth(history, column, rows, value)
    return Panel(symbol, measurand.name, measurand.unit, rows, value[rows],
                 marks(qualifier, history.doubted)[rows], tooth_x, tooth_y,
                 tuple(limit for limit in history.limits
                       if limit.measurand == symbol and limit.quantity == "level"
                       and limit.value is not None))


def _saw_tooth(history: EngineHistory, column: int, rows: NDArray[np.intp],
               value: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Join each fill from its start concentration through its trusted, measured samples."""
    good = rows[(history.qualifier[rows, column] == Qualifier.EXACT) & ~history.doubted[rows]]
    if not good.size:
        return np.empty(0), np.empty(0)
    fill = history.fill[good]
    first = np.flatnonzero(np.r_[True, fill[1:] != fill[:-1]])
    start_x = history.axis[good[first]] - history.oil_distance[good[first]]
    start_y = history.start_ppm[good[first], column]
    known = np.isfinite(start_x) & np.isfinite(start_y)
    start_x, start_y = np.where(known, start_x, np.nan), np.where(known, start_y, np.nan)
    # Before each fill's first sample: a gap, then where the fill began.
    gap = np.full(first.size, np.nan)
    at = np.repeat(first, 2)
    x = np.insert(history.axis[good], at, np.c_[gap, start_x].ravel())
    y = np.insert(value[good], at, np.c_[gap, start_y].ravel())
    return x, y


def draw_panels(info: PanelsInfo, *, theme: Theme, unit: str, decimal: str = ".",
                strip_pixels: int = 120) -> dict[str, Any]:
    """Draw the panels over one shared use axis.

    Parameters
    ----------
    info : PanelsInfo [-]
        Data of the figure.
    theme : Theme [-]
        Colours.
    unit : str [-]
        How the reader counts use: km, mi or h.
    decimal : str [-]
        Decimal sign of the reader.
    strip_pixels : int [-]
        Height of one strip.

    Returns
    -------
    dict [-]
        A plotly figure.
    """
    use = use_unit(unit)
    axes, annotations, total = strip_axes([_title(panel) for panel in info.panels],
                                          strip_pixels=strip_pixels, use=use, theme=theme)
    data: list[dict[str, Any]] = []
    shapes: list[dict[str, Any]] = []
    for index, panel in enumerate(info.panels):
        values = [limit.value for limit in panel.limits if limit.value is not None]
        blank = np.full(panel.row.size, np.nan)
        span = visible_range(blank, panel.value, blank, values)
        axes[f"yaxis{axis_suffix(index)}"]["range"] = list(span)
        lines, named = limit_marks(panel.limits, values, strip=index, span=span, theme=theme,
                                   decimal=decimal)
        shapes += lines
        annotations += named
        data += _strip(info, panel, f"y{axis_suffix(index)}", use, theme, decimal)
    places = [info.axis[panel.row] for panel in info.panels]
    places += [panel.tooth_x for panel in info.panels]
    stretch = use_range(use.along(np.concatenate(places)) if places else np.empty(0),
                        events_along(info.markers, use))
    axes["xaxis"]["range"] = list(stretch)
    lane, cuts, beyond = event_lane(info.markers, use=use, span=stretch, theme=theme)
    layout = base_layout(theme, height=total, decimal=decimal, keep=f"{info.engine} {unit}")
    layout |= axes | {"shapes": shapes + cuts, "annotations": annotations + beyond}
    return {"data": data + lane, "layout": layout}


def _title(panel: Panel) -> str:
    symbol = panel.name if "_" in panel.measurand else panel.measurand
    return f"{symbol} [{panel.unit}]"


def _strip(info: PanelsInfo, panel: Panel, axis: str, use: UseUnit, theme: Theme,
           decimal: str) -> list[dict[str, Any]]:
    line = {"type": "scatter", "mode": "lines", "x": numbers(use.along(panel.tooth_x)),
            "y": numbers(panel.tooth_y), "yaxis": axis, "hoverinfo": "skip",
            "connectgaps": False, "line": {"color": theme.line, "width": 1.4}}
    x = use.along(info.axis[panel.row])
    doubted = info.doubted[panel.row]
    hover = []
    for k, row in enumerate(panel.row):
        sign = {2: "< ", 3: "> "}.get(int(panel.mark[k]), "")
        when = as_date(info.sample_date[row]) or "no date"
        hover.append(plain(f"{when} · {show_use(float(x[k]), use.unit)}: {sign}"
                           f"{show(float(panel.value[k]), decimal=decimal)} {panel.unit}"
                           + ("; doubted" if doubted[k] else "")))
    return [line, *mark_traces(x, panel.value, panel.mark, doubted, hover=hover,
                               strip_axis=axis, theme=theme, whiskers=None)]


def table_of_panels(info: PanelsInfo, *, unit: str) -> FigureTable:
    """Give the table behind the panels: one row per sample, a column per measurand and mark.

    Parameters
    ----------
    info : PanelsInfo [-]
        Data of the figure.
    unit : str [-]
        How the reader counts use: km, mi or h.

    Returns
    -------
    FigureTable [-]
        Samples oldest first; a mark other than measured is written beside its number.
    """
    use = use_unit(unit)
    x = numbers(use.along(info.axis))
    cells = [{int(row): (float(value), MARK_WORDS[mark]) for row, value, mark
              in zip(panel.row, panel.value, panel.mark, strict=True)} for panel in info.panels]
    columns = ["sample", "date", f"{'running time' if unit == 'h' else 'distance'} [{unit}]"]
    for panel in info.panels:
        columns += [_title(panel), f"{panel.measurand} mark"]
    rows = []
    for row, day in enumerate(info.sample_date):
        found = [cell.get(row) for cell in cells]
        if not any(found):
            continue
        line: list[float | str | None] = []
        for pair in found:
            line += list(pair) if pair else [None, ""]
        rows.append((int(info.sample[row]), as_date(day), x[row], *line))
    return FigureTable(f"Measured values, engine {info.engine}", tuple(columns), tuple(rows))
