"""Yes, no, or cannot be told: the answers of this room's comparisons.

The numbers are those of the answers in the limits room, which this room may not import; a test
holds the two together.
"""

from __future__ import annotations

from enum import IntEnum

__all__ = ["Answer"]


class Answer(IntEnum):
    """What a comparison can say. Compare with ``== Answer.YES``, never by truth value.

    CANNOT_TELL: the reading's own uncertainty, or its reporting limit, reaches over the
    question. NOT_ASKED: nothing was measured.

    Examples
    --------
    >>> Answer(-1).name
    'CANNOT_TELL'
    """

    NOT_ASKED = -2
    CANNOT_TELL = -1
    NO = 0
    YES = 1
