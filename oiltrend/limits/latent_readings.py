"""Reported wear rates as intervals with their errors: what the latent-rate model observes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["RateReadings", "rate_readings"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RateReadings:
    """Reported rates as intervals; where low and high agree it is a number.

    Parameters
    ----------
    low, high : array, shape (n, m) [any]
        What was reported lies between them: a number twice; ``<v`` is minus infinity to v;
        ``>v`` is v to infinity; NaN where nothing was reported.
    uncertainty : array, shape (n, m) [any]
        Standard uncertainty u of the rate, for a bound that of the rate at the bound.
    relative : array, shape (n, m) [-]
        Share r of the rate in that uncertainty: a reading y of uncertainty u would have had
        ``√(u² + r²·(λ² − y²))`` at the true rate λ. Without it a reading that came out low by
        chance would look the more certain for it.

    Raises
    ------
    ValueRefused
        When the shapes do not agree.
    """

    low: Floats
    high: Floats
    uncertainty: Floats
    relative: Floats

    def __post_init__(self) -> None:
        shapes = [array.shape for array in self.arrays()]
        if len(set(shapes)) > 1 or len(shapes[0]) != 2:
            raise ValueRefused(
                "rates: low, high, uncertainty and relative must have one shape (n, m), found "
                + ", ".join(str(shape) for shape in shapes),
                hint="give one number per row and measurand")

    def arrays(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Give the four arrays.

        Returns
        -------
        tuple of four arrays, shape (n, m) [any]
            Low, high, uncertainty, relative.
        """
        return self.low, self.high, self.uncertainty, self.relative

    def take(self, rows: NDArray[np.intp]) -> RateReadings:
        """Give some rows.

        Parameters
        ----------
        rows : array of int, shape (k,) [-]
            Which.

        Returns
        -------
        RateReadings [-]
            Those rows.
        """
        return RateReadings(*(array[rows] for array in self.arrays()))

    def fixed(self) -> Floats:
        """Give the part of the variance that does not grow with the rate.

        Returns
        -------
        array, shape (n, m) [any]
            ``u² − r²·y²``, at least a twentieth of u²; u² for a result that is still to come.
        """
        number = np.where(np.isfinite(self.low), self.low, self.high)
        grown = (self.relative * np.fmax(np.nan_to_num(number), 0.0)) ** 2
        return np.asarray(np.fmax(self.uncertainty**2 - grown, 0.05 * self.uncertainty**2))


def rate_readings(rate: ArrayLike, uncertainty: ArrayLike, *, relative: ArrayLike = 0.0,
                  below: ArrayLike = False, above: ArrayLike = False) -> RateReadings:
    """Turn rates and qualifiers into intervals.

    Parameters
    ----------
    rate : array, shape (n, m) [any]
        Rates; for a reading ``<v`` or ``>v`` the rate that v itself would have given.
    uncertainty : array, broadcast to (n, m) [any]
        Standard uncertainty of each.
    relative : array, broadcast to (n, m) [-]
        Share of the rate in it; a constant test precision has 0, one in proportion its share.
    below, above : bool or array of bool, broadcast to (n, m) [-]
        True where the reading was below its limit, or above it.

    Returns
    -------
    RateReadings [-]
        Intervals; a rate or uncertainty that is NaN stands for nothing reported.

    Examples
    --------
    >>> told = rate_readings([[3.0, 2.0]], 0.5, below=[[False, True]])
    >>> told.low, told.high
    (array([[  3., -inf]]), array([[3., 2.]]))
    """
    number, spread = np.broadcast_arrays(np.asarray(rate, dtype=float),
                                         np.asarray(uncertainty, dtype=float))
    number = np.where(np.isnan(spread), np.nan, number)
    missing = np.isnan(number)
    return RateReadings(np.where(np.asarray(below) & ~missing, -np.inf, number),
                        np.where(np.asarray(above) & ~missing, np.inf, number),
                        np.where(missing & np.isnan(spread), np.nan, spread),
                        np.broadcast_to(np.asarray(relative, dtype=float), number.shape))
