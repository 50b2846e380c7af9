"""Why the invented workshop opens an engine, what it then does with the shells, and what it sees.

The rule that opens engines is crude on purpose: it is the workshop before it had this
program, so some alarms are wrong and some engines are opened too late or not at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.shells import layer_state, wear_stage
from oiltrend.demo.wearing import MAINS, ROD_SLOTS, Shells
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import OPENING_REASONS, Qualifier, ShellFinding

__all__ = ["Observed", "crude_alarm", "findings", "observe", "renewed_slots", "worst_stage"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
FILTER_NONE, FILTER_FINE, FILTER_FLAKES, FILTER_NOT_LOOKED = 1, 2, 3, 4

# The workshop's own crude limits before it had any other (invented): least level in mg/kg,
# least rise in mg/kg per 10 000 km.
_CRUDE: dict[str, tuple[float, float]] = {"Pb": (10.0, 16.0), "Sn": (4.0, 5.0), "Cu": (18.0, 26.0)}
_SHORTEST_KM = 2000.0
_WALL_NEW_MM = 1.500
_ECCENTRICITY_MM = 0.012
_CLEARANCE_NEW_MM = 0.048

_DAMAGE: dict[int, tuple[str, ...]] = {
    0: (), 1: ("polishing",), 2: ("polishing", "worn areas"), 3: ("worn areas", "scoring"),
    4: ("worn areas", "scoring", "discoloration"),
    5: ("fatigue cracks", "material relief", "scoring"),
}


@dataclass(frozen=True, slots=True)
class Observed:
    """What is noticed at a visit without the laboratory; codes as in the sample table."""

    filter_finding: NDArray[np.int8]
    glitter: NDArray[np.int8]
    noise: NDArray[np.int8]
    pressure_bar: Floats


def worst_stage(shells: Shells) -> NDArray[np.int8]:
    """Score the worst rod shell of each engine.

    Parameters
    ----------
    shells : Shells [-]
        State.

    Returns
    -------
    array of int, shape (n,) [-]
        Stage 0 to 5.
    """
    stage = wear_stage(shells.depth_um, shells.overlay_um)
    stage[shells.area_mm2 == 0] = 0
    return np.asarray(stage[:, :ROD_SLOTS].max(axis=1), dtype=np.int8)


def _deepest_lining(shells: Shells) -> Floats:
    lining = layer_state(shells.depth_um, shells.overlay_um)[3]
    lining = np.where(shells.area_mm2 > 0, lining, 0.0)
    return np.asarray(lining[:, :ROD_SLOTS].max(axis=1), dtype=np.float64)


def observe(rng: np.random.Generator, shells: Shells, drained: Bools) -> Observed:
    """Look into filter and drained oil, listen, and read the oil pressure.

    Chances are assumed: four filters in ten are not looked at; flakes come with a lining
    that breaks up, glitter and noise later.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    shells : Shells [-]
        State.
    drained : array of bool, shape (n,) [-]
        Only at a change the filter can be looked at.

    Returns
    -------
    Observed [-]
        What is noticed.
    """
    n = len(drained)
    deep = _deepest_lining(shells)
    chance = rng.random((5, n))
    looked = drained & (chance[0] < 0.6)
    flakes = (deep > 40) & (chance[1] < 0.7)
    fine = chance[1] < 0.35
    finding = np.where(flakes, FILTER_FLAKES, np.where(fine, FILTER_FINE, FILTER_NONE))
    finding = np.where(looked, finding, np.where(drained, FILTER_NOT_LOOKED, 0))
    glitter = np.where(drained, (deep > 70) & (chance[2] < 0.6), -1)
    noise = ((deep > 60) & (chance[3] < 0.7)).astype(np.int8)
    pressure = np.clip(1.9 - deep / 150 + rng.normal(0, 0.15, n), 0.3, None)
    known = chance[4] < 0.5
    return Observed(finding.astype(np.int8), glitter.astype(np.int8),
                    np.where(known | (noise == 1), noise, -1).astype(np.int8),
                    np.where(known, np.round(pressure, 1), np.nan))


def crude_alarm(value: Floats, qualifier: NDArray[np.int8], oil_km: Floats, seen: Observed
                ) -> Bools:
    """Apply the workshop's crude rule: a level and a rise together, or metal to be seen.

    Parameters
    ----------
    value : array, shape (n, n_measurands) [-]
        Reported values in each measurand's unit.
    qualifier : array of int, shape (n, n_measurands) [-]
        Qualifiers.
    oil_km : array, shape (n,) [km]
        Recorded distance on the oil.
    seen : Observed [-]
        What was noticed.

    Returns
    -------
    array of bool, shape (n,) [-]
        True for an alarm.
    """
    exact = np.where(qualifier == Qualifier.EXACT, value, 0.0)
    driven = np.maximum(oil_km, _SHORTEST_KM) / 10_000
    alarm: Bools = (seen.filter_finding == FILTER_FLAKES) | (seen.glitter == 1)
    for symbol, (level, rise) in _CRUDE.items():
        metal = exact[:, PANEL_INDEX[symbol]]
        high = (metal >= level) & (metal / driven >= rise)
        if symbol == "Cu":  # alone it is usually the cooler, even a crude rule knows
            high &= exact[:, PANEL_INDEX["Pb"]] >= 5
        alarm = alarm | high
    return alarm


def renewed_slots(rng: np.random.Generator, shells: Shells, opened: Bools,
                  reason: NDArray[np.int64]) -> Bools:
    """Decide which shells are renewed at an opening.

    Bad shells: the whole set in two of three cases, else only the rods of the pin that is
    bad. Good shells go back, unless the opening was planned and new ones are at hand.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    shells : Shells [-]
        State.
    opened : array of bool, shape (n,) [-]
        Engines opened.
    reason : array of int, shape (n,) [-]
        Row of the opening reasons.

    Returns
    -------
    array of bool, shape (n, 17) [-]
        Slots that get a new shell.
    """
    n = len(opened)
    stage = wear_stage(shells.depth_um, shells.overlay_um)
    present = shells.area_mm2 > 0
    stage[~present] = 0
    worst = stage[:, :ROD_SLOTS].max(axis=1)
    chance = rng.random((2, n))
    planned = reason == OPENING_REASONS.index("planned")
    whole = np.where(worst >= 2, chance[0] < 0.67, planned & (chance[0] < 0.6))
    part = (worst >= 2) & ~whole
    bad_rod = np.repeat((stage[:, :ROD_SLOTS] >= 2).reshape(n, -1, 2).any(axis=2), 2, axis=1)
    opposite = np.roll(bad_rod, ROD_SLOTS // 2, axis=1) & shells.v_engine[:, None]
    renewed = np.zeros((n, ROD_SLOTS + 1), dtype=bool)
    renewed[:, :ROD_SLOTS] = whole[:, None] | (part[:, None] & (bad_rod | opposite))
    renewed[:, MAINS] = whole & (worst >= 4) & (chance[1] < 0.5)
    return renewed & present & opened[:, None]


def findings(rng: np.random.Generator, *, rods: int, pin_mm: float, depth_um: Floats,
             overlay_um: Floats, names: list[str], renewed: Bools, new_names: list[str]
             ) -> tuple[ShellFinding, ...]:
    """Write down what every rod half of one opened engine looked like.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    rods : int [-]
        Number of rods.
    pin_mm : float [mm]
        Crankpin diameter of the family.
    depth_um, overlay_um : array, shape (16,) [µm]
        Depth lost and overlay when new, per slot.
    names : list of str [-]
        Material of each shell.
    renewed : array of bool, shape (16,) [-]
        Replaced slots.
    new_names : list of str [-]
        Material of the shells that replace them.

    Returns
    -------
    tuple of ShellFinding [-]
        Rod by rod, rod half first.
    """
    stages = wear_stage(depth_um, overlay_um)
    _, _, share, _ = layer_state(depth_um, overlay_um)
    measured = rng.random() < 0.6
    crown = 2 * depth_um / 1000
    gauge = rng.normal(0, 0.001, (3, ROD_SLOTS))
    # Now and then a shell is bent as it comes out; a bad one is handled with care.
    unscored = (rng.random(ROD_SLOTS) < 0.02) & (stages <= 2)
    failed = rng.choice(["wiped", "turned", "fatigued"], ROD_SLOTS, p=[0.4, 0.1, 0.5])
    written = []
    # A loop over the halves on one bench: openings are few.
    for slot in range(2 * rods):
        rod = slot // 2
        stage = int(stages[slot])
        thread = _CLEARANCE_NEW_MM + crown[2 * rod] + crown[2 * rod + 1] + 4 * gauge[0, 2 * rod]
        written.append(ShellFinding(
            kind="rod", number=rod + 1, half="cap" if slot % 2 else "rod",
            wear_stage=None if unscored[slot] else stage, not_scorable=bool(unscored[slot]),
            failed=str(failed[slot]) if stage == 5 else "none",
            layer_pct=round(100 * float(share[slot]), 1) if overlay_um[slot] > 0 else None,
            wall_crown_mm=_measured(measured, _WALL_NEW_MM - crown[slot] + gauge[1, slot]),
            wall_end_mm=_measured(measured, _WALL_NEW_MM - _ECCENTRICITY_MM + gauge[2, slot]),
            wall_new_mm=_WALL_NEW_MM if measured else None,
            clearance_mm=round(float(thread), 3),
            journal_mm=_measured(measured, pin_mm - 0.010 - 0.002 * (stage >= 4)),
            journal_surface=("polished", "marked", "scored")[(stage >= 3) + (stage >= 5)],
            damage=_DAMAGE[stage], material=names[slot],
            action="replaced" if renewed[slot] else "refitted",
            new_material=new_names[slot] if renewed[slot] else "",
            new_clearance_mm=_CLEARANCE_NEW_MM if renewed[slot] else None))
    return tuple(written)


def _measured(measured: bool, value: float) -> float | None:
    return round(float(value), 3) if measured else None
