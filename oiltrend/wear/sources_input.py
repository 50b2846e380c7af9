"""What a source split takes: metal found, element by element, and the signatures to split it by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import FloatLike, Floats

__all__ = ["COMPOSITION_SPREAD", "Found", "Signatures", "hidden_uncertainty", "share_spread"]

COMPOSITION_SPREAD = 0.25
"""Relative uncertainty of a minor share of a source. Assumed: profiles of sources are known to
tens of per cent, and debris is never quite the alloy it came from."""


# Standard uncertainty of a hidden cell as a share of its interval, where the ends of the
# interval already carry the uncertainty of the bound; assumed.
_HIDDEN_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Found:
    """Metal found in n rows: rates of an interval, or masses summed over many.

    A cell with a value counts by its value and uncertainty. A cell without a value but with
    bounds counts by its interval: any amount inside costs nothing, an amount outside costs its
    distance in uncertainties. A cell with neither was not measured. The bounds are those of
    the reading, the uncertainty is not part of them.

    Parameters
    ----------
    elements : tuple of str [-]
        Symbols of the m columns.
    value : array, shape (n, m) [mg/(1000 use) or mg]
        Metal found; may be negative; NaN where it has no value.
    uncertainty : array, shape (n, m) [mg/(1000 use) or mg]
        Standard uncertainty, above zero; NaN makes a cell not measured.
    low, high : array, shape (n, m), or None [mg/(1000 use) or mg]
        Interval of a cell without a value; a high end may be infinite.

    Raises
    ------
    ValueRefused
        When shapes do not fit, an uncertainty is not above zero, or a bound stands alone.
    """

    elements: tuple[str, ...]
    value: Floats
    uncertainty: Floats
    low: Floats | None = None
    high: Floats | None = None

    def __post_init__(self) -> None:
        shape = self.value.shape
        if len(shape) != 2 or shape[1] != len(self.elements):
            raise ValueRefused(
                f"value: must have rows and {len(self.elements)} elements, found shape {shape}",
                hint="give an array of shape (n, m)")
        if (self.low is None) != (self.high is None):
            raise ValueRefused("low and high: must be given together, found one alone",
                               hint="give both bounds or neither")
        for name in ("uncertainty", "low", "high"):
            array = getattr(self, name)
            if array is not None and array.shape != shape:
                raise ValueRefused(
                    f"{name}: must have the shape of value {shape}, found {array.shape}",
                    hint="give one number per row and element")
        wrong = self.uncertainty <= 0.0
        if wrong.any():
            raise ValueRefused("uncertainty: must be above zero, found "
                               f"{self.uncertainty[wrong].flat[0]:g}",
                               hint="give the standard uncertainty, or NaN if it is not known")


@dataclass(frozen=True, slots=True)
class Signatures:
    """What each source sheds, for k kinds of engine, and which kind each row is.

    Engines with the same shells share a kind. Shells of one material are one source, whatever
    places they are fitted in: their metal is the same metal.

    Parameters
    ----------
    sources : tuple of str [-]
        Names of the s sources.
    shares : array, shape (k, s, m) [-]
        Mass share of each element in what a source sheds; all zero where a kind of engine has
        no such source.
    spread : array, shape (k, s, m) [-]
        Standard uncertainty of the shares.
    kind : array of int, shape (n,) [-]
        Kind of each row.

    Raises
    ------
    ValueRefused
        When shapes do not fit, a share lies outside 0 to 1, or a kind is not there.
    """

    sources: tuple[str, ...]
    shares: Floats
    spread: Floats
    kind: NDArray[np.integer]

    def __post_init__(self) -> None:
        shape = self.shares.shape
        if len(shape) != 3 or shape[1] != len(self.sources):
            raise ValueRefused(
                f"shares: must have kinds, {len(self.sources)} sources and elements, "
                f"found shape {shape}", hint="give an array of shape (k, s, m)")
        if self.spread.shape != shape:
            raise ValueRefused(f"spread: must have the shape of shares {shape}, "
                               f"found {self.spread.shape}", hint="give one number per share")
        for name, array, most in (("shares", self.shares, 1.0), ("spread", self.spread, np.inf)):
            wrong = ~((array >= 0.0) & (array <= most))
            if wrong.any():
                rule = "lie between 0 and 1" if most == 1.0 else "not be negative"
                raise ValueRefused(f"{name}: must {rule}, found {array[wrong].flat[0]:g}",
                                   hint="give mass shares, not per cent")
        wrong_kind = (self.kind < 0) | (self.kind >= shape[0])
        if wrong_kind.any():
            raise ValueRefused(f"kind: must be 0 to {shape[0] - 1}, "
                               f"found {self.kind[wrong_kind][0]}",
                               hint="number the sets of signatures from 0")


def share_spread(shares: FloatLike, *, relative: FloatLike = COMPOSITION_SPREAD) -> Floats:
    """Give the standard uncertainty of mass shares from one relative figure.

    Equation: ``u = r · w · (1 − w)``: a minor constituent is uncertain by the fraction r of
    itself, a balance by as much as the minor ones leave it.

    Parameters
    ----------
    shares : array, any shape [-]
        Mass shares w.
    relative : array, broadcast [-]
        r, the standard uncertainty of the logarithm of w/(1 − w).

    Returns
    -------
    array [-]
        Standard uncertainty of each share.

    Examples
    --------
    >>> share_spread(np.array([0.88, 0.10, 0.02, 0.0])).round(4).tolist()
    [0.0264, 0.0225, 0.0049, 0.0]
    """
    share = np.asarray(shares, float)
    return np.asarray(np.asarray(relative, float) * share * (1.0 - share))


def hidden_uncertainty(uncertainty: Floats, low: Floats, high: Floats) -> Floats:
    """Give cells that are only known by an interval an uncertainty of their own.

    The ledger's intervals of hidden cells already reach out by the uncertainty of the bound,
    and it gives no standard uncertainty beside them. What lies outside must still cost
    something finite: a tenth of the interval counts as one standard uncertainty.

    Equation: ``u = 0.1 (high − low)``, or 0.1 low where the interval is open.

    Parameters
    ----------
    uncertainty : array, any shape [mg/(1000 use) or mg]
        Standard uncertainties; NaN in hidden cells.
    low, high : array, same shape [mg/(1000 use) or mg]
        Ends of the intervals.

    Returns
    -------
    array [mg/(1000 use) or mg]
        Standard uncertainties; still NaN where there is no interval either.

    Examples
    --------
    >>> nan = np.nan
    >>> hidden_uncertainty(np.array([0.3, nan, nan]), np.array([1.0, -1.0, nan]),
    ...                    np.array([2.0, 3.0, nan])).tolist()
    [0.3, 0.4, nan]
    """
    width = np.where(np.isinf(high), np.abs(low), high - low)
    return np.where(np.isnan(uncertainty) & (width > 0.0), _HIDDEN_SHARE * width, uncertainty)
