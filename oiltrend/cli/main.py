"""Commands, their common options, and known errors as one sentence and a hint."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from typing import NamedTuple

from oiltrend import __version__
from oiltrend.errors import OiltrendError

__all__ = ["COMMANDS", "Command", "main"]

NOTHING_DONE = 2


class Command(NamedTuple):
    """A command: the module under ``oiltrend.cli`` that adds its options and runs it."""

    module: str
    meaning: str


COMMANDS: dict[str, Command] = {
    "serve": Command("serve", "show the dashboard on this machine"),
    "demo": Command("demo", "load the invented workshop if the data folder is empty"),
    "import": Command("imports", "read lab results and other files"),
    "assess": Command("assess", "say which engine comes first, and why"),
    "template": Command("template", "print an empty file with all columns of a kind"),
    "export": Command("export", "write everything that is stored as CSV or JSON"),
    "check": Command("check", "look after the store: version, room, damage"),
}


def _parser(chosen: str | None) -> argparse.ArgumentParser:
    """Build the parser; only the chosen command's module is loaded, so that help stays quick."""
    parser = argparse.ArgumentParser(
        prog="oiltrend", description="What used oil says about connecting-rod bearings, and which "
        "engine to open next. A decision aid: it can miss sudden failures.")
    parser.add_argument("--version", action="version", version=f"oiltrend {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, command in COMMANDS.items():
        sub = commands.add_parser(name, help=command.meaning, description=command.meaning)
        if name != "template":
            place = sub.add_argument_group("where the data are")
            place.add_argument("--data", metavar="FOLDER",
                               help="data folder (default: the user's data folder)")
            place.add_argument("--database", metavar="URL", help="PostgreSQL database")
        sub.add_argument("--json", action="store_true",
                         help="one JSON document on standard output")
        if name == chosen:
            importlib.import_module(f"oiltrend.cli.{command.module}").add_options(sub)
    return parser


def main(*, words: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    words : sequence of str or None [-]
        Words after the program's name; None takes them from the command line.

    Returns
    -------
    int [-]
        0 done, 1 done with something rejected, held or asked for by ``--fail-on``, 2 nothing
        done.
    """
    given = list(sys.argv[1:] if words is None else words)
    chosen = next((word for word in given if word in COMMANDS), None)
    options = _parser(chosen).parse_args(given)
    module = importlib.import_module(f"oiltrend.cli.{COMMANDS[options.command].module}")
    try:
        return int(module.run(options))
    except OiltrendError as error:
        sys.stderr.write(f"oiltrend: {error.message}\n")
        if error.hint:
            sys.stderr.write(f"  What to do: {error.hint}\n")
        return NOTHING_DONE
    except BrokenPipeError:
        # Whoever reads the output has seen enough; the interpreter must not complain at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
