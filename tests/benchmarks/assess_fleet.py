"""Assess a whole fleet, against a plain loop over its engines for the trend slopes alone."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from statistics import median

import numpy as np
import pandas as pd
from scipy.stats import theilslopes

from oiltrend.assessment.rates import WORN, over_panel
from oiltrend.assessment.results import Verdict
from oiltrend.assessment.work import work_out
from oiltrend.nomenclature import PANEL
from oiltrend.records import Caller
from oiltrend.service.fleet import assess_fleet, local_today
from oiltrend.service.fleet_input import read_fleet_input
from oiltrend.store import open_store
from tests.benchmarks.harness import Measure, in_a_fresh_process, processor_seconds
from tests.benchmarks.stores import Bench

CALLER = Caller("benchmark", "shop")
FULL = 10_000
LOOPED = 500  # engines that the loop does; its time for the fleet is in proportion
PAIRS = 5  # assess and loop by turns, so that a slow minute of the machine hits both


def rates_of(folder: Path) -> pd.DataFrame:
    """Give the loop its wear rates ready-made: it has only the slopes left to do."""
    store = open_store(folder=folder)
    try:
        fleet = read_fleet_input(store, as_of=local_today())
    finally:
        store.close()
    worked = work_out(fleet)
    rows = np.flatnonzero(worked.kept & worked.current)
    columns = np.flatnonzero(worked.readings.measured[rows].any(axis=0))
    cells = np.ix_(rows, columns)
    followed = np.where(np.isin(columns, WORN),
                        over_panel(worked.ledger.wear.rate, rows, columns),
                        worked.readings.value[cells])
    frame = pd.DataFrame(followed, columns=[PANEL[column] for column in columns])
    frame = frame.mask(worked.readings.below[cells])
    return frame.assign(engine=fleet.engines.engine[fleet.engine_of[rows]],
                        axis=worked.axis[rows])


def loop(frame: pd.DataFrame) -> dict[tuple[str, str], float]:
    """Find the robust slope of every measurand, one engine and one measurand after the other."""
    slopes = {}
    symbols = [name for name in frame.columns if name in PANEL]
    for engine, own in frame.groupby("engine"):
        axis = own["axis"].to_numpy()
        for symbol in symbols:
            rate = own[symbol].to_numpy()
            known = np.isfinite(rate) & np.isfinite(axis)
            if known.sum() >= 2:
                slopes[str(engine), symbol] = 1000 * theilslopes(rate[known], axis[known])[0]
    return slopes


def farthest(slopes: dict[tuple[str, str], float], verdicts: list[Verdict],
             whole: set[tuple[str, str]]) -> tuple[float, int]:
    """Compare the slopes of series without a value below a limit; give the largest difference."""
    ours = {(verdict.engine, symbol): trend.slope for verdict in verdicts if verdict.figures
            for symbol, trend in verdict.figures.trend.items() if trend.slope is not None}
    shared = [key for key in slopes if key in ours and key in whole]
    return max(abs(slopes[key] - ours[key]) for key in shared), len(shared)


def measure(folder: Path) -> None:
    """Measure one store and print the figures as JSON."""
    frame = rates_of(folder)
    engines = frame["engine"].unique()
    part = frame[frame["engine"].isin(engines[:LOOPED])]
    slopes: dict[tuple[str, str], float] = {}
    told: list[Verdict] = []
    store = open_store(folder=folder)
    try:
        # The first keeps what is new since the import; all later ones find it kept.
        assess_fleet(store, CALLER)
        pairs = [(processor_seconds(lambda: assess_fleet(store, CALLER)),
                  processor_seconds(lambda: slopes.update(loop(part)))) for _ in range(PAIRS)]
        full = processor_seconds(lambda: told.extend(
            assess_fleet(store, CALLER, with_figures=True)))
    finally:
        store.close()
    took = median(pair[0] for pair in pairs)
    share = len(engines) / min(len(engines), LOOPED)
    complete = part.drop(columns=["axis"]).groupby("engine").agg(lambda c: c.notna().all())
    whole = {(str(engine), symbol) for engine, row in complete.iterrows()
             for symbol in complete.columns if row[symbol]}
    difference, compared = farthest(slopes, told, whole)
    print(json.dumps({
        "engines": len(engines), "seconds": took, "full": full, "difference": difference,
        "compared": compared, "loop": share * median(pair[1] for pair in pairs),
        "ratio": share * median(pair[1] / pair[0] for pair in pairs)}))


def run(bench: Bench) -> list[Measure]:
    """Measure the whole fleet and a quarter of it."""
    whole, quarter = (in_a_fresh_process("tests.benchmarks.assess_fleet", bench.fleet(size))
                      for size in (FULL, FULL // 4))
    growth = (whole["seconds"] / whole["engines"]) / (quarter["seconds"] / quarter["engines"])
    return [
        Measure("loop of theilslopes, against assess", whole["ratio"], "times",
                15, "at least", f"{whole['engines']} engines; processor time "
                f"{whole['seconds']:.2f} s against {whole['loop']:.1f} s"),
        Measure("assess with all figures, against assess", whole["full"] / whole["seconds"],
                "times", 4, note=f"processor time {whole['full']:.2f} s"),
        Measure("slopes of the two, largest difference + 1e-15", whole["difference"] + 1e-15,
                "mg/(1000 use)²", 1e-9, note=f"{whole['compared']} slopes"),
        Measure("assess, time per engine against a quarter of the fleet", growth, "times", 1.25,
                note=f"{quarter['engines']} engines in {quarter['seconds']:.2f} s"),
    ]


if __name__ == "__main__":
    measure(Path(sys.argv[1]))
