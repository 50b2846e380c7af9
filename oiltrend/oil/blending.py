"""Viscosity of a blend: three published rules side by side, and what share they read back.

Each rule turns a viscosity into an index that is mixed in proportion. They differ by a factor
of two for petrol in oil, and none was made for multigrade oils, whose viscosity-index improver
follows no mixing rule; that is why :mod:`oiltrend.oil.dilution` uses all three.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused
from oiltrend.oil.viscosity import viscosity_from_z, walther_z

__all__ = ["BLENDING", "BlendingRule", "blend_viscosity", "log_index", "mixed_share",
           "refutas_index", "refutas_viscosity", "walther_index", "walther_viscosity"]

Array = NDArray[np.float64]


def walther_index(viscosity: ArrayLike) -> Array:
    """Give the index of ASTM D7152, the ordinate of the D341 chart.

    Equation: ``w = log10 log10 Z``, Z of ASTM D341.

    Parameters
    ----------
    viscosity : array [mm²/s]
        Kinematic viscosity.

    Returns
    -------
    array [-]
        Index; NaN where D341 has no Z.

    Examples
    --------
    >>> float(walther_index(99.3))
    0.3010

    References
    ----------
    ASTM D7152, constants of ASTM D341.
    """
    return np.asarray(np.log10(np.log10(walther_z(viscosity))))


def walther_viscosity(index: ArrayLike) -> Array:
    """Turn the index of ASTM D7152 back into a viscosity.

    Equation: ``Z = 10^(10^w)``, and the inverse of ASTM D341.

    Parameters
    ----------
    index : array [-]
        Index.

    Returns
    -------
    array [mm²/s]
        Kinematic viscosity; NaN outside the range of D341.

    Examples
    --------
    >>> walther_viscosity(walther_index([0.7, 90.0])).round(2)
    array([ 0.7, 90. ])

    References
    ----------
    ASTM D7152, constants of ASTM D341.
    """
    w = np.asarray(index, dtype=float)
    # The thickest oil of D341 has 0.86; beyond that the powers would overflow.
    return viscosity_from_z(10.0 ** 10.0 ** np.where(w < 0.9, w, np.nan))


def refutas_index(viscosity: ArrayLike) -> Array:
    """Give the viscosity blending number of Refutas.

    Equation: ``VBN = 14.534 ln ln(ν + 0.8) + 10.975``.

    Parameters
    ----------
    viscosity : array [mm²/s]
        Kinematic viscosity.

    Returns
    -------
    array [-]
        Blending number; NaN where ν + 0.8 is not above 1.

    Examples
    --------
    >>> float(refutas_index(2.234))
    12.49

    References
    ----------
    Maples, Petroleum Refinery Process Economics, 2nd ed., 2000, as public pages quote it.
    """
    shifted = np.asarray(viscosity, dtype=float) + 0.8
    shifted = np.where((shifted > 1.0) & np.isfinite(shifted), shifted, np.nan)
    return np.asarray(14.534 * np.log(np.log(shifted)) + 10.975)


def refutas_viscosity(index: ArrayLike) -> Array:
    """Turn the viscosity blending number of Refutas back into a viscosity.

    Equation: ``ν = exp exp((VBN − 10.975)/14.534) − 0.8``.

    Parameters
    ----------
    index : array [-]
        Blending number.

    Returns
    -------
    array [mm²/s]
        Kinematic viscosity; NaN above one million.

    Examples
    --------
    >>> refutas_viscosity(refutas_index([2.234, 90.0])).round(3)
    array([ 2.234, 90.   ])

    References
    ----------
    Maples, Petroleum Refinery Process Economics, 2nd ed., 2000, as public pages quote it.
    """
    inner = (np.asarray(index, dtype=float) - 10.975) / 14.534
    most = np.log(np.log(1e6))
    return np.asarray(np.exp(np.exp(np.where(inner < most, inner, np.nan))) - 0.8)


def log_index(viscosity: ArrayLike) -> Array:
    """Give the index of the logarithmic (Arrhenius) rule.

    Equation: ``ln ν``.

    Parameters
    ----------
    viscosity : array [mm²/s]
        Kinematic viscosity.

    Returns
    -------
    array [-]
        Index; NaN where the viscosity is not above 0.

    Examples
    --------
    >>> log_index([1.0, 0.0])
    array([ 0., nan])

    References
    ----------
    Chybowski, Szczepanek, Gawdzińska, Energies 17 (2024) 444, for diesel fuel in oil.
    """
    nu = np.asarray(viscosity, dtype=float)
    return np.asarray(np.log(np.where(nu > 0.0, nu, np.nan)))


@dataclass(frozen=True, slots=True)
class BlendingRule:
    """One rule for the viscosity of a blend.

    Parameters
    ----------
    index : function [-]
        Viscosity to index.
    viscosity : function [-]
        Index to viscosity.
    shares : str [-]
        Which shares mix the index: ``volume`` or ``mass``.
    source : str [-]
        Where the rule stands.
    """

    index: Callable[[ArrayLike], Array]
    viscosity: Callable[[ArrayLike], Array]
    shares: Literal["volume", "mass"]
    source: str


BLENDING: dict[str, BlendingRule] = {
    "d7152": BlendingRule(walther_index, walther_viscosity, "volume",
                          "ASTM D7152, constants of D341; not for viscosity-index improvers"),
    "refutas": BlendingRule(refutas_index, refutas_viscosity, "mass",
                            "Refutas, quoted from Maples 2000; not for multigrade oils either"),
    "logarithmic": BlendingRule(log_index, lambda index: np.exp(np.asarray(index, dtype=float)),
                                "mass", "Arrhenius, Energies 17 (2024) 444; reads more fuel "
                                        "from the same drop than the other two"),
}


def _rule(name: str) -> BlendingRule:
    if name not in BLENDING:
        raise ValueRefused(f"rule: must be a known blending rule, found '{name}'",
                           hint="use one of " + ", ".join(BLENDING))
    return BLENDING[name]


def blend_viscosity(share: ArrayLike, oil: ArrayLike, fuel: ArrayLike, *, rule: str,
                    fuel_density: float, oil_density: float) -> Array:
    """Give the viscosity of oil with fuel in it.

    Equation: ``index = x·index(fuel) + (1 − x)·index(oil)``, x in the shares of the rule;
    volume share ``x = (m/ρf) / (m/ρf + (1 − m)/ρo)``.

    Parameters
    ----------
    share : array, broadcastable [%]
        Fuel in the blend, by mass.
    oil, fuel : array, broadcastable [mm²/s]
        Viscosity of each at the temperature of the blend.
    rule : str [-]
        A name of :data:`BLENDING`.
    fuel_density, oil_density : float [kg/L]
        Densities, for the rule that mixes volumes.

    Returns
    -------
    array [mm²/s]
        Viscosity of the blend; NaN for a share outside 0 to 100 %.

    Raises
    ------
    ValueRefused
        When the rule is not known.

    Examples
    --------
    >>> for rule in BLENDING:
    ...     print(blend_viscosity(5.0, 90.0, 0.7, rule=rule, fuel_density=0.75,
    ...                           oil_density=0.85).round(1))
    49.5
    53.6
    70.6

    References
    ----------
    See the source of each rule.
    """
    found = _rule(rule)
    mass = np.asarray(share, dtype=float) / 100.0
    mass = np.where((mass >= 0.0) & (mass <= 1.0), mass, np.nan)
    x = mass
    if found.shares == "volume":
        x = mass * oil_density / (mass * oil_density + (1.0 - mass) * fuel_density)
    return found.viscosity(x * found.index(fuel) + (1.0 - x) * found.index(oil))


def mixed_share(used: ArrayLike, oil: ArrayLike, fuel: ArrayLike, *, rule: str,
                fuel_density: float, oil_density: float) -> Array:
    """Read back how much fuel would turn one viscosity into another.

    Equation: ``x = (index(oil) − index(used)) / (index(oil) − index(fuel))``, turned into a
    share of mass for the rule that mixes volumes. Negative where the used oil is thicker.

    Parameters
    ----------
    used, oil, fuel : array, broadcastable [mm²/s]
        Viscosity of the used oil, of the oil without fuel and of the fuel, at one temperature.
    rule : str [-]
        A name of :data:`BLENDING`.
    fuel_density, oil_density : float [kg/L]
        Densities, for the rule that mixes volumes.

    Returns
    -------
    array [%]
        Share of the mass; NaN where fuel is not thinner than both oils.

    Raises
    ------
    ValueRefused
        When the rule is not known.

    Examples
    --------
    >>> for rule in BLENDING:
    ...     print(mixed_share(80.0, 90.0, 0.7, rule=rule, fuel_density=0.75,
    ...                       oil_density=0.85).round(2))
    0.93
    1.09
    2.43

    References
    ----------
    See the source of each rule.
    """
    found = _rule(rule)
    after, before, thin = np.broadcast_arrays(*(
        np.asarray(a, dtype=float) for a in (used, oil, fuel)))
    possible = (thin < after) & (thin < before)
    start = found.index(np.where(possible, before, np.nan))
    x = (start - found.index(after)) / (start - found.index(thin))
    if found.shares == "volume":
        x = x * fuel_density / (x * fuel_density + (1.0 - x) * oil_density)
    return np.asarray(100.0 * x)
