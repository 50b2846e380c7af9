"""The wheel carries the whole package, its migrations and its assets, and nothing else."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.house import PACKAGE, ROOT


@pytest.fixture(scope="module")
def inside(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Build the wheel and list what it holds."""
    folder = tmp_path_factory.mktemp("wheel")
    ended = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)], cwd=ROOT,
        capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    wheel, = folder.glob("oiltrend-*-py3-none-any.whl")
    with zipfile.ZipFile(wheel) as file:
        return set(file.namelist())


def expected(folder: Path, to: str) -> set[str]:
    return {f"{to}/{file.relative_to(folder).as_posix()}" for file in folder.rglob("*")
            if file.is_file() and "__pycache__" not in file.parts}


def test_the_package_and_its_assets_are_inside(inside: set[str]) -> None:
    modules, assets = expected(PACKAGE, "oiltrend"), expected(ROOT / "assets", "oiltrend/_assets")
    assert assets
    assert "oiltrend/store/migrations/__init__.py" in modules
    assert sorted(modules - inside) == []
    assert sorted(assets - inside) == []


def test_nothing_else_is_inside(inside: set[str]) -> None:
    assert {name.partition("/")[0].partition("-")[0] for name in inside} == {"oiltrend"}
    assert not [name for name in inside if name.endswith((".pyc", ".sqlite"))]
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in inside)
    assert any(name.endswith(".dist-info/entry_points.txt") for name in inside)
