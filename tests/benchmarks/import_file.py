"""Import a large lab file, against pandas reading the same file as text."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from tests.benchmarks.generate import lab_file
from tests.benchmarks.harness import Measure, in_a_fresh_process, median_seconds, peak_mb

FAMILY = "BENCH"


def read_as_text(path: str) -> None:
    """Time pandas on the file, in a process of its own, and print it as JSON."""
    import pandas as pd

    took = median_seconds(lambda: pd.read_csv(path, dtype=str), runs=3)
    print(json.dumps({"seconds": took, "peak_mb": peak_mb()}))


def make_family(folder: Path) -> None:
    """Put the one engine family of the benchmarks into a new store."""
    families = folder.with_name("families.csv")
    families.write_text(f"family,rods,oil_fill_l\n{FAMILY},8,8\n", encoding="utf-8")
    made = in_a_fresh_process("tests.benchmarks.command", "import", families, "--kind",
                              "families", "--data", folder)
    if made["status"] != 0:
        raise RuntimeError(f"the family could not be stored: {made}")


def import_into(folder: Path, file: Path) -> dict[str, float]:
    """Import the file with the command, making its engines; give time and memory."""
    done = in_a_fresh_process(
        "tests.benchmarks.command", "import", file, "--good-rows-only", "--create-engines",
        FAMILY, "--data", folder)
    if done["status"] not in (0, 1):
        raise RuntimeError(f"the import stored nothing: {done}")
    return done


def run(folder: Path, *, quick: bool) -> list[Measure]:
    """Measure the import of 120,000 rows with 30 measurands."""
    engines = 40 if quick else 10_000
    file = folder / "lab.csv"
    lab_file(file, engines=engines, samples=12, measurands=30, bad_rows=0.002)
    store = folder / "import-store"
    make_family(store)
    text = in_a_fresh_process("tests.benchmarks.import_file", file)
    ours = import_into(store, file)
    rows = engines * 12
    return [
        Measure("import, against pandas reading text", ours["seconds"] / text["seconds"], "times",
                40, note=f"{rows} rows × 30; {ours['seconds']:.2f} s against "
                f"{text['seconds']:.2f} s"),
        Measure("import, peak memory", ours["peak_mb"] / 1024, "GB", 1.5),
    ]


if __name__ == "__main__":
    read_as_text(sys.argv[1])
