"""Run the dashboard on waitress, on this computer only."""

from __future__ import annotations

from typing import Any

from waitress.server import create_server

from oiltrend.dashboard.app import create_app
from oiltrend.dashboard.security import LOOPBACK, MOST_BYTES
from oiltrend.errors import NotAllowed

__all__ = ["make_server", "serve"]


def make_server(store: Any, *, host: str = "127.0.0.1", port: int = 8050) -> Any:
    """Make the server without starting it.

    Parameters
    ----------
    store : Store [-]
        What the dashboard shows.
    host : str [-]
        A loopback name; nothing else until there are accounts.
    port : int [-]
        Port; 0 takes a free one, told by ``effective_port``.

    Returns
    -------
    waitress server [-]
        ``run()`` serves until ``close()``.

    Raises
    ------
    NotAllowed
        When others on the network could reach it.
    """
    if host not in LOOPBACK:
        raise NotAllowed(
            f"host: there are no accounts yet, so the dashboard may only be opened on this "
            f"computer, found '{host}'", hint="use 127.0.0.1")
    # A small body limit stands in the app; this one only ends a body that never ends.
    return create_server(create_app(store).server, host=host, port=port, threads=6,
                         channel_timeout=60, connection_limit=200, asyncore_loop_timeout=1,
                         max_request_body_size=MOST_BYTES + 1024 * 1024, ident=None)


def serve(store: Any, *, host: str = "127.0.0.1", port: int = 8050) -> None:
    """Serve the dashboard until it is stopped.

    Parameters
    ----------
    store : Store [-]
        What the dashboard shows.
    host : str [-]
        A loopback name.
    port : int [-]
        Port.

    Raises
    ------
    NotAllowed
        When others on the network could reach it.
    """
    server = make_server(store, host=host, port=port)
    try:
        server.run()
    finally:
        server.close()
