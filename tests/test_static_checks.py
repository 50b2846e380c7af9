"""The linter and the type checker are clean, with the settings of pyproject.toml."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.house import ROOT


@pytest.mark.parametrize("command", [("ruff", "check", "."), ("mypy",)], ids=lambda c: c[0])
def test_clean(command: tuple[str, ...]) -> None:
    ended = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True,
                           text=True, timeout=600, check=False)
    assert ended.returncode == 0, ended.stdout + ended.stderr
