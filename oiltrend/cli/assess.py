"""``oiltrend assess``: which engine comes first, and why."""

from __future__ import annotations

import argparse
from datetime import date

from oiltrend.assessment.results import Verdict
from oiltrend.cli.common import command_caller, opened, print_json, print_lines
from oiltrend.errors import ValueRefused
from oiltrend.service.documents import verdict_document
from oiltrend.service.fleet import assess_fleet
from oiltrend.wording import DATA_WORDS, LEVEL_WORDS, LIMITS_OF_USE, STOP_SIGNS, doubt_text

__all__ = ["add_options", "run"]

_RANK = {"alert": 1, "alarm": 2}


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options.

    Parameters
    ----------
    parser : ArgumentParser [-]
        The command's parser.
    """
    parser.add_argument("engines", nargs="*", metavar="ENGINE", help="only these; default all")
    parser.add_argument("--as-of", default="", metavar="DATE",
                        help="what would have been said on that day (YYYY-MM-DD)")
    parser.add_argument("--fail-on", choices=("alert", "alarm"),
                        help="exit status 1 when an engine is at this level or above")


def run(options: argparse.Namespace) -> int:
    """Assess and print.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    int [-]
        0, or 1 when ``--fail-on`` was met.

    Raises
    ------
    ValueRefused
        When ``--as-of`` is not a date.
    """
    try:
        as_of = date.fromisoformat(options.as_of) if options.as_of else None
    except ValueError as error:
        raise ValueRefused(f"--as-of: must be a date, found '{options.as_of}'",
                           hint="write it as 2026-03-31") from error
    with opened(options) as store:
        verdicts = assess_fleet(store, command_caller(), as_of=as_of,
                                engines=options.engines or None, with_figures=options.json)
    if options.json:
        print_json([verdict_document(verdict) for verdict in verdicts])
    else:
        for place, verdict in enumerate(verdicts, start=1):
            _tell(place, verdict)
        print_lines("", STOP_SIGNS, LIMITS_OF_USE)
    least = _RANK.get(options.fail_on or "", 3)
    return 1 if any(_RANK.get(verdict.level or "", 0) >= least for verdict in verdicts) else 0


def _tell(place: int, verdict: Verdict) -> None:
    waiting = ", result awaited" if verdict.awaiting_result else ""
    print_lines(f"{place}. {verdict.engine} ({verdict.family}): {LEVEL_WORDS[verdict.level]}; "
                f"{DATA_WORDS[verdict.data]}{waiting}")
    for reason in verdict.reasons[:3]:
        print_lines(f"   {reason.text}")
    if len(verdict.reasons) > 3:
        print_lines(f"   … and {len(verdict.reasons) - 3} more reasons")
    for doubt in verdict.doubts[-2:]:
        print_lines(f"   doubt about sample {doubt.sample}: {doubt_text([doubt.code])}")
    if verdict.not_measured:
        print_lines(f"   not measured: {', '.join(verdict.not_measured)}")
