"""Files to records and rejects: bytes in, data out, nothing written anywhere."""

from oiltrend.ingest.model import (
    KINDS,
    WEB_CAPS,
    HeldRow,
    Item,
    Known,
    MatchedColumn,
    Note,
    ParsedFile,
    Question,
    ReadOptions,
    Reject,
    SizeCaps,
    accounting,
)

__all__ = [
    "KINDS", "WEB_CAPS", "HeldRow", "Item", "Known", "MatchedColumn", "Note", "ParsedFile",
    "Question", "ReadOptions", "Reject", "SizeCaps", "accounting",
]
