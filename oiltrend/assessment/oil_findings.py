"""What the state of the oil says by itself: out of its grade, far from new, coolant, dirt.

Each is a reason for an alert; fuel, water and glycol have fixed limits of their own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.evidence_rows import Piece, ratio_to_limit
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.oil_state import drifts, oil_readings_of, range_of, signs_of
from oiltrend.assessment.readings import Readings
from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX
from oiltrend.oil.answers import Answer
from oiltrend.oil.contamination import CoolantCode, DirtCode
from oiltrend.oil.grades import grade_range, outside_grade
from oiltrend.oil.reserve import acid_reaches_base
from oiltrend.oil.rises import OilReadings
from oiltrend.oil.signs import Signs

__all__ = ["oil_findings"]

_GRADE_SOURCE = "SAE J300 range of the oil's grade; common practice for used oil"


def oil_findings(rows: NDArray[np.int64], fleet: FleetInput, readings: Readings) -> list[Piece]:
    """List what the state of the oil says in some samples.

    Parameters
    ----------
    rows : array, shape (j,) [-]
        Sample rows to judge.
    fleet : FleetInput [-]
        The fleet.
    readings : Readings [-]
        Readings and fresh oil.

    Returns
    -------
    list of Piece [-]
        Findings of alert level.
    """
    if not len(rows):
        return []
    oil = oil_readings_of(rows, fleet, readings)
    signs = signs_of(oil, coolant_rise=fleet.settings.coolant_rise_ppm)
    return [*_out_of_grade(rows, fleet, readings), *_far_from_new(rows, oil),
            *_acid(rows, oil), *_coolant(rows, oil, signs["coolant"]),
            *_dirt(rows, oil, signs["dirt"])]


def _piece(row: int, code: str, symbol: str, value: float, limit: float, *, operator: str = ">",
           unit: str = "", source: str) -> Piece:
    place = PANEL_INDEX[symbol]
    return Piece(int(row), code, "alert", place, "level", value, unit or MEASURANDS[place].unit,
                 operator, limit, "finding", source, None, ratio_to_limit(value, limit, operator))


def _out_of_grade(rows: NDArray[np.int64], fleet: FleetInput, readings: Readings) -> list[Piece]:
    spans = {name: grade_range(grade) for name, grade in fleet.fresh.grade.items()}
    nothing = (np.nan, np.nan)
    span = np.array([spans.get(name) or nothing
                     for name in fleet.samples.oil_product[rows].tolist()]).reshape(-1, 2)
    found = readings.value[rows, PANEL_INDEX["KV100"]]
    side = outside_grade(found, span[:, 0], span[:, 1])
    return [_piece(rows[place], "oil_out_of_grade", "KV100", float(found[place]),
                   float(span[place, 0 if side[place] < 0 else 1]),
                   operator="<" if side[place] < 0 else ">=", source=_GRADE_SOURCE)
            for place in np.flatnonzero(side)]


def _far_from_new(rows: NDArray[np.int64], oil: OilReadings) -> list[Piece]:
    pieces = []
    for rule, change, _, _, answer in drifts(oil):
        for place in np.flatnonzero((answer == Answer.YES) & np.isfinite(change)):
            value = float(change[place])
            falls = value < 0
            limit = -rule.size if falls else rule.size
            unit = "% from new" if rule.quantity == "relative" else f"{rule.unit} from new"
            piece = _piece(rows[place], "oil_drift", rule.measurand, value, limit,
                           operator="<" if falls else ">", unit=unit, source=rule.source)
            pieces.append(piece._replace(size=abs(value) / rule.size))
    return pieces


def _acid(rows: NDArray[np.int64], oil: OilReadings) -> list[Piece]:
    base, acid = PANEL_INDEX["base_number"], PANEL_INDEX["acid_number"]
    answer = acid_reaches_base(range_of(oil, base), range_of(oil, acid))
    return [_piece(rows[place], "oil_acid", "acid_number", float(oil.value[place, acid]),
                   float(oil.value[place, base]), operator=">=",
                   source="the base number; common practice, no source")
            for place in np.flatnonzero(answer == Answer.YES)]


def _words(signs: Signs, place: int) -> str:
    """Say what supports a sign and what else it may be."""
    support = [s for s, on in zip(signs.supports, signs.support[place], strict=True) if on]
    other = [c.replace("_", " ") for c, on in zip(signs.confounders, signs.confounder[place],
                                                  strict=True) if on]
    return f"supported by {', '.join(support)}" + (f"; may also be {', '.join(other)}" if other
                                                   else "")


def _coolant(rows: NDArray[np.int64], oil: OilReadings, signs: Signs) -> list[Piece]:
    pieces = []
    for place in np.flatnonzero(signs.code >= CoolantCode.INHIBITOR_ALONE).tolist():
        symbols = [s for s, on in zip(signs.supports, signs.support[place], strict=True) if on]
        leading = next((s for s in ("Na", "K", "glycol_pct") if s in symbols), "Na")
        column = PANEL_INDEX[leading]
        value, strength = float(oil.value[place, column]), float(signs.strength[place])
        limit = value / strength if strength > 0 else 0.0
        pieces.append(_piece(rows[place], "oil_coolant", leading, value, limit,
                             source=f"sign of coolant, {_words(signs, place)}"))
    return pieces


def _dirt(rows: NDArray[np.int64], oil: OilReadings, signs: Signs) -> list[Piece]:
    column = PANEL_INDEX["Si"]
    pieces = []
    for place in np.flatnonzero(signs.code == DirtCode.DUST).tolist():
        value, strength = float(oil.value[place, column]), float(signs.strength[place])
        limit = value / strength if strength > 0 else 0.0
        pieces.append(_piece(rows[place], "oil_dirt", "Si", value, limit,
                             source=f"silicon and aluminium in the ratio of dust, "
                             f"{_words(signs, place)}"))
    return pieces
