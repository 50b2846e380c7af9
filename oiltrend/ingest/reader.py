"""Read one file from bytes to records, with every record accounted for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

from oiltrend.errors import FileRefused
from oiltrend.ingest.cells import Locale
from oiltrend.ingest.columns import columns_of
from oiltrend.ingest.decide import decide_locale
from oiltrend.ingest.decode import Decoded, decode
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.headings import match_key
from oiltrend.ingest.long import long_questions, read_long
from oiltrend.ingest.matching import Matcher, Plan, plan_columns
from oiltrend.ingest.model import Item, Known, Note, ParsedFile, Question, ReadOptions, SizeCaps
from oiltrend.ingest.registers import read_register
from oiltrend.ingest.samples import read_samples
from oiltrend.ingest.sheet import Sheet, heading_line, read_sheet
from oiltrend.ingest.teardowns import read_teardowns
from oiltrend.records import SampleTable

__all__ = ["read_file"]

_MANY = 300


@dataclass(frozen=True, slots=True)
class _Opened:
    """A file opened up to its columns."""

    filename: str
    digest: str
    kind: str
    decoded: Decoded
    sheet: Sheet
    plan: Plan


def read_file(data: bytes, *, filename: str, kind: str = "samples", options: ReadOptions,
              known: Known, size_caps: SizeCaps | None = None) -> ParsedFile:
    r"""Read a file of one kind.

    Parameters
    ----------
    data : bytes [-]
        The whole file.
    filename : str [-]
        For messages.
    kind : str [-]
        samples, events, teardowns, engines, families, new-oil or limits.
    options : ReadOptions [-]
        What the user has said.
    known : Known [-]
        What the store holds.
    size_caps : SizeCaps or None [-]
        Largest size, for files from a browser.

    Returns
    -------
    ParsedFile [-]
        Accepted records, rejects, held rows and questions. While a question is open nothing is
        accepted, and the rows that wait for the answer are held.

    Raises
    ------
    FileRefused
        When the file as a whole cannot be read as what it claims to be.
    ValueRefused
        When an option or the kind is not one that exists.

    Examples
    --------
    >>> from datetime import date
    >>> data = b"engine;hours;Eisen [ppm];Blei\nE1;250;12,5;<1\nE1;500;x;2\nE9;90;3;2\n"
    >>> found = read_file(data, filename="lab.csv", options=ReadOptions(),
    ...                   known=Known(date(2026, 1, 1), engines={"E1": "h"}))
    >>> found.accepted, found.held, found.rejected
    (1, 1, 1)
    >>> found.rejects[0].line, found.rejects[0].column, found.rejects[0].reason
    (3, 'Eisen [ppm]', 'must be a number')
    >>> found.samples.raw[0]
    '{"Fe":"12,5","Pb":"<1"}'
    """
    columns_of(kind)
    if size_caps and len(data) > size_caps.file_bytes:
        raise FileRefused(f"{filename}: must have at most {size_caps.file_bytes} bytes, found "
                          f"{len(data)}",
                          hint="split the file, or import it on the command line")
    matcher = Matcher(kind, options)
    decoded = decode(data, filename=filename, encoding=options.encoding)
    sheet = read_sheet(decoded.text, filename=filename, caps=size_caps,
                       recognised=lambda headings: _recognised(headings, matcher))
    if not _recognised(sheet.headings, matcher):
        raise _no_heading(sheet, decoded.text, matcher, kind, filename)
    plan = plan_columns(sheet.headings, kind=kind, matcher=matcher, filename=filename)
    opened = _Opened(filename, sha256(data).hexdigest(), kind, decoded, sheet, plan)
    locale, open_questions = decide_locale(sheet, plan, options=options, today=known.today,
                                           filename=filename)
    questions = (*plan.questions, *open_questions)
    if plan.layout == "long":
        questions = (*questions, *long_questions(sheet, plan, matcher))
    findings = Findings(sheet)
    if questions:
        return _result(opened, locale, findings, questions=questions)
    samples, items = _read(opened, findings, locale, options, known, matcher)
    return _result(opened, locale, findings, samples=samples, items=items)


def _recognised(headings: Sequence[str], matcher: Matcher) -> int:
    # A file with more columns than that is told by the first ones.
    named = {match_key(heading): heading for heading in headings[:_MANY] if heading.strip()}
    return sum(bool(read.column) or read.question == "meter"
               for _, read in map(matcher.match, named.values()))


def _no_heading(sheet: Sheet, text: str, matcher: Matcher, kind: str,
                filename: str) -> FileRefused:
    found = ", ".join(sheet.headings[:8])[:200]
    later = heading_line(text, lambda headings: _recognised(headings, matcher))
    hint = (f"line {later} looks like the headings: delete the lines above it" if later else
            "match its headings by hand, or see which columns a file of this kind has: "
            f"oiltrend template {kind} --describe")
    return FileRefused(f"{filename}: the first line must name columns of {kind}, found '{found}'",
                       hint=hint)


def _read(opened: _Opened, findings: Findings, locale: Locale, options: ReadOptions, known: Known,
          matcher: Matcher) -> tuple[SampleTable | None, tuple[Item, ...]]:
    sheet, plan = opened.sheet, opened.plan
    if opened.kind == "samples":
        if plan.layout == "long":
            return read_long(sheet, plan, findings, locale=locale, options=options, known=known,
                             matcher=matcher), ()
        return read_samples(sheet, plan, findings, locale=locale, options=options,
                            known=known), ()
    if opened.kind == "teardowns":
        return None, read_teardowns(sheet, plan, findings, locale=locale, options=options,
                                    known=known)
    return None, read_register(sheet, plan, findings, kind=opened.kind, locale=locale,
                               options=options, known=known)


def _result(opened: _Opened, locale: Locale, findings: Findings, *,
            questions: tuple[Question, ...] = (), samples: SampleTable | None = None,
            items: tuple[Item, ...] = ()) -> ParsedFile:
    sheet, plan = opened.sheet, opened.plan
    rows = len(sheet.lines)
    notes = [*opened.decoded.notes, *plan.notes, *findings.notes]
    if not rows and not sheet.rejects:
        notes.append(Note(0, "", "", "the file has headings and no rows below them"))
    accepted = 0 if questions else int(findings.accepted.sum())
    held = rows if questions else int(findings.held.sum())
    return ParsedFile(
        file=opened.filename, sha256=opened.digest, kind=opened.kind,
        encoding=opened.decoded.encoding, delimiter=sheet.delimiter, decimal=locale.decimal,
        date_order=locale.date_order, layout=plan.layout, headings=sheet.headings,
        matched=plan.matched, records=sheet.records, header=sheet.header, accepted=accepted,
        held=held, rejected=len(sheet.rejects) + int(findings.bad.sum()),
        duplicates=int(findings.duplicate.sum()), blank=sheet.blank,
        rejects=tuple(sorted(findings.rejects, key=lambda reject: reject.line)),
        notes=tuple(notes), held_rows=() if questions else findings.held_rows(),
        questions=questions, preview=sheet.preview, samples=samples, items=items)
