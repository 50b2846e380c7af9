"""Wear rate of one measurand over the engine's distance, with 95 % intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.results import AppliedLimit, EngineHistory, Marker
from oiltrend.errors import ValueRefused
from oiltrend.figures.marks import MARK_WORDS, mark_traces, marks
from oiltrend.figures.strips import (
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

__all__ = ["WearRateInfo", "draw_wear_rate", "table_of_wear_rate", "wear_rate_info"]


@dataclass(frozen=True, slots=True, eq=False)
class WearRateInfo:
    """What the wear-rate figure shows. Rows are the samples that can be placed, oldest first.

    Parameters
    ----------
    engine, measurand, name : str [-]
        Engine, symbol and full name.
    sample : array, shape (n,) [-]
        Sample ids.
    sample_date : array, shape (n,) [d]
        Dates, NaT where unknown.
    axis : array, shape (n,) [use]
        Place on the use axis.
    rate, low, high : array, shape (n,) [mg/(1000 use)]
        Wear rate and its 95 % interval; NaN where the value hides below a reporting limit.
    place : array, shape (n,) [mg/(1000 use)]
        Where the mark stands: the rate, or the upper end for a hidden one.
    mark : array, shape (n,) [-]
        Index into :data:`oiltrend.figures.marks.MARK_WORDS`.
    doubted, joined : array, shape (n,) [-]
        Doubted samples; samples that are joined to the one before by a line.
    limits, withheld : tuple of AppliedLimit [-]
        Limits on the wear rate with a value, and those that cannot be given.
    markers : tuple of Marker [-]
        Events, and samples whose result is awaited.
    unplaced : int [-]
        Results that have no place or no rate.
    empty : str [-]
        Why there is nothing to draw; "" when there is.
    """

    engine: str
    measurand: str
    name: str
    sample: NDArray[np.int64]
    sample_date: NDArray[np.datetime64]
    axis: NDArray[np.float64]
    rate: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    place: NDArray[np.float64]
    mark: NDArray[np.int8]
    doubted: NDArray[np.bool_]
    joined: NDArray[np.bool_]
    limits: tuple[AppliedLimit, ...]
    withheld: tuple[AppliedLimit, ...]
    markers: tuple[Marker, ...]
    unplaced: int
    empty: str


def wear_rate_info(history: EngineHistory, measurand: str) -> WearRateInfo:
    """Collect what the wear-rate figure shows.

    Parameters
    ----------
    history : EngineHistory [-]
        Samples, limits and events of one engine.
    measurand : str [-]
        Symbol.

    Returns
    -------
    WearRateInfo [-]
        Data of the figure.

    Raises
    ------
    ValueRefused
        When the history does not hold this measurand.
    """
    if measurand not in history.measurands:
        raise ValueRefused(f"measurand: must be one that engine {history.engine} has, found "
                           f"'{measurand}'",
                           hint="use one of " + (", ".join(history.measurands) or "none yet"))
    column = history.measurands.index(measurand)
    qualifier = history.qualifier[:, column]
    rate, high = history.rate[:, column], history.rate_high[:, column]
    below = qualifier == Qualifier.BELOW
    place = np.where(below, np.where(np.isfinite(high), high, np.nan_to_num(rate)), rate)
    reported = qualifier != Qualifier.MISSING
    rows = np.flatnonzero(reported & np.isfinite(history.axis) & np.isfinite(place))
    mark = marks(qualifier, history.doubted)[rows]
    series = history.series[rows]
    trusted = mark == 0
    own = tuple(limit for limit in history.limits
                if limit.measurand == measurand and limit.quantity == "wear_rate")
    return WearRateInfo(
        engine=history.engine, measurand=measurand,
        name=MEASURANDS[PANEL_INDEX[measurand]].name,
        sample=history.sample[rows], sample_date=history.sample_date[rows],
        axis=history.axis[rows], rate=rate[rows], low=history.rate_low[rows, column],
        high=high[rows], place=place[rows], mark=mark, doubted=history.doubted[rows],
        joined=_joined(trusted, series),
        limits=tuple(limit for limit in own if limit.value is not None),
        withheld=tuple(limit for limit in own if limit.value is None),
        markers=history.markers + _awaited(history),
        unplaced=int(reported.sum()) - rows.size,
        empty=_why_empty(measurand, rows.size, int(reported.sum()), int(history.awaited.sum())))


def _joined(trusted: NDArray[np.bool_], series: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Join a measured result to the one before it when both are trusted and of one series."""
    joined = np.zeros(trusted.size, dtype=bool)
    joined[1:] = trusted[1:] & trusted[:-1] & (series[1:] == series[:-1])
    return joined


def _awaited(history: EngineHistory) -> tuple[Marker, ...]:
    return tuple(
        Marker("awaited", float(history.axis[row]) if np.isfinite(history.axis[row]) else None,
               as_date(history.sample_date[row]), "sample drawn, result awaited")
        for row in np.flatnonzero(history.awaited))


def _why_empty(measurand: str, drawn: int, reported: int, awaited: int) -> str:
    if drawn:
        return ""
    if reported:
        return (f"{measurand} was measured {reported} times, but no wear rate can be given: "
                "the distance on the oil is not known.")
    if awaited:
        return f"No result for {measurand} yet; {awaited} drawn and awaited."
    return f"No result for {measurand} yet."


def draw_wear_rate(info: WearRateInfo, *, theme: Theme, unit: str, decimal: str = ".",
                   height: int = 300) -> dict[str, Any]:
    """Draw the wear rate with limits, events, doubts and hidden values.

    Parameters
    ----------
    info : WearRateInfo [-]
        Data of the figure.
    theme : Theme [-]
        Colours.
    unit : str [-]
        How the reader counts use: km, mi or h.
    decimal : str [-]
        Decimal sign of the reader.
    height : int [-]
        Pixels of the strip.

    Returns
    -------
    dict [-]
        A plotly figure.
    """
    use = use_unit(unit)
    x = use.along(info.axis)
    y, low, high = (use.per_thousand(v) for v in (info.place, info.low, info.high))
    values = [float(use.per_thousand(limit.value)) for limit in info.limits
              if limit.value is not None]
    shown = info.mark < 2
    span = visible_range(np.where(shown, low, np.nan), y, np.where(shown, high, np.nan), values)
    axes, names, total = strip_axes([f"{info.measurand} [mg per 1000 {unit}]"],
                                    strip_pixels=height, use=use, theme=theme)
    axes["yaxis"]["range"] = list(span)
    shapes, annotations = limit_marks(info.limits, values, strip=0, span=span, theme=theme,
                                      decimal=decimal)
    stretch = use_range(x, events_along(info.markers, use))
    axes["xaxis"]["range"] = list(stretch)
    lane, cuts, beyond = event_lane(info.markers, use=use, span=stretch, theme=theme)
    data = [_line(x, y, info.joined, theme)]
    data += mark_traces(x, y, info.mark, info.doubted, hover=_hover(info, use, decimal),
                        strip_axis="y", theme=theme, whiskers=(low, high))
    layout = base_layout(theme, height=total, decimal=decimal,
                         keep=f"{info.engine} {info.measurand} {unit}")
    layout |= axes | {"shapes": shapes + cuts, "annotations": names + annotations + beyond}
    return {"data": data + lane, "layout": layout}


def _line(x: NDArray[np.float64], y: NDArray[np.float64], joined: NDArray[np.bool_],
          theme: Theme) -> dict[str, Any]:
    """Draw one line through the joined results, lifted wherever two are not joined."""
    gaps = np.flatnonzero(~joined[1:]) + 1
    return {"type": "scatter", "mode": "lines", "x": numbers(np.insert(x, gaps, np.nan)),
            "y": numbers(np.insert(y, gaps, np.nan)), "yaxis": "y", "hoverinfo": "skip",
            "connectgaps": False, "line": {"color": theme.line, "width": 1.4}}


def _hover(info: WearRateInfo, use: UseUnit, decimal: str) -> list[str]:
    lines = []
    for row in range(info.axis.size):
        where = show_use(float(use.along(info.axis[row])), use.unit)
        low, high, rate = (show(float(use.per_thousand(v[row])), decimal=decimal)
                           for v in (info.low, info.high, info.rate))
        unit = f"mg per 1000 {use.unit}"
        if info.mark[row] == 2:
            said = f"below the reporting limit; at most {high} {unit}"
        else:
            said = f"{rate} {unit}, 95 % from {low} to {high}"
        doubt = "; doubted" if info.doubted[row] else ""
        day = as_date(info.sample_date[row]) or "no date"
        lines.append(plain(f"{day} · {where}: {said}{doubt}"))
    return lines


def table_of_wear_rate(info: WearRateInfo, *, unit: str) -> FigureTable:
    """Give the table behind the wear-rate figure.

    Parameters
    ----------
    info : WearRateInfo [-]
        Data of the figure.
    unit : str [-]
        How the reader counts use: km, mi or h.

    Returns
    -------
    FigureTable [-]
        One row per sample drawn, oldest first.
    """
    use = use_unit(unit)
    per = f"[mg per 1000 {unit}]"
    x = numbers(use.along(info.axis))
    rate, low, high = (numbers(use.per_thousand(v)) for v in (info.rate, info.low, info.high))
    rows = tuple(
        (int(info.sample[row]),
         as_date(info.sample_date[row]), x[row], rate[row], low[row], high[row],
         MARK_WORDS[info.mark[row]] + (", doubted" if info.doubted[row] and info.mark[row] > 1
                                       else ""))
        for row in range(info.axis.size))
    return FigureTable(
        f"Wear rate of {info.name}, engine {info.engine}",
        ("sample", "date", f"{'running time' if unit == 'h' else 'distance'} [{unit}]",
         f"rate {per}", f"95 % from {per}", f"95 % to {per}", "mark"), rows)
