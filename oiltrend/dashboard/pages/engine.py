"""Engine: reasons first, then figures along the distance axis, then every sample."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update

from oiltrend.assessment.results import Doubt
from oiltrend.dashboard import engine_sheets as sheets
from oiltrend.dashboard.context import (
    address,
    current_caller,
    current_store,
    id_from,
    id_in_path,
)
from oiltrend.dashboard.engine_charts import engine_charts
from oiltrend.dashboard.engine_figures import engine_figures, engine_tables
from oiltrend.dashboard.inputs import choice, whole
from oiltrend.dashboard.parts import note, page_frame, sheet
from oiltrend.dashboard.shell import THEME
from oiltrend.dashboard.verdict import doubt_questions, reason_list, verdict_block
from oiltrend.service import fleet, samples

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/engine"
BELOW = (PATH + "/<engine>",)
NAME = "Engine"
ICON = ""
_DOUBT = "engine-doubt"
_WHERE = State("_pages_location", "pathname")


def layout(**_: Any) -> Any:
    """Lay out the page of the engine that the path names.

    Parameters
    ----------
    _ : object [-]
        Parts of the address as the framework read them; they have no say.

    Returns
    -------
    component [-]
        The page.
    """
    engine = id_in_path(PATH)
    view = fleet.engine_view(current_store(), current_caller(), engine)
    record, verdict = view.record.record, view.verdict
    whose = " · ".join(filter(None, (record.family, record.car, record.owner)))
    doubts = [doubt for doubt in verdict.doubts if not doubt.answered]
    return page_frame(
        engine, whose,
        html.Div(id="engine-told"),
        sheet("", verdict_block(verdict), _actions(engine)),
        doubt_questions(doubts, kind=_DOUBT, versions=_versions(doubts)),
        *([sheet("Why", reason_list(verdict.reasons))] if verdict.reasons else []),
        *engine_charts(view),
        sheets.actions_sheet([entry.record for entry in view.actions]),
        sheets.log_sheet(view.log), sheets.record_sheet(record, verdict.samples))


def _versions(doubts: Sequence[Doubt]) -> dict[int, int]:
    """Which version of each doubted sample is shown, so that an answer to an older one is told."""
    return {doubt.sample: current_store().sample(doubt.sample).rev for doubt in doubts}


def _actions(engine: str) -> Any:
    return html.Div(dcc.Link("Add a result, or note a drawn sample", className="button",
                             href=address("/add", engine)), className="buttons")


def register(app: Dash) -> None:
    """Connect charts, tables and the questions about doubted samples.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
    @app.callback(
        Output("engine-rate", "figure"), Output("engine-values", "figure"),
        Output("engine-values", "style"),
        Input("engine-metal", "value"), Input("engine-unit", "value"),
        Input("engine-panels", "value"), Input(THEME, "data"), _WHERE)
    def _draw(metal: object, unit: object, panels: object, theme: object, where: object) -> Any:
        engine = id_from(PATH, where)
        if theme is None or not engine:
            return [no_update] * 3
        return engine_figures(engine, metal, unit, panels, theme)

    @app.callback(
        Output("engine-rate-foot", "children"), Output("engine-values-foot", "children"),
        Input("engine-metal", "value"), Input("engine-unit", "value"),
        Input("engine-panels", "value"), _WHERE)
    def _tables(metal: object, unit: object, panels: object, where: object) -> Any:
        engine = id_from(PATH, where)
        return engine_tables(engine, metal, unit, panels) if engine else [no_update] * 2

    @app.callback(
        Output("engine-told", "children"),
        Input({"type": _DOUBT, "sample": ALL, "rev": ALL, "answer": ALL}, "n_clicks"),
        prevent_initial_call=True)
    def _answer(clicks: list[int | None]) -> Any:
        pressed = ctx.triggered_id
        if not any(clicks) or not isinstance(pressed, dict):
            return no_update
        answer = choice(pressed.get("answer"), ("confirmed", "set_aside"), default="")
        samples.answer_doubt(current_store(), current_caller(),
                             whole(pressed.get("sample"), low=0, high=2**53, default=0), answer,
                             rev=whole(pressed.get("rev"), low=0, high=2**31, default=0))
        return note("answered; the verdict is new", kind="done",
                    hint="open the page again to see it")
