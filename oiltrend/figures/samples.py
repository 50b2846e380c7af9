"""The plain figures of every sample, to be redone by anyone on paper: ppm and ppm per 1000."""

from __future__ import annotations

from oiltrend.assessment.results import EngineHistory
from oiltrend.errors import ValueRefused
from oiltrend.figures.table import Cell, FigureTable, as_date, show
from oiltrend.figures.theme import numbers
from oiltrend.figures.use import use_unit
from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX
from oiltrend.records import Qualifier

__all__ = ["samples_table"]

_SIGNS = {Qualifier.BELOW: "< ", Qualifier.ABOVE: "> "}


def samples_table(history: EngineHistory, measurand: str, *, unit: str,
                  decimal: str = ".") -> FigureTable:
    """Tabulate one measurand of every sample, oldest first.

    Equation: ``per 1000 = (C − C_start) / distance on the oil × 1000``.

    Parameters
    ----------
    history : EngineHistory [-]
        Samples of one engine.
    measurand : str [-]
        Symbol.
    unit : str [-]
        How the reader counts use: km, mi or h.
    decimal : str [-]
        Decimal sign of the reader.

    Returns
    -------
    FigureTable [-]
        Result, start, per 1000 since the change, per 1000 since the sample before on the same
        oil, and remarks.

    Raises
    ------
    ValueRefused
        When the history does not hold this measurand.
    """
    if measurand not in history.measurands:
        raise ValueRefused(f"measurand: must be one that engine {history.engine} has, found "
                           f"'{measurand}'",
                           hint="use one of " + (", ".join(history.measurands) or "none yet"))
    use = use_unit(unit)
    k = history.measurands.index(measurand)
    own = MEASURANDS[PANEL_INDEX[measurand]]
    meter, oil = numbers(use.along(history.meter)), numbers(use.along(history.oil_distance))
    start = numbers(history.start_ppm[:, k])
    per = numbers(use.per_thousand(history.ppm_per_1000[:, k]))
    mid = numbers(use.per_thousand(history.mid_fill_per_1000[:, k]))
    rows: list[tuple[Cell, ...]] = []
    for i, value in enumerate(numbers(history.value[:, k])):
        rows.append((
            int(history.sample[i]), as_date(history.sample_date[i]), meter[i], oil[i],
            str(history.lab[i]), _result(Qualifier(int(history.qualifier[i, k])), value, decimal),
            start[i], per[i], mid[i], _remark(history, i)))
    return FigureTable(
        f"{own.name} in every sample, engine {history.engine}, newest at the bottom",
        ("sample", "date", f"meter [{unit}]", f"on the oil [{unit}]", "laboratory",
         f"{measurand} [{own.unit}]", f"start [{own.unit}]",
         f"per 1000 {unit} since the change", f"per 1000 {unit} since the sample before", "remark"),
        tuple(rows))


def _result(qualifier: Qualifier, value: float | None, decimal: str) -> str:
    if qualifier == Qualifier.MISSING:
        return ""
    if value is None:
        return "not detected"
    return _SIGNS.get(qualifier, "") + show(value, decimal=decimal)


def _remark(history: EngineHistory, row: int) -> str:
    words = []
    if history.awaited[row]:
        words.append("result awaited")
    if history.doubted[row]:
        words.append("doubted")
    if row and history.series[row] != history.series[row - 1]:
        words.append("laboratory or method changed")
    return ", ".join(words)
