"""The sheets of an engine's page: what is known about it, what was said, what was done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from oiltrend.assessment.results import AppliedLimit, EngineHistory, Marker, Verdict
from oiltrend.dashboard.context import address
from oiltrend.dashboard.parts import day, facts, ledger, level_mark, sheet
from oiltrend.figures.strips import EVENT_SYMBOLS
from oiltrend.figures.table import show, show_use
from oiltrend.figures.use import UseUnit
from oiltrend.nomenclature import WEAR_METALS
from oiltrend.records import Action, Engine
from oiltrend.store import LoggedVerdict
from oiltrend.wording import DATA_WORDS, measurand_name, quantity_unit

__all__ = ["actions_sheet", "chosen_measurand", "chosen_panels", "events_sheet", "limits_sheet",
           "log_sheet", "record_sheet"]

_ACTION_WORDS = {"told": "customer told", "resample_asked": "confirming sample asked for",
                 "booked": "opening booked", "opened": "opened", "declined": "opening declined"}
_QUANTITY_WORDS = {"level": "level", "per_1000": "per 1000", "wear_rate": "wear rate"}


def chosen_measurand(verdict: Verdict, history: EngineHistory) -> str:
    """Choose what the wear-rate chart opens with: the main reason's metal, else the first.

    Parameters
    ----------
    verdict : Verdict [-]
        With its reasons.
    history : EngineHistory [-]
        Samples of the engine.

    Returns
    -------
    str [-]
        Symbol; "" when nothing was measured.
    """
    wanted = [reason.measurand for reason in verdict.reasons if reason.measurand in WEAR_METALS]
    order = [*wanted, "Pb", "Cu", "Fe", *history.measurands]
    return next((symbol for symbol in order if symbol in history.measurands), "")


def chosen_panels(verdict: Verdict, history: EngineHistory, most: int) -> list[str]:
    """Choose what the panels open with: what the reasons name, then the bearing metals.

    Parameters
    ----------
    verdict : Verdict [-]
        With its reasons.
    history : EngineHistory [-]
        Samples of the engine.
    most : int [-]
        How many.

    Returns
    -------
    list of str [-]
        Symbols.
    """
    named = [reason.measurand for reason in verdict.reasons if reason.measurand]
    order = dict.fromkeys([*named, "Pb", "Cu", "Sn", "Fe"])
    return [symbol for symbol in order if symbol in history.measurands][:most]


def record_sheet(engine: Engine, stored: int) -> Any:
    """Show what is known about the engine itself.

    Parameters
    ----------
    engine : Engine [-]
        The record.
    stored : int [-]
        Samples of it in the store.

    Returns
    -------
    component [-]
        The sheet.
    """
    fill = None if engine.oil_fill_l is None else f"{show(engine.oil_fill_l)} L"
    return sheet("The engine", facts({
        "Family": engine.family, "Car": engine.car or None, "Owner": engine.owner or None,
        "Built": engine.built or None, "Oil fill": fill,
        "Shells": engine.shell_material or None,
        "Shells fitted at": None if engine.set_fitted_meter is None else show_use(
            engine.set_fitted_meter, "h" if engine.meter_unit == "h" else "km"),
        "Counted in": {"km": "kilometres", "mi": "miles", "h": "hours"}[engine.meter_unit],
        "Samples": str(stored), "Note": engine.note or None}),
        html.Div(dcc.Link("Change in the workshop", className="button quiet",
                          href=address("/workshop/engine", engine.engine)), className="buttons"))


def events_sheet(markers: Sequence[Marker], use: UseUnit) -> Any:
    """List what happened to the engine, also what has no place on the axis.

    Parameters
    ----------
    markers : sequence of Marker [-]
        Events.
    use : UseUnit [-]
        How use is counted.

    Returns
    -------
    component [-]
        The table.
    """
    rows = [[day(marker.on), "not known" if marker.axis is None else
             show_use(float(use.along(marker.axis)), use.unit),
             EVENT_SYMBOLS.get(marker.kind, ("", "", marker.kind))[2], marker.text]
            for marker in markers]
    return ledger("What happened to the engine", ("date", f"at [{use.unit}]", "event", "note"),
                  rows, cards=True)


def limits_sheet(limits: Sequence[AppliedLimit], unit: str, *, decimal: str) -> Any:
    """List every limit that this engine is held against, with its source.

    Parameters
    ----------
    limits : sequence of AppliedLimit [-]
        Limits as they stood.
    unit : str [-]
        Meter unit of the engine.
    decimal : str [-]
        Decimal sign of the reader.

    Returns
    -------
    component [-]
        The table.
    """
    rows = [[measurand_name(one.measurand), _QUANTITY_WORDS[one.quantity], level_mark(one.level),
             f"{one.operator} {show(one.value, decimal=decimal)} "
             f"{quantity_unit(one.measurand, one.quantity, unit)}" if one.value is not None
             else one.note, one.source, "" if one.n is None else str(one.n)] for one in limits]
    return ledger("Limits this engine is held against",
                  ("measurand", "on", "level", "limit", "source", "rests on"), rows, cards=True)


def actions_sheet(actions: Sequence[Action]) -> Any:
    """List what the shop did about the verdicts.

    Parameters
    ----------
    actions : sequence of Action [-]
        Oldest first.

    Returns
    -------
    component [-]
        The sheet, or nothing.
    """
    if not actions:
        return html.Div()
    rows = [[day(one.on), _ACTION_WORDS[one.action], one.note] for one in actions]
    return sheet("What the shop did", ledger("Actions, newest at the bottom",
                                             ("date", "action", "note"), rows))


def log_sheet(log: Sequence[LoggedVerdict]) -> Any:
    """List the verdicts as they were issued.

    Parameters
    ----------
    log : sequence of LoggedVerdict [-]
        Newest first.

    Returns
    -------
    component [-]
        The sheet.
    """
    rows = [[day(entry.as_of), level_mark(entry.level or None), DATA_WORDS[entry.data],
             ", ".join(code.replace("_", " ") for code in entry.reason_codes)]
            for entry in reversed(log)]
    return sheet("Verdicts as issued", ledger(
        "With the limits of their day, newest at the bottom", ("date", "level", "data", "reasons"),
        rows), lead="Nothing here is ever changed.")

