"""The benchmarks by name."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from tests.benchmarks import import_file
from tests.benchmarks.harness import Measure


class Case(Protocol):
    """Measure something in a folder of its own; quick: tiny, only to show that it runs."""

    def __call__(self, folder: Path, *, quick: bool) -> list[Measure]: ...


CASES: dict[str, Case] = {
    "import": import_file.run,
}
