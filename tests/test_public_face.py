"""The public face: what each module offers exists, and importing it does no work."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.house import ROOT, importable, load, modules, parse

# What must not come along when the command line only shows its help.
SLOW = {"dash", "dash_mantine_components", "pandas", "plotly", "scipy", "sqlalchemy", "flask"}


def imported_in_a_void(tmp_path: Path, *names: str, code: Path = ROOT) -> dict[str, Any]:
    """Import modules in a fresh interpreter whose home folder does not exist."""
    nowhere = str(tmp_path / "nowhere")
    void = {key: value for key, value in os.environ.items()
            if not key.startswith(("XDG_", "PYTHON", "OILTREND_"))}
    void |= {"HOME": nowhere, "USERPROFILE": nowhere, "APPDATA": nowhere, "LOCALAPPDATA": nowhere}
    ended = subprocess.run(
        [sys.executable, "-B", str(code / "tests" / "run_import.py"), *names], cwd=tmp_path,
        capture_output=True, text=True, env=void, timeout=120, check=False)
    assert ended.returncode == 0, ended.stderr
    result: dict[str, Any] = json.loads(ended.stdout)
    return result


@pytest.mark.parametrize("name", importable())
def test_every_offered_name_exists(name: str) -> None:
    module = load(name)
    assert module.__doc__
    offered = getattr(module, "__all__", None)
    if offered is None:
        # A package that is only a folder says so by holding nothing but its docstring.
        body = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8")).body
        assert Path(str(module.__file__)).name == "__init__.py", f"{name} has no __all__"
        assert len(body) == 1, f"{name} has no __all__"
    else:
        assert [n for n in offered if not hasattr(module, n)] == []
        assert len(set(offered)) == len(offered)


def test_no_star_imports() -> None:
    stars = [f"{file}:{node.lineno}" for file in modules() for node in ast.walk(parse(file))
             if isinstance(node, ast.ImportFrom) and node.names[0].name == "*"]
    assert stars == []


def test_importing_the_package_brings_nothing_along(tmp_path: Path) -> None:
    assert imported_in_a_void(tmp_path, "oiltrend") == {"acts": [], "outside": []}


def test_importing_any_module_does_no_work(tmp_path: Path) -> None:
    assert imported_in_a_void(tmp_path, *importable())["acts"] == []


@pytest.mark.skipif(not (ROOT / "oiltrend" / "cli.py").exists() and
                    not (ROOT / "oiltrend" / "cli").exists(), reason="no command line yet")
def test_the_command_line_starts_light(tmp_path: Path) -> None:
    assert set(imported_in_a_void(tmp_path, "oiltrend.cli")["outside"]) & SLOW == set()


@pytest.mark.parametrize(("line", "act"), [
    ("import socket\nsocket.socket().connect_ex(('127.0.0.1', 9))", "socket.connect"),
    ("import sqlite3\nsqlite3.connect(':memory:')", "sqlite3.connect"),
    ("import os\nos.makedirs('made')", "os.mkdir"),
    ("open('notes.txt', 'w').close()", "open"),
    ("open('notes.json').close()", "open"),
    ("import subprocess, sys\nsubprocess.run([sys.executable, '-c', ''])", "subprocess.Popen"),
])
def test_work_is_noticed(tmp_path: Path, line: str, act: str) -> None:
    package = tmp_path / "oiltrend"
    package.mkdir()
    (package / "__init__.py").write_text(line + "\n", encoding="utf-8")
    (tmp_path / "notes.json").write_text("{}", encoding="utf-8")
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "run_import.py").write_text(
        (ROOT / "tests" / "run_import.py").read_text(encoding="utf-8"), encoding="utf-8")
    acts = imported_in_a_void(tmp_path, "oiltrend", code=tmp_path)["acts"]
    assert acts
    assert acts[0].startswith(act)
