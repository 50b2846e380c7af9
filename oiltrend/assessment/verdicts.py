"""Verdicts engine by engine, from arrays and pieces of evidence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.doubts import DOUBT_CODES
from oiltrend.assessment.evidence_rows import Piece
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.own_history import Trends
from oiltrend.assessment.results import (
    DataState,
    Doubt,
    Level,
    Reason,
    Verdict,
)
from oiltrend.assessment.settle import is_confirmed, settle_level
from oiltrend.assessment.values import day_or_none, number_or_none
from oiltrend.assessment.work import Worked, last_row
from oiltrend.nomenclature import PANEL
from oiltrend.records import FILTER_FINDINGS

__all__ = ["Evidence", "order_verdicts", "write_verdicts"]

# What a shop that watches rod bearings wants to see measured at every change.
_WATCHED = ("Fe", "Cu", "Pb", "Sn", "Al", "Cr", "Ni", "Si", "KV100")
_LEVEL_ORDER = {"alarm": 0, "alert": 1, "no_alarm": 2, None: 3}
_HURRY_DAYS = {"alarm": 0.0, "alert": 0.25, "no_alarm": 1.0}


@dataclass(frozen=True, slots=True)
class Evidence:
    """Pieces by engine; ``untold[engine]`` lists what could not be judged."""

    judged: dict[int, list[Piece]]
    earlier: dict[int, list[Piece]]
    untold: dict[int, list[str]]
    trends: Trends | None



def _reason(piece: Piece, sample: int, confirmed: bool) -> Reason:
    level: Level = "alarm" if confirmed else "alert"
    symbol = PANEL[piece.measurand] if piece.measurand >= 0 else None
    return Reason(piece.code, "", level, symbol, piece.quantity, piece.value, piece.unit,
                  piece.operator, piece.limit, piece.kind, piece.source, piece.n,
                  piece.size, sample, piece.level == "alarm" and not confirmed)


def _reasons(judged: Sequence[Piece], earlier: Sequence[Piece], fleet: FleetInput
             ) -> tuple[Reason, ...]:
    """Strongest first; of an alert and an alarm limit passed by one figure the alarm stands."""
    best: dict[tuple[int, str, str, str], tuple[Piece, bool]] = {}
    for piece in judged:
        confirmed = is_confirmed(piece, judged, earlier, fleet.settings.far_beyond)
        place = (piece.measurand, piece.quantity, piece.kind, piece.code)
        rank = (confirmed, piece.level == "alarm", piece.size)
        held = best.get(place)
        if held is None or rank > (held[1], held[0].level == "alarm", held[0].size):
            best[place] = (piece, confirmed)
    ordered = sorted(best.values(), key=lambda entry: (
        not entry[1], entry[0].quantity != "finding", -entry[0].size, entry[0].measurand))
    return tuple(_reason(piece, int(fleet.sample_id[piece.row]), confirmed)
                 for piece, confirmed in ordered)


def write_verdicts(fleet: FleetInput, worked: Worked, evidence: Evidence) -> list[Verdict]:
    """Write one verdict for every engine of the fleet, in the order of its engine table.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Rates and rows.
    evidence : Evidence [-]
        What is beyond a limit, by engine.

    Returns
    -------
    list of Verdict [-]
        Verdicts; texts of reasons and doubts are left to the wording.
    """
    engines = fleet.engines
    counts = np.bincount(fleet.engine_of[worked.kept & worked.current],
                         minlength=len(engines.engine)).tolist()
    doubts = _doubts_of(fleet, worked)
    ends = _Ends.of(fleet, worked)
    verdicts = []
    # A loop over engines: a verdict is a document, and each is read on its own.
    for engine, name in enumerate(engines.engine.tolist()):
        row = int(worked.latest[engine])
        judged = evidence.judged.get(engine, [])
        earlier = evidence.earlier.get(engine, [])
        level: Level | None = None
        if row >= 0 or judged:
            level = settle_level(judged, earlier, fleet.settings.far_beyond)
        reasons = _reasons(judged, earlier, fleet)
        due_meter, due_date = ends.due(engine, level, fleet)
        verdicts.append(Verdict(
            engine=name, family=engines.family[engine], as_of=fleet.as_of,
            meter=number_or_none(ends.meter[engine]), meter_unit=engines.meter_unit[engine],
            level=level, data=ends.state(engine, counts[engine], fleet),
            awaiting_result=bool(ends.awaited[engine] >= 0),
            awaited_since=day_or_none(fleet.samples.sample_date[ends.awaited[engine]])
            if ends.awaited[engine] >= 0 else None,
            chance=None, reasons=reasons, trend_word=_trend_word(evidence.trends, engine, reasons),
            figures=None, next_by_meter=due_meter, next_by_date=due_date,
            last_sample_date=day_or_none(fleet.samples.sample_date[row]) if row >= 0 else None,
            last_sample_meter=number_or_none(float(fleet.samples.meter[row])) if row >= 0 else None,
            samples=counts[engine], doubts=tuple(doubts.get(engine, ())),
            not_measured=_not_measured(fleet, worked, row),
            not_judged=tuple(evidence.untold.get(engine, ())),
            size=reasons[0].size if reasons else 0.0))
    return verdicts


def _trend_word(trends: Trends | None, engine: int, reasons: Sequence[Reason]) -> str:
    """Tell the trend of the measurand that the main reason is about."""
    if trends is None or not reasons or reasons[0].measurand is None:
        return ""
    return trends.word_of(engine, reasons[0].measurand)


def _doubts_of(fleet: FleetInput, worked: Worked) -> dict[int, list[Doubt]]:
    """Doubts of the fleet by engine; a sample with several codes has several entries."""
    found: dict[int, list[Doubt]] = {}
    for row, code in zip(*np.nonzero(worked.doubts), strict=True):
        found.setdefault(int(fleet.engine_of[row]), []).append(
            Doubt(int(fleet.sample_id[row]), DOUBT_CODES[code], "", fleet.answered[row]))
    return found


def _not_measured(fleet: FleetInput, worked: Worked, row: int) -> tuple[str, ...]:
    if row < 0:
        return _WATCHED
    missing = [symbol for symbol in _WATCHED
               if not worked.readings.measured[row, PANEL.index(symbol)]]
    if FILTER_FINDINGS[fleet.samples.filter_finding[row]] in ("", "not looked"):
        missing.append("filter_finding")
    if not math.isfinite(fleet.samples.hot_oil_pressure_bar[row]):
        missing.append("hot_oil_pressure_bar")
    return tuple(missing)


@dataclass(frozen=True, slots=True)
class _Ends:
    """Where each engine's record ends: last result, last meter, awaited sample."""

    result: NDArray[np.int64]
    awaited: NDArray[np.int64]
    meter: list[float]
    axis: NDArray[np.float64]
    result_axis: NDArray[np.float64]

    @classmethod
    def of(cls, fleet: FleetInput, worked: Worked) -> _Ends:
        count = len(fleet.engines.engine)
        result = last_row(fleet.engine_of, worked.readings.has_result & ~fleet.samples.awaited,
                          count)
        awaited = last_row(fleet.engine_of, fleet.samples.awaited, count)
        read = last_row(fleet.engine_of, np.isfinite(fleet.samples.meter), count)
        meter = np.full(count, np.nan)
        meter[read >= 0] = fleet.samples.meter[read[read >= 0]]
        axis = np.full(count, np.nan)
        np.fmax.at(axis, fleet.engine_of, worked.axis)
        result_axis = np.full(count, np.nan)
        result_axis[result >= 0] = worked.axis[result[result >= 0]]
        return cls(result, awaited, meter.tolist(), axis, result_axis)

    def state(self, engine: int, samples: int, fleet: FleetInput) -> DataState:
        row, settings = int(self.result[engine]), fleet.settings
        if row >= 0:
            drawn = day_or_none(fleet.samples.sample_date[row])
            due = settings.due_h if fleet.engines.meter_unit[engine] == "h" else settings.due_km
            run = float(self.axis[engine] - self.result_axis[engine])
            days = (fleet.as_of - drawn).days if drawn else 0
            if days > settings.overdue_factor * settings.due_days or run > \
                    settings.overdue_factor * due:
                return "out_of_date"
        return "enough" if samples >= settings.enough_samples else "little"

    def due(self, engine: int, level: str | None, fleet: FleetInput
            ) -> tuple[float | None, date | None]:
        """Next sample: the full interval without alert, a quarter of it after one, now in alarm."""
        row, settings = int(self.result[engine]), fleet.settings
        if row < 0 or level is None:
            return None, fleet.as_of
        share = _HURRY_DAYS[level]
        drawn = day_or_none(fleet.samples.sample_date[row])
        step = settings.due_h if fleet.engines.meter_unit[engine] == "h" else settings.due_km
        at = number_or_none(float(fleet.samples.meter[row]))
        by_date = drawn + timedelta(days=round(share * settings.due_days)) if drawn else None
        if level == "alarm":
            by_date = fleet.as_of
        return (at + share * step if at is not None else None), by_date


def order_verdicts(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Sort most pressing first: level, then chance where known, then size of the main reason.

    Parameters
    ----------
    verdicts : sequence of Verdict [-]
        In any order.

    Returns
    -------
    list of Verdict [-]
        In order.
    """
    return sorted(verdicts, key=lambda v: (
        _LEVEL_ORDER[v.level], -(v.chance.value if v.chance else -1.0), -v.size, v.engine))
