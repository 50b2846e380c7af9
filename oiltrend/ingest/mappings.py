"""Answers given for one file, kept under a name for the next file of the same laboratory."""

from __future__ import annotations

from collections.abc import Mapping

from oiltrend import records
from oiltrend.ingest.headings import match_key
from oiltrend.ingest.matching import Matcher
from oiltrend.ingest.model import ParsedFile, ReadOptions

__all__ = ["remember"]


def remember(parsed: ParsedFile, *, name: str, options: ReadOptions,
             engines: Mapping[str, str] | None = None) -> records.Mapping:
    r"""Make a mapping of what the user has said, together with what was remembered before.

    What the file itself decided is not kept: the next file decides for itself.

    Parameters
    ----------
    parsed : ParsedFile [-]
        The file as it was understood with these options.
    name : str [-]
        Name of the mapping.
    options : ReadOptions [-]
        What the user has said.
    engines : mapping of str to str [-]
        The laboratory's unit number to our engine, as confirmed by the user.

    Returns
    -------
    Mapping [-]
        To be handed in with the next file as ``ReadOptions.mapping``.

    Raises
    ------
    ValueRefused
        When a match names no column of this kind.

    Examples
    --------
    >>> from datetime import date
    >>> from oiltrend.ingest.model import Known
    >>> from oiltrend.ingest.reader import read_file
    >>> options = ReadOptions(matches={"Ferrum": "Fe"}, date_order="dmy")
    >>> parsed = read_file(b"engine,Date,Ferrum\nE1,03/04/2025,7\n", filename="a.csv",
    ...                    options=options, known=Known(date(2026, 1, 1)))
    >>> mapping = remember(parsed, name="Lab A", options=options)
    >>> mapping.columns, mapping.units, mapping.date_order
    ({'Ferrum': 'Fe'}, {'Ferrum': 'mg/kg'}, 'dmy')
    """
    before = options.mapping
    columns = dict(before.columns) if before else {}
    units = dict(before.units) if before else {}
    said = Matcher(parsed.kind, options).user
    used = set()
    for matched in parsed.matched:
        if matched.how == "user":
            used.add(match_key(matched.heading))
            columns[matched.heading] = matched.column
            if matched.unit != "-":
                units[matched.heading] = matched.unit
    if parsed.layout == "long":
        # Names of measurands are matched like headings, though they stand in cells.
        columns.update({heading: said[match_key(heading)][0] for heading in options.matches
                        if match_key(heading) not in used})
    return records.Mapping(
        name=name, columns=columns, units=units,
        engines={**(before.engines if before else {}), **(engines or {})},
        lab=options.lab or (before.lab if before else ""),
        date_order=options.date_order or (before.date_order if before else ""),
        decimal=options.decimal or (before.decimal if before else ""),
        meter=options.meter or (before.meter if before else ""),
        engine=before.engine if before else "")
