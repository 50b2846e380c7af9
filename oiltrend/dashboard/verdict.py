"""What is said about an engine: level, reasons in order, doubts to answer, what is not known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from oiltrend.assessment.results import Doubt, Reason, Verdict
from oiltrend.dashboard.parts import (
    aria,
    awaited_tag,
    data_tag,
    day,
    facts,
    icon,
    level_mark,
    sentence,
)
from oiltrend.figures.table import show_use
from oiltrend.nomenclature import QUANTITIES
from oiltrend.wording import measurand_name

__all__ = ["doubt_questions", "reason_list", "verdict_block"]

# Where the limit stands on the rule, and how far one doubling moves the mark [%].
_LIMIT_AT, _DOUBLING = 40.0, 26.0


def verdict_block(verdict: Verdict) -> Any:
    """Show level and state of the data, and when to sample next.

    Parameters
    ----------
    verdict : Verdict [-]
        With sentences.

    Returns
    -------
    component [-]
        The block.
    """
    marks = [level_mark(verdict.level, large=True), data_tag(verdict.data)]
    if verdict.awaiting_result:
        marks.append(awaited_tag(verdict.awaited_since))
    unit = verdict.meter_unit
    known = {
        "Last sample": _point(verdict.last_sample_date, verdict.last_sample_meter, unit),
        "Next sample": _point(verdict.next_by_date, verdict.next_by_meter, unit, before="by "),
        "Samples": str(verdict.samples),
        "Not measured": _names(verdict.not_measured),
        "Measured, not judged": _names(verdict.not_judged),
    }
    return html.Div([html.Div(marks, className="marks"), html.Div(facts(known), className="known")])


def _point(on: Any, meter: float | None, unit: str, *, before: str = "") -> str | None:
    parts = [show_use(meter, unit)] if meter is not None else []
    parts += [day(on)] if on is not None else []
    return before + " · ".join(parts) if parts else None


def _names(symbols: Sequence[str]) -> str | None:
    return ", ".join(QUANTITIES[symbol].meaning if symbol in QUANTITIES else
                     measurand_name(symbol).replace("_", " ") for symbol in symbols) or None


def reason_list(reasons: Sequence[Reason]) -> Any:
    """List the reasons, strongest first, each on a rule that carries its limit and its value.

    Parameters
    ----------
    reasons : sequence of Reason [-]
        With sentences.

    Returns
    -------
    component [-]
        The list.
    """
    return html.Ol([html.Li([
        html.Div([html.Div(sentence(reason.text), className="why"),
                  html.Div(level_mark(reason.level), className="small")]),
        _rule(reason)]) for reason in reasons], className="reasons")


def _rule(reason: Reason) -> Any:
    """Draw a rule: a stroke for the limit, a mark for the value, one doubling a fixed step."""
    value, limit = reason.value, reason.limit
    if not value or not limit or value <= 0 or limit <= 0:
        return html.Div()
    at = min(97.0, max(3.0, _LIMIT_AT + _DOUBLING * math.log2(value / limit)))
    shape = "level-alarm" if reason.level == "alarm" else "level-alert"
    return html.Div([html.Span("limit"), html.I(), html.B(style={"left": f"{at:.1f}%"})],
                    className=f"beyond {shape}", **aria(hidden=True))


def doubt_questions(doubts: Sequence[Doubt], *, kind: str,
                    versions: Mapping[int, int]) -> Any:
    """Ask about every doubted sample that nobody has answered for.

    Parameters
    ----------
    doubts : sequence of Doubt [-]
        With sentences.
    kind : str [-]
        Type of the buttons' ids.
    versions : mapping of int to int [-]
        Sample to the version that is shown.

    Returns
    -------
    component [-]
        The questions.
    """
    open_samples = dict.fromkeys(doubt.sample for doubt in doubts if not doubt.answered)
    return html.Div([_question(sample, versions[sample],
                               [d.text for d in doubts if d.sample == sample], kind)
                     for sample in open_samples])


def _question(sample: int, rev: int, texts: Sequence[str], kind: str) -> Any:
    def button(words: str, answer: str) -> Any:
        return html.Button(words, id={"type": kind, "sample": sample, "rev": rev,
                                      "answer": answer},
                           className="button quiet")
    return html.Div(className="question", children=[
        html.H2([icon("doubt"), f"Is sample {sample} what it says?"]),
        *(html.P(sentence(text) + ".") for text in texts),
        html.P("Until someone answers it is drawn hollow and left out of trends; it never lowers "
               "the level.", className="soft small"),
        html.Div([button("It is what it says", "confirmed"), button("Set it aside", "set_aside")],
                 className="buttons")])
