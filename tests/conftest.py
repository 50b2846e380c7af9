"""What every test may ask for: shared data, a browser, repeatable examples."""

from __future__ import annotations

import os
from collections.abc import Generator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.needs import GET_CHROMIUM, chromium_flags, find_chromium, skip_or_fail

ROOT = Path(__file__).resolve().parent.parent

# The same examples on every run: a red test must be red for whoever looks into it. Set
# HYPOTHESIS_PROFILE=explore to look for new ones.
settings.register_profile("repeatable", derandomize=True, deadline=None, database=None,
                          suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("explore", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
        item: pytest.Item, call: pytest.CallInfo[None],
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Place a skip where a fixture decided it, so that many tests give one line in the summary."""
    report = yield
    if call.when == "setup" and call.excinfo is not None and isinstance(report.longrepr, tuple):
        here = str(Path(__file__).parent)
        ours = [entry for entry in call.excinfo.traceback if str(entry.path).startswith(here)]
        if ours:
            report.longrepr = (str(ours[-1].path), ours[-1].lineno + 1, report.longrepr[2])
    return report


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
        skip_or_fail(GET_CHROMIUM, required_by="OILTREND_REQUIRE_CHROMIUM")
    return {**browser_type_launch_args, "executable_path": chromium, "args": chromium_flags()}
