"""Uses about single samples: typed in, drawn, corrected, a doubt answered."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from oiltrend.assessment.results import Verdict
from oiltrend.errors import ValueRefused
from oiltrend.ingest import Note, ParsedFile, ReadOptions, Reject, read_file
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import Action, Caller, Engine, Reading, empty_samples
from oiltrend.service.access import require
from oiltrend.service.fleet import assess_engines, local_today, refresh_verdicts
from oiltrend.service.reading import known_to
from oiltrend.service.results import add_results
from oiltrend.store import Store

__all__ = ["FormCheck", "SampleForm", "answer_doubt", "check_form", "correct_sample",
           "last_values", "mark_drawn", "record_sample", "take_action"]

_METER_COLUMNS = {"km": ("odometer_km", "oil_distance_km"),
                  "mi": ("odometer_mi", "oil_distance_mi"), "h": ("hours", "oil_hours")}


@dataclass(frozen=True, slots=True)
class SampleForm:
    """A result as it is typed: every entry as text, ``""`` where nothing was typed.

    ``meter`` and ``oil_distance`` count in the engine's own unit. ``more`` holds further
    columns of the samples layout, ``readings`` the measurands.
    """

    engine: str
    sample_date: str = ""
    meter: str = ""
    oil_distance: str = ""
    readings: AnyMapping[str, str] = field(default_factory=dict)
    more: AnyMapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FormCheck:
    """What is wrong with a form, entry by entry, and what should be looked at."""

    rejects: tuple[Reject, ...]
    notes: tuple[Note, ...]
    questions: tuple[str, ...]
    duplicate: bool

    @property
    def ready(self) -> bool:
        """Whether the form can be stored.

        Returns
        -------
        bool [-]
            True when nothing stands against it.
        """
        return not (self.rejects or self.questions or self.duplicate)


def _read_form(store: Store, form: SampleForm) -> ParsedFile:
    """Pass a form through the same reading as a file, so that one set of rules serves both."""
    engine = store.get(Engine, form.engine).record
    meter, distance = _METER_COLUMNS[engine.meter_unit]
    entries = {"engine": form.engine, "sample_date": form.sample_date, meter: form.meter,
               distance: form.oil_distance, **form.more, **form.readings}
    entries = {name: text.strip() for name, text in entries.items()}
    sheet = io.StringIO()
    writer = csv.writer(sheet)
    writer.writerows([entries.keys(), entries.values()])
    typed = [text for name, text in entries.items() if name not in ("note", "engine")]
    decimal = "comma" if any("," in text for text in typed) and not any(
        "." in text for text in typed) else "point"
    return read_file(sheet.getvalue().encode(), filename="typed in", kind="samples",
                     options=ReadOptions(date_order="ymd", decimal=decimal),
                     known=known_to(store, "samples", only=form.engine))


def check_form(store: Store, caller: Caller, form: SampleForm) -> FormCheck:
    """Check a form while it is being typed.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who types.
    form : SampleForm [-]
        The form so far.

    Returns
    -------
    FormCheck [-]
        What stands against it.

    Raises
    ------
    NotThere
        When the engine is not known.
    """
    require(caller, "add results")
    parsed = _read_form(store, form)
    return FormCheck(parsed.rejects, parsed.notes, tuple(q.text for q in parsed.questions),
                     parsed.duplicates > 0)


def record_sample(store: Store, caller: Caller, form: SampleForm) -> Verdict:
    """Store a typed result and give the new verdict.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who types.
    form : SampleForm [-]
        The form.

    Returns
    -------
    Verdict [-]
        The engine's verdict with this result in it.

    Raises
    ------
    ValueRefused
        When an entry breaks its rule, or the result is stored already.
    NotThere
        When the engine is not known.
    """
    require(caller, "add results")
    parsed = _read_form(store, form)
    if parsed.rejects:
        first = parsed.rejects[0]
        raise ValueRefused(f"{first.column or 'form'}: {first.reason}, found '{first.raw}'",
                           hint=first.hint)
    if parsed.questions:
        raise ValueRefused(parsed.questions[0].text, hint="write it without doubt")
    if parsed.duplicates or parsed.samples is None or not len(parsed.samples):
        raise ValueRefused(f"sample: must be a new one, found one of {form.engine} that is "
                           "stored already", hint="correct the stored sample instead")
    with store.write(caller, f"result of {form.engine} typed in") as tx:
        add_results(tx, parsed.samples)
    return assess_engines(store, caller, [form.engine])[0]


def last_values(store: Store, caller: Caller, engine: str) -> dict[str, str]:
    """Give the previous figures of an engine, as hints inside the fields of a form.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.
    engine : str [-]
        Engine.

    Returns
    -------
    dict [-]
        Measurand to text such as ``<1``; ``sample_date`` and ``meter`` as well.
    """
    require(caller, "add results")
    fleet = store.fleet(engines=[engine])
    rows = np.flatnonzero(~fleet.table.awaited & (fleet.table.qualifier > 0).any(axis=1))
    if not len(rows):
        return {}
    row = int(rows[-1])
    marks = {1: "", 2: "<", 3: ">"}
    found = {}
    for symbol, place in PANEL_INDEX.items():
        qualifier = int(fleet.table.qualifier[row, place])
        value = float(fleet.table.value[row, place])
        if qualifier:
            found[symbol] = f"{marks[qualifier]}{value:g}" if np.isfinite(value) else "ND"
    found["sample_date"] = str(fleet.table.sample_date[row])
    if np.isfinite(fleet.table.meter[row]):
        found["meter"] = f"{fleet.table.meter[row]:g}"
    return found


def mark_drawn(store: Store, caller: Caller, engine: str, *, on: date, meter: float | None = None,
               lab: str = "", sample_id: str = "", oil_changed: bool | None = None) -> None:
    """Note that a sample was drawn and its result is awaited.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who drew it.
    engine : str [-]
        Engine.
    on : date [-]
        Day.
    meter : float or None [km or h]
        Meter reading.
    lab : str [-]
        Laboratory that it went to.
    sample_id : str [-]
        Number on the bottle.
    oil_changed : bool or None [-]
        Whether the oil was drained with it.

    Raises
    ------
    ValueRefused
        When the day lies in the future.
    NotThere
        When the engine is not known.
    """
    require(caller, "add results")
    if on > local_today():
        raise ValueRefused(f"drawn on: must not lie in the future, found {on.isoformat()}",
                           hint="correct the date")
    record = store.get(Engine, engine).record
    row = empty_samples(1)
    row.engine[0], row.lab[0], row.sample_id[0] = engine, lab, sample_id
    row.sample_date[0] = np.datetime64(on)
    row.meter[0] = np.nan if meter is None else meter
    row.meter_unit[0] = 1 if record.meter_unit == "h" else 0
    row.oil_changed[0] = -1 if oil_changed is None else int(oil_changed)
    row.awaited[0] = True
    with store.write(caller, f"sample of {engine} drawn") as tx:
        tx.add_samples(row)
    refresh_verdicts(store, caller, engines=[engine])


def correct_sample(store: Store, caller: Caller, sample: int,
                   changes: AnyMapping[str, object | Reading], *, rev: int, why: str) -> Verdict:
    """Correct a stored sample; the version before is kept.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who corrects.
    sample : int [-]
        Number of the sample.
    changes : mapping [-]
        Column to value, measurand to reading.
    rev : int [-]
        The version that was read.
    why : str [-]
        Reason, for the audit.

    Returns
    -------
    Verdict [-]
        The engine's new verdict.
    """
    require(caller, "add results")
    with store.write(caller, why) as tx:
        tx.edit_sample(sample, changes, rev)
    engine = str(store.sample(sample).row.engine[0])
    return assess_engines(store, caller, [engine])[0]


def answer_doubt(store: Store, caller: Caller, sample: int, answer: str, *, rev: int) -> Verdict:
    """Say about a doubted sample that it counts, or that it is set aside.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who answers.
    sample : int [-]
        Number of the sample.
    answer : str [-]
        "confirmed", "set_aside" or "" to take an answer back.
    rev : int [-]
        The version that was read.

    Returns
    -------
    Verdict [-]
        The engine's new verdict.

    Raises
    ------
    ValueRefused
        When the answer is none of the three.
    """
    require(caller, "answer a doubt")
    if answer not in ("", "confirmed", "set_aside"):
        raise ValueRefused(f"answer: must be confirmed or set_aside, found '{answer}'",
                           hint="choose one of the two")
    with store.write(caller, f"doubt about sample {sample}: {answer or 'answer taken back'}") as tx:
        tx.answer_doubt(sample, answer, rev)  # type: ignore[arg-type]
    engine = str(store.sample(sample).row.engine[0])
    return assess_engines(store, caller, [engine])[0]


def take_action(store: Store, caller: Caller, action: Action) -> None:
    """Note what the shop did about a verdict.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who did it.
    action : Action [-]
        Told, asked for a sample, booked, opened or declined.
    """
    require(caller, "add results")
    with store.write(caller, f"{action.action} for {action.engine}") as tx:
        tx.add(replace(action))
