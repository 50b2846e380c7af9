"""The plain straight line: least squares with standard errors, many series at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Line", "least_squares"]


@dataclass(frozen=True, slots=True)
class Line:
    """Least-squares lines of many series.

    Parameters
    ----------
    slope, slope_error : array, shape (...) [any/use]
        Slope and its standard error.
    intercept, intercept_error : array, shape (...) [any]
        Value at x = 0 and its standard error.
    residual_sd : array, shape (...) [any]
        Standard deviation of the residuals, n − 2 degrees of freedom.
    r_squared : array, shape (...) [-]
        Share of the variance that the line explains; NaN where there is none to explain.
    n : array of int, shape (...) [-]
        Samples used.
    """

    slope: NDArray[np.float64]
    slope_error: NDArray[np.float64]
    intercept: NDArray[np.float64]
    intercept_error: NDArray[np.float64]
    residual_sd: NDArray[np.float64]
    r_squared: NDArray[np.float64]
    n: NDArray[np.int64]


def _or_nan(value: NDArray[np.float64], possible: NDArray[np.bool_]) -> NDArray[np.float64]:
    return np.where(possible, value, np.nan)


def least_squares(x: ArrayLike, value: ArrayLike) -> Line:
    """Fit a straight line to each series by least squares.

    Equation: ``b = Σ(x − x̄)(y − ȳ)/Σ(x − x̄)²``, ``a = ȳ − b·x̄``, ``s² = Σe²/(n − 2)``,
    ``se(b) = s/√Σ(x − x̄)²``, ``se(a) = s·√(1/n + x̄²/Σ(x − x̄)²)``.

    Parameters
    ----------
    x : array, shape (..., n) [use]
        Use axis, broadcast against the value.
    value : array, shape (..., n) [any]
        Numbers; NaN pads and stands for what was not measured.

    Returns
    -------
    Line [-]
        One entry per series; NaN without two different x, errors NaN for fewer than 3 samples.

    Examples
    --------
    >>> line = least_squares([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 5.0, 8.0])
    >>> float(line.slope), float(line.intercept)
    (2.3, 0.8)

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1.
    """
    y, axis = np.broadcast_arrays(np.asarray(value, dtype=float), np.asarray(x, dtype=float))
    used = ~np.isnan(y) & ~np.isnan(axis)
    n = used.sum(axis=-1)
    count = np.maximum(n, 1)
    middle_x = np.where(used, axis, 0.0).sum(axis=-1) / count
    middle_y = np.where(used, y, 0.0).sum(axis=-1) / count
    away_x = np.where(used, axis - middle_x[..., None], 0.0)
    away_y = np.where(used, y - middle_y[..., None], 0.0)
    square = (away_x**2).sum(axis=-1)
    spread = square > 0.0
    slope = _or_nan((away_x * away_y).sum(axis=-1) / np.where(spread, square, 1.0), spread)
    left = (np.where(used, away_y - slope[..., None] * away_x, 0.0) ** 2).sum(axis=-1)
    enough = spread & (n > 2)
    sd = _or_nan(np.sqrt(left / np.maximum(n - 2, 1)), enough)
    around = (away_y**2).sum(axis=-1)
    root = np.sqrt(np.where(spread, square, 1.0))
    return Line(
        slope=slope, slope_error=sd / root, intercept=middle_y - slope * middle_x,
        intercept_error=sd * np.sqrt(1.0 / count + (middle_x / root) ** 2), residual_sd=sd,
        r_squared=_or_nan(1.0 - left / np.where(around > 0.0, around, 1.0), spread & (around > 0)),
        n=n)
