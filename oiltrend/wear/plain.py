"""The plain figures: what a mechanic redoes on paper, without any mass balance.

Two figures that are never mixed: what the oil gained since the fill began, and what it
gained since the sample before on the same fill.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import FloatLike, Floats

__all__ = ["mid_fill_difference", "per_thousand"]


def per_thousand(concentration: FloatLike, start: FloatLike, use: FloatLike) -> Floats:
    """Give the gain since the fill began, per 1000 km or h on the oil.

    Equation: ``(C − C_start)/use × 1000``. For rows (n,) against measurands (n, m) the caller
    adds the last axis to the use.

    Parameters
    ----------
    concentration : array, any shape [mg/kg]
        Concentration of the sample; NaN where it has no value.
    start : array, broadcast [mg/kg]
        Concentration the fill started with, from residue and new oil.
    use : array, broadcast [use]
        Use on the oil.

    Returns
    -------
    array [mg/kg/(1000 use)]
        Gain per thousand; NaN where the use is not above zero.

    Examples
    --------
    >>> float(per_thousand(12.0, 4.5, 7500.0))
    1.0
    """
    length = np.asarray(use, float)
    return np.asarray(np.subtract(concentration, start)
                      / np.where(length > 0.0, length, np.nan) * 1e3)


def mid_fill_difference(
    concentration: Floats, oil_use: Floats, fill: NDArray[np.integer]
) -> Floats:
    """Give the gain since the previous sample of the same fill, per 1000 km or h.

    Equation: ``(C_i − C_{i−1})/(use_i − use_{i−1}) × 1000`` for rows of one fill.

    Parameters
    ----------
    concentration : array, shape (n, m) [mg/kg]
        Concentrations, rows sorted by engine, then by use; NaN where there is no value.
    oil_use : array, shape (n,) [use]
        Use on the oil of each sample.
    fill : array of int, shape (n,) [-]
        Number of the oil fill of each sample, unlike any other engine's.

    Returns
    -------
    array, shape (n, m) [mg/kg/(1000 use)]
        Difference per thousand; NaN for the first sample of a fill, where either value is
        not known, and where the use did not grow.

    Raises
    ------
    ValueRefused
        When shapes do not fit.

    Examples
    --------
    >>> ppm = np.array([[4.0], [9.0], [3.0]])
    >>> mid_fill_difference(ppm, np.array([5e3, 10e3, 6e3]), np.array([1, 1, 2]))[:, 0].tolist()
    [nan, 1.0, nan]
    """
    if np.ndim(concentration) != 2:
        raise ValueRefused("concentration: must have rows and measurands, found shape "
                           f"{np.shape(concentration)}", hint="give an array of shape (n, m)")
    for name, shape in (("oil_use", np.shape(oil_use)), ("fill", np.shape(fill))):
        if shape != concentration.shape[:1]:
            raise ValueRefused(
                f"{name}: must have one number per row, {len(concentration)} rows, "
                f"found shape {shape}", hint="give an array of shape (n,)")
    gain = np.full(np.shape(concentration), np.nan)
    step = np.diff(oil_use)
    followed = (np.diff(fill) == 0) & (step > 0.0)
    difference = concentration[1:][followed] - concentration[:-1][followed]
    gain[1:][followed] = difference / step[followed, None] * 1e3
    return gain
