"""``oiltrend template``: an empty file with all columns of a kind."""

from __future__ import annotations

import argparse
import csv
import sys

from oiltrend.cli.common import print_json, print_lines
from oiltrend.ingest import KINDS, columns_of

__all__ = ["add_options", "run"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.add_argument("kind", choices=KINDS, metavar="KIND",
                        help=", ".join(KINDS))
    parser.add_argument("--describe", action="store_true",
                        help="each column's meaning, unit and allowed values")


def run(options: argparse.Namespace) -> int:
    """Print the template or its description.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        Always 0.
    """
    columns = columns_of(options.kind)
    if options.json:
        print_json([{"column": c.name, "unit": c.unit, "meaning": c.meaning,
                     "allowed": list(c.allowed), "required": c.required} for c in columns])
    elif options.describe:
        for column in columns:
            allowed = f"; one of {', '.join(column.allowed)}" if column.allowed else ""
            unit = f" [{column.unit}]" if column.unit != "-" else ""
            needed = " (required)" if column.required else ""
            print_lines(f"{column.name}{unit}{needed}: {column.meaning}{allowed}")
    else:
        csv.writer(sys.stdout, lineterminator="\n").writerow([c.name for c in columns])
    return 0
