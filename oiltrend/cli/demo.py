"""``oiltrend demo``: the invented workshop, loaded once."""

from __future__ import annotations

import argparse

from oiltrend.cli.common import command_caller, opened, print_json, print_lines
from oiltrend.demo import load_demo

__all__ = ["add_options", "run"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.add_argument("--seed", type=int, default=20, help="another invented workshop")
    parser.add_argument("--engines", type=int, default=46, help="how many engines it has")


def run(options: argparse.Namespace) -> int:
    """Load the demo where the store is empty.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        0 loaded or already there, 2 when the store holds something else.
    """
    with opened(options) as store:
        loaded = load_demo(store, command_caller(), seed=options.seed, engines=options.engines)
    if options.json:
        print_json({"loaded": loaded.loaded, "engines": loaded.engines,
                    "samples": loaded.samples})
    else:
        done = "loaded" if loaded.loaded else "is already there"
        print_lines(f"The invented workshop {done}: {loaded.engines} engines, "
                    f"{loaded.samples} samples. Everything in it is made up.")
    return 0
