"""What a browser sends is anybody's: these turn it into what a callback may rely on."""

from __future__ import annotations

from collections.abc import Collection

__all__ = ["choice", "short_text", "whole"]


def short_text(found: object, *, most: int = 200) -> str:
    """Take a text, without blanks at its ends; anything else is none.

    Parameters
    ----------
    found : object [-]
        As received.
    most : int [-]
        Longer texts are cut.

    Returns
    -------
    str [-]
        The text.

    Examples
    --------
    >>> short_text("  J-1042 "), short_text({"$ne": ""}), short_text(None)
    ('J-1042', '', '')
    """
    return found.strip()[:most] if isinstance(found, str) else ""


def choice(found: object, allowed: Collection[str], *, default: str) -> str:
    """Take one of the allowed words; anything else is the default.

    Parameters
    ----------
    found : object [-]
        As received.
    allowed : collection of str [-]
        The words.
    default : str [-]
        Used for whatever is not among them.

    Returns
    -------
    str [-]
        One of the words, or the default.

    Examples
    --------
    >>> choice("alarm", ("alert", "alarm"), default=""), choice(7, ("alert",), default="")
    ('alarm', '')
    """
    return found if isinstance(found, str) and found in allowed else default


def whole(found: object, *, low: int, high: int, default: int) -> int:
    """Take a whole number within its range; anything else is the default.

    Parameters
    ----------
    found : object [-]
        As received.
    low, high : int [-]
        Ends of the range; a number beyond is moved to the end.
    default : int [-]
        Used for whatever is not a whole number.

    Returns
    -------
    int [-]
        The number.

    Examples
    --------
    >>> whole(3, low=1, high=9, default=1), whole(99, low=1, high=9, default=1)
    (3, 9)
    >>> whole("3; drop", low=1, high=9, default=1), whole(True, low=1, high=9, default=5)
    (1, 5)
    """
    if isinstance(found, bool) or not isinstance(found, int):
        return default
    return max(low, min(high, found))
