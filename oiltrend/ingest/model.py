"""What goes into the reading of a file and what comes out: plain frozen data.

A file comes in as bytes with :class:`ReadOptions` (what the user said) and :class:`Known`
(what the store holds). It goes out as a :class:`ParsedFile` in which every record is
accounted for. Nothing here touches a disk or a database.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from oiltrend import records
from oiltrend.errors import OiltrendError, ValueRefused
from oiltrend.records import MeterUnit, SampleTable
from oiltrend.samplekeys import SampleKey

__all__ = [
    "KINDS", "WEB_CAPS", "HeldRow", "Item", "Known", "MatchedColumn", "Note", "ParsedFile",
    "Question", "ReadOptions", "Reject", "SizeCaps", "accounting",
]

KINDS = ("samples", "events", "teardowns", "engines", "families", "new-oil", "limits")
Item = (records.Event | records.Teardown | records.Engine | records.Family | records.NewOil
        | records.Limit)
StoredSamples = (Mapping[SampleKey, bytes]
                 | Callable[[Sequence[SampleKey]], Mapping[SampleKey, bytes]])
StoredItems = Mapping[str, str] | Callable[[Sequence[str]], Mapping[str, str]]


def _one_of(where: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        words = ", ".join(f"'{word}'" for word in allowed if word)
        raise ValueRefused(f"{where}: must be one of {words}, found '{value}'",
                           hint="correct it, or leave it out and be asked")


@dataclass(frozen=True, slots=True)
class SizeCaps:
    """How large a file may be when a browser hands it in.

    Parameters
    ----------
    file_bytes, rows, columns, field_characters : int [-]
        Largest size in bytes, rows below the heading, columns, characters of one cell.
    """

    file_bytes: int
    rows: int
    columns: int
    field_characters: int


WEB_CAPS = SizeCaps(file_bytes=5 * 1024 * 1024, rows=20_000, columns=200, field_characters=1000)


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What the user has said about a file. Everything may be left out and is then asked.

    Parameters
    ----------
    date_order : str [-]
        ymd, dmy, mdy, or ``""``: decide, and ask when in doubt. It also settles two-digit years.
    decimal : str [-]
        point, comma, or ``""``: decide, and ask when in doubt. The other sign then separates
        thousands.
    meter : str [-]
        Unit of a bare meter or distance heading: km, mi, h, or ``""``: ask.
    engine : str [-]
        Our engine, for a file that names none.
    mapping : Mapping or None [-]
        Remembered answers; what is said here besides wins over it.
    matches : mapping of str to str [-]
        Heading (or, in the long layout, name of a measurand) to a house column, with the unit
        in brackets if wanted (``Fe [mg/kg]``), or to ``ignore``.
    lab, method : str [-]
        Laboratory and test method for rows that name none.
    encoding : str [-]
        utf-8, utf-16, cp1252 or latin-1, or ``""``: decide, and say so.
    """

    date_order: str = ""
    decimal: str = ""
    meter: str = ""
    engine: str = ""
    mapping: records.Mapping | None = None
    matches: Mapping[str, str] = field(default_factory=dict)
    lab: str = ""
    method: str = ""
    encoding: str = ""

    def __post_init__(self) -> None:
        _one_of("date order", self.date_order, ("", "ymd", "dmy", "mdy"))
        _one_of("decimal", self.decimal, ("", "point", "comma"))
        _one_of("meter", self.meter, ("", "km", "mi", "h"))
        _one_of("encoding", self.encoding, ("", "utf-8", "utf-16", "cp1252", "latin-1"))


@dataclass(frozen=True, slots=True)
class Known:
    """What the store knows and the reader must check against.

    Parameters
    ----------
    today : date [-]
        A later date is in the future.
    engines : mapping of str to str [-]
        Engine to its meter unit: km, mi or h.
    families : frozenset of str [-]
        Engine families.
    existing : mapping, or function of a sequence of keys giving a mapping [-]
        Sample key (:func:`oiltrend.samplekeys.keys_of`) to content hash of stored samples that
        have a result.
    stored_items : mapping, or function of a sequence of keys giving a mapping [-]
        The same for the other kinds, by :func:`oiltrend.ingest.item_key` and
        :func:`oiltrend.ingest.item_hash`.
    rods, mains : mapping of str to int [-]
        Engine to its number of rods and of main bearings, where known.
    """

    today: date
    engines: Mapping[str, MeterUnit] = field(default_factory=dict)
    families: frozenset[str] = frozenset()
    existing: StoredSamples = field(default_factory=dict)
    stored_items: StoredItems = field(default_factory=dict)
    rods: Mapping[str, int] = field(default_factory=dict)
    mains: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reject:
    """One cell (or one whole row, column ``""``) that cannot be used, and why.

    Parameters
    ----------
    line : int [-]
        Line of the file on which the record begins; the first line is 1.
    column : str [-]
        Heading as it stands in the file.
    raw : str [-]
        The text found, cut off when very long.
    reason : str [-]
        The rule that is broken.
    hint : str [-]
        What to do about it.
    """

    line: int
    column: str
    raw: str
    reason: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """Something that was read but should be looked at; line 0 stands for the whole file."""

    line: int
    column: str
    raw: str
    text: str


@dataclass(frozen=True, slots=True)
class HeldRow:
    """A row whose engine is not known: it waits until someone says which one it is."""

    line: int
    engine_text: str
    raw: str


@dataclass(frozen=True, slots=True)
class Question:
    """Something only the user can answer; until then the file gives nothing to store.

    Parameters
    ----------
    code : str [-]
        date_order, decimal, meter, engine, column, unit or measurand. The first four are
        answered by the option of that name, the others by an entry in ``matches``.
    column : str [-]
        Heading (or name of a measurand) that is meant, ``""`` for the whole file.
    text : str [-]
        The question as a sentence.
    choices : tuple of str [-]
        Possible answers; empty when any text may be one.
    examples : tuple of str [-]
        Cells from the file, and what each answer would make of them.
    """

    code: str
    column: str
    text: str
    choices: tuple[str, ...] = ()
    examples: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MatchedColumn:
    """What a heading was taken for.

    Parameters
    ----------
    heading : str [-]
        As it stands in the file.
    column : str [-]
        House column, ``ignore``, or ``""`` while it is being asked.
    unit : str [-]
        Unit of the cells, ``-`` where there is none.
    how : str [-]
        known (found in the table of names), mapping (remembered) or user (said now).
    """

    heading: str
    column: str
    unit: str
    how: Literal["known", "mapping", "user", ""]


@dataclass(frozen=True, slots=True)
class ParsedFile:
    """A file as it was understood, with every record accounted for.

    Parameters
    ----------
    file, sha256, kind : str [-]
        Name, content hash and kind of file.
    encoding, delimiter, decimal, date_order : str [-]
        How it was read; ``""`` where nothing depended on it or it is being asked.
    layout : str [-]
        wide (one row a record) or long (one row a reading).
    headings : tuple of str [-]
        As they stand in the file.
    matched : tuple of MatchedColumn [-]
        One for each heading.
    records, header, accepted, held, rejected, duplicates, blank : int [-]
        ``records = header + accepted + held + rejected + duplicates + blank``, in rows.
        ``header`` counts a ``sep=`` line too.
    rejects : tuple of Reject [-]
        One for each bad cell, so possibly several for a row; in order of lines.
    notes : tuple of Note [-]
        What was read but should be looked at.
    held_rows : tuple of HeldRow [-]
        Rows whose engine is unknown. While questions are open, rows that wait for the
        answers are counted in ``held`` and not listed here.
    questions : tuple of Question [-]
        What must be answered before anything is accepted.
    preview : tuple of tuple of str [-]
        The first rows as read, cells cut off when very long.
    samples : SampleTable or None [-]
        Accepted samples, for kind samples.
    items : tuple of records [-]
        Accepted records of the other kinds.

    Raises
    ------
    OiltrendError
        When the accounting does not add up; that is a fault of the program.
    """

    file: str
    sha256: str
    kind: str
    encoding: str
    delimiter: str
    decimal: str
    date_order: str
    layout: str
    headings: tuple[str, ...]
    matched: tuple[MatchedColumn, ...]
    records: int
    header: int
    accepted: int
    held: int
    rejected: int
    duplicates: int
    blank: int
    rejects: tuple[Reject, ...] = ()
    notes: tuple[Note, ...] = ()
    held_rows: tuple[HeldRow, ...] = ()
    questions: tuple[Question, ...] = ()
    preview: tuple[tuple[str, ...], ...] = ()
    samples: SampleTable | None = None
    items: tuple[Item, ...] = ()

    def __post_init__(self) -> None:
        parts = (self.header, self.accepted, self.held, self.rejected, self.duplicates, self.blank)
        if min(parts) < 0 or self.records != sum(parts):
            raise OiltrendError(
                f"{self.file}: records must equal header + accepted + held + rejected + "
                f"duplicates + blank, found {self.records} and {parts}",
                hint="nothing was stored; please report this file")


def accounting(parsed: ParsedFile) -> dict[str, object]:
    """Give the part of an import's JSON that the reading settles.

    Parameters
    ----------
    parsed : ParsedFile [-]
        A file as it was understood.

    Returns
    -------
    dict [-]
        file, sha256, the counts, rejects and questions, ready for JSON.

    Examples
    --------
    >>> parsed = ParsedFile("a.csv", "", "events", "utf-8", ",", "point", "", "wide",
    ...                     ("engine",), (), records=1, header=1, accepted=0, held=0, rejected=0,
    ...                     duplicates=0, blank=0)
    >>> accounting(parsed)["header"]
    1
    """
    counts = ("file", "sha256", "records", "header", "accepted", "held", "rejected",
              "duplicates", "blank")
    return {
        **{name: getattr(parsed, name) for name in counts},
        "rejects": [{"line": r.line, "column": r.column, "raw": r.raw, "reason": r.reason,
                     "hint": r.hint} for r in parsed.rejects],
        "questions": [{"code": q.code, "column": q.column, "text": q.text,
                       "choices": list(q.choices), "examples": list(q.examples)}
                      for q in parsed.questions],
        "notes": [{"line": n.line, "column": n.column, "raw": n.raw, "text": n.text}
                  for n in parsed.notes],
    }
