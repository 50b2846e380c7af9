"""``oiltrend import``: read files, tell what became of every row."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from oiltrend.cli.common import command_caller, opened, print_json, print_lines, say
from oiltrend.errors import InputError, ValueRefused
from oiltrend.ingest import KINDS, ReadOptions
from oiltrend.records import Mapping
from oiltrend.service.files import ImportReport, import_file
from oiltrend.service.fleet import refresh_verdicts
from oiltrend.service.mappings import named_mapping, remember_mapping
from oiltrend.store import Store

__all__ = ["add_options", "run"]

_MOST_CHOICES = 12


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.add_argument("files", nargs="+", metavar="FILE")
    parser.add_argument("--kind", choices=KINDS, default="samples")
    parser.add_argument("--engine", default="", metavar="ID",
                        help="our engine, for a file that names none")
    parser.add_argument("--date-order", default="", choices=("ymd", "dmy", "mdy"))
    parser.add_argument("--decimal", default="", choices=("point", "comma"))
    parser.add_argument("--meter", default="", choices=("km", "mi", "h"),
                        help="what a meter or distance heading without a unit counts")
    parser.add_argument("--lab", default="", help="laboratory, for a file that names none")
    parser.add_argument("--map", default="", metavar="NAME",
                        help="a remembered way to read this laboratory's files")
    parser.add_argument("--match", action="append", default=[], metavar="COLUMN=NAME",
                        help="what a heading stands for; 'ignore' leaves it out")
    parser.add_argument("--unit", action="append", default=[], metavar="NUMBER=ENGINE",
                        help="which of our engines a laboratory's unit number is")
    parser.add_argument("--remember", default="", metavar="NAME",
                        help="keep these answers for the laboratory's next file")
    parser.add_argument("--create-engines", default="", metavar="FAMILY",
                        help="make engines that are not known yet, in this family")
    parser.add_argument("--good-rows-only", action="store_true",
                        help="store the good rows even when others are rejected")
    parser.add_argument("--dry-run", action="store_true", help="read and tell, store nothing")


def _pairs(option: str, shape: str, pairs: list[str], example: str) -> dict[str, str]:
    found = {}
    for pair in pairs:
        heading, sign, name = pair.rpartition("=")
        if not sign or not heading or not name:
            raise ValueRefused(f"{option}: must read {shape}, found '{pair}'",
                               hint=f"for instance {option} \"{example}\"")
        found[heading] = name
    return found


def _read_options(store: Store, options: argparse.Namespace) -> ReadOptions:
    """Put together what was said about the files; what is to be remembered is kept at once."""
    matches = _pairs("--match", "COLUMN=NAME", options.match, "Probe Nr=sample_id")
    units = _pairs("--unit", "NUMBER=ENGINE", options.unit, "U80118=V8-118")
    known = named_mapping(store, options.map) if options.map else Mapping("", {}, {}, {})
    mapping = replace(
        known, name=options.remember or known.name, columns={**known.columns, **matches},
        engines={**known.engines, **units}, lab=options.lab or known.lab,
        date_order=options.date_order or known.date_order,
        decimal=options.decimal or known.decimal, meter=options.meter or known.meter)
    if options.remember:
        remember_mapping(store, command_caller(), mapping)
    return ReadOptions(date_order=options.date_order, decimal=options.decimal,
                       meter=options.meter, engine=options.engine, lab=options.lab,
                       mapping=mapping, matches=matches)


def run(options: argparse.Namespace) -> int:
    """Import the files one after the other, each in its own transaction.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        0 done, 1 something rejected, held or refused beside what was done, 2 nothing done.
    """
    reports: list[dict[str, object]] = []
    states: list[int] = []
    with opened(options) as store:
        read = _read_options(store, options)
        for name in options.files:
            document, state = _one(store, Path(name), read, options)
            reports.append(document)
            states.append(state)
        if any(document.get("stored") for document in reports):
            refresh_verdicts(store, command_caller())
    if options.json:
        print_json(reports[0] if len(reports) == 1 else reports)
    if all(state == 2 for state in states):
        return 2
    return 1 if any(states) else 0


def _one(store: Store, path: Path, read: ReadOptions, options: argparse.Namespace
         ) -> tuple[dict[str, object], int]:
    try:
        data = path.read_bytes()
    except OSError as error:
        say(f"{path}: cannot be read: {error.strerror}")
        return {"file": str(path), "error": str(error.strerror), "stored": 0}, 2
    try:
        report = import_file(store, command_caller(), data, filename=path.name,
                             kind=options.kind, options=read,
                             good_rows_only=options.good_rows_only,
                             create_family=options.create_engines, dry_run=options.dry_run)
    except InputError as error:
        say(f"{path.name}: {error}")
        return {"file": path.name, "error": error.message, "hint": error.hint, "stored": 0}, 2
    if not options.json:
        _tell(report, dry_run=options.dry_run)
    return report.as_document(), _state(report, dry_run=options.dry_run)


def _state(report: ImportReport, *, dry_run: bool) -> int:
    parsed = report.parsed
    unfinished = bool(parsed.rejected or parsed.held or parsed.questions)
    if parsed.questions:
        return 2
    if not dry_run and not report.stored and (parsed.rejected or parsed.held):
        return 1 if report.import_id is not None else 2
    return 1 if unfinished else 0


def _tell(report: ImportReport, *, dry_run: bool) -> None:
    parsed = report.parsed
    print_lines(
        f"{parsed.file}: {parsed.records} records = {parsed.header} heading + "
        f"{parsed.accepted} accepted + {parsed.held} held + {parsed.rejected} rejected + "
        f"{parsed.duplicates} duplicates + {parsed.blank} blank",
        f"  read as {parsed.encoding}, separated by {_separator(parsed.delimiter)}"
        f"{', decimal ' + parsed.decimal if parsed.decimal else ''}"
        f"{', dates ' + parsed.date_order if parsed.date_order else ''}",
        f"  stored: {report.stored}" + (" (dry run)" if dry_run else ""))
    for question in parsed.questions:
        place = f" ({question.column})" if question.column else ""
        print_lines(f"  question{place}: {question.text}")
        if question.choices:
            shown = question.choices[:_MOST_CHOICES]
            more = len(question.choices) - len(shown)
            print_lines(f"    answers: {', '.join(shown)}"
                        + (f" and {more} more, see oiltrend template" if more else ""))
    for reject in parsed.rejects[:20]:
        print_lines(f"  line {reject.line}, {reject.column or 'row'}: {reject.reason}"
                    + (f"; {reject.hint}" if reject.hint else ""))
    if len(parsed.rejects) > 20:
        print_lines(f"  … and {len(parsed.rejects) - 20} more; --json lists all")
    for name, lines in _held_by_engine(report).items():
        print_lines(f"  engine '{name}' is not known: {len(lines)} rows held "
                    f"(from line {lines[0]}). Match it in the dashboard, or import "
                    "again with --create-engines FAMILY")
    if parsed.rejected and not report.stored and not dry_run and not parsed.questions:
        say("Nothing was stored because rows were rejected. Correct the file, or add "
            "--good-rows-only to store the good rows.")


def _held_by_engine(report: ImportReport) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for row in report.parsed.held_rows:
        found.setdefault(row.engine_text, []).append(row.line)
    return found


def _separator(sign: str) -> str:
    return {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}.get(sign, f"'{sign}'")
