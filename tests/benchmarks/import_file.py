"""Import a large lab file, against pandas reading the same file as text."""

from __future__ import annotations

import json
import sys

from tests.benchmarks.generate import lab_file
from tests.benchmarks.harness import (
    Measure,
    in_a_fresh_process,
    median_seconds,
    peak_mb,
    processor_seconds,
)
from tests.benchmarks.stores import Bench, import_into, make_engines

ROWS_OF_AN_ENGINE = 12


def read_as_text(path: str) -> None:
    """Time pandas on the file, in a process of its own, and print it as JSON."""
    import pandas as pd

    took = median_seconds(lambda: pd.read_csv(path, dtype=str), runs=3, clock=processor_seconds)
    print(json.dumps({"processor": took, "peak_mb": peak_mb()}))


def run(bench: Bench) -> list[Measure]:
    """Measure the import of 120,000 rows with 30 measurands."""
    engines = bench.size(10_000)
    file, store = bench.folder / "lab.csv", bench.folder / "import-store"
    lab_file(file, engines=engines, samples=ROWS_OF_AN_ENGINE, measurands=30, bad_rows=0.002)
    make_engines(store, engines)
    text = in_a_fresh_process("tests.benchmarks.import_file", file)
    ours = import_into(store, file)
    return [
        Measure("import, against pandas reading text", ours["processor"] / text["processor"],
                "times", 40, note=f"{engines * ROWS_OF_AN_ENGINE} rows × 30; processor time "
                f"{ours['processor']:.2f} s against {text['processor']:.2f} s; "
                f"{ours['seconds']:.1f} s by the clock"),
        Measure("import, peak memory", ours["peak_mb"] / 1024, "GB", 1.5),
    ]


if __name__ == "__main__":
    read_as_text(sys.argv[1])
