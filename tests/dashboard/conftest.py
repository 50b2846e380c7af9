"""The workshop that pages are tried on: a test client, a real server, and a watched browser."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from flask.testing import FlaskClient
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, expect

from oiltrend.dashboard.app import create_app
from oiltrend.store import Store, open_store
from tests.dashboard.serving import served
from tests.dashboard.workshop import build


@pytest.fixture(scope="session")
def base_url() -> str:
    """Stand in for a plugin's fixture that the next pytest refuses; tests use ``address``."""
    return ""


@pytest.fixture(scope="session")
def workshop_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the workshop once; every test that changes it works on a copy."""
    folder = tmp_path_factory.mktemp("workshop")
    build(folder).close()
    return folder


@pytest.fixture
def store(workshop_folder: Path, tmp_path: Path) -> Iterator[Store]:
    """Open a copy of the workshop."""
    folder = tmp_path / "data"
    shutil.copytree(workshop_folder, folder)
    with open_store(folder=folder) as opened:
        yield opened


@pytest.fixture
def client(store: Store) -> FlaskClient:
    """Give a client that asks the app as a browser on this computer does."""
    return create_app(store).server.test_client()


@pytest.fixture
def address(store: Store) -> Iterator[str]:
    """Serve the workshop with the real server on a free port."""
    with served(store) as found:
        yield found


@dataclass
class Watched:
    """What a browser did that it should not: requests elsewhere, errors on its console."""

    elsewhere: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


@pytest.fixture
def shop(context: BrowserContext, address: str) -> Iterator[Page]:
    """Give a page of a browser in which nothing may leave the house or break its rules."""
    watched = Watched()

    def here(route: Any) -> None:
        if route.request.url.startswith((address, "data:", "blob:")):
            route.continue_()
        else:
            watched.elsewhere.append(route.request.url)
            route.abort()

    context.route("**/*", here)
    page = context.new_page()
    # A colour on its way to another is no colour to be judged.
    page.emulate_media(reduced_motion="reduce")

    def heard(message: ConsoleMessage) -> None:
        # A refused file is an answer, not a fault; the browser notes it all the same.
        if message.type == "error" and not message.location["url"].endswith("/api/upload"):
            watched.errors.append(message.text)

    page.on("console", heard)
    page.on("pageerror", lambda fault: watched.errors.append(f"{fault} {fault.stack}"))
    page.set_default_timeout(15_000)
    expect.set_options(timeout=15_000)
    yield page
    page.goto("about:blank")
    assert watched.elsewhere == []
    assert watched.errors == []


@pytest.fixture
def no_serious_fault() -> Callable[[Page], None]:
    """Give the automatic accessibility check: nothing serious or critical may be found."""
    def check(page: Page) -> None:
        found = Axe().run(page).response
        assert found["passes"], "the check looked at nothing"
        grave = [(v["id"], [node["target"] for node in v["nodes"]][:3])
                 for v in found["violations"] if v["impact"] in ("serious", "critical")]
        assert grave == []
    return check
