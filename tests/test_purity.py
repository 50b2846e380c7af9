"""The pure rooms stay pure: arrays in, arrays out, with only numpy and scipy installed."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.house import PACKAGE, PURE, RANKS, ROOT, parse, room_of

BELOW = [room for rooms in RANKS[:2] for room in rooms]
# No dates, no files, no clock, no chance, no machine.
STANDARD = {"__future__", "abc", "bisect", "cmath", "collections", "contextlib", "dataclasses",
            "enum", "functools", "itertools", "math", "operator", "re", "types", "typing",
            "unicodedata", "warnings"}
FORBIDDEN_CALLS = {"open", "print", "input", "exec", "eval"}


def pure_files(package: Path = PACKAGE) -> list[Path]:
    return [file for file in sorted(package.rglob("*.py")) if room_of(file, package) in PURE]


def run_pure(repository: Path, rooms: list[str]) -> subprocess.CompletedProcess[str]:
    """Run the examples of some rooms without site packages (-S) and without .pyc (-B)."""
    site = Path(np.__file__).parent.parent
    quiet = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONUTF8": "1"}
    return subprocess.run(
        [sys.executable, "-S", "-B", "-X", "utf8", str(ROOT / "tests" / "run_pure.py"),
         str(site), str(repository), *rooms],
        capture_output=True, text=True, encoding="utf-8", env=quiet, timeout=600, check=False)


def test_pure_rooms_run_with_only_numpy_and_scipy() -> None:
    rooms = [*BELOW, *(room for room in PURE if (PACKAGE / room).exists())]
    assert len(rooms) > len(BELOW)
    ended = run_pure(ROOT, rooms)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    closing = re.search(r"(\d+) passed", ended.stdout)
    assert closing is not None
    assert int(closing[1]) >= len(rooms)


@pytest.mark.parametrize("line", [
    "import pandas", "from oiltrend.records import Engine", "import dash",
    "import oiltrend.store"])
def test_an_impure_import_is_refused(tmp_path: Path, line: str) -> None:
    room = tmp_path / "oiltrend" / "wear"
    room.mkdir(parents=True)
    (tmp_path / "pyproject.toml").write_text("[tool.pytest.ini_options]\n", encoding="utf-8")
    (tmp_path / "oiltrend" / "__init__.py").write_text("", encoding="utf-8")
    (room / "__init__.py").write_text("", encoding="utf-8")
    (room / "rates.py").write_text(
        'def one():\n    """Give one.\n\n    >>> one()\n    1\n    """\n'
        f'    {line}\n    return 1\n', encoding="utf-8")
    ended = run_pure(tmp_path, ["wear"])
    assert ended.returncode == 1
    assert "is not there for the pure rooms" in ended.stdout


def impurities(file: Path) -> Iterator[str]:
    """List what a pure module may not use: clock, files, chance, globals, print."""
    for node in ast.walk(parse(file)):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        for name in names:
            top = name.partition(".")[0]
            if top in sys.stdlib_module_names and name not in STANDARD | {"collections.abc"}:
                yield f"{file}:{node.lineno}: a pure room does not use {name}"
        if isinstance(node, ast.Global):
            yield f"{file}:{node.lineno}: a pure room has no global that changes"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and (
                node.func.id in FORBIDDEN_CALLS):
            yield f"{file}:{node.lineno}: a pure room does not call {node.func.id}"
        if isinstance(node, ast.Attribute) and ast.unparse(node) in ("np.random", "numpy.random"):
            yield f"{file}:{node.lineno}: a pure room draws no random numbers"


def test_pure_rooms_touch_nothing_outside() -> None:
    files = pure_files()
    assert files
    faults = [fault for file in files for fault in impurities(file)]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(("line", "word"), [
    ("import time", "use time"), ("from datetime import date", "use datetime"),
    ("import os.path", "use os.path"), ("def f():\n    global a\n    a = 1", "global"),
    ("print(1)", "call print"), ("x = np.random.default_rng(1)", "random")])
def test_an_impurity_is_caught(tmp_path: Path, line: str, word: str) -> None:
    file = tmp_path / "a.py"
    file.write_text(line + "\n", encoding="utf-8")
    found = list(impurities(file))
    assert len(found) == 1
    assert word in found[0]
