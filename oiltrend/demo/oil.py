"""The oil system: what happens to metal and additives between two visits.

Over a stretch with constant rates the oil mass M falls in a straight line and the content
m = M C of anything dissolved or finely spread in it follows::

    dm/dx = W − (q + K) m / M,    dM/dx = −(q + e)

W generation, q liquid loss, e evaporation, K equivalent clean-oil rate of the filter. The
stretch is solved exactly; top-ups, samples and drains stand between stretches.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.families import FAMILIES, OILS
from oiltrend.demo.garage import Fleet
from oiltrend.nomenclature import PANEL, PANEL_INDEX

__all__ = ["SAMPLE_KG", "OilSystem", "advance", "ageing", "draw_oil", "fresh_oil", "mix",
           "viscosity"]

Floats = NDArray[np.float64]
# A bottle of 100 mL.
SAMPLE_KG = 0.085

# Change per 1000 km in mg/kg, mg KOH/g or Abs/cm: plausible for petrol engines, assumed.
_AGEING = {"base_number": -0.38, "acid_number": 0.10, "oxidation": 1.1, "nitration": 0.8,
           "sulfation": 0.9, "P": -3.0, "water_pct": 0.001, "soot_pct": 0.012}
# Petrol fraction that stays in the oil [mm²/s], assumed.
_FUEL_KV = {"KV40": 0.7, "KV100": 0.45}
_SHEAR_KM = 3000.0


@dataclass(frozen=True, slots=True)
class OilSystem:
    """The oil system of each engine as it truly is; arrays of shape (n,).

    Parameters
    ----------
    full_kg, residue_kg : array [kg]
        Oil when full, and what stays at a drain.
    liquid, vapour, filtered : array [kg/use]
        Liquid loss, evaporation, equivalent clean-oil rate of the filter, per km.
    top_up_kg : array [kg]
        Lack of oil at which the owner tops up to full.
    fuel_pct : array [%]
        Usual fuel content.
    product, later_product : array of int [-]
        Oil in use and the one used from ``switch_day`` on, rows of the oils.
    switch_day : array [d]
        When the product changes; infinite for never.
    """

    full_kg: Floats
    residue_kg: Floats
    liquid: Floats
    vapour: Floats
    filtered: Floats
    top_up_kg: Floats
    fuel_pct: Floats
    product: NDArray[np.int64]
    later_product: NDArray[np.int64]
    switch_day: Floats


def draw_oil(rng: np.random.Generator, fleet: Fleet) -> OilSystem:
    """Draw the oil system of every engine around its family's.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    fleet : Fleet [-]
        The engines.

    Returns
    -------
    OilSystem [-]
        True values, which no record states exactly.
    """
    n = len(fleet.engine)
    density = 0.85
    full = np.array([(spec.record.oil_fill_l or 0) * density for spec in FAMILIES])[fleet.family]
    loss = np.array([spec.loss_l * density / 1000 for spec in FAMILIES])[fleet.family]
    loss = loss * rng.lognormal(0, 0.45, n)
    liquid_share = rng.uniform(0.3, 0.95, n)
    fuel = np.array([spec.fuel_pct for spec in FAMILIES])[fleet.family]
    choices = np.array([spec.oils for spec in FAMILIES])[fleet.family]
    pick = (rng.random(n) < 0.4).astype(np.int64)
    switches = rng.random(n) < 0.12
    day = fleet.start_day + rng.uniform(0.3, 0.7, n) * (fleet.end_day - fleet.start_day)
    rows = np.arange(n)
    return OilSystem(
        full_kg=full * rng.normal(1, 0.015, n), residue_kg=full * rng.uniform(0.06, 0.14, n),
        liquid=loss * liquid_share, vapour=loss * (1 - liquid_share),
        filtered=rng.uniform(0.005, 0.03, n) / 1000,
        top_up_kg=rng.uniform(0.5, 1.1, n) * np.minimum(full / 5, 1.0) * density,
        fuel_pct=fuel * rng.lognormal(0, 0.25, n), product=choices[rows, pick],
        later_product=choices[rows, 1 - pick], switch_day=np.where(switches, day, np.inf))


def advance(mass_kg: Floats, content: Floats, *, liquid_kg: Floats, vapour_kg: Floats,
            filtered_kg: Floats, generated: Floats) -> tuple[Floats, Floats]:
    """Solve one stretch without top-up exactly.

    Equation: with amounts over the stretch, lost oil ``l = q + e``,
    ``L = ln(M1 / M2)``, ``κ = (q + K) / l``:
    ``m2 = exp(−κ L) (m1 + G (M1 / l) (1 − exp(−(1 − κ) L)) / (1 − κ))``.

    Parameters
    ----------
    mass_kg : array, shape (n,) [kg]
        Oil mass M1 at the start.
    content : array, shape (n, p) [mg]
        Content m1 at the start, concentration times mass.
    liquid_kg, vapour_kg, filtered_kg : array, shape (n,) [kg]
        Oil lost as liquid q, as vapour e, and cleaned by the filter K.
    generated : array, shape (n, p) [mg]
        Amount G that enters, evenly over the stretch.

    Returns
    -------
    tuple of array, shapes (n,) [kg] and (n, p) [mg]
        Mass and content at the end.

    Examples
    --------
    Constant-level limit of a known case: nothing lost, so 5 mg in 5 kg is 1 mg/kg.

    >>> none = np.zeros(1)
    >>> mass, content = advance(np.array([5.0]), np.zeros((1, 1)), liquid_kg=none,
    ...     vapour_kg=none, filtered_kg=none, generated=np.array([[5.0]]))
    >>> float(content[0, 0] / mass[0])
    1.0
    """
    # A loss of nothing is replaced by one too small to matter, so that one formula serves.
    lost = np.maximum(liquid_kg + vapour_kg, 1e-12)
    log_ratio = -np.log1p(-lost / mass_kg)
    power = (liquid_kg + filtered_kg) / lost
    keep = np.exp(-power * log_ratio)
    exponent = (1 - power) * log_ratio
    near = np.abs(exponent) < 1e-9
    safe = np.where(near, 1.0, exponent)
    mean = np.where(near, 1 - exponent / 2, -np.expm1(-safe) / safe)
    entering = mass_kg * log_ratio / lost * mean
    after = keep[:, None] * (content + generated * entering[:, None])
    return mass_kg - liquid_kg - vapour_kg, after


def mix(mass_kg: Floats, content: Floats, added_kg: Floats, fresh: Floats
        ) -> tuple[Floats, Floats]:
    """Add fresh oil, or take oil out where the amount is negative.

    Parameters
    ----------
    mass_kg : array, shape (n,) [kg]
        Oil mass.
    content : array, shape (n, p) [mg]
        Content, concentration times mass.
    added_kg : array, shape (n,) [kg]
        Fresh oil added; negative for oil taken out as it is.
    fresh : array, shape (n, p) [mg/kg]
        Concentration of the fresh oil.

    Returns
    -------
    tuple of array, shapes (n,) [kg] and (n, p) [mg]
        Mass and content afterwards.

    Examples
    --------
    >>> mass, content = mix(np.array([0.4]), np.array([[4.8]]), np.array([4.6]), np.zeros((1, 1)))
    >>> float(content[0, 0] / mass[0])
    0.96
    """
    of = np.where(added_kg[:, None] >= 0, fresh, content / mass_kg[:, None])
    return mass_kg + added_kg, content + added_kg[:, None] * of


@cache
def fresh_oil() -> Floats:
    """Give every oil's values when new, in panel order; 0 where the oil holds nothing of it.

    Returns
    -------
    array, shape (n_oils, n_measurands) [-]
        Value in each measurand's unit.

    Examples
    --------
    >>> float(fresh_oil()[0, PANEL_INDEX["KV100"]])
    14.0
    """
    table = np.zeros((len(OILS), len(PANEL)))
    for number, oil in enumerate(OILS):
        for symbol, value in oil.values.items():
            table[number, PANEL_INDEX[symbol]] = value
    table.setflags(write=False)
    return table


def ageing(mass_kg: Floats, km: Floats) -> Floats:
    """Give the change that ageing makes to the content over a stretch.

    Parameters
    ----------
    mass_kg : array, shape (n,) [kg]
        Oil mass.
    km : array, shape (n,) [km]
        The stretch.

    Returns
    -------
    array, shape (n, n_measurands) [mg]
        Change of content, in the measurand's unit times kg.
    """
    rate = np.zeros(len(PANEL))
    for symbol, change in _AGEING.items():
        rate[PANEL_INDEX[symbol]] = change / 1000
    return np.outer(mass_kg * km, rate)


def viscosity(product: NDArray[np.int64], oil_km: Floats, oxidation_rise: Floats,
              fuel_pct: Floats) -> tuple[Floats, Floats]:
    """Give the viscosity of used oil at 40 and 100 °C.

    Shearing takes its share within a few thousand km, oxidation thickens (1.2 % per Abs/cm,
    assumed), and fuel thins by the Refutas blending index, mass shares x:
    ``B = Σ x (14.534 ln ln(ν + 0.8) + 10.975)``.

    Parameters
    ----------
    product : array of int, shape (n,) [-]
        Row of the oil.
    oil_km : array, shape (n,) [km]
        Distance on the oil.
    oxidation_rise : array, shape (n,) [Abs/cm]
        Oxidation above the new oil.
    fuel_pct : array, shape (n,) [%]
        Fuel content.

    Returns
    -------
    tuple of array, shape (n,) [mm²/s]
        KV40 and KV100.

    Examples
    --------
    >>> kv40, kv100 = viscosity(np.array([0]), np.zeros(1), np.zeros(1), np.zeros(1))
    >>> round(float(kv40[0]), 6), round(float(kv100[0]), 6)
    (84.0, 14.0)
    """
    shear = np.array([oil.shear for oil in OILS])[product]
    factor = (1 - shear * -np.expm1(-oil_km / _SHEAR_KM)) * (1 + 0.012 * oxidation_rise)
    share = fuel_pct / 100
    results = []
    for symbol in ("KV40", "KV100"):
        oil = np.log(np.log(fresh_oil()[product, PANEL_INDEX[symbol]] * factor + 0.8))
        fuel = np.log(np.log(_FUEL_KV[symbol] + 0.8))
        results.append(np.exp(np.exp((1 - share) * oil + share * fuel)) - 0.8)
    return results[0], results[1]
