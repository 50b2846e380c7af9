"""What a reading says about the true value: from where to where it may lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["COVERAGE", "Bounds", "bounds"]

COVERAGE = 2.0
"""Standard uncertainties on either side of a reading, about 95 % (GUM, JCGM 100:2008, 6.2)."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """From where to where the true value may lie.

    Parameters
    ----------
    low, high : array, same shape [any]
        Bounds in the unit of the reading; minus or plus infinity where that side is open, NaN
        where nothing was reported.
    """

    low: NDArray[np.float64]
    high: NDArray[np.float64]


def bounds(value: ArrayLike, u: ArrayLike, *, below: ArrayLike = False,
           above: ArrayLike = False) -> Bounds:
    """Bound the true value behind a reading.

    Equation: ``value ± 2u`` for a number; "<v" lies below v and ">v" above v. A number of
    unknown uncertainty is open on both sides: it is not taken as exact.

    Parameters
    ----------
    value : array, any shape [any]
        Numbers; for "<v" and ">v" the number v; NaN where there is none.
    u : array, broadcastable [any]
        One standard uncertainty, in the unit of the value; NaN where not known.
    below, above : array of bool, broadcastable [-]
        True where the reading was "<v", or ">v". With NaN as value: not detected, no bound.

    Returns
    -------
    Bounds [-]
        Low and high.

    Examples
    --------
    >>> found = bounds([10.0, 5.0, 9.0], 1.0, below=[False, True, False])
    >>> found.low, found.high
    (array([  8., -inf,   7.]), array([12.,  5., 11.]))
    """
    number, spread, low, high = np.broadcast_arrays(
        np.asarray(value, dtype=float), np.asarray(u, dtype=float),
        np.asarray(below, dtype=bool), np.asarray(above, dtype=bool))
    reach = np.where(np.isnan(spread), np.inf, COVERAGE * spread)
    known = ~np.isnan(number)
    least = np.where(low, -np.inf, np.where(high, np.where(known, number, -np.inf),
                                            number - reach))
    most = np.where(high, np.inf, np.where(low, np.where(known, number, np.inf),
                                           number + reach))
    return Bounds(least, most)
