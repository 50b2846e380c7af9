"""What some tests need from the machine, and what happens when it is not there."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from typing import NoReturn

import pytest

_ELSEWHERE = {
    "darwin": ["/Applications/Chromium.app/Contents/MacOS/Chromium",
               "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"],
    "win32": [r"C:\Program Files\Google\Chrome\Application\chrome.exe",
              r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe"],
}
GET_CHROMIUM = ("no Chromium found: install one (Debian: apt install chromium) or name it in "
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


def chromium_flags() -> list[str]:
    """Give the flags under which it asks no outside host for anything, and starts as root."""
    flags = ["--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        flags.append("--no-sandbox")  # Chromium refuses to start as root with it
    return flags
