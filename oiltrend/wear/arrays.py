"""What the arrays of the mass balance must look like, said in one place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused

__all__ = ["check_range", "check_rows"]

Floats = NDArray[np.float64]
FloatLike = NDArray[np.float64] | float


def check_rows(name: str, value: FloatLike, rows: int) -> None:
    """Refuse an array that does not have one number per row.

    Parameters
    ----------
    name : str [-]
        Argument, for the message.
    value : array, shape (n,), or one number [-]
        What was given; one number stands for all rows.
    rows : int [-]
        Number of rows n.

    Raises
    ------
    ValueRefused
        When the shape is another one.

    Examples
    --------
    >>> check_rows("use", np.zeros(3), 3)
    """
    if np.ndim(value) and np.shape(value) != (rows,):
        raise ValueRefused(
            f"{name}: must have one number per row, {rows} rows, found shape {np.shape(value)}",
            hint="give an array of shape (n,) or one number for all rows")


def check_range(name: str, value: FloatLike, *, high: float = np.inf) -> None:
    """Refuse numbers below 0 or above a highest one. NaN is an unknown and passes.

    Parameters
    ----------
    name : str [-]
        Argument, for the message.
    value : array, any shape [-]
        What was given.
    high : float [-]
        Highest number allowed.

    Raises
    ------
    ValueRefused
        When a number lies outside.

    Examples
    --------
    >>> check_range("liquid_share", np.array([0.0, 0.5, np.nan]), high=1.0)
    """
    numbers = np.asarray(value, float)
    outside = (numbers < 0.0) | (numbers > high)
    if outside.any():
        rule = "must not be negative" if np.isinf(high) else f"must lie between 0 and {high:g}"
        raise ValueRefused(f"{name}: {rule}, found {numbers[outside].flat[0]:g}",
                           hint="correct the value or leave it blank")
