"""The one small family of errors and warnings.

::

    OiltrendError                 every error a user can be told about
    ├── InputError                what was handed in cannot be used
    │   ├── FileRefused           a whole file cannot be read as what it claims to be
    │   └── ValueRefused          one value breaks its rule
    ├── StoreError                the store cannot do what was asked
    │   ├── StoreRefused          this file, folder or database must not be opened
    │   ├── ChangedMeanwhile      someone else changed the record first
    │   └── NotThere              no such record, or none that the caller may see
    └── NotAllowed                the caller's role does not cover this use

    OiltrendWarning               the work was done, with a consequence worth knowing

Every message says four things: where, the rule, what was found, what to do.
"""

from __future__ import annotations

__all__ = [
    "ChangedMeanwhile",
    "FileRefused",
    "InputError",
    "NotAllowed",
    "NotThere",
    "OiltrendError",
    "OiltrendWarning",
    "StoreError",
    "StoreRefused",
    "ValueRefused",
]


class OiltrendError(Exception):
    """An error that a user can be told about in one sentence.

    Parameters
    ----------
    message : str [-]
        Where it happened, the rule, and what was found.
    hint : str [-]
        What to do about it; empty when there is nothing to do.

    Examples
    --------
    >>> str(OiltrendError("line 3: a date must exist, found 2025-02-30", hint="correct the date"))
    'line 3: a date must exist, found 2025-02-30; correct the date'
    """

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message}; {self.hint}" if self.hint else self.message


class InputError(OiltrendError):
    """What was handed in cannot be used."""


class FileRefused(InputError):
    """A whole file cannot be read as what it claims to be."""


class ValueRefused(InputError):
    """One value breaks its rule."""


class StoreError(OiltrendError):
    """The store cannot do what was asked."""


class StoreRefused(StoreError):
    """The file, folder or database must not be opened."""


class ChangedMeanwhile(StoreError):
    """Someone else changed the record first."""


class NotThere(StoreError):
    """No such record, or none that the caller may see."""


class NotAllowed(OiltrendError):
    """The caller's role does not cover this use."""


class OiltrendWarning(UserWarning):
    """The work was done, with a consequence worth knowing."""
