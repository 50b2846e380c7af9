"""What stands in front of every route: who may ask from where, and headers on every answer."""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from typing import Any
from urllib.parse import urlsplit

from flask import Flask, Response, abort, request

__all__ = ["LOOPBACK", "MOST_BYTES", "guard"]

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
# 10 MiB of file as base64, or 14 MiB as it is.
MOST_BYTES = 14 * 1024 * 1024
_CALLBACK = "/_dash-update-component"


def guard(server: Flask, *, script_hashes: Callable[[], Sequence[str]],
          callbacks: Container[str]) -> None:
    """Put the checks in front of every route and the headers on every answer.

    Parameters
    ----------
    server : Flask [-]
        The server.
    script_hashes : callable [-]
        Gives the hashes of the inline scripts; asked once they are all known.
    callbacks : container of str [-]
        Names of the callbacks that exist; filled while the app is built.

    Notes
    -----
    While there are no accounts the server answers only to a loopback name: a page elsewhere
    that points a name of its own at this computer is refused. Whatever changes something
    must come from this very origin.
    """
    server.config["MAX_CONTENT_LENGTH"] = MOST_BYTES
    policy: list[str] = []

    @server.before_request
    def _check() -> None:
        host = urlsplit(f"//{request.host}")
        if host.hostname not in LOOPBACK:
            abort(403, "This server answers on this computer only.")
        if request.method not in ("GET", "HEAD", "OPTIONS"):
            _same_origin()
        if request.path == _CALLBACK and request.method == "POST":
            _callback_shape(callbacks)

    @server.after_request
    def _headers(response: Response) -> Response:
        if not policy:
            policy.append(_policy(script_hashes()))
        response.headers["Content-Security-Policy"] = policy[0]
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "same-origin"
        response.headers["X-Frame-Options"] = "DENY"
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        if not request.path.startswith(("/assets/", "/_dash-component-suites/")):
            response.headers["Cache-Control"] = "no-store"
        return response


def _policy(hashes: Sequence[str]) -> str:
    return "; ".join([
        "default-src 'self'", "img-src 'self' data: blob:",
        # Charts and components set styles on elements; scripts stay closed.
        "style-src 'self' 'unsafe-inline'", "script-src 'self' " + " ".join(hashes),
        "connect-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'",
        "object-src 'none'"])


def _same_origin() -> None:
    origin = request.headers.get("Origin")
    if origin is None:
        # Tools send none; a browser then says where the request comes from.
        if request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
            abort(403, "The request comes from another site.")
        return
    if origin != request.host_url.rstrip("/"):
        abort(403, "The request comes from another site.")


def _callback_shape(known: Container[str]) -> None:
    """Refuse a body that no page of ours sends, before the framework trips over it."""
    body: Any = request.get_json(silent=True)
    good = (isinstance(body, dict) and isinstance(body.get("output"), str)
            and body["output"] in known and isinstance(body.get("outputs"), dict | list)
            and all(_inputs(body.get(key, [])) for key in ("inputs", "state"))
            and _texts(body.get("changedPropIds", [])))
    if not good:
        abort(400, "This is not a request that a page of this program sends.")


def _inputs(found: object) -> bool:
    if not isinstance(found, list):
        return False
    flat = [one for entry in found for one in (entry if isinstance(entry, list) else [entry])]
    return all(isinstance(one, dict) and isinstance(one.get("id"), str | dict)
               and isinstance(one.get("property"), str) for one in flat)


def _texts(found: object) -> bool:
    return isinstance(found, list) and all(isinstance(one, str) for one in found)
