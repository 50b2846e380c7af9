"""The benchmarks by name; each measures something in the folder of its run."""

from __future__ import annotations

from collections.abc import Callable

from tests.benchmarks import add_sample, assess_fleet, engine_page, import_file, watch_page
from tests.benchmarks.harness import Measure
from tests.benchmarks.stores import Bench

NEEDS_CHROMIUM = {"watch"}
CASES: dict[str, Callable[[Bench], list[Measure]]] = {
    "import": import_file.run,
    "assess": assess_fleet.run,
    "add": add_sample.run,
    "watch": watch_page.run,
    "engine": engine_page.run,
}
