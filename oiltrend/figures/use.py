"""The use axis as the reader counts it: km, miles or running hours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused
from oiltrend.units import convert

__all__ = ["UseUnit", "use_unit"]


@dataclass(frozen=True, slots=True)
class UseUnit:
    """One way to count use, and the factor to it from the inside unit (km or h).

    Parameters
    ----------
    unit : str [-]
        km, mi or h.
    factor : float [-]
        Multiplies a use; divides something per use.
    title : str [-]
        Of the axis, with the unit.
    """

    unit: str
    factor: float
    title: str

    def along(self, values: ArrayLike) -> NDArray[np.float64]:
        """Turn uses into the reader's unit.

        Parameters
        ----------
        values : array, shape (n,) [use]
            Distances or hours as kept inside.

        Returns
        -------
        array, shape (n,) [-]
            The same in the reader's unit.
        """
        return np.asarray(values, dtype=float) * self.factor

    def per_thousand(self, values: ArrayLike) -> NDArray[np.float64]:
        """Turn an amount per 1000 uses into the reader's unit.

        Parameters
        ----------
        values : array, shape (n,) [mg/(1000 use)]
            Rates as kept inside.

        Returns
        -------
        array, shape (n,) [-]
            The same per 1000 of the reader's unit.
        """
        return np.asarray(values, dtype=float) / self.factor


def use_unit(unit: str) -> UseUnit:
    """Find the way to count by its unit.

    Parameters
    ----------
    unit : str [-]
        km, mi or h.

    Returns
    -------
    UseUnit [-]
        Factor and axis title.

    Raises
    ------
    ValueRefused
        For any other unit.

    Examples
    --------
    >>> float(use_unit("mi").along([160.9344])[0]), use_unit("h").title
    (100.0, 'Engine running time [h]')
    """
    if unit == "h":
        return UseUnit("h", 1.0, "Engine running time [h]")
    if unit not in ("km", "mi"):
        raise ValueRefused(f"unit: must be one of 'km', 'mi', 'h', found '{unit}'",
                           hint="count the engine in kilometres, miles or hours")
    return UseUnit(unit, convert(1.0, "km", unit), f"Engine distance [{unit}]")
