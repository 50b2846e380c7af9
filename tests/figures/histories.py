"""Hand-made engine histories, each with one known story."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from oiltrend.assessment.results import AppliedLimit, EngineHistory, Marker
from oiltrend.records import Qualifier

METALS = ("Fe", "Cu", "Pb")
NAN = float("nan")


def history(*, rows: int = 4, meter_unit: str = "km") -> EngineHistory:
    """Samples every 10 000 km at each oil change, lead rising by 2 mg per 1000 km a time."""
    axis = 10_000.0 * np.arange(1, rows + 1)
    value = np.column_stack([np.full(rows, 20.0), np.full(rows, 8.0), 4.0 + 2 * np.arange(rows)])
    rate = value * 4.0 / 10.0
    return EngineHistory(
        engine="E-7", family="AQ-V8-40", meter_unit=meter_unit, measurands=METALS,
        sample=np.arange(11, 11 + rows, dtype=np.int64),
        sample_date=np.datetime64("2024-01-10") + 90 * np.arange(rows),
        meter=axis + 500, axis=axis, oil_distance=np.full(rows, 10_000.0),
        fill=np.arange(rows, dtype=np.int64), series=np.zeros(rows, dtype=np.int64),
        doubted=np.zeros(rows, dtype=bool), awaited=np.zeros(rows, dtype=bool),
        lab=np.full(rows, "Lab A", dtype=object), value=value,
        qualifier=np.full((rows, 3), Qualifier.EXACT, dtype=np.int8),
        start_ppm=np.full((rows, 3), 0.5), ppm_per_1000=(value - 0.5) / 10.0,
        mid_fill_per_1000=np.full((rows, 3), NAN), rate=rate, rate_low=rate * 0.8,
        rate_high=rate * 1.25, limits=(), markers=(), doubts=())


def with_below(base: EngineHistory, row: int, symbol: str, bound: float) -> EngineHistory:
    """Turn one result into "below the reporting limit"."""
    column = base.measurands.index(symbol)
    qualifier, value = base.qualifier.copy(), base.value.copy()
    rate, low, high = base.rate.copy(), base.rate_low.copy(), base.rate_high.copy()
    qualifier[row, column] = Qualifier.BELOW
    value[row, column] = bound
    rate[row, column], low[row, column] = NAN, 0.0
    high[row, column] = bound * 0.4
    return replace(base, qualifier=qualifier, value=value, rate=rate, rate_low=low,
                   rate_high=high)


def with_doubt(base: EngineHistory, row: int) -> EngineHistory:
    """Doubt one sample."""
    doubted = base.doubted.copy()
    doubted[row] = True
    return replace(base, doubted=doubted)


def limit(measurand: str, level: str, value: float | None, *, quantity: str = "wear_rate",
          operator: str = ">", kind: str = "fixed") -> AppliedLimit:
    """Make a limit of the shop."""
    return AppliedLimit(measurand, quantity, level, operator, value, kind, "shop, 2024", None)


def events() -> tuple[Marker, ...]:
    """One event of which only the date is known, and two on the axis."""
    return (Marker("oil_change", 10_000.0, None, "oil change, 8.8 L"),
            Marker("shells_fitted", 25_000.0, None, "new shells <all rods>"),
            Marker("top_up", None, np.datetime64("2024-05-01").astype(object), "top-up 0.5 L"))
