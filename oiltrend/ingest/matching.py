"""All headings of a file to columns: said, remembered or known; what is left is asked."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from oiltrend.errors import FileRefused, ValueRefused
from oiltrend.ingest.columns import LONG_COLUMNS, Column, columns_of
from oiltrend.ingest.headings import (
    HeadingMatch,
    heading_unit,
    match_key,
    read_heading,
    units_for,
)
from oiltrend.ingest.model import MatchedColumn, Note, Question, ReadOptions

__all__ = ["IGNORE", "Matcher", "Plan", "plan_columns"]

IGNORE = "ignore"
_LONG_NAMES = tuple(column.name for column in LONG_COLUMNS)
_READINGS = frozenset(c.name for c in columns_of("samples") if c.type == "reading")
How = Literal["known", "mapping", "user", ""]
Pair = tuple[MatchedColumn, HeadingMatch]
_WITH_UNIT = re.compile(r"(?s)(.*?)\s*\[([^\[\]]*)\]\s*\Z")


@dataclass(frozen=True, slots=True)
class Plan:
    """How the columns of one file are read.

    Parameters
    ----------
    matched : tuple of MatchedColumn [-]
        One for each heading.
    columns : mapping of str to Column [-]
        House name to column, for the headings that are read.
    position : mapping of str to int [-]
        House name to the place of its heading.
    layout : str [-]
        wide or long.
    questions : tuple of Question [-]
        Columns, units and meters to be asked.
    notes : tuple of Note [-]
        Units that were taken for granted, matches that fit no heading.
    """

    matched: tuple[MatchedColumn, ...]
    columns: Mapping[str, Column]
    position: Mapping[str, int]
    layout: str
    questions: tuple[Question, ...]
    notes: tuple[Note, ...]

    def heading(self, column: str) -> str:
        """Give the heading that a house column was read from, or the column's own name.

        Parameters
        ----------
        column : str [-]
            House column.

        Returns
        -------
        str [-]
            The heading.
        """
        at = self.position.get(column)
        return column if at is None else self.matched[at].heading

    def unit(self, column: str) -> str:
        """Give the unit of the cells of a house column.

        Parameters
        ----------
        column : str [-]
            House column of this file.

        Returns
        -------
        str [-]
            Unit symbol, ``-`` for none.
        """
        return self.matched[self.position[column]].unit


class Matcher:
    """Matches single headings of one kind of file, by options, mapping and table.

    Parameters
    ----------
    kind : str [-]
        Kind of file.
    options : ReadOptions [-]
        What the user has said.

    Raises
    ------
    ValueRefused
        When a match names no column of this kind.
    """

    def __init__(self, kind: str, options: ReadOptions) -> None:
        wide = columns_of(kind)
        extra = LONG_COLUMNS if kind == "samples" else ()
        self.columns: dict[str, Column] = {c.name: c for c in (*wide, *extra)}
        self._names = {match_key(name): name for name in (*self.columns, IGNORE)}
        mapping = options.mapping
        self.meter = options.meter or (mapping.meter if mapping else "")
        self.engine = options.engine or (mapping.engine if mapping else "")
        self.user = {match_key(h): self._target(t) for h, t in options.matches.items()}
        self.remembered: dict[str, str] = {} if mapping is None else {
            match_key(h): self._names[match_key(t)]
            for h, t in mapping.columns.items() if match_key(t) in self._names}
        self._units: dict[str, str] = {} if mapping is None else {
            match_key(h): unit for h, unit in mapping.units.items()}

    def _target(self, text: str) -> tuple[str, str]:
        found = _WITH_UNIT.fullmatch(text)
        name, unit = (found.group(1), found.group(2)) if found else (text, "")
        house = self._names.get(match_key(name))
        if house is None:
            raise ValueRefused(f"match: must name a column of this kind of file or '{IGNORE}', "
                               f"found '{text}'",
                               hint="see the list of columns: oiltrend template KIND --describe")
        if not unit or house == IGNORE:
            return house, ""
        read = heading_unit(f"[{unit}]", self.columns[house])
        if read.unit in ("", "-"):
            allowed = ", ".join(units_for(self.columns[house])) or "no unit"
            raise ValueRefused(f"match: {house} must be in {allowed}, found '{unit}'",
                               hint="give one of these units")
        return house, read.unit

    def match(self, heading: str) -> Pair:
        """Match one heading; the second part carries the question, if any.

        Parameters
        ----------
        heading : str [-]
            As it stands in the file.

        Returns
        -------
        tuple of MatchedColumn and HeadingMatch [-]
            What it was taken for, and the question, if any.
        """
        key = match_key(heading)
        known = read_heading(heading, columns=self.columns, meter=self.meter)
        if key in self.user:
            return self._said(heading, *self.user[key], "user")
        if key in self.remembered:
            return self._said(heading, self.remembered[key], self._units.get(key, ""), "mapping")
        if known.question == "unit" and self._units.get(key) in known.choices:
            known = HeadingMatch(known.column, self._units[key], "")
        how: How = "known" if known.column else ""
        return MatchedColumn(heading, known.column, known.unit or "-", how), known

    def _said(self, heading: str, column: str, unit: str, how: How) -> Pair:
        if column == IGNORE:
            read = HeadingMatch(IGNORE, "-", "")
        elif unit:
            read = HeadingMatch(column, unit, "")
        else:
            # The heading may still say the unit: "Eisengehalt [%]" matched to Fe is in %.
            read = heading_unit(heading, self.columns[column])
        return MatchedColumn(heading, column, read.unit or "-", how), read


def plan_columns(headings: Sequence[str], *, kind: str, matcher: Matcher,
                 filename: str) -> Plan:
    """Match every heading of a file.

    Parameters
    ----------
    headings : sequence of str [-]
        As they stand in the file.
    kind : str [-]
        Kind of file.
    matcher : Matcher [-]
        Made for the kind and the options.
    filename : str [-]
        For messages.

    Returns
    -------
    Plan [-]
        Columns, layout and questions.

    Raises
    ------
    FileRefused
        When a heading is blank or stands twice, two headings mean one column, or a column that
        every row needs is missing.

    Examples
    --------
    >>> matcher = Matcher("samples", ReadOptions())
    >>> plan = plan_columns(["engine", "Eisen", "Colour"], kind="samples", matcher=matcher,
    ...                     filename="a.csv")
    >>> dict(plan.position), [question.column for question in plan.questions]
    ({'engine': 0, 'Fe': 1}, ['Colour'])
    """
    _refuse_blank_or_repeated(headings, filename)
    pairs = [matcher.match(heading) for heading in headings]
    if kind == "samples":
        pairs = _one_layout(pairs)
    position: dict[str, int] = {}
    for at, (matched, _) in enumerate(pairs):
        name = matched.column
        if name in ("", IGNORE):
            continue
        if name in position:
            raise FileRefused(
                f"{filename}: each column must have one heading, found "
                f"'{headings[position[name]]}' and '{headings[at]}' for {name}",
                hint=f"match one of them to '{IGNORE}'")
        position[name] = at
    layout = "long" if kind == "samples" and "measurand" in position else "wide"
    questions = [q for matched, read in pairs if (q := _question(matched, read, matcher))]
    questions += _missing(position, kind, layout, matcher, filename, asked=bool(questions))
    notes = _unit_notes(pairs)
    if layout == "wide":
        notes += _unused_matches(headings, matcher)
    return Plan(tuple(matched for matched, _ in pairs),
                {name: matcher.columns[name] for name in position}, position, layout,
                tuple(questions), tuple(notes))


def _refuse_blank_or_repeated(headings: Sequence[str], filename: str) -> None:
    seen: dict[str, int] = {}
    for at, heading in enumerate(headings, start=1):
        key = match_key(heading)
        if not key:
            raise FileRefused(f"{filename}: every column must have a heading, found none above "
                              f"column {at}", hint="name the column or delete it")
        if key in seen:
            raise FileRefused(f"{filename}: headings must differ by more than case, found "
                              f"'{heading}' above columns {seen[key]} and {at}",
                              hint="rename or delete one of the two columns")
        seen[key] = at


def _one_layout(pairs: list[Pair]) -> list[Pair]:
    """Take "Result" or "Unit" for a column of the long layout only in a long file."""
    found = {matched.column for matched, _ in pairs}
    if {"measurand", "value"} <= found and not found & _READINGS:
        return pairs
    return [(MatchedColumn(m.heading, "", "-", ""), HeadingMatch())
            if m.column in _LONG_NAMES and m.how == "known" else (m, read)
            for m, read in pairs]


def _question(matched: MatchedColumn, read: HeadingMatch, matcher: Matcher) -> Question | None:
    heading = matched.heading
    if read.question == "column":
        return Question("column", heading, f"What does the column '{heading}' hold?",
                        read.choices or (*matcher.columns, IGNORE))
    if read.question == "unit":
        return Question("unit", heading, f"In which unit is the column '{heading}'?",
                        tuple(f"{read.column} [{unit}]" for unit in read.choices))
    if read.question == "meter":
        return Question("meter", heading, f"Does the column '{heading}' count km, miles or hours?",
                        read.choices)
    return None


def _missing(position: Mapping[str, int], kind: str, layout: str, matcher: Matcher,
             filename: str, *, asked: bool) -> list[Question]:
    """Ask for the engine where the file names none; refuse a file that can give no row.

    While headings are being asked about, what is missing may be among them.
    """
    if asked:
        return []
    found = [] if "engine" in position or "engine" not in matcher.columns or (
        matcher.engine and kind != "engines") else [
        Question("engine", "", "Which engine is this file about? It has no column that says so.")]
    needed = [c.name for c in columns_of(kind, layout=layout)
              if c.required and c.name not in (*position, "engine")]
    if kind == "teardowns" and not {"rod", "main"} & set(position):
        needed.append("rod")
    if kind == "engines" and found:
        needed, found = ["engine", *needed], []
    if needed and not found:
        raise FileRefused(f"{filename}: a file of {kind} must have the column "
                          f"{', '.join(needed)}, found no heading for it",
                          hint="match a heading to it, or see oiltrend template "
                               f"{kind} --describe")
    return found


def _unit_notes(pairs: list[Pair]) -> list[Note]:
    return [Note(0, m.heading, "", f"the heading has no unit; read as {m.unit}")
            for m, _ in pairs
            if m.column in ("oxidation", "nitration", "sulfation") and m.heading == m.column]


def _unused_matches(headings: Sequence[str], matcher: Matcher) -> list[Note]:
    present = {match_key(heading) for heading in headings}
    return [Note(0, "", heading, "a match was given for this heading, which the file does not have")
            for heading in matcher.user if heading not in present]
