"""The benchmarks still run, and their reckoning is right. No time is judged here."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from tests.benchmarks.cases import CASES, NEEDS_CHROMIUM
from tests.benchmarks.generate import lab_file
from tests.benchmarks.harness import Measure, as_json, percentile, table
from tests.benchmarks.stores import Bench
from tests.needs import GET_CHROMIUM, find_chromium, skip_or_fail


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(tmp_path_factory.mktemp("bench"), quick=True)


@pytest.mark.parametrize("name", CASES)
def test_a_benchmark_still_runs(name: str, bench: Bench) -> None:
    if name in NEEDS_CHROMIUM and find_chromium() is None:
        skip_or_fail(GET_CHROMIUM, required_by="OILTREND_REQUIRE_CHROMIUM")
    measures = CASES[name](bench)
    assert measures
    assert all(math.isfinite(m.value) and m.value > 0 for m in measures)
    assert all(m.limit is not None for m in measures if "against" in m.name)


def test_the_lab_file_is_as_described(tmp_path: Path) -> None:
    file = tmp_path / "lab.csv"
    spoilt = lab_file(file, engines=50, samples=12, measurands=30, below=0.05, bad_rows=0.01)
    header, *rows = [line.split(",") for line in file.read_text(encoding="utf-8").splitlines()]
    readings = [cell for row in rows for cell in row[6:]]
    assert (len(header), len(rows), spoilt) == (36, 600, 6)
    assert len({row[0] for row in rows}) == 50
    assert 0.04 < sum(cell == "<1" for cell in readings) / len(readings) < 0.06
    bad = [row for row in rows if any(cell != "<1" and not cell.replace(".", "", 1).isdigit()
                                      for cell in row[6:])]
    assert len(bad) == 6


def test_the_lab_file_is_the_same_for_a_seed(tmp_path: Path) -> None:
    texts = []
    for name in ("a.csv", "b.csv"):
        lab_file(tmp_path / name, engines=3, samples=2, measurands=5)
        texts.append((tmp_path / name).read_bytes())
    assert texts[0] == texts[1]


@pytest.mark.parametrize(("share", "value"), [(0.95, 95), (0.5, 50), (1.0, 100), (0.0, 1)])
def test_percentiles(share: float, value: float) -> None:
    assert percentile(list(range(100, 0, -1)), share) == value


def test_limits_are_judged_both_ways_and_shown() -> None:
    measures = [Measure("a", 3.0, "times", 2.0), Measure("b", 3.0, "times", 2.0, "at least"),
                Measure("c", 3.0, "s", note="by the way")]
    assert [m.kept for m in measures] == [False, True, None]
    assert table(measures).splitlines() == [
        "a  3 times  at most 2   NOT KEPT",
        "b  3 times  at least 2  kept",
        "c  3 s                            by the way"]
    assert [m["kept"] for m in json.loads(as_json(measures))] == [False, True, None]
