"""Verdicts as the JSON document that the program promises, and with their sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from oiltrend.assessment.results import Doubt, Figures, LayerReading, Reason, SourceReading, Verdict
from oiltrend.wording import doubt_text, reason_text

__all__ = ["verdict_document", "with_sentences"]


def _reason_sentence(reason: Reason) -> str:
    text = reason_text(reason.code, measurand=reason.measurand, quantity=reason.quantity,
                       value=reason.value, unit=reason.unit, operator=reason.operator,
                       limit=reason.limit, limit_kind=reason.limit_kind,
                       limit_source=reason.limit_source, n=reason.n)
    if reason.alone:
        text += "; beyond an alarm limit, but alone: a confirming sample decides"
    return text


def with_sentences(verdict: Verdict) -> Verdict:
    """Put the sentences of the wording into reasons and doubts.

    Parameters
    ----------
    verdict : Verdict [-]
        As the assessment gave it.

    Returns
    -------
    Verdict [-]
        The same with texts.
    """
    if not verdict.reasons and not verdict.doubts:
        return verdict
    return replace(
        verdict,
        reasons=tuple(replace(reason, text=_reason_sentence(reason))
                      for reason in verdict.reasons),
        doubts=tuple(replace(doubt, text=doubt_text([doubt.code])) for doubt in verdict.doubts))


def _reason_document(reason: Reason) -> dict[str, Any]:
    return {"code": reason.code, "text": reason.text, "measurand": reason.measurand,
            "quantity": reason.quantity, "level": reason.level, "alone": reason.alone,
            "value": reason.value, "unit": reason.unit, "operator": reason.operator,
            "limit": reason.limit, "limit_kind": reason.limit_kind,
            "limit_source": reason.limit_source, "n": reason.n, "sample": reason.sample}


def _doubt_document(doubt: Doubt) -> dict[str, Any]:
    return {"sample": doubt.sample, "code": doubt.code, "text": doubt.text,
            "answered": doubt.answered}


def _sources_document(reading: SourceReading | None) -> dict[str, Any]:
    if reading is None:
        return {}
    return {name: found._asdict() for name, found in reading.ranges.items()}


def _source_notes(reading: SourceReading | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    return {"notes": list(reading.notes), "cannot_be_told_apart": [list(p) for p in reading.alike],
            "blind_spots": list(reading.blind)}


def _layer_document(reading: LayerReading) -> dict[str, Any]:
    ranges = {name: getattr(reading, name)._asdict() for name in (
        "lost_spread", "lost_one_half", "left_spread", "left_one_half")}
    return {"spread": reading.left_spread.value, "one_half": reading.left_one_half.value, **ranges,
            "new": reading.new_um, "halves": reading.halves, "loaded_area_mm2": reading.area_mm2,
            "since": reading.since, "filled_share": reading.filled_share}


def _figures_document(figures: Figures) -> dict[str, Any]:
    return {
        "wear_rate": {symbol: {"value": rate.value, "low": rate.low, "high": rate.high,
                               "unit": rate.unit} for symbol, rate in figures.wear_rate.items()},
        "interval": {symbol: {"ppm": own.ppm, "ppm_per_1000": own.ppm_per_1000,
                              "below_limit": own.below_limit, "start_ppm": own.start_ppm,
                              "mid_fill_per_1000": own.mid_fill_per_1000}
                     for symbol, own in figures.interval.items()},
        "trend": {symbol: {"slope": trend.slope, "p_value": trend.p_value, "n": trend.n,
                           "word": trend.word, "of": trend.of}
                  for symbol, trend in figures.trend.items()},
        "sources": _sources_document(figures.sources),
        "source_notes": _source_notes(figures.sources),
        "layer_left_um": {reading.layer: _layer_document(reading) for reading in figures.layers},
    }


def verdict_document(verdict: Verdict) -> dict[str, Any]:
    """Give a verdict as the promised JSON document. Unknown numbers are None, never 0.

    A verdict without figures has no entries for them; so it is kept in the log.

    Parameters
    ----------
    verdict : Verdict [-]
        With sentences.

    Returns
    -------
    dict [-]
        Plain values.
    """
    return {
        "engine": verdict.engine, "family": verdict.family,
        "as_of": {"date": verdict.as_of.isoformat(), "meter": verdict.meter,
                  "meter_unit": verdict.meter_unit},
        "level": verdict.level, "data": verdict.data,
        "awaiting_result": verdict.awaiting_result,
        "awaited_since": verdict.awaited_since.isoformat() if verdict.awaited_since else None,
        "chance": None, "samples": verdict.samples,
        "last_sample": {"date": verdict.last_sample_date.isoformat()
                        if verdict.last_sample_date else None, "meter": verdict.last_sample_meter},
        "reasons": [_reason_document(reason) for reason in verdict.reasons],
        **(_figures_document(verdict.figures) if verdict.figures else {}),
        "distance_to_stage": None,
        "next_sample": {"by_meter": verdict.next_by_meter,
                        "by_date": verdict.next_by_date.isoformat()
                        if verdict.next_by_date else None},
        "doubts": [_doubt_document(doubt) for doubt in verdict.doubts],
        "not_measured": list(verdict.not_measured), "not_judged": list(verdict.not_judged),
    }
