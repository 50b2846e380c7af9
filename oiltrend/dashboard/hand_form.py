"""A result as it is typed: few fields, the previous value inside each, checked while typing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import dash_mantine_components as dmc
from dash import html

from oiltrend.dashboard.books import lab_names, oil_names
from oiltrend.dashboard.inputs import short_text
from oiltrend.dashboard.parts import attribute, ledger, note, sentence
from oiltrend.ingest import Note, Reject
from oiltrend.nomenclature import MEASURANDS, PANEL
from oiltrend.records import FILTER_FINDINGS, Engine
from oiltrend.service.samples import SampleForm
from oiltrend.wording import CAUTIONS

__all__ = ["MORE", "READING", "TOP", "drawn_fields", "form_of", "hand_fields", "notes_table",
           "reject_texts"]

READING = "add-reading"
TOP = "add-top"
MORE = "add-more"
# What most laboratories report of engine oil; offered when the engine has no result yet.
_USUAL = ("Fe", "Cu", "Pb", "Sn", "Al", "Cr", "Ni", "Si", "Na", "K", "KV100", "base_number",
          "fuel_pct")
_NO_SAYING = {"value": "", "label": "not said"}


def hand_fields(engine: Engine, last: Mapping[str, str], today: date) -> Any:
    """Lay out the form for one engine.

    Parameters
    ----------
    engine : Engine [-]
        The engine.
    last : mapping of str to str [-]
        Its previous figures, as hints.
    today : date [-]
        Today.

    Returns
    -------
    component [-]
        The form.
    """
    usual = [symbol for symbol in PANEL if symbol in last] or list(_USUAL)
    rest = [symbol for symbol in PANEL if symbol not in usual]
    unit = engine.meter_unit
    return html.Div([
        html.Div(className="fields", children=[
            _date(TOP, "sample_date", "Drawn on", today, today),
            _text(TOP, "meter", f"Meter [{unit}]", last.get("meter", "")),
            _text(TOP, "oil_distance", f"On this oil [{unit}]", last.get("oil_distance", "")),
            _yes_no("oil_changed", "Oil drained with it?"),
            dmc.Autocomplete(id=_id(MORE, "lab"), label="Laboratory", data=lab_names(), value=""),
        ]),
        html.H3("Results", className="form-head"), _keys(),
        html.Div([_reading(symbol, last) for symbol in usual], className="readings"),
        html.Details([html.Summary("All other measurands"),
                      html.Div([_reading(symbol, last) for symbol in rest],
                               className="readings")]),
        html.Details([html.Summary("What was seen at the change, top-up, oil, note"),
                      _seen_fields()]),
    ])


def _keys() -> Any:
    """Keys that the number pad of a phone does not have; they write into the field in use."""
    return html.Div([html.Button(word, className="button quiet", **attribute("data-key", word))
                     for word in ("<", "ND", "Next")], className="keys")


def _seen_fields() -> Any:
    return html.Div(className="fields", children=[
        dmc.Select(id=_id(MORE, "filter_finding"), label="Filter and its pleats", value="",
                   data=[{"value": word, "label": word or "not said"}
                         for word in FILTER_FINDINGS]),
        _yes_no("glitter", "Glitter in the drained oil?"), _yes_no("noise", "Knocking noise?"),
        _text(MORE, "hot_oil_pressure_bar", "Hot oil pressure, idle [bar]", ""),
        _text(MORE, "top_up_l", "Topped up since the change [L]", ""),
        _text(MORE, "refill_l", "Filled in at the change [L]", ""),
        dmc.Autocomplete(id=_id(MORE, "oil_product"), label="Oil that was sampled",
                         data=oil_names(), value=""),
        dmc.Autocomplete(id=_id(MORE, "refill_product"), label="Oil that went in",
                         data=oil_names(), value=""),
        _text(MORE, "sample_id", "Number on the bottle", ""), _text(MORE, "note", "Note", "")])


def drawn_fields(unit: str, today: date) -> Any:
    """Lay out the form for a sample that was drawn and whose result is awaited.

    Parameters
    ----------
    unit : str [-]
        How the engine counts.
    today : date [-]
        Today.

    Returns
    -------
    component [-]
        The form.
    """
    return html.Div([
        note(CAUTIONS["sampling"], shape="stop-sign"),
        html.Div(className="fields", children=[
            dmc.DateInput(id="drawn-on", label="Drawn on", value=today.isoformat(),
                          valueFormat="D MMM YYYY", maxDate=today.isoformat()),
            dmc.TextInput(id="drawn-meter", label=f"Meter [{unit}]", value="",
                          inputProps={"inputMode": "decimal"}),
            dmc.Autocomplete(id="drawn-lab", label="Sent to", data=lab_names(), value=""),
            dmc.TextInput(id="drawn-number", label="Number on the bottle", value=""),
            dmc.Select(id="drawn-changed", label="Oil drained with it?", value="",
                       allowDeselect=False, data=[
                           _NO_SAYING, {"value": "yes", "label": "yes"},
                           {"value": "no", "label": "no"}]),
        ])])


def _id(kind: str, name: str) -> dict[str, str]:
    return {"type": kind, "name": name}


def _text(kind: str, name: str, label: str, last: str) -> Any:
    return dmc.TextInput(id=_id(kind, name), label=label, value="", placeholder=last)


def _date(kind: str, name: str, label: str, value: date, today: date) -> Any:
    return dmc.DateInput(id=_id(kind, name), label=label, value=value.isoformat(),
                         valueFormat="D MMM YYYY", maxDate=today.isoformat())


def _yes_no(name: str, label: str) -> Any:
    return dmc.Select(id=_id(MORE, name), label=label, value="", allowDeselect=False, data=[
        _NO_SAYING, {"value": "yes", "label": "yes"}, {"value": "no", "label": "no"}])


def _reading(symbol: str, last: Mapping[str, str]) -> Any:
    own = MEASURANDS[PANEL.index(symbol)]
    short = sentence(own.name) if "_" in symbol or symbol.islower() else symbol
    described = own.name if short == symbol else ""
    if own.unit != "mg/kg":
        described = f"[{own.unit}] {described}".strip()
    return dmc.TextInput(id=_id(READING, symbol), value="", placeholder=last.get(symbol, ""),
                         label=short, description=described,
                         inputProps={"inputMode": "decimal", "autoComplete": "off"})


def form_of(engine: str, top: Mapping[str, object], more: Mapping[str, object],
            readings: Mapping[str, object]) -> SampleForm:
    """Gather what was typed.

    Parameters
    ----------
    engine : str [-]
        Engine.
    top, more, readings : mapping of str to object [-]
        Field to its content, as received.

    Returns
    -------
    SampleForm [-]
        Every entry as text.
    """
    known = [symbol for symbol in readings if symbol in PANEL]
    return SampleForm(
        engine, sample_date=short_text(top.get("sample_date")), meter=short_text(top.get("meter")),
        oil_distance=short_text(top.get("oil_distance")),
        readings={symbol: short_text(readings[symbol]) for symbol in known
                  if short_text(readings[symbol])},
        more={name: short_text(text, most=1000) for name, text in more.items()
              if short_text(text)})


def reject_texts(rejects: Sequence[Reject], names: Sequence[str]) -> list[str]:
    """Put each fault under the field that it is about.

    Parameters
    ----------
    rejects : sequence of Reject [-]
        Faults of the form.
    names : sequence of str [-]
        Fields in order.

    Returns
    -------
    list of str [-]
        Text for each field, "" where nothing is wrong.
    """
    told = {reject.column: sentence(reject.reason) for reject in rejects}
    alike = {"meter": ("odometer_km", "odometer_mi", "hours"),
             "oil_distance": ("oil_distance_km", "oil_distance_mi", "oil_hours")}
    return [next((told[key] for key in (name, *alike.get(name, ())) if key in told), "")
            for name in names]


def notes_table(notes: Sequence[Note]) -> Any:
    """List what was typed but should be looked at.

    Parameters
    ----------
    notes : sequence of Note [-]
        Remarks.

    Returns
    -------
    component [-]
        The table, or nothing.
    """
    if not notes:
        return html.Div()
    return ledger("Worth a look before you store it", ("field", "typed", "remark"),
                  [[one.column, one.raw, sentence(one.text)] for one in notes], cards=True)
