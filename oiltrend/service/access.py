"""Who may do what: the one place where a caller's role is checked."""

from __future__ import annotations

from oiltrend.errors import NotAllowed
from oiltrend.records import Caller

__all__ = ["USES", "require"]

USES: dict[str, frozenset[str]] = {
    "see the fleet": frozenset({"shop", "technician"}),
    "add results": frozenset({"shop", "technician"}),
    "record a teardown": frozenset({"shop", "technician"}),
    "answer a doubt": frozenset({"shop", "technician"}),
    "propose limits": frozenset({"shop", "technician"}),
    "set limits": frozenset({"shop"}),
    "edit the workshop": frozenset({"shop"}),
    "undo an import": frozenset({"shop"}),
    "export": frozenset({"shop", "technician"}),
}


def require(caller: Caller, use: str) -> None:
    """Let the caller through, or say why not.

    Parameters
    ----------
    caller : Caller [-]
        Who asks.
    use : str [-]
        One of :data:`USES`.

    Raises
    ------
    NotAllowed
        When the caller's role does not cover the use.

    Examples
    --------
    >>> require(Caller("Ines", "shop"), "set limits")
    >>> require(Caller("Ines", "owner"), "set limits")
    Traceback (most recent call last):
    ...
    oiltrend.errors.NotAllowed: to set limits you must be shop, found owner; ask the shop
    """
    allowed = USES[use]
    if caller.role not in allowed:
        raise NotAllowed(f"to {use} you must be {' or '.join(sorted(allowed))}, "
                         f"found {caller.role}", hint="ask the shop")
