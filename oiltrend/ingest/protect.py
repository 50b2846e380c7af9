"""Text that a spreadsheet would take for a formula: marked on the way out, cleared on the way in.

The two functions are each other's inverse, so that our own files read back as they were
written. Numbers are never marked.
"""

from __future__ import annotations

import re

__all__ = ["protect", "unprotect"]

# A line that begins, after blanks and marks that were there already, with one of the
# characters a spreadsheet reads as the start of a formula (OWASP list, with NUL). The blanks
# and marks in any order make the set closed under marking, so that the way back is exact.
_AHEAD = r"(?=[ \u00a0\ufeff']*[=+\-@\t\x00])"
_START = rf"(?:\A(?:{_AHEAD}|(?=[ \u00a0\ufeff']*[\r\n]))|(?<=[\r\n]){_AHEAD})"
_DANGEROUS = re.compile(_START)
_MARKED = re.compile(rf"{_START}'{_AHEAD}|\A'(?=[ \u00a0\ufeff']*[\r\n])")


def protect(text: str) -> str:
    r"""Put a ``'`` before each line that a spreadsheet would take for a formula.

    Parameters
    ----------
    text : str [-]
        A text cell of an export, never a number.

    Returns
    -------
    str [-]
        The cell with its mark.

    Examples
    --------
    >>> protect("=1+1"), protect("Ines"), protect("one\n@two")
    ("'=1+1", 'Ines', "one\n'@two")
    """
    return _DANGEROUS.sub("'", text)


def unprotect(text: str) -> str:
    """Take away the mark that :func:`protect` put there.

    Parameters
    ----------
    text : str [-]
        A text cell of a file.

    Returns
    -------
    str [-]
        The text without the mark.

    Examples
    --------
    >>> unprotect("'=1+1"), unprotect("'tis"), unprotect(protect("'-5"))
    ('=1+1', "'tis", "'-5")
    """
    return _MARKED.sub("", text) if "'" in text else text
