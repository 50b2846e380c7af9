"""All matched columns of a sheet, read by their type and spread over its rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.ingest.cells import Locale, Understood, understand
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.matching import Plan
from oiltrend.ingest.sheet import Cells, Sheet

__all__ = ["Fields", "read_fields"]

@dataclass(frozen=True, slots=True)
class Fields:
    """The values of every matched column.

    Parameters
    ----------
    rows : int [-]
        Number of rows.
    values : mapping of str to array [-]
        House column to one value for each row.
    understood : mapping of str to Understood [-]
        House column to what its distinct texts say.
    cells : mapping of str to Cells [-]
        House column to its texts.
    """

    rows: int
    values: Mapping[str, NDArray[Any]]
    understood: Mapping[str, Understood]
    cells: Mapping[str, Cells]

    def numbers(self, name: str) -> NDArray[np.float64]:
        """Give a column of numbers, NaN where the file does not have it.

        Parameters
        ----------
        name : str [-]
            House column.

        Returns
        -------
        array of float, shape (n,) [-]
            One number for each row.
        """
        found: NDArray[np.float64] | None = self.values.get(name)
        return np.full(self.rows, np.nan) if found is None else found

    def texts(self, name: str, *, default: str = "") -> NDArray[np.object_]:
        """Give a column of text, the default where the file does not say.

        Parameters
        ----------
        name : str [-]
            House column.
        default : str [-]
            For blank cells, and for all when the file lacks the column.

        Returns
        -------
        array of str, shape (n,) [-]
            One text for each row.
        """
        found: NDArray[np.object_] | None = self.values.get(name)
        if found is None:
            return np.full(self.rows, default, dtype=object)
        if not default:
            return found
        filled: NDArray[np.object_] = np.where(found == "", default, found)
        return filled

    def dates(self, name: str) -> NDArray[np.datetime64]:
        """Give a column of dates, NaT where the file does not say.

        Parameters
        ----------
        name : str [-]
            House column.

        Returns
        -------
        array of date, shape (n,) [-]
            One date for each row.
        """
        found: NDArray[np.datetime64] | None = self.values.get(name)
        return np.full(self.rows, "NaT", dtype="datetime64[D]") if found is None else found

    def flags(self, name: str) -> NDArray[np.int8]:
        """Give a column of yes (1), no (0) and unknown (-1).

        Parameters
        ----------
        name : str [-]
            House column.

        Returns
        -------
        array of int, shape (n,) [-]
            One flag for each row.
        """
        found: NDArray[np.int8] | None = self.values.get(name)
        return np.full(self.rows, -1, dtype=np.int8) if found is None else found

    def codes(self, name: str, words: Sequence[str]) -> NDArray[np.int8]:
        """Give a column of choices as places in a list of words; blank is 0.

        Parameters
        ----------
        name : str [-]
            House column.
        words : sequence of str [-]
            The list; its first word is blank.

        Returns
        -------
        array of int, shape (n,) [-]
            One place for each row.
        """
        found = self.texts(name)
        out = np.zeros(self.rows, dtype=np.int8)
        for place, word in enumerate(words):
            out[found == word] = place
        return out


def read_fields(sheet: Sheet, plan: Plan, findings: Findings, *, locale: Locale,
                skip: tuple[str, ...] = ()) -> Fields:
    r"""Read every matched column and take over its problems.

    Parameters
    ----------
    sheet : Sheet [-]
        Rows of text.
    plan : Plan [-]
        Which column is which.
    findings : Findings [-]
        Takes rejects and notes.
    locale : Locale [-]
        Decimal sign and order of dates.
    skip : tuple of str [-]
        Columns that are read elsewhere.

    Returns
    -------
    Fields [-]
        Values for each row; those of bad cells are not to be used.

    Examples
    --------
    >>> from datetime import date
    >>> from oiltrend.ingest.matching import Matcher, plan_columns
    >>> from oiltrend.ingest.model import ReadOptions
    >>> from oiltrend.ingest.sheet import read_sheet
    >>> sheet = read_sheet("family,rods\nF1,8\n", filename="a.csv", recognised=len)
    >>> plan = plan_columns(sheet.headings, kind="families", filename="a.csv",
    ...                     matcher=Matcher("families", ReadOptions()))
    >>> fields = read_fields(sheet, plan, Findings(sheet),
    ...                      locale=Locale("point", "", date(2026, 1, 1)))
    >>> fields.numbers("rods").tolist(), fields.texts("family").tolist()
    ([8.0], ['F1'])
    """
    values: dict[str, NDArray[Any]] = {}
    understood: dict[str, Understood] = {}
    cells: dict[str, Cells] = {}
    for name, at in plan.position.items():
        cells[name] = sheet.cells[at]
        if name in skip:
            continue
        found = understand(plan.columns[name], cells[name].texts, unit=plan.matched[at].unit,
                           locale=locale)
        findings.column(plan.matched[at].heading, cells[name], found)
        understood[name] = found
        values[name] = found.values[cells[name].codes]
    return Fields(len(sheet.lines), values, understood, cells)
