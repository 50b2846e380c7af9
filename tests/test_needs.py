"""A browser test is skipped with the way to get a Chromium, or fails where it must not be."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house import ROOT
from tests.needs import GET_CHROMIUM, chromium_flags, find_chromium, skip_or_fail


def test_a_named_chromium_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OILTREND_CHROMIUM", "/somewhere/chromium")
    assert find_chromium() == "/somewhere/chromium"


@pytest.mark.skipif(os.name != "posix", reason="makes an executable file the POSIX way")
def test_a_chromium_on_the_path_is_found(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OILTREND_CHROMIUM", raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("PATH", str(tmp_path))
    assert find_chromium() is None
    program = tmp_path / "chromium"
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    assert find_chromium() == str(program)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="there is no root here")
@pytest.mark.parametrize(("user", "open_"), [(0, True), (1000, False)])
def test_the_sandbox_is_left_out_for_root_only(
        monkeypatch: pytest.MonkeyPatch, user: int, open_: bool) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: user)
    assert ("--no-sandbox" in chromium_flags()) is open_


@pytest.mark.parametrize("value", ["", "0"])
def test_what_is_missing_skips(monkeypatch: pytest.MonkeyPatch, value: str) -> None:
    monkeypatch.setenv("SOME_REQUIREMENT", value)
    with pytest.raises(pytest.skip.Exception, match="^not here$"):
        skip_or_fail("not here", required_by="SOME_REQUIREMENT")


def test_what_is_missing_fails_where_it_is_required(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOME_REQUIREMENT", "1")
    with pytest.raises(pytest.fail.Exception, match=(
            r"^not here \(SOME_REQUIREMENT is set, so this is a failure\)$")):
        skip_or_fail("not here", required_by="SOME_REQUIREMENT")


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a browser is not on the path only")
@pytest.mark.parametrize(("required", "outcome"), [("0", "2 skipped"), ("1", "2 errors")])
def test_browser_tests_without_a_browser(tmp_path: Path, required: str, outcome: str) -> None:
    for name in ("conftest.py", "needs.py"):
        (tmp_path / name).write_text((ROOT / "tests" / name).read_text(encoding="utf-8").replace(
            "from tests.needs", "from needs"), encoding="utf-8")
    (tmp_path / "test_pages.py").write_text(
        "def test_one(page): pass\ndef test_two(page): pass\n", encoding="utf-8")
    bare = {key: value for key, value in os.environ.items() if key != "OILTREND_CHROMIUM"}
    ended = subprocess.run(
        [sys.executable, "-m", "pytest", "-rs", "-p", "no:dash", "-p", "no:cacheprovider",
         str(tmp_path), "--rootdir", str(tmp_path)], cwd=tmp_path, capture_output=True,
        text=True, timeout=120, check=False,
        env={**bare, "PATH": str(tmp_path), "PYTHONPATH": str(tmp_path),
             "OILTREND_REQUIRE_CHROMIUM": required})
    assert outcome in ended.stdout.splitlines()[-1], ended.stdout
    assert GET_CHROMIUM in ended.stdout
    if required == "0":
        assert ended.stdout.count(GET_CHROMIUM) == 1  # one line, however many tests
