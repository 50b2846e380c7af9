"""Which rods run on which crankpin, which half-bearings an engine has, and how large they are."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["HALF_ARC_DEG", "Crankpins", "RodHalf", "loaded_area", "parse_crankpins", "pin_of_rod",
           "rod_halves", "rods_of_pin", "share_text"]

HALF_ARC_DEG = 180.0
"""Arc of a whole half-bearing."""

_HINT = "join the rods of a pin by + and part the pins by ;, for instance 1+5;2+6;3+7;4+8"
# ASCII digits only; two of them are more rods than any engine of this trade has.
_ROD = re.compile(r"[0-9]{1,2}")


class RodHalf(NamedTuple):
    """One place for a shell.

    Parameters
    ----------
    rod : int [-]
        Rod number, from 1.
    half : str [-]
        ``rod`` for the half in the rod, ``cap`` for the half in the cap.
    """

    rod: int
    half: Literal["rod", "cap"]


@dataclass(frozen=True, slots=True)
class Crankpins:
    """The rods on each crankpin, from the front of the crankshaft.

    Parameters
    ----------
    pins : tuple of tuples of int [-]
        ``pins[0]`` holds the rods on crankpin 1, in their order along the pin.
    """

    pins: tuple[tuple[int, ...], ...]

    @property
    def rods(self) -> int:
        """Number of rods."""
        return sum(len(pin) for pin in self.pins)


def _rod_number(text: str, pin: int) -> int:
    word = text.strip()
    if not _ROD.fullmatch(word) or int(word) < 1:
        raise ValueRefused(f"crankpins: pin {pin} must list rod numbers from 1 to 99, "
                           f"found '{word}'", hint=_HINT)
    return int(word)


def parse_crankpins(text: str, *, rods: int | None = None) -> Crankpins:
    """Read which rods share a crankpin.

    Parameters
    ----------
    text : str [-]
        Pins parted by ``;``, rods of one pin joined by ``+``: ``1+5;2+6;3+7;4+8``.
    rods : int or None [-]
        Number of rods the engine has, where that is known; otherwise the highest number listed.

    Returns
    -------
    Crankpins [-]
        Rods by pin, every rod from 1 to the number of rods exactly once.

    Raises
    ------
    ValueRefused
        When the text is blank, an entry is no rod number, a rod is listed twice or left out, or
        a number is higher than the engine has rods.

    Examples
    --------
    >>> parse_crankpins("1+5;2+6;3+7;4+8", rods=8).pins
    ((1, 5), (2, 6), (3, 7), (4, 8))
    """
    if not text.strip():
        raise ValueRefused("crankpins: must list the rods of each pin, found nothing", hint=_HINT)
    pins = tuple(tuple(_rod_number(rod, number) for rod in pin.split("+"))
                 for number, pin in enumerate(text.split(";"), start=1))
    listed = [rod for pin in pins for rod in pin]
    for rod in listed:
        if listed.count(rod) > 1:
            raise ValueRefused(f"crankpins: a rod runs on one pin, found rod {rod} "
                               f"{listed.count(rod)} times in '{text}'",
                               hint="list every rod once")
    wanted = max(listed) if rods is None else rods
    if max(listed) > wanted:
        raise ValueRefused(f"crankpins: the engine has {wanted} rods, found rod {max(listed)} "
                           f"in '{text}'", hint="correct the list or the number of rods")
    missing = [str(rod) for rod in range(1, wanted + 1) if rod not in listed]
    if missing:
        raise ValueRefused(f"crankpins: every rod from 1 to {wanted} must be listed, found no "
                           f"{', '.join(missing)} in '{text}'",
                           hint="add what is missing or correct the number of rods")
    return Crankpins(pins)


def rods_of_pin(layout: Crankpins, pin: int) -> tuple[int, ...]:
    """List the rods on a crankpin.

    Parameters
    ----------
    layout : Crankpins [-]
        From :func:`parse_crankpins`.
    pin : int [-]
        Crankpin, from 1.

    Returns
    -------
    tuple of int [-]
        Rods, in their order along the pin.

    Raises
    ------
    ValueRefused
        When there is no such pin.

    Examples
    --------
    >>> rods_of_pin(parse_crankpins("1+5;2+6;3+7;4+8"), 2)
    (2, 6)
    """
    if not 1 <= pin <= len(layout.pins):
        raise ValueRefused(f"pin: must be 1 to {len(layout.pins)}, found {pin}",
                           hint="count the crankpins from the front, starting at 1")
    return layout.pins[pin - 1]


def pin_of_rod(layout: Crankpins, rod: int) -> int:
    """Find the crankpin that a rod runs on.

    Parameters
    ----------
    layout : Crankpins [-]
        From :func:`parse_crankpins`.
    rod : int [-]
        Rod number, from 1.

    Returns
    -------
    int [-]
        Crankpin, from 1.

    Raises
    ------
    ValueRefused
        When there is no such rod.

    Examples
    --------
    >>> pin_of_rod(parse_crankpins("1+5;2+6;3+7;4+8"), 7)
    3
    """
    for number, pin in enumerate(layout.pins, start=1):
        if rod in pin:
            return number
    raise ValueRefused(f"rod: must be 1 to {layout.rods}, found {rod}",
                       hint="use a rod number of this engine")


def rod_halves(rods: int) -> tuple[RodHalf, ...]:
    """List the places for rod shells of an engine, rod by rod, rod half first.

    Parameters
    ----------
    rods : int [-]
        Number of rods.

    Returns
    -------
    tuple of RodHalf [-]
        Two places a rod.

    Raises
    ------
    ValueRefused
        When the number is less than 1.

    Examples
    --------
    >>> [tuple(place) for place in rod_halves(2)]
    [(1, 'rod'), (1, 'cap'), (2, 'rod'), (2, 'cap')]
    """
    if rods < 1:
        raise ValueRefused(f"rods: must be 1 or more, found {rods}",
                           hint="enter the number of connecting rods")
    halves: tuple[Literal["rod", "cap"], ...] = ("rod", "cap")
    return tuple(RodHalf(rod, half) for rod in range(1, rods + 1) for half in halves)


def loaded_area(diameter: ArrayLike, width: ArrayLike, *,
                arc_deg: ArrayLike = HALF_ARC_DEG) -> NDArray[np.float64]:
    """Give the running surface of a half-bearing, or of the loaded arc of it.

    Equation: ``A = π·D·B · arc/360``, for a whole half ``(π·D/2)·B``: the surface itself, not
    its projection ``D·B``.

    Parameters
    ----------
    diameter : array [mm]
        Crankpin diameter.
    width : array [mm]
        Effective shell width.
    arc_deg : array [deg]
        Arc that carries; the whole half by default.

    Returns
    -------
    array [mm²]
        Area of one half.

    Examples
    --------
    >>> float(loaded_area(48.0, 20.0))
    1507.964

    References
    ----------
    Surface of a cylinder.
    """
    return np.asarray(math.pi * np.asarray(diameter, dtype=float)
                      * np.asarray(width, dtype=float) * np.asarray(arc_deg, dtype=float) / 360.0)


def share_text(diameter: float, width: float, *, arc_deg: float = HALF_ARC_DEG) -> str:
    """Say what a share of the loaded area is a share of.

    Parameters
    ----------
    diameter : float [mm]
        Crankpin diameter.
    width : float [mm]
        Effective shell width.
    arc_deg : float [deg]
        Arc that carries.

    Returns
    -------
    str [-]
        The loaded area in degrees of arc, width and square millimetres.

    Examples
    --------
    >>> share_text(52.0, 19.5)
    'of the loaded area of one half: 180° of arc, 19.5 mm wide, 1593 mm²'
    """
    area = float(loaded_area(diameter, width, arc_deg=arc_deg))
    return (f"of the loaded area of one half: {arc_deg:g}° of arc, {width:g} mm wide, "
            f"{area:.0f} mm²")
