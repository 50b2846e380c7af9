"""The charts of an engine's page, from what the browser asked for."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple
from urllib.parse import urlencode

from dash import html

from oiltrend.assessment.results import EngineHistory
from oiltrend.dashboard.charts import chart_foot, figure_style, lane_legend
from oiltrend.dashboard.context import current_caller, current_store, decimal_sign
from oiltrend.dashboard.engine_sheets import events_sheet, limits_sheet
from oiltrend.dashboard.inputs import choice
from oiltrend.dashboard.parts import note, table_of
from oiltrend.figures.panels import MOST_PANELS, draw_panels, panels_info, table_of_panels
from oiltrend.figures.samples import samples_table
from oiltrend.figures.theme import theme_of
from oiltrend.figures.use import use_unit
from oiltrend.figures.wear_rate import draw_wear_rate, table_of_wear_rate, wear_rate_info
from oiltrend.service import fleet

__all__ = ["engine_figures", "engine_tables"]


class _Asked(NamedTuple):
    """What the browser asked for, checked against the engine."""

    history: EngineHistory
    symbol: str
    chosen: list[str]
    unit: str


def _asked(engine: str, metal: object, unit: object, panels: object) -> _Asked:
    history = fleet.engine_view(current_store(), current_caller(), engine).history
    counted = history.meter_unit
    shown = choice(unit, ("h",) if counted == "h" else ("km", "mi"), default=counted)
    symbol = choice(metal, history.measurands, default=history.measurands[0])
    wanted = panels if isinstance(panels, list) else []
    chosen = [one for one in wanted if one in history.measurands][:MOST_PANELS] or [symbol]
    return _Asked(history, symbol, chosen, shown)


def engine_figures(engine: str, metal: object, unit: object, panels: object,
                   theme: object) -> list[Any]:
    """Draw both charts.

    Parameters
    ----------
    engine : str [-]
        Engine, from the path.
    metal, unit, panels, theme : object [-]
        As received.

    Returns
    -------
    list of dict [-]
        Figure of the wear rate; figure and style of the measured values.
    """
    asked = _asked(engine, metal, unit, panels)
    return _drawn(asked.history, asked.symbol, tuple(asked.chosen), asked.unit,
                  choice(theme, ("light", "dark"), default="light"), decimal_sign())


@lru_cache(maxsize=128)
def _drawn(history: EngineHistory, symbol: str, chosen: tuple[str, ...], unit: str, theme: str,
           decimal: str) -> list[Any]:
    """Draw both charts once for each history; a write makes a new history."""
    colours = theme_of(theme)
    rate = draw_wear_rate(wear_rate_info(history, symbol), theme=colours, unit=unit,
                          decimal=decimal)
    values = draw_panels(panels_info(history, list(chosen)), theme=colours, unit=unit,
                         decimal=decimal)
    return [rate, values, figure_style(values["layout"]["height"])]


def engine_tables(engine: str, metal: object, unit: object, panels: object) -> list[Any]:
    """Lay out what stands below both charts: signs, the numbers behind them, limits, events.

    Tables are much heavier than charts, which therefore do not wait for them.

    Parameters
    ----------
    engine : str [-]
        Engine, from the path.
    metal, unit, panels : object [-]
        As received.

    Returns
    -------
    list of component [-]
        Foot of the wear rate, foot of the measured values.
    """
    asked = _asked(engine, metal, unit, panels)
    return [_below_rate(asked), _below_values(asked)]


def _below_rate(asked: _Asked) -> Any:
    history, symbol, unit, decimal = asked.history, asked.symbol, asked.unit, decimal_sign()
    info = wear_rate_info(history, symbol)
    told = []
    if info.empty:
        told.append(note(info.empty))
    elif info.unplaced:
        told.append(note(f"{info.unplaced} more results of {symbol} have no wear rate: the "
                         "distance on the oil or the place on the axis is not known."))
    foot = chart_foot("engine-rate", table_of_wear_rate(info, unit=unit), decimal=decimal,
                      download=_csv("wear-rate", history.engine, symbol, unit))
    plain = samples_table(history, symbol, unit=unit, decimal=decimal)
    return html.Div([
        lane_legend(info.markers), *told, foot,
        html.Details([html.Summary("Every sample, to be redone on paper"),
                      table_of(plain, decimal=decimal)]),
        html.Details([html.Summary("Limits"),
                      limits_sheet(history.limits, unit, decimal=decimal)]),
        html.Details([html.Summary("Events"), events_sheet(history.markers, use_unit(unit))])])


def _below_values(asked: _Asked) -> Any:
    info = panels_info(asked.history, asked.chosen)
    foot = chart_foot("engine-values", table_of_panels(info, unit=asked.unit),
                      decimal=decimal_sign(),
                      download=_csv("values", asked.history.engine, ",".join(asked.chosen),
                                    asked.unit))
    told = [note(info.empty)] if info.empty else []
    return html.Div([lane_legend(info.markers), *told, foot])


def _csv(figure: str, engine: str, measurands: str, unit: str) -> str:
    query = urlencode({"engine": engine, "measurand": measurands, "unit": unit})
    return f"/data/{figure}.csv?{query}"
