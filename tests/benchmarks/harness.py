"""Measuring: times and memory of one run, put into ratios, with the limit each must keep."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent


@dataclass(frozen=True)
class Measure:
    """One measured figure; ``limit`` with its sense, or None where there is none."""

    name: str
    value: float
    unit: str
    limit: float | None = None
    sense: str = "at most"
    note: str = ""

    @property
    def kept(self) -> bool | None:
        """Say whether the limit is kept; None without a limit."""
        if self.limit is None:
            return None
        return self.value <= self.limit if self.sense == "at most" else self.value >= self.limit


def seconds(work: Callable[[], object]) -> float:
    """Time one run by the clock on the wall: what a person waits."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def processor_seconds(work: Callable[[], object]) -> float:
    """Time one run by this process's processor time, which other work hardly touches.

    A ratio of two such times is what a quiet machine would show by the clock, as long as
    neither side waits for a disk; threads of one side add up, to its disadvantage.
    """
    start = time.process_time()
    work()
    return time.process_time() - start


def median_seconds(work: Callable[[], object], *, runs: int,
                   clock: Callable[[Callable[[], object]], float] = seconds) -> float:
    """Time several runs and give their median."""
    return statistics.median(clock(work) for _ in range(runs))


def percentile(values: Sequence[float], share: float) -> float:
    """Give the smallest value that at least this share of the values does not exceed."""
    ordered = sorted(values)
    return ordered[max(0, -(-len(ordered) * round(share * 100) // 100) - 1)]


def peak_mb() -> float:
    """Give the most memory this process has held so far; NaN where the system does not say."""
    try:
        import resource
    except ImportError:  # Windows
        return float("nan")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024**2 if sys.platform == "darwin" else 1024)


def in_a_fresh_process(module: str, *arguments: object) -> dict[str, Any]:
    """Run a module as a program, so that its peak memory is its own, and read its JSON."""
    ended = subprocess.run([sys.executable, "-m", module, *map(str, arguments)], cwd=ROOT,
                           capture_output=True, text=True, timeout=1800, check=False)
    if ended.returncode != 0:
        raise RuntimeError(f"{module} {arguments}:\n{ended.stderr}")
    answer: dict[str, Any] = json.loads(ended.stdout.splitlines()[-1])
    return answer


def table(measures: Sequence[Measure]) -> str:
    """Write the measures as a table for people."""
    rows = [(m.name, f"{m.value:.3g} {m.unit}".strip(),
             "" if m.limit is None else f"{m.sense} {m.limit:g}",
             {True: "kept", False: "NOT KEPT", None: ""}[m.kept], m.note) for m in measures]
    widths = [max(len(row[i]) for row in rows) for i in range(4)]
    return "\n".join("  ".join([*(cell.ljust(w) for cell, w in zip(row[:4], widths, strict=True)),
                                row[4]]).rstrip() for row in rows)


def as_json(measures: Sequence[Measure]) -> str:
    """Write the measures as one JSON document."""
    return json.dumps([{**asdict(m), "kept": m.kept} for m in measures], indent=1)
