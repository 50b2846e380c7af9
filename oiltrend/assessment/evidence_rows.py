"""Pieces of evidence: every figure of a judged sample that is beyond a limit, or a finding."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.fixed import LEVELS, FixedLimits
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.rates import Ledger, over_panel
from oiltrend.assessment.readings import Readings
from oiltrend.assessment.results import LimitKind
from oiltrend.limits.answers import Answer
from oiltrend.limits.fixed import exceeds
from oiltrend.nomenclature import MEASURANDS
from oiltrend.records import FILTER_FINDINGS, LIMIT_QUANTITIES

__all__ = ["Piece", "findings", "fixed_pieces", "ratio_to_limit",
           "untold_measurands"]

_MOST = 99.0


class Piece(NamedTuple):
    """One piece of evidence: ``row`` is the sample, ``measurand`` a panel place or -1."""

    row: int
    code: str
    level: Literal["alert", "alarm"]
    measurand: int
    quantity: str
    value: float | None
    unit: str
    operator: str
    limit: float | None
    kind: LimitKind
    source: str
    n: int | None
    size: float


def ratio_to_limit(value: float, limit: float, operator: str) -> float:
    """Say how far beyond its limit a value lies, as a ratio capped at 99.

    Parameters
    ----------
    value, limit : float [-]
        In one unit.
    operator : str [-]
        Upper limits (>, >=) give value / limit, lower ones limit / value.

    Returns
    -------
    float [-]
        The ratio.

    Examples
    --------
    >>> ratio_to_limit(30.0, 20.0, ">"), ratio_to_limit(5.0, 10.0, "<"), ratio_to_limit(1, 0, ">")
    (1.5, 2.0, 99.0)
    """
    above, under = (value, limit) if operator[0] == ">" else (limit, value)
    return _MOST if under <= 0 else min(above / under, _MOST)


def _unit(measurand: int, quantity: str, hours: bool) -> str:
    use = "h" if hours else "km"
    if quantity == "wear_rate":
        return f"mg per 1000 {use}"
    unit = MEASURANDS[measurand].unit
    return f"{unit} per 1000 {use}" if quantity == "per_1000" else unit


def _answers(rows: NDArray[np.int64], family: NDArray[np.int64], fixed: FixedLimits,
             readings: Readings, fleet: FleetInput, ledger: Ledger
             ) -> Iterator[tuple[int, int, int, NDArray[np.float64], NDArray[np.int8]]]:
    """Compare per quantity, level and side; yields their places, the values and the answers."""
    from_lab = fleet.samples.value[rows]
    level_below = readings.below[rows]
    level_above = np.isposinf(readings.high[rows])
    never = np.zeros_like(level_below)
    for quantity, name in enumerate(LIMIT_QUANTITIES):
        if name == "level":
            value, below, above = from_lab, level_below, level_above
        else:
            value = ledger.per_1000[rows] if name == "per_1000" else over_panel(
                ledger.wear.rate, rows, np.arange(len(MEASURANDS)))
            below, above = never, never
        for level in range(len(LEVELS)):
            for side, strict in enumerate((">", "<")):
                bound = fixed.bound[family, quantity, level, side]
                if np.isnan(bound).all():
                    continue
                inclusive = fixed.inclusive[family, quantity, level, side]
                answer = np.where(
                    inclusive, exceeds(value, strict + "=", bound, below=below, above=above),
                    exceeds(value, strict, bound, below=below, above=above))
                yield quantity, level, side, value, answer


def fixed_pieces(rows: NDArray[np.int64], family: NDArray[np.int64], fixed: FixedLimits,
                 readings: Readings, fleet: FleetInput, ledger: Ledger) -> list[Piece]:
    """List what is beyond a fixed limit in the rows given.

    Parameters
    ----------
    rows : array, shape (j,) [-]
        Sample rows to judge.
    family : array, shape (j,) [-]
        Place of each row's family in ``fixed``.
    fixed : FixedLimits [-]
        The limits.
    readings : Readings [-]
        Bounds of the readings.
    fleet : FleetInput [-]
        The fleet.
    ledger : Ledger [-]
        Rates.

    Returns
    -------
    list of Piece [-]
        One for each figure beyond a limit.
    """
    pieces = []
    hours = fleet.samples.meter_unit == 1
    for quantity, level, side, value, answer in _answers(rows, family, fixed, readings, fleet,
                                                         ledger):
        for place, measurand in zip(*np.nonzero(answer == Answer.YES), strict=True):
            limit = fixed.limits[fixed.row[family[place], quantity, level, side, measurand]]
            found = float(value[place, measurand])
            row = int(rows[place])
            pieces.append(Piece(
                row, "fixed", limit.level, int(measurand), limit.quantity, found,
                _unit(measurand, limit.quantity, bool(hours[row])), limit.operator, limit.value,
                "fixed", limit.source, None, ratio_to_limit(found, limit.value, limit.operator)))
    return pieces


def untold_measurands(rows: NDArray[np.int64], family: NDArray[np.int64], fixed: FixedLimits,
                      readings: Readings, fleet: FleetInput, ledger: Ledger
                      ) -> NDArray[np.bool_]:
    """Mark measurands whose reporting limit lies beyond a limit, so that it cannot be judged.

    Parameters
    ----------
    rows, family, fixed, readings, fleet, ledger : see fixed_pieces [-]
        As there.

    Returns
    -------
    array of bool, shape (j, n_measurands) [-]
        True where "<30" stands against a limit of 25.
    """
    untold = np.zeros((len(rows), len(MEASURANDS)), dtype=bool)
    for quantity, level, side, _, answer in _answers(rows, family, fixed, readings, fleet,
                                                     ledger):
        # A limit of zero asks whether anything was found, and "not found" answers it.
        asked = fixed.bound[family, quantity, level, side] != 0
        untold |= (answer == Answer.CANNOT_TELL) & asked
    return untold


def findings(rows: NDArray[np.int64], fleet: FleetInput) -> list[Piece]:
    """List the findings at the change that suffice for an alarm whatever the ppm.

    Parameters
    ----------
    rows : array, shape (j,) [-]
        Sample rows to judge.
    fleet : FleetInput [-]
        The fleet.

    Returns
    -------
    list of Piece [-]
        Flakes, glitter, noise, low hot oil pressure.
    """
    samples, least = fleet.samples, fleet.settings.hot_oil_pressure_bar
    pieces = []

    def suffices(row: int, code: str, value: float | None = None) -> None:
        limit = least if value is not None else None
        size = ratio_to_limit(value, least, "<") if value is not None else 0.0
        pieces.append(Piece(row, code, "alarm", -1, "finding", value,
                            "bar" if value is not None else "", "<", limit, "finding",
                            "common practice, no source", None, size))

    for row in rows[samples.filter_finding[rows] == FILTER_FINDINGS.index("flakes")]:
        suffices(int(row), "finding_flakes")
    for row in rows[samples.glitter[rows] == 1]:
        suffices(int(row), "finding_glitter")
    for row in rows[samples.noise[rows] == 1]:
        suffices(int(row), "finding_noise")
    for row in rows[samples.hot_oil_pressure_bar[rows] < least]:
        suffices(int(row), "finding_oil_pressure", float(samples.hot_oil_pressure_bar[row]))
    return pieces
