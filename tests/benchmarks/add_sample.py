"""Type in one sample and see the new verdict, in a fleet of 10,000 and in one of 1,000."""

from __future__ import annotations

import json
import sys
from datetime import date, timedelta
from pathlib import Path

from oiltrend.assessment.results import Verdict
from oiltrend.nomenclature import MEASURANDS
from oiltrend.records import Caller
from oiltrend.service.samples import SampleForm, record_sample
from oiltrend.store import open_store
from tests.benchmarks.generate import engine_name
from tests.benchmarks.harness import Measure, in_a_fresh_process, percentile, seconds
from tests.benchmarks.stores import MEASURANDS as MEASURED
from tests.benchmarks.stores import Bench

CALLER = Caller("benchmark", "shop")
READINGS = {m.symbol: "900" if m.kind == "additive" else "7" for m in MEASURANDS[:MEASURED]}


def measure(folder: Path, runs: int) -> None:
    """Add samples to different engines and print the times as JSON."""
    store = open_store(folder=folder)
    times: list[float] = []
    try:
        for number in range(runs):
            form = SampleForm(
                engine=engine_name(number),
                sample_date=(date.today() - timedelta(days=1)).isoformat(),  # noqa: DTZ011
                meter=str(900_000 + number), oil_distance="8000", more={"oil_changed": "yes"},
                readings=READINGS)
            seen: list[Verdict] = []
            times.append(seconds(lambda form=form, seen=seen: seen.append(  # type: ignore[misc]
                record_sample(store, CALLER, form))))
            if seen[0].last_sample_meter != 900_000 + number:
                raise RuntimeError(f"the verdict does not rest on the new sample: {seen[0]}")
    finally:
        store.close()
    print(json.dumps({"p95": percentile(times, 0.95), "median": percentile(times, 0.5)}))


def run(bench: Bench) -> list[Measure]:
    """Measure both fleets."""
    runs = 3 if bench.quick else 60
    many, few = (in_a_fresh_process("tests.benchmarks.add_sample",
                                    bench.own_fleet(size, "added"), runs)
                 for size in (10_000, 1_000))
    return [
        Measure("add a sample and see the verdict, p95", many["p95"], "s", 0.3,
                note=f"{runs} samples; median {many['median']:.3f} s"),
        Measure("add a sample, 10,000 engines against 1,000", many["median"] / few["median"],
                "times", 1.5, note=f"medians; {few['median']:.3f} s with 1,000"),
    ]


if __name__ == "__main__":
    measure(Path(sys.argv[1]), int(sys.argv[2]))
