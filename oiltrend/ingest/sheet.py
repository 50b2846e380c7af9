"""Text to rows: delimiter, strict reading, and the screening of rows before any cell is read.

Each column is kept as its distinct texts with one code a row: a laboratory's file repeats
itself, so that a text needs to be understood once only, and the memory stays small.
"""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import FileRefused
from oiltrend.ingest.model import Note, Reject, SizeCaps

__all__ = ["FIELD_LIMIT", "Cells", "Sheet", "heading_line", "read_sheet", "shorten"]

FIELD_LIMIT = 32_767  # characters of a cell: what a spreadsheet cell can hold
_DELIMITERS = (",", ";", "\t", "|")
_SEP_LINE = re.compile(r"\ufeff?sep=([^\w\s\"]|\t)\r?(?:\n|\Z)", re.IGNORECASE)
_BATCH = 4096
_LOOK_AHEAD = 20
_PREVIEW_ROWS, _PREVIEW_CHARACTERS = 10, 200


@dataclass(frozen=True, slots=True)
class Cells:
    """One column: its distinct texts, and for each row which of them stands there."""

    codes: NDArray[np.int32]
    texts: list[str]

    def text(self, row: int) -> str:
        """Give the text of one row, as it stands in the file.

        Parameters
        ----------
        row : int [-]
            Its place.

        Returns
        -------
        str [-]
            The cell.
        """
        return self.texts[int(self.codes[row])]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file as rows of text, those of the wrong shape put aside.

    Parameters
    ----------
    delimiter : str [-]
        Character between cells.
    headings : tuple of str [-]
        First record, trimmed.
    cells : tuple of Cells [-]
        One for each heading.
    lines : array of int, shape (n,) [-]
        Line on which each row begins.
    records, header, blank : int [-]
        Records in the file, of these heading matter and blank ones.
    rejects : tuple of Reject [-]
        One for each row of the wrong shape.
    notes : tuple of Note [-]
        Rows that run over several lines.
    preview : tuple of tuple of str [-]
        The first rows.
    """

    delimiter: str
    headings: tuple[str, ...]
    cells: tuple[Cells, ...]
    lines: NDArray[np.int64]
    records: int
    header: int
    blank: int
    rejects: tuple[Reject, ...]
    notes: tuple[Note, ...]
    preview: tuple[tuple[str, ...], ...]

    def row_text(self, row: int) -> str:
        """Give one row as it could stand in the file.

        Parameters
        ----------
        row : int [-]
            Its place.

        Returns
        -------
        str [-]
            Its cells with delimiters, cut when very long.
        """
        return self.row_texts(np.array([row]))[0]

    def row_texts(self, rows: NDArray[np.intp]) -> list[str]:
        """Give several rows as they could stand in the file.

        Parameters
        ----------
        rows : array of int, shape (n,) [-]
            Their places.

        Returns
        -------
        list of str [-]
            The cells of each row with delimiters, cut when very long.
        """
        columns = [[cells.texts[code] for code in cells.codes[rows].tolist()]
                   for cells in self.cells]
        return [shorten(_joined(row, self.delimiter)) for row in zip(*columns, strict=True)]


@dataclass(slots=True)
class _Gathered:
    """What the loop over the records collects."""

    width: int
    batch: list[list[str]] = field(default_factory=list)
    books: list[defaultdict[str, int]] = field(default_factory=list)
    codes: list[list[NDArray[np.int32]]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    blank: int = 0
    rejects: list[Reject] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    preview: list[tuple[str, ...]] = field(default_factory=list)

    def __post_init__(self) -> None:
        for _ in range(self.width):
            # A text that is new gets the next free number.
            book: defaultdict[str, int] = defaultdict()
            book.default_factory = book.__len__
            self.books.append(book)
            self.codes.append([])

    def flush(self) -> None:
        for book, codes, column in zip(self.books, self.codes, zip(*self.batch, strict=True),
                                       strict=False):
            codes.append(np.fromiter(map(book.__getitem__, column), dtype=np.int32,
                                     count=len(column)))
        self.batch.clear()

    def cells(self) -> tuple[Cells, ...]:
        self.flush()
        none = [np.zeros(0, dtype=np.int32)]
        return tuple(Cells(np.concatenate(none + codes), list(book))
                     for book, codes in zip(self.books, self.codes, strict=True))


def shorten(text: str, *, limit: int = 300) -> str:
    """Cut a long text for a message.

    Parameters
    ----------
    text : str [-]
        Any text.
    limit : int [-]
        Most characters kept.

    Returns
    -------
    str [-]
        The text, with ``…`` where it was cut.

    Examples
    --------
    >>> shorten("abcdef", limit=3)
    'abc…'
    """
    return text if len(text) <= limit else text[:limit] + "…"


def read_sheet(text: str, *, filename: str, recognised: Callable[[Sequence[str]], int],
               caps: SizeCaps | None = None) -> Sheet:
    r"""Read a text as rows of cells with a strict CSV reader.

    Parameters
    ----------
    text : str [-]
        The whole file.
    filename : str [-]
        For messages.
    recognised : function of a sequence of str giving int [-]
        How many of some headings mean something; it decides between delimiters.
    caps : SizeCaps or None [-]
        Largest size, where there is one.

    Returns
    -------
    Sheet [-]
        Rows, with those of the wrong shape put aside.

    Raises
    ------
    FileRefused
        When a quoted cell does not end, when there is no heading, or when a cap is passed.

    Examples
    --------
    >>> sheet = read_sheet("a;b\n1;2\n\n1;2;3\n", filename="x.csv", recognised=len)
    >>> sheet.delimiter, sheet.headings, len(sheet.lines), sheet.blank
    (';', ('a', 'b'), 1, 1)
    >>> sheet.rejects[0].reason
    'a row must have 2 cells, found 3'
    """
    # csv has one limit for all readers of the process; ours is checked below, row by row.
    if csv.field_size_limit() <= len(text):
        csv.field_size_limit(len(text) + 1)
    marked = _SEP_LINE.match(text)
    delimiter = marked.group(1) if marked else _best_delimiter(text, recognised)
    rows = _records(text, delimiter, filename)
    if marked:
        next(rows)
    blank, headings = _heading(rows, filename)
    width = len(headings)
    if caps and width > caps.columns:
        raise FileRefused(f"{filename}: must have at most {caps.columns} columns, found {width}",
                          hint="delete columns that are not needed")
    gathered = _Gathered(width)
    gathered.blank = blank
    _gather(rows, gathered, delimiter, filename, caps)
    return _finish(gathered, headings, delimiter, header=2 if marked else 1, caps=caps)


def heading_line(text: str, recognised: Callable[[Sequence[str]], int]) -> int:
    r"""Look for headings further down, for a file that begins with something else.

    Parameters
    ----------
    text : str [-]
        The whole file.
    recognised : function of a sequence of str giving int [-]
        How many of some headings mean something.

    Returns
    -------
    int [-]
        Line of the first record with two known headings or more; 0 when there is none.

    Examples
    --------
    >>> heading_line("Report of today\n\nengine;Fe\n", lambda row: len({"engine", "Fe"} & set(row)))
    3
    """
    found = [line for delimiter in _DELIMITERS
             for line, row in _first_records(text, delimiter) if recognised(row) > 1]
    return min(found, default=0)


def _best_delimiter(text: str, recognised: Callable[[Sequence[str]], int]) -> str:
    scores = {}
    for delimiter in _DELIMITERS:
        rows = [row for _, row in _first_records(text, delimiter)]
        if rows:
            width = len(rows[0])
            alike = sum(len(row) == width for row in rows) if width > 1 else 0
            scores[delimiter] = (recognised(rows[0]), alike, width)
    return max(scores, key=lambda d: scores[d]) if scores else ","


def _first_records(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Give the first records that are not blank, with their lines."""
    reader = csv.reader(io.StringIO(text[:200_000], newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        rows.extend(islice(((reader.line_num, row) for row in reader if row), _LOOK_AHEAD))
    except csv.Error:
        # The whole file is read strictly later; here the rows so far decide.
        pass
    return rows


def _records(text: str, delimiter: str, filename: str) -> Iterator[tuple[int, int, list[str]]]:
    """Give each record with its first and last line."""
    # UTF-8 in a byte buffer takes a quarter of the room of a text buffer.
    lines = io.TextIOWrapper(io.BytesIO(text.encode("utf-8", "surrogatepass")), newline="",
                             encoding="utf-8", errors="surrogatepass")
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    last = 0
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise _unreadable(filename, last + 1, str(error)) from error
        yield last + 1, reader.line_num, row
        last = reader.line_num


def _unreadable(filename: str, line: int, error: str) -> FileRefused:
    if "unexpected end" in error:
        return FileRefused(f"{filename}: line {line}: a quoted cell must end with a quote, found "
                           "none up to the end of the file",
                           hint="add the missing quote or delete the one too many")
    return FileRefused(f"{filename}: line {line}: a closing quote must be followed by the "
                       "delimiter or the end of the line, found something else",
                       hint="double a quote that belongs to the text, or delete it")


def _heading(rows: Iterator[tuple[int, int, list[str]]],
             filename: str) -> tuple[int, tuple[str, ...]]:
    blank = 0
    for _, _, row in rows:
        headings = [cell.strip().lstrip("\ufeff").strip() for cell in row]
        while headings and not headings[-1]:
            headings.pop()
        if headings:
            return blank, tuple(headings)
        blank += 1
    raise FileRefused(f"{filename}: a CSV file must have a heading line, found none",
                      hint="the first line names the columns")


def _gather(rows: Iterator[tuple[int, int, list[str]]], gathered: _Gathered, delimiter: str,
            filename: str, caps: SizeCaps | None) -> None:
    width, batch, lines = gathered.width, gathered.batch, gathered.lines
    most = caps.rows if caps else None
    for first, last, row in rows:
        if len(row) != width or not row[0].strip():
            fitting = _screen(row, width)
            if fitting is None:
                reason = f"a row must have {width} cells, found {len(row)}"
                gathered.rejects.append(Reject(
                    first, "", shorten(_joined(row, delimiter)), reason,
                    "check the delimiter and decimal commas; nothing was shifted or filled in"))
            elif not fitting:
                gathered.blank += 1
                continue
            if not fitting:
                continue
            row = fitting
        if last > first:
            gathered.notes.append(Note(
                first, "", shorten(_joined(row, delimiter)),
                f"this row runs over lines {first} to {last}: a cell has a line break in it"))
        batch.append(row)
        lines.append(first)
        if len(gathered.preview) < _PREVIEW_ROWS:
            gathered.preview.append(tuple(shorten(c, limit=_PREVIEW_CHARACTERS) for c in row))
        if len(batch) == _BATCH:
            gathered.flush()
        if most is not None and len(lines) + len(gathered.rejects) > most:
            raise FileRefused(f"{filename}: must have at most {most} rows, found more",
                              hint="split the file, or import it on the command line")


def _screen(row: list[str], width: int) -> list[str] | None:
    """Give the row in the right width, empty when it is blank, None when it does not fit."""
    if not any(cell.strip() for cell in row):
        return []
    if len(row) < width or any(cell.strip() for cell in row[width:]):
        return None
    return row[:width]


def _finish(gathered: _Gathered, headings: tuple[str, ...], delimiter: str, *, header: int,
            caps: SizeCaps | None) -> Sheet:
    cells = gathered.cells()
    lines = np.array(gathered.lines, dtype=np.int64)
    records = header + gathered.blank + len(gathered.rejects) + len(lines)
    limit = caps.field_characters if caps else FIELD_LIMIT
    keep = np.ones(len(lines), dtype=bool)
    for heading, column in zip(headings, cells, strict=True):
        if max(map(len, column.texts), default=0) <= limit:
            continue
        long = [code for code, text in enumerate(column.texts) if len(text) > limit]
        for row in np.flatnonzero(np.isin(column.codes, long) & keep).tolist():
            keep[row] = False
            gathered.rejects.append(Reject(
                int(lines[row]), heading, shorten(column.text(row)),
                f"a cell may have at most {limit} characters, found {len(column.text(row))}",
                "shorten the text"))
    if not keep.all():
        cells = tuple(Cells(column.codes[keep], column.texts) for column in cells)
        lines = lines[keep]
    return Sheet(delimiter, headings, cells, lines, records, header, gathered.blank,
                 tuple(gathered.rejects), tuple(gathered.notes), tuple(gathered.preview))


def _joined(row: Sequence[str], delimiter: str) -> str:
    plain = delimiter.join(row)
    if plain.count(delimiter) == len(row) - 1 and plain.isprintable() and '"' not in plain:
        return plain
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(row)
    return out.getvalue()
