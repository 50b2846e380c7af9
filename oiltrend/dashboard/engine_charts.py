"""Where the charts of an engine's page stand, and what they open with."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from oiltrend.dashboard.charts import chart, legend
from oiltrend.dashboard.engine_sheets import chosen_measurand, chosen_panels
from oiltrend.dashboard.parts import empty_state, sheet
from oiltrend.figures.panels import MOST_PANELS
from oiltrend.service.fleet import EngineView
from oiltrend.wording import measurand_name

__all__ = ["engine_charts"]


def _no_sample() -> Any:
    return empty_state("No result of this engine yet",
                       ["Draw a sample at the next oil change, with the engine warm.",
                        "Note that it was drawn, so that Watch says it is awaited.",
                        "When the result is back, type it in or hand in the file."])


def engine_charts(view: EngineView) -> list[Any]:
    """Place the two charts; choosers above, figures by callback.

    Parameters
    ----------
    view : EngineView [-]
        Everything about the engine.

    Returns
    -------
    list of component [-]
        Two sheets, or what to do first where nothing was measured yet.
    """
    history, verdict = view.history, view.verdict
    if not history.measurands:
        return [_no_sample()]
    symbols = [{"value": s, "label": s} for s in history.measurands]
    names = [{"value": s, "label": f"{s} · {measurand_name(s)}"} for s in history.measurands]
    units = ["h"] if history.meter_unit == "h" else ["km", "mi"]
    return [
        sheet("Wear rate", html.Div(className="choosers", children=[
            dmc.Select(id="engine-metal", label="Metal", data=names, allowDeselect=False,
                       value=chosen_measurand(verdict, history), searchable=True),
            dmc.Select(id="engine-unit", label="Counted in", data=units, allowDeselect=False,
                       value=history.meter_unit, className="narrow")]),
            legend(), chart("engine-rate", label=f"Wear rate of engine {history.engine} over its "
                            "distance; the numbers stand in the table below", pixels=428),
            html.Div(id="engine-rate-foot"),
            lead="Metal worn off per distance, with the range that holds it 95 times in 100."),
        sheet("Measured values", dmc.MultiSelect(
            id="engine-panels", label=f"Show (up to {MOST_PANELS})", data=symbols,
            value=chosen_panels(verdict, history, MOST_PANELS), maxValues=MOST_PANELS,
            searchable=True), legend(),
            chart("engine-values", label=f"Measured values of engine {history.engine} over its "
                  "distance; the numbers stand in the table below", pixels=620),
            html.Div(id="engine-values-foot"),
            lead="As the laboratory reported them; they fall at every oil change.")]
