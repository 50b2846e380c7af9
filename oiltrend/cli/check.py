"""``oiltrend check``: look after the store."""

from __future__ import annotations

import argparse

from oiltrend.cli.common import opened, print_json, print_lines

__all__ = ["add_options", "run"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options: it has none of its own.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.set_defaults()


def run(options: argparse.Namespace) -> int:
    """Check and tell.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        0 when nothing is wrong, 1 when the store is damaged.
    """
    with opened(options) as store:
        health = store.health()
    if options.json:
        print_json(health)
    else:
        for name, value in health.items():
            print_lines(f"{name.replace('_', ' ')}: {value}")
    # PostgreSQL watches its foreign keys itself and has no count to give.
    return 0 if health["integrity"] == "ok" and not health["foreign_keys"] else 1
