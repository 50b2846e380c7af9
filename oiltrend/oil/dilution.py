"""Fuel in the oil, estimated from the drop of its viscosity, with the wide error this has.

A drop of viscosity has other causes (shear of the viscosity-index improver), fuel may be hidden
by oil that thickened, the rules for blends disagree by a factor of two, and the fuel left in
hot oil is not the fuel in the tank. All of that is in the range given. Gas chromatography
measures fuel; this only says what the viscosity leaves room for.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from oiltrend.oil.blending import BLENDING, mixed_share
from oiltrend.oil.bounds import bounds

__all__ = ["ASSUMED", "Dilution", "DilutionAssumptions", "DilutionState", "Viscosities",
           "fuel_dilution"]


class DilutionState(IntEnum):
    """What the estimate rests on."""

    IMPOSSIBLE = -2
    THICKER = -1
    NOT_KNOWN = 0
    NOT_SHOWN = 1
    SHOWN = 2
    DISAGREE = 3


@dataclass(frozen=True, slots=True)
class DilutionAssumptions:
    """What the estimate assumes. Every default is assumed; the shop can set its own.

    Parameters
    ----------
    fuel_40, fuel_100 : tuple of float [mm²/s]
        Least and largest viscosity of the fuel in the oil at 40 °C and 100 °C. Petrol left in
        hot oil is taken to lie between octane and nonane.
    shear_loss : tuple of float [-]
        Least and largest share of its viscosity that the oil may have lost to shear. Single
        grades lose nothing.
    thickening : tuple of float [-]
        Least and largest share by which evaporation and oxidation may have thickened it.
    fuel_density, oil_density : float [kg/L]
        For the rule that mixes volumes.
    """

    fuel_40: tuple[float, float] = (0.6, 0.8)
    fuel_100: tuple[float, float] = (0.37, 0.48)
    shear_loss: tuple[float, float] = (0.0, 0.08)
    thickening: tuple[float, float] = (0.0, 0.05)
    fuel_density: float = 0.75
    oil_density: float = 0.85


ASSUMED = DilutionAssumptions()
"""The defaults."""


@dataclass(frozen=True, slots=True)
class Viscosities:
    """Measured viscosities of oils, NaN where not measured.

    Parameters
    ----------
    kv40, kv100 : array, shape (n,) [mm²/s]
        Kinematic viscosity at 40 °C and at 100 °C.
    u40, u100 : array, shape (n,) [mm²/s]
        One standard uncertainty of each; a value of unknown uncertainty is not used.
    """

    kv40: NDArray[np.float64]
    kv100: NDArray[np.float64]
    u40: NDArray[np.float64]
    u100: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Dilution:
    """Fuel in the oil as the viscosity tells it, by mass.

    Parameters
    ----------
    value : array, shape (n,) [%]
        As if fuel were the only cause: mean of the blending rules, and of the two temperatures
        where both are known. Never below 0.
    low, high : array, shape (n,) [%]
        What cannot be excluded, all causes and rules counted. Low is never below 0.
    state : array of DilutionState codes, shape (n,) [-]
        SHOWN: some fuel even at the low end. NOT_SHOWN: the low end was cut at 0; shear alone
        may explain the drop. DISAGREE: the ranges from 40 °C and 100 °C do not meet, so
        something else changed too; the range covers both. THICKER: the oil is thicker than
        assumed thickening explains, which can hide fuel: no estimate. IMPOSSIBLE: thinner than
        fuel, or new oil that is. NOT_KNOWN: no temperature with all four numbers.
    """

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    state: NDArray[np.int8]


def fuel_dilution(used: Viscosities, fresh: Viscosities, *,
                  assumed: DilutionAssumptions = ASSUMED) -> Dilution:
    """Estimate fuel in the oil from its viscosity against the same product's new oil.

    Equation: the share of each rule of :data:`~oiltrend.oil.blending.BLENDING` at each
    temperature. Low: new oil at its least (−2u, all shear), used oil at its most (+2u), thin
    fuel, rule that reads least. High: the other way round, with all thickening. Both
    temperatures: the range covers both.

    Parameters
    ----------
    used, fresh : Viscosities, shape (n,) [-]
        The sample and the new oil of its product.
    assumed : DilutionAssumptions [-]
        Fuel, shear, thickening, densities.

    Returns
    -------
    Dilution [-]
        Value, range and state.

    Examples
    --------
    >>> one = lambda kv40, kv100: Viscosities(*(np.array([x]) for x in (kv40, kv100, 0.3, 0.04)))
    >>> found = fuel_dilution(one(68.0, 11.2), one(90.0, 14.0))
    >>> found.low.round(1), found.value.round(1), found.high.round(1)
    (array([1.4]), array([3.8]), array([8.3]))
    >>> DilutionState(found.state[0]).name
    'SHOWN'

    References
    ----------
    ASTM D7152 and the other sources of :mod:`oiltrend.oil.blending`; the ranges are assumed.
    """
    cold = _Estimate.at(used.kv40, used.u40, fresh.kv40, fresh.u40, assumed.fuel_40, assumed)
    hot = _Estimate.at(used.kv100, used.u100, fresh.kv100, fresh.u100, assumed.fuel_100, assumed)
    value = np.where(cold.given & hot.given, (cold.value + hot.value) / 2.0,
                     np.where(cold.given, cold.value, hot.value))
    low, high = np.fmin(cold.low, hot.low), np.fmax(cold.high, hot.high)
    given = cold.given | hot.given
    state = np.select(
        [~given & (cold.impossible | hot.impossible), ~given, high <= 0.0,
         (cold.low > hot.high) | (hot.low > cold.high), low > 0.0],
        [DilutionState.IMPOSSIBLE, DilutionState.NOT_KNOWN, DilutionState.THICKER,
         DilutionState.DISAGREE, DilutionState.SHOWN], DilutionState.NOT_SHOWN)
    told = state > 0
    value, low, high = (np.where(told, np.maximum(share, 0.0), np.nan)
                        for share in (value, low, high))
    return Dilution(value, low, high, state.astype(np.int8))


@dataclass(frozen=True, slots=True)
class _Estimate:
    """Shares at one temperature, not yet cut at 0."""

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    given: NDArray[np.bool_]
    impossible: NDArray[np.bool_]

    @classmethod
    def at(cls, used: NDArray[np.float64], u_used: NDArray[np.float64],
           fresh: NDArray[np.float64], u_fresh: NDArray[np.float64],
           fuel: tuple[float, float], assumed: DilutionAssumptions) -> _Estimate:
        after, before = bounds(used, u_used), bounds(fresh, u_fresh)
        known = np.isfinite(after.low) & np.isfinite(before.low)
        thinnest = before.low * (1.0 - assumed.shear_loss[1] + assumed.thickening[0])
        thickest = before.high * (1.0 - assumed.shear_loss[0] + assumed.thickening[1])
        middle = float(np.sqrt(fuel[0] * fuel[1]))
        possible = known & (after.low > fuel[1]) & (thinnest > fuel[1])
        value = np.mean(_shares(used, fresh, middle, possible, assumed), axis=0)
        low = np.min(_shares(after.high, thinnest, fuel[0], possible, assumed), axis=0)
        high = np.max(_shares(after.low, thickest, fuel[1], possible, assumed), axis=0)
        return cls(value, low, high, possible, known & ~possible)


def _shares(used: NDArray[np.float64], oil: NDArray[np.float64], fuel: float,
            possible: NDArray[np.bool_], assumed: DilutionAssumptions) -> NDArray[np.float64]:
    return np.stack([
        mixed_share(np.where(possible, used, np.nan), oil, fuel, rule=rule,
                    fuel_density=assumed.fuel_density, oil_density=assumed.oil_density)
        for rule in BLENDING])
