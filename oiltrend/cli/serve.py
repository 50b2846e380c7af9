"""``oiltrend serve``: the dashboard on this machine."""

from __future__ import annotations

import argparse
import logging

from oiltrend.cli.common import opened, say
from oiltrend.dashboard.serve import make_server
from oiltrend.errors import OiltrendError

__all__ = ["add_options", "run"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.add_argument("--host", default="127.0.0.1",
                        help="address to listen on; only this machine's own until there are "
                        "accounts")
    parser.add_argument("--port", type=int, default=8350, help="0 takes a free one")


def run(options: argparse.Namespace) -> int:
    """Serve until stopped.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        0 when stopped.

    Raises
    ------
    OiltrendError
        When the port is taken.
    """
    with opened(options) as store:
        try:
            server = make_server(store, host=options.host, port=options.port)
        except OSError as error:
            raise OiltrendError(
                f"port: must be a free one, found {options.port} ({error.strerror})",
                hint="stop what uses it, or choose another with --port") from error
        say(f"oiltrend is at http://{options.host}:{server.effective_port}/ (this computer only); "
            "Ctrl-C stops it")
        # A request that waits its turn for a moment is no news to whoever started the server.
        logging.getLogger("waitress.queue").setLevel(logging.ERROR)
        try:
            server.run()
        finally:
            server.close()
    return 0
