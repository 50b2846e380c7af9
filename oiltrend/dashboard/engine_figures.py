"""The charts of an engine's page, from what the browser asked for."""

from __future__ import annotations

from typing import Any
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
from oiltrend.figures.theme import Theme, theme_of
from oiltrend.figures.use import use_unit
from oiltrend.figures.wear_rate import draw_wear_rate, table_of_wear_rate, wear_rate_info
from oiltrend.service import fleet

__all__ = ["engine_figures"]


def engine_figures(engine: str, metal: object, unit: object, panels: object,
                   theme: object) -> list[Any]:
    """Draw both charts, and the tables behind them.

    Parameters
    ----------
    engine : str [-]
        Engine, from the path.
    metal, unit, panels, theme : object [-]
        As received.

    Returns
    -------
    list of component [-]
        Figure and foot of the wear rate; figure, style and foot of the measured values.
    """
    history = fleet.engine_view(current_store(), current_caller(), engine).history
    counted = history.meter_unit
    units = ("h",) if counted == "h" else ("km", "mi")
    shown = choice(unit, units, default=counted)
    colours = theme_of(choice(theme, ("light", "dark"), default="light"))
    symbol = choice(metal, history.measurands, default=history.measurands[0])
    asked = panels if isinstance(panels, list) else []
    chosen = [one for one in asked if one in history.measurands][:MOST_PANELS] or [symbol]
    return [*_rate(history, symbol, shown, colours), *_values(history, chosen, shown, colours)]


def _rate(history: EngineHistory, symbol: str, unit: str, theme: Theme) -> list[Any]:
    decimal = decimal_sign()
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
    return [draw_wear_rate(info, theme=theme, unit=unit, decimal=decimal), html.Div([
        lane_legend(info.markers), *told, foot,
        html.Details([html.Summary("Every sample, to be redone on paper"),
                      table_of(plain, decimal=decimal)]),
        html.Details([html.Summary("Limits"),
                      limits_sheet(history.limits, unit, decimal=decimal)]),
        html.Details([html.Summary("Events"), events_sheet(history.markers, use_unit(unit))])])]


def _values(history: EngineHistory, chosen: list[str], unit: str, theme: Theme) -> list[Any]:
    decimal = decimal_sign()
    info = panels_info(history, chosen)
    foot = chart_foot("engine-values", table_of_panels(info, unit=unit), decimal=decimal,
                      download=_csv("values", history.engine, ",".join(chosen), unit))
    figure = draw_panels(info, theme=theme, unit=unit, decimal=decimal)
    told = [note(info.empty)] if info.empty else []
    return [figure, figure_style(figure["layout"]["height"]),
            html.Div([lane_legend(info.markers), *told, foot])]


def _csv(figure: str, engine: str, measurands: str, unit: str) -> str:
    query = urlencode({"engine": engine, "measurand": measurands, "unit": unit})
    return f"/data/{figure}.csv?{query}"
