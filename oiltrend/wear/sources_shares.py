"""Rods, mains and other: what oil cannot part, shared by a stated prior.

Shell metal in the oil comes from rod shells, main shells, and thrust washers and bushes of like
alloy. Their signatures are the same, so no fit can part them. A family prior shares the metal
out, with a range that says how little it knows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import betaincinv

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import Floats

__all__ = ["DEFAULT_PRIOR", "SharePrior", "Shared", "share_rods_mains_other"]


@dataclass(frozen=True, slots=True)
class SharePrior:
    """Prior shares of shell metal, as a Dirichlet distribution.

    Parameters
    ----------
    rods, mains, other : float [-]
        Parts, in any proportion; they are scaled to sum to one.
    strength : float [-]
        How many engines' worth of knowledge the parts stand for; small is wide.
    source : str [-]
        Where the parts come from.

    Raises
    ------
    ValueRefused
        When a part is negative, all are zero, or the strength is not above zero.
    """

    rods: float
    mains: float
    other: float
    strength: float
    source: str

    def __post_init__(self) -> None:
        parts = (self.rods, self.mains, self.other)
        if not all(np.isfinite(parts)) or min(parts) < 0.0 or sum(parts) <= 0.0:
            raise ValueRefused("rods, mains, other: must not be negative and not all zero, "
                               f"found {self.rods:g}, {self.mains:g}, {self.other:g}",
                               hint="give three parts such as 6, 3 and 1")
        if not self.strength > 0.0:
            raise ValueRefused(f"strength: must be above zero, found {self.strength:g}",
                               hint="give a small number such as 10 for little knowledge")


DEFAULT_PRIOR = SharePrior(
    6.0, 3.0, 1.0, 10.0,
    "assumed, no source: six tenths from rod shells, three from main shells, one from thrust "
    "washers and bushes, as if ten engines had been looked into")


class Shared(NamedTuple):
    """Metal of rods, mains and other, with its 95 % range.

    Parameters
    ----------
    value, low, high : array, shape (..., 3) [mg/(1000 use) or mg]
        Rods, mains, other along the last axis.
    share : array, shape (3,) [-]
        Mean prior shares.
    share_low, share_high : array, shape (3,) [-]
        95 % range of the prior shares.
    """

    value: Floats
    low: Floats
    high: Floats
    share: Floats
    share_low: Floats
    share_high: Floats


def share_rods_mains_other(value: Floats, low: Floats, high: Floats, *,
                           prior: SharePrior = DEFAULT_PRIOR) -> Shared:
    """Share the metal of a shell layer between rods, mains and other.

    Equation: ``x_i = s_i x``, with the two ranges put together in quadrature:
    ``x_i,low = s_i x · max(0, 1 − √((1 − low/x)² + (1 − s_i,low/s_i)²))`` and
    ``x_i,high = s_i x + √((s_i (high − x))² + (high (s_i,high − s_i))²)``. The result is
    somewhat wide: 95 to 99 % in simulation.

    Parameters
    ----------
    value, low, high : array, any shape [mg/(1000 use) or mg]
        Metal of the layer and its 95 % range.
    prior : SharePrior [-]
        Prior shares.

    Returns
    -------
    Shared [-]
        The three parts along a new last axis; NaN in gives NaN out.

    Examples
    --------
    >>> shared = share_rods_mains_other(np.array(10.0), np.array(9.0), np.array(11.0))
    >>> shared.value.round(2).tolist()
    [6.0, 3.0, 1.0]
    >>> shared.low.round(1).tolist(), shared.high.round(1).tolist()
    ([2.9, 0.7, 0.0], [9.0, 6.3, 3.6])
    """
    parts = np.array([prior.rods, prior.mains, prior.other])
    share = parts / parts.sum()
    own = prior.strength * share
    with np.errstate(invalid="ignore"):
        ends = [np.where(own > 0.0, betaincinv(own, prior.strength - own, p), 0.0)
                for p in (0.025, 0.975)]
    ends = [np.where(share >= 1.0, 1.0, end) for end in ends]
    amount, bottom, top = (np.asarray(part, float)[..., None] for part in (value, low, high))
    with np.errstate(divide="ignore", invalid="ignore"):
        down = np.where(amount > 0.0, 1.0 - bottom / amount, 0.0)
        down_share = np.where(share > 0.0, 1.0 - ends[0] / share, 0.0)
    least = share * amount * np.maximum(1.0 - np.hypot(down, down_share), 0.0)
    most = share * amount + np.hypot(share * (top - amount), top * (ends[1] - share))
    return Shared(share * amount, least, most, share, ends[0], ends[1])
