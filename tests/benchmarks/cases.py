"""The benchmarks by name; each measures something in the folder of its run."""

from __future__ import annotations

from collections.abc import Callable

from tests.benchmarks import assess_fleet, import_file
from tests.benchmarks.harness import Measure
from tests.benchmarks.stores import Bench

CASES: dict[str, Callable[[Bench], list[Measure]]] = {
    "import": import_file.run,
    "assess": assess_fleet.run,
}
