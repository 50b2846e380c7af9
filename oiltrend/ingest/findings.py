"""What is found wrong or odd while the rows of a sheet are read, row by row accounted for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from oiltrend.ingest.cells import Understood
from oiltrend.ingest.model import HeldRow, Note, Reject
from oiltrend.ingest.sheet import Cells, Sheet, shorten

__all__ = ["Findings"]

_NOTES_PER_COLUMN = 20


class Findings:
    """Gathers rejects, notes and the state of each row of one sheet.

    A row is bad when one of its cells or the row as a whole breaks a rule; it is held when its
    engine is unknown, a duplicate when it repeats another. Bad wins over held, held over
    duplicate.

    Parameters
    ----------
    sheet : Sheet [-]
        The rows.
    """

    def __init__(self, sheet: Sheet) -> None:
        rows = len(sheet.lines)
        self.sheet = sheet
        self.bad: NDArray[np.bool_] = np.zeros(rows, dtype=bool)
        self.unknown: NDArray[np.bool_] = np.zeros(rows, dtype=bool)
        self.repeated: NDArray[np.bool_] = np.zeros(rows, dtype=bool)
        self.engine_text: NDArray[np.object_] = np.full(rows, "", dtype=object)
        self.rejects: list[Reject] = list(sheet.rejects)
        self.notes: list[Note] = list(sheet.notes)

    @property
    def held(self) -> NDArray[np.bool_]:
        """Rows that wait for their engine."""
        return self.unknown & ~self.bad

    @property
    def duplicate(self) -> NDArray[np.bool_]:
        """Rows that repeat another and are fit otherwise."""
        return self.repeated & ~self.bad & ~self.unknown

    @property
    def accepted(self) -> NDArray[np.bool_]:
        """Rows that are fit to be stored."""
        return ~(self.bad | self.unknown | self.repeated)

    def column(self, heading: str, cells: Cells, found: Understood) -> None:
        """Take over the problems and notes of one column.

        Parameters
        ----------
        heading : str [-]
            Heading of the column in the file.
        cells : Cells [-]
            The column.
        found : Understood [-]
            What its texts say.
        """
        self.cells(heading, cells, found.problems)
        self.remarks(heading, cells, found.notes)

    def cells(self, heading: str, cells: Cells, problems: Mapping[int, tuple[str, str]]) -> None:
        """Reject every row in which a text with a problem stands.

        Parameters
        ----------
        heading : str [-]
            Heading of the column in the file.
        cells : Cells [-]
            The column.
        problems : mapping of int to tuple of str [-]
            Number of the text to rule and hint.
        """
        if not problems:
            return
        for row in _rows_with(cells, problems):
            reason, hint = problems[int(cells.codes[row])]
            self.bad[row] = True
            self.rejects.append(Reject(int(self.sheet.lines[row]), heading,
                                       shorten(cells.text(row)), reason, hint))

    def rows(self, mask: NDArray[np.bool_], heading: str, reason: str, hint: str) -> None:
        """Reject rows for a reason that lies in more than one cell, those not yet bad.

        Parameters
        ----------
        mask : array of bool, shape (n,) [-]
            The rows.
        heading : str [-]
            Heading to name, ``""`` for the whole row.
        reason : str [-]
            The rule that is broken.
        hint : str [-]
            What to do about it.
        """
        for row in np.flatnonzero(mask & ~self.bad).tolist():
            self.row(row, heading, reason, hint)

    def row(self, row: int, heading: str, reason: str, hint: str) -> None:
        """Reject one row, unless it is bad already.

        Parameters
        ----------
        row : int [-]
            Its place.
        heading : str [-]
            Heading to name, ``""`` for the whole row.
        reason : str [-]
            The rule that is broken.
        hint : str [-]
            What to do about it.
        """
        if self.bad[row]:
            return
        self.bad[row] = True
        headings = self.sheet.headings
        raw = (shorten(self.sheet.cells[headings.index(heading)].text(row))
               if heading in headings else self.sheet.row_text(row))
        self.rejects.append(Reject(int(self.sheet.lines[row]), heading, raw, reason, hint))

    def remarks(self, heading: str, cells: Cells, notes: Mapping[int, str]) -> None:
        """Remark on texts: where each stands first, and on how many rows.

        Parameters
        ----------
        heading : str [-]
            Heading of the column in the file.
        cells : Cells [-]
            The column.
        notes : mapping of int to str [-]
            Number of the text to the remark.
        """
        if not notes:
            return
        rows = np.array(_rows_with(cells, notes), dtype=np.intp)
        if not len(rows):
            return
        codes, first, counts = np.unique(cells.codes[rows], return_index=True, return_counts=True)
        order = np.argsort(first)
        for code, at, count in zip(codes[order].tolist(), rows[first[order]].tolist(),
                                   counts[order].tolist(), strict=True):
            if len(order) > _NOTES_PER_COLUMN and at > rows[np.sort(first)[_NOTES_PER_COLUMN - 1]]:
                self.notes.append(Note(0, heading, "", f"{len(order) - _NOTES_PER_COLUMN} more "
                                       "texts in this column carry such a remark"))
                break
            more = f" (on {count} rows)" if count > 1 else ""
            self.notes.append(Note(int(self.sheet.lines[at]), heading,
                                   shorten(cells.texts[code]), notes[code] + more))

    def remark(self, heading: str, text: str) -> None:
        """Remark on the file or on a whole column.

        Parameters
        ----------
        heading : str [-]
            Heading, ``""`` for the file.
        text : str [-]
            The remark.
        """
        self.notes.append(Note(0, heading, "", text))

    def held_rows(self) -> tuple[HeldRow, ...]:
        """List the rows that wait for their engine.

        Returns
        -------
        tuple of HeldRow [-]
            In the order of the file.
        """
        rows = np.flatnonzero(self.held)
        return tuple(
            HeldRow(line, engine, raw) for line, engine, raw in zip(
                self.sheet.lines[rows].tolist(), self.engine_text[rows].tolist(),
                self.sheet.row_texts(rows), strict=True))


def _rows_with(cells: Cells, texts: Iterable[int]) -> list[int]:
    """List the rows in which one of some texts stands."""
    chosen = np.zeros(len(cells.texts), dtype=bool)
    chosen[list(texts)] = True
    rows: list[int] = np.flatnonzero(chosen[cells.codes]).tolist()
    return rows
