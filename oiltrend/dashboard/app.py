"""``create_app(store)``: the dashboard, built from the store that it shows."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

import dash
from dash import Dash, set_props
from flask import Flask
from werkzeug.exceptions import HTTPException

from oiltrend.dashboard.context import EXTENSION, current_store
from oiltrend.dashboard.downloads import add_download_routes
from oiltrend.dashboard.pages import PAGES
from oiltrend.dashboard.parts import error_note, note, page_frame
from oiltrend.dashboard.security import guard
from oiltrend.dashboard.shell import INDEX, NOTICE, frame, register_shell
from oiltrend.dashboard.uploads import add_upload_route
from oiltrend.errors import OiltrendError

__all__ = ["create_app"]

_log = logging.getLogger(__name__)


def create_app(store: Any) -> Dash:
    """Build the dashboard.

    Parameters
    ----------
    store : Store [-]
        What it shows; fetched anew by every request from the server object.

    Returns
    -------
    Dash [-]
        The app; ``app.server`` is the WSGI application.
    """
    server = Flask("oiltrend", static_folder=None)
    server.extensions[EXTENSION] = store
    server.json.sort_keys = False  # type: ignore[attr-defined]
    dash.page_registry.clear()
    app = Dash(
        "oiltrend", server=server,  # type: ignore[arg-type]
        use_pages=True, pages_folder="", assets_folder=str(_assets()),
        # Off, and every page's layout would be part of the first answer to anybody.
        suppress_callback_exceptions=True,
        title="oiltrend", update_title=None, index_string=INDEX, include_pages_meta=False,  # type: ignore[arg-type]
        compress=True, health_endpoint="health", enable_mcp=False, on_error=_told,
        add_log_handler=False)
    # Each of these could be turned on from the environment if it were not said here.
    server.debug = False
    app.enable_dev_tools(
        debug=False, dev_tools_ui=False, dev_tools_props_check=False,
        dev_tools_serve_dev_bundles=False, dev_tools_hot_reload=False,
        dev_tools_silence_routes_logging=False, dev_tools_disable_version_check=True,
        dev_tools_prune_errors=True, dev_tools_validate_callbacks=False)
    guard(server, script_hashes=app.csp_hashes, callbacks=app.callback_map)
    add_upload_route(server)
    add_download_routes(server)
    for page in PAGES:
        _register(page.__name__, page.NAME, page.layout, path=page.PATH)
        for number, below in enumerate(page.BELOW):
            _register(f"{page.__name__}.{number}", page.NAME, page.layout, path_template=below)
        page.register(app)
    _register("not_found_404", "Not found", _not_found, path="/not-found")
    entries = [(page.PATH, page.NAME, page.ICON) for page in PAGES if page.ICON]
    app.layout = lambda: frame(entries, demo=bool(current_store().setting("demo", False)))
    register_shell(app)
    server.register_error_handler(Exception, _last_resort)
    return app


def _assets() -> Path:
    """Find the styles and scripts: at the top of a checkout, inside the package when installed."""
    package = Path(__file__).resolve().parent.parent
    beside = package.parent / "assets"
    return beside if beside.is_dir() else package / "_assets"


def _register(module: str, name: str, layout: Callable[..., Any], *, path: str | None = None,
              path_template: str | None = None) -> None:
    dash.register_page(  # type: ignore[no-untyped-call]
        module, path=path, path_template=path_template, name=name, title=f"{name} · oiltrend",
        layout=_calm(layout))


def _calm(layout: Callable[..., Any]) -> Callable[..., Any]:
    """Let a page that cannot be laid out say why, in its place."""
    def calm(**query: Any) -> Any:
        try:
            return layout(**query)
        except Exception as error:
            return page_frame("This page cannot be shown", "", _said(error))
    return calm


def _not_found(**_: Any) -> Any:
    return page_frame("There is no such page", "The address leads nowhere.",
                      note("choose a page in the rail"))


def _told(error: Exception) -> None:
    """Tell a failed callback: known errors in their own words, others by a number in the log."""
    if isinstance(error, HTTPException):
        raise error
    set_props(NOTICE, {"children": _said(error)})


def _said(error: Exception) -> Any:
    if isinstance(error, OiltrendError):
        return error_note(error)
    return note(f"something went wrong here (number {_logged(error)} in the log); nothing was "
                "changed.", hint="try again, and report the number if it happens again",
                kind="fault", shape="stop-sign")


def _last_resort(error: Exception) -> Any:
    if isinstance(error, HTTPException):
        return error
    return f"Something went wrong here (number {_logged(error)} in the log).", 500


def _logged(error: Exception) -> str:
    number = secrets.token_hex(4)
    _log.error("number %s", number, exc_info=error)
    return number
