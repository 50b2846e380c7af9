"""What every test may ask for: shared data, a browser, repeatable examples."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parent.parent

# The same examples on every run: a red test must be red for whoever looks into it. Set
# HYPOTHESIS_PROFILE=explore to look for new ones.
settings.register_profile("repeatable", derandomize=True, deadline=None, database=None,
                          suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("explore", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))

_ELSEWHERE = {
    "darwin": ["/Applications/Chromium.app/Contents/MacOS/Chromium",
               "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"],
    "win32": [r"C:\Program Files\Google\Chrome\Application\chrome.exe",
              r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe"],
}
_GET_CHROMIUM = ("no Chromium found: install one (Debian: apt install chromium) or name it in "
                 "OILTREND_CHROMIUM to run the browser tests")


def skip_or_fail(reason: str, *, required_by: str) -> NoReturn:
    """Skip with a reason, or fail where the named variable says that this must not be missing."""
    if os.environ.get(required_by, "") not in ("", "0"):
        pytest.fail(f"{reason} ({required_by} is set, so this is a failure)", pytrace=False)
    pytest.skip(reason)


def find_chromium() -> str | None:
    """Find a Chromium: the one named in OILTREND_CHROMIUM, on the path, or in a usual place."""
    named = os.environ.get("OILTREND_CHROMIUM")
    if named:
        return named
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    found = [path for path in map(shutil.which, names) if path]
    found += [path for path in _ELSEWHERE.get(sys.platform, []) if Path(path).exists()]
    return found[0] if found else None


@pytest.fixture(scope="session")
def shared() -> Path:
    """Give the folder of reference data that may lie beside the repository."""
    folder = Path(os.environ.get("OILTREND_SHARED") or ROOT.parent / "shared")
    if not folder.is_dir():
        pytest.skip("the shared data folder is not beside the repository; "
                    "OILTREND_SHARED names another place")
    return folder


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Start the machine's own Chromium, which asks no outside host for anything."""
    chromium = find_chromium()
    if chromium is None:
        skip_or_fail(_GET_CHROMIUM, required_by="OILTREND_REQUIRE_CHROMIUM")
    flags = ["--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        flags.append("--no-sandbox")  # Chromium refuses to start as root with it
    return {**browser_type_launch_args, "executable_path": chromium, "args": flags}
