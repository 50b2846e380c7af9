"""Which layers the laboratory cannot see, and what the build date says about lead."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from oiltrend.bearing.materials import LAYERS, ShellMaterial
from oiltrend.errors import ValueRefused

__all__ = ["LEAD_FREE_SINCE", "BlindSpot", "LeadPrior", "blind_spots", "lead_prior"]

# A layer shows by an element when at least this share of it is that element; assumed.
_SHOWS = 0.05
# Elements that reach the oil from so many other places that a layer of them alone cannot be
# told: pistons shed aluminium and silicon.
_FROM_ELSEWHERE = {"Al", "Si"}

LEAD_FREE_SINCE = (2011, 7, 1)
"""Cars first put on the EU market from this day on may not have lead in shells and bushes of
engines: Directive 2000/53/EC, Annex II, entry 4(b), looked up."""


class BlindSpot(NamedTuple):
    """A layer of which the oil says little or nothing.

    ``no_metal``: a coating without metal. ``not_measured``: none of its elements was measured.
    ``masked``: the only elements measured of it also come from pistons. ``lead_free_on_lead``:
    an overlay without lead over a lining with lead; lead stays silent until the overlay is
    through.

    Parameters
    ----------
    code : str [-]
        One of the four.
    role : str [-]
        overlay or lining.
    designation : str [-]
        The layer.
    """

    code: str
    role: str
    designation: str


class LeadPrior(StrEnum):
    """What may be said about lead in the rod shells before looking at the oil.

    ``possible``: leaded shells may be fitted, also as spare parts. ``unlikely``: a car of the
    EU market from July 2011 on. ``no_statement``: not a car of the EU market, or no date.
    """

    POSSIBLE = "possible"
    UNLIKELY = "unlikely"
    NO_STATEMENT = "no_statement"


def blind_spots(shell: ShellMaterial, elements: Sequence[str]) -> tuple[BlindSpot, ...]:
    """Name the layers of a shell that the elements measured do not show.

    Parameters
    ----------
    shell : ShellMaterial [-]
        What the shell is made of.
    elements : sequence of str [-]
        Elements that the laboratory measures.

    Returns
    -------
    tuple of BlindSpot [-]
        Overlay first; empty when every known layer shows.

    Examples
    --------
    >>> coated = ShellMaterial("polymer", "AlSn20Cu", "polymer")
    >>> [tuple(spot) for spot in blind_spots(coated, ("Fe", "Al", "Sn"))]
    [('no_metal', 'overlay', 'polymer')]
    >>> mixed = ShellMaterial("AlSn20", "CuPb24Sn4", "trimetal")
    >>> [spot.code for spot in blind_spots(mixed, ("Cu", "Pb", "Sn", "Al"))]
    ['lead_free_on_lead']
    """
    found: list[BlindSpot] = []
    for role, designation in (("overlay", shell.overlay), ("lining", shell.lining)):
        if designation is None:
            continue
        shares = LAYERS[designation].shares
        shown = {symbol for symbol, share in shares.items()
                 if share >= _SHOWS and symbol in elements}
        if not shares:
            found.append(BlindSpot("no_metal", role, designation))
        elif not shown:
            found.append(BlindSpot("not_measured", role, designation))
        elif shown <= _FROM_ELSEWHERE:
            found.append(BlindSpot("masked", role, designation))
    if shell.overlay is not None and shell.lining is not None:
        above, below = (LAYERS[name].shares.get("Pb", 0.0) >= _SHOWS
                        for name in (shell.overlay, shell.lining))
        if below and not above:
            found.append(BlindSpot("lead_free_on_lead", "overlay", shell.overlay))
    return tuple(found)


def lead_prior(first_on_market: tuple[int, int, int] | None, *, eu_car: bool) -> LeadPrior:
    """Say what the build date tells about lead in the rod shells: a prior, never a finding.

    Spare shells for a car first put on the market before July 2011 may hold lead, whenever
    they are fitted; so only the date of the car counts. Lorries, machines, motorcycles and
    aircraft are outside the directive.

    Parameters
    ----------
    first_on_market : tuple of int or None [-]
        Year, month and day on which the car was first put on the market; None if not known.
    eu_car : bool [-]
        Whether it is a passenger car or light van made for the EU market (classes M1, N1).

    Returns
    -------
    LeadPrior [-]
        possible, unlikely, or no_statement.

    Raises
    ------
    ValueRefused
        When month or day cannot be.

    Examples
    --------
    >>> lead_prior((2011, 6, 30), eu_car=True).value, lead_prior((2011, 7, 1), eu_car=True).value
    ('possible', 'unlikely')

    References
    ----------
    Directive 2000/53/EC, Annex II, entries 4(a) and 4(b); the dates were looked up.
    """
    if first_on_market is None or not eu_car:
        return LeadPrior.NO_STATEMENT
    _, month, day = first_on_market
    if not (1 <= month <= 12 and 1 <= day <= 31):
        raise ValueRefused("first_on_market: must be a year, month and day, found "
                           f"{first_on_market}", hint="write the year first")
    return LeadPrior.UNLIKELY if first_on_market >= LEAD_FREE_SINCE else LeadPrior.POSSIBLE
