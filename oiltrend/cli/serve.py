"""``oiltrend serve``: the dashboard on this machine."""

from __future__ import annotations

import argparse

from oiltrend.cli.common import opened
from oiltrend.dashboard.serve import serve

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
    parser.add_argument("--port", type=int, default=8350)


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
    """
    with opened(options) as store:
        serve(store, host=options.host, port=options.port)
    return 0
