"""``oiltrend export``: everything that is stored, readable without us."""

from __future__ import annotations

import argparse
from pathlib import Path

import orjson

from oiltrend.cli.common import command_caller, opened, print_json, print_lines
from oiltrend.errors import StoreRefused
from oiltrend.service.exchange import export_csv, export_json

__all__ = ["add_options", "run"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.add_argument("--out", required=True, metavar="PLACE",
                        help="a new or empty folder for CSV, a new file for JSON")
    parser.add_argument("--format", choices=("csv", "json"), default="csv")


def run(options: argparse.Namespace) -> int:
    """Export and tell what was written.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        0 when written.

    Raises
    ------
    StoreRefused
        When the file or folder is there already.
    """
    place = Path(options.out).expanduser()
    with opened(options) as store:
        if options.format == "csv":
            counts = export_csv(store, command_caller(), place)
        else:
            if place.exists():
                raise StoreRefused(f"file: must be new, found {place}",
                                   hint="choose another name")
            document = export_json(store, command_caller())
            place.write_bytes(orjson.dumps(document, option=orjson.OPT_INDENT_2))
            counts = {name: len(rows) for name, rows in document.items()}
    if options.json:
        print_json({"out": str(place), "rows": counts})
    else:
        print_lines(*(f"{name}: {count}" for name, count in counts.items()))
    return 0
