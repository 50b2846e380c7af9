"""Files to records and rejects: bytes in, data out, nothing written anywhere.

The flow reads off the modules: ``decode`` (bytes to text), ``sheet`` (text to rows),
``matching`` (headings to columns), ``decide`` (what must be asked), ``cells`` (text to values),
``samples``, ``long``, ``teardowns`` and ``registers`` (rows to records), ``repeats``
(duplicates and contradictions); ``reader`` runs them.
"""

from oiltrend.ingest.columns import Column, columns_of, template_headings
from oiltrend.ingest.items import item_hash, item_key
from oiltrend.ingest.mappings import remember
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
from oiltrend.ingest.protect import protect, unprotect
from oiltrend.ingest.reader import read_file

__all__ = [
    "KINDS", "WEB_CAPS", "Column", "HeldRow", "Item", "Known", "MatchedColumn", "Note",
    "ParsedFile", "Question", "ReadOptions", "Reject", "SizeCaps", "accounting", "columns_of",
    "item_hash", "item_key", "protect", "read_file", "remember", "template_headings",
    "unprotect",
]
