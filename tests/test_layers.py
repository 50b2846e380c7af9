"""Imports point down: the ranks of the rooms, and which outside package is used where."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house import PACKAGE, PURE, RANKS, modules, parse, room_of

RANK_OF = {room: rank for rank, rooms in enumerate(RANKS) for room in rooms}

# The rooms in which an outside package may be imported; the pure rooms are settled by PURE.
OUTSIDE: dict[str, set[str]] = {
    "numpy": {*PURE, "records", "samplekeys", "ingest", "store", "assessment", "service",
              "figures", "report", "dashboard", "demo", "cli"},
    "scipy": {*PURE, "assessment"},
    "pandas": {"ingest", "service"},
    "sqlalchemy": {"store"},
    "alembic": {"store"},
    "psycopg": {"store"},
    "plotly": {"figures", "dashboard"},
    "dash": {"dashboard"},
    "dash_mantine_components": {"dashboard"},
    "flask": {"dashboard"},
    "werkzeug": {"dashboard"},
    "flask_compress": {"dashboard"},
    "waitress": {"dashboard", "cli"},
    "orjson": {"store", "service", "dashboard", "cli"},
    "platformdirs": {"cli"},
}
# Pages are thin: they hand over to service and figures.
NOT_IN_PAGES = {"numpy", "scipy", "pandas", "sqlalchemy", "alembic", "psycopg"}


def written(name: ast.expr) -> str:
    """Give the name that an import by text spells out, as far as it does; ``?`` if not at all."""
    if isinstance(name, ast.JoinedStr) and name.values:
        name = name.values[0]
    known = isinstance(name, ast.Constant) and isinstance(name.value, str)
    return str(name.value) if known else "?"  # type: ignore[attr-defined]


def imported(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Give line and full name of everything imported, also inside functions and by name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = "." * node.level + (node.module or "")
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func).rpartition(".")[2]
            if called in ("import_module", "__import__"):
                yield node.lineno, written(node.args[0]) if node.args else "?"


def faults_of(file: Path, package: Path) -> Iterator[str]:
    """List the imports of one file that point up, across or outside its room."""
    room = room_of(file, package)
    in_pages = file.relative_to(package).parts[:2] == ("dashboard", "pages")
    if room and room not in RANK_OF:
        yield f"{file}: the room '{room}' has no rank; add it to tests/house.py"
        return
    for line, name in imported(parse(file)):
        where = f"{file}:{line}"
        top, _, rest = name.partition(".")
        if top in ("", "?"):
            yield f"{where}: import by full, written-out name; found '{name}'"
        elif top == "oiltrend":
            target = rest.partition(".")[0]
            if name.endswith(".") and not target:
                yield f"{where}: import by full, written-out name; found '{name}'"
            if target in RANK_OF and target != room and (
                    not room or RANK_OF[target] >= RANK_OF[room]):
                yield f"{where}: {room or 'oiltrend/__init__'} may not import {target}"
        elif top not in sys.stdlib_module_names:
            if room not in OUTSIDE.get(top, set()):
                yield f"{where}: {room or 'oiltrend/__init__'} may not import {top}"
            elif in_pages and top in NOT_IN_PAGES:
                yield f"{where}: a page may not import {top}"


def all_faults(package: Path) -> list[str]:
    return [fault for file in modules(package) for fault in faults_of(file, package)]


def test_imports_point_down() -> None:
    faults = all_faults(PACKAGE)
    assert not faults, "\n".join(faults)


def test_every_room_is_ranked() -> None:
    rooms = {room_of(file) for file in modules()} - {""}
    assert rooms
    assert rooms <= set(RANK_OF)


@pytest.mark.parametrize(("file", "line", "fault"), [
    ("wear/rates.py", "import pandas", "wear may not import pandas"),
    ("figures/a.py", "from oiltrend.dashboard import app", "figures may not import dashboard"),
    ("limits/a.py", "from oiltrend import wear", "limits may not import wear"),
    ("bearing/a.py", "from oiltrend.records import Slot", "bearing may not import records"),
    ("dashboard/pages/watch.py", "import numpy as np", "a page may not import numpy"),
    ("dashboard/pages/watch.py", "from sqlalchemy import text", "dashboard may not import sql"),
    ("ingest/a.py", "def f():\n    import oiltrend.store.base", "ingest may not import store"),
    ("ingest/a.py", "from ..store import base", "import by full, written-out name"),
    ("cli.py", "import requests", "cli may not import requests"),
    ("errors.py", "from oiltrend.units import convert", "errors may not import units"),
    ("__init__.py", "from oiltrend.service import assess", "oiltrend/__init__ may not import"),
    ("wear/a.py", "import importlib\nimportlib.import_module('oiltrend.limits')",
     "wear may not import limits"),
    ("wear/a.py", "import importlib\nimportlib.import_module(name)", "written-out name"),
    ("wear/a.py", "import importlib\nimportlib.import_module(f'oiltrend.{name}')",
     "written-out name"),
    ("service/a.py", "import importlib\nimportlib.import_module(f'oiltrend.cli.{name}')",
     "service may not import cli"),
    ("helpers/a.py", "", "the room 'helpers' has no rank"),
])
def test_a_fault_is_caught(tmp_path: Path, file: str, line: str, fault: str) -> None:
    target = tmp_path / "oiltrend" / file
    target.parent.mkdir(parents=True)
    target.write_text(line + "\n", encoding="utf-8")
    found = all_faults(tmp_path / "oiltrend")
    assert len(found) == 1
    assert str(target) in found[0]
    assert fault in found[0]


@pytest.mark.parametrize(("file", "line"), [
    ("wear/a.py", "import numpy\nfrom oiltrend.wear import b\nfrom oiltrend.errors import E"),
    ("cli.py", "from oiltrend import __version__\nfrom oiltrend.dashboard import create_app"),
    ("store/sqlite.py", "import sqlite3\nimport sqlalchemy\nfrom oiltrend.records import Engine"),
])
def test_what_is_allowed_passes(tmp_path: Path, file: str, line: str) -> None:
    target = tmp_path / "oiltrend" / file
    target.parent.mkdir(parents=True)
    target.write_text(line + "\n", encoding="utf-8")
    assert all_faults(tmp_path / "oiltrend") == []
