"""Yes, no, or cannot be told: a comparison with a censored reading has three answers."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["Answer"]


class Answer(IntEnum):
    """What a comparison can say. Compare with ``== Answer.YES``, never by truth value.

    A reading "<30" against the limit "> 25" is CANNOT_TELL: the value may lie on either side.
    NOT_ASKED marks a cell without a value or without a limit.

    Examples
    --------
    >>> Answer(-1).name
    'CANNOT_TELL'
    """

    NOT_ASKED = -2
    CANNOT_TELL = -1
    NO = 0
    YES = 1
