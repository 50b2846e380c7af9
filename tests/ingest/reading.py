"""What the tests of the reading share: one small store, one day, one way to call."""

from __future__ import annotations

from datetime import date
from typing import Any

from oiltrend.ingest import Known, ParsedFile, ReadOptions, read_file

TODAY = date(2026, 1, 1)


def known(**more: Any) -> Known:
    """Give a store with two engines in km, one in miles and one in hours."""
    basis: dict[str, Any] = {
        "engines": {"E1": "km", "E2": "km", "M1": "mi", "H1": "h"},
        "families": frozenset({"F1"}), "rods": {"E1": 8}, "mains": {"E1": 5}}
    return Known(TODAY, **{**basis, **more})


def read(text: str | bytes, *, kind: str = "samples", filename: str = "lab.csv",
         store: Known | None = None, **options: Any) -> ParsedFile:
    """Read a text; the accounting identity is asserted inside."""
    data = text.encode() if isinstance(text, str) else text
    return read_file(data, filename=filename, kind=kind, options=ReadOptions(**options),
                     known=store or known())


def counts(parsed: ParsedFile) -> list[int]:
    """Give the accounting in the order of the identity."""
    return [parsed.records, parsed.header, parsed.accepted, parsed.held, parsed.rejected,
            parsed.duplicates, parsed.blank]
