"""What a fresh fill starts with: old oil that stayed in the engine, mixed with new oil."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oiltrend.wear.arrays import FloatLike, Floats, check_range

__all__ = ["CarryOver", "carry_over", "residue_from_masses"]


@dataclass(frozen=True, slots=True)
class CarryOver:
    """Concentration a fill starts with.

    Parameters
    ----------
    value : array, any shape [mg/kg]
        Start concentration.
    standard_uncertainty : array, same shape [mg/kg]
        Its standard uncertainty, the fresh oil's part included.
    """

    value: Floats
    standard_uncertainty: Floats


def carry_over(
    residue_fraction: FloatLike,
    drained: FloatLike,
    fresh: FloatLike,
    *,
    residue_half: FloatLike = 0.0,
    drained_uncertainty: FloatLike = 0.0,
    fresh_uncertainty: FloatLike = 0.0,
) -> CarryOver:
    """Give the concentration a fill starts with after a change.

    Equation: ``C_start = ρ·C_drained + (1 − ρ)·C_fresh``,
    ``u² = (C_drained − C_fresh)²·h²/3 + ρ²·u_drained² + (1 − ρ)²·u_fresh²``.

    Parameters
    ----------
    residue_fraction : array, any shape [-]
        Share ρ of the fill in circulation that is old oil, 0 to 1.
    drained : array, broadcast [mg/kg]
        Concentration in the drained oil. A reading below its limit is done twice, with
        either bound, and gives the bounds of the start.
    fresh : array, broadcast [mg/kg]
        Concentration in the new oil.
    residue_half : array, broadcast [-]
        Half range h of ρ, every value in it equally likely.
    drained_uncertainty : array, broadcast [mg/kg]
        Standard uncertainty of the drained oil.
    fresh_uncertainty : array, broadcast [mg/kg]
        Standard uncertainty of the new oil.

    Returns
    -------
    CarryOver [-]
        Start concentration and its standard uncertainty; NaN in gives NaN out.

    Raises
    ------
    ValueRefused
        When ρ lies outside 0 to 1 or an uncertainty is negative.

    Examples
    --------
    >>> float(carry_over(0.08, 50.0, 1.0).value)
    4.92
    """
    check_range("residue_fraction", residue_fraction, high=1.0)
    for name, value in (("residue_half", residue_half),
                        ("drained_uncertainty", drained_uncertainty),
                        ("fresh_uncertainty", fresh_uncertainty)):
        check_range(name, value)
    share, old, new = (np.asarray(value, float) for value in (residue_fraction, drained, fresh))
    variance = (np.square((old - new) * residue_half) / 3.0
                + np.square(share * drained_uncertainty)
                + np.square((1.0 - share) * fresh_uncertainty))
    return CarryOver(np.asarray(share * old + (1.0 - share) * new), np.sqrt(variance))


def residue_from_masses(left_mass: FloatLike, refill_mass: FloatLike) -> Floats:
    """Give the residue fraction when what stayed and what went in are known.

    Equation: ``ρ = m_left/(m_left + m_refill)``.

    Parameters
    ----------
    left_mass : array, any shape [kg]
        Old oil that stayed in block, cooler, filter and galleries.
    refill_mass : array, broadcast [kg]
        New oil that went in.

    Returns
    -------
    array [-]
        Residue fraction; NaN where no oil went in and none stayed.

    Raises
    ------
    ValueRefused
        When a mass is negative.

    Examples
    --------
    >>> float(carry_over(residue_from_masses(0.4, 4.6), 12.0, 0.0).value)
    0.96
    """
    check_range("left_mass", left_mass)
    check_range("refill_mass", refill_mass)
    total = np.add(left_mass, refill_mass, dtype=float)
    return np.asarray(left_mass / np.where(total > 0.0, total, np.nan))
