"""How shells wear over distance: running-in, a steady loss, and in some engines distress.

Depth of one shell, a mean over its loaded area, with distance x since it went in and y since
the onset of distress::

    D(x) = w (1 − exp(−x / X)) + k x + s r G (exp(y / G) − 1)

w running-in depth, X running-in distance, k steady rate, r first rate of distress, G its
growth distance, s 1 for the shell hit hardest, less for a second one, 0 for all others. The
first two terms have the usual form (from memory); all numbers are assumed, so that an
ordinary interval loses well under 1 µm of overlay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.families import FAMILIES
from oiltrend.demo.garage import Fleet
from oiltrend.demo.materials import LAYERS, MATERIALS, layer_table
from oiltrend.demo.shells import layer_state, loaded_area

__all__ = ["MAINS", "ROD_SLOTS", "Shells", "draw_onset", "draw_shells", "fit_new", "progress"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
# Slots: rod 1 rod half, rod 1 cap half, rod 2 rod half … and, last, all main shells together.
ROD_SLOTS = 16
MAINS = 16
_RUN_IN_KM = 3000.0
_ONSET_SHAPE = 2.5
_ONSET_GROWTH_LIMIT = 3.6
_MAINS_LOAD = 0.5


@dataclass(slots=True)
class Shells:
    """The shells of a fleet as they are now; arrays of shape (n, 17) or (n,).

    ``depth_um`` is the mean depth lost over the loaded area and the only thing that
    :func:`progress` changes; the rest changes when shells are renewed.
    """

    material: NDArray[np.int64]
    area_mm2: Floats
    overlay_um: Floats
    depth_um: Floats
    fitted_km: Floats
    run_in_um: Floats
    steady_um_km: Floats
    hit: Floats
    onset_km: Floats
    first_um_km: Floats
    growth_km: Floats
    capture: Floats
    capture_distress: Floats
    onset_scale_km: Floats
    rods: NDArray[np.int64]
    v_engine: Bools


def draw_shells(rng: np.random.Generator, fleet: Fleet) -> Shells:
    """Draw the shells of every engine as they are at the first visit.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    fleet : Fleet [-]
        The engines.

    Returns
    -------
    Shells [-]
        State at the first visit, worn by the distance before it.
    """
    n = len(fleet.engine)
    rods = _per_family(fleet, [spec.record.rods for spec in FAMILIES]).astype(np.int64)
    steady, scale = _by_material(fleet)
    empty = np.zeros((n, ROD_SLOTS + 1))
    shells = Shells(
        material=np.repeat(fleet.material[:, None], ROD_SLOTS + 1, axis=1),
        area_mm2=_areas(fleet, rods), overlay_um=empty.copy(), depth_um=empty.copy(),
        fitted_km=np.repeat(fleet.fitted_km[:, None], ROD_SLOTS + 1, axis=1),
        run_in_um=empty.copy(), steady_um_km=empty.copy(), hit=empty.copy(),
        onset_km=np.full(n, np.inf), first_um_km=np.zeros(n), growth_km=np.ones(n),
        capture=rng.uniform(0.55, 0.85, n), capture_distress=rng.uniform(0.45, 0.80, n),
        onset_scale_km=scale, rods=rods, v_engine=fleet.family == 0)
    load = np.tile([1.3, 0.7], ROD_SLOTS // 2)[None, :] * rng.lognormal(0, 0.2, (n, ROD_SLOTS))
    engine = steady * rng.lognormal(0, 0.30, n) / 1000
    shells.steady_um_km[:, :ROD_SLOTS] = engine[:, None] * load
    shells.steady_um_km[:, MAINS] = engine * _MAINS_LOAD
    present = shells.area_mm2 > 0
    fit_new(rng, shells, present, shells.material, fleet.fitted_km)
    draw_onset(rng, shells, np.ones(n, dtype=bool), fleet.fitted_km, fleet.start_km)
    driven = np.maximum(fleet.start_km - fleet.fitted_km, 0.0)
    progress(shells, fleet.fitted_km, fleet.fitted_km + driven, np.ones(n))
    return shells


def fit_new(rng: np.random.Generator, shells: Shells, renewed: Bools,
            material: NDArray[np.int64], at_km: Floats) -> None:
    """Put new shells into some slots.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    shells : Shells [-]
        State, changed in place.
    renewed : array of bool, shape (n, 17) [-]
        Slots that get a new shell.
    material : array of int, shape (n, 17) [-]
        Material of the new shells.
    at_km : array, shape (n,) [km]
        Distance of each engine now.
    """
    shape = renewed.shape
    thickness = np.array([m.overlay_um for m in MATERIALS])[material]
    fresh = thickness * np.clip(rng.normal(1, 0.08, shape), 0.75, 1.25)
    run_in = rng.uniform(0.2, 0.8, shape)
    shells.material = np.where(renewed, material, shells.material)
    shells.overlay_um = np.where(renewed, fresh, shells.overlay_um)
    shells.run_in_um = np.where(renewed, run_in, shells.run_in_um)
    shells.fitted_km = np.where(renewed, at_km[:, None], shells.fitted_km)
    shells.depth_um = np.where(renewed, 0.0, shells.depth_um)


def draw_onset(rng: np.random.Generator, shells: Shells, chosen: Bools, fitted_km: Floats,
               now_km: Floats) -> None:
    """Draw where distress will begin in some engines, which shells it hits and how it grows.

    Equation: ``x = S ((x0 / S)^b + E)^(1/b)``, a Weibull distance with scale S and shape b
    given that x0 has been reached, E exponential with mean 1.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    shells : Shells [-]
        State, changed in place.
    chosen : array of bool, shape (n,) [-]
        Engines that draw.
    fitted_km, now_km : array, shape (n,) [km]
        Distance when the set went in, and now.
    """
    n = len(chosen)
    scale = shells.onset_scale_km
    reached = np.maximum(now_km - fitted_km, 0.0) / scale
    distance = scale * (reached ** _ONSET_SHAPE + rng.exponential(1, n)) ** (1 / _ONSET_SHAPE)
    first = (rng.random(n) * shells.rods).astype(np.int64)
    half = (rng.random(n) < 0.2).astype(np.int64)
    partner = np.where(shells.v_engine, (first + 4) % 8, (first + 1) % shells.rods)
    same_rod = rng.random(n) < 0.5
    second = np.where(same_rod, 2 * first + 1 - half, 2 * partner)
    strength = np.where(rng.random(n) < 0.55, rng.uniform(0.4, 0.9, n), 0.0)
    hit = np.zeros((n, ROD_SLOTS + 1))
    rows = np.arange(n)
    hit[rows, second] = strength
    hit[rows, 2 * first + half] = 1.0
    first_rate = rng.lognormal(np.log(0.35), 0.30, n) / 1000
    growth = rng.uniform(4500, 9000, n)
    shells.onset_km = np.where(chosen, fitted_km + distance, shells.onset_km)
    shells.hit = np.where(chosen[:, None], hit, shells.hit)
    shells.first_um_km = np.where(chosen, first_rate, shells.first_um_km)
    shells.growth_km = np.where(chosen, growth, shells.growth_km)


def progress(shells: Shells, start_km: Floats, end_km: Floats, duty: Floats) -> Floats:
    """Wear the shells over a stretch and tell what of it the laboratory can see.

    Parameters
    ----------
    shells : Shells [-]
        State; ``depth_um`` is changed in place.
    start_km, end_km : array, shape (n,) [km]
        The stretch.
    duty : array, shape (n,) [-]
        Factor on the steady loss.

    Returns
    -------
    array, shape (n, 2 n_layers) [mg]
        Visible metal per layer from rod shells, then from main shells.
    """
    since = np.maximum(start_km[:, None] - shells.fitted_km, 0.0)
    until = np.maximum(end_km[:, None] - shells.fitted_km, 0.0)
    ordinary = (shells.run_in_um * (np.exp(-since / _RUN_IN_KM) - np.exp(-until / _RUN_IN_KM))
                + shells.steady_um_km * duty[:, None] * (until - since))
    distress = shells.hit * (shells.first_um_km * shells.growth_km * (
        _grown(shells, end_km) - _grown(shells, start_km)))[:, None]
    before = layer_state(shells.depth_um, shells.overlay_um)
    depth = shells.depth_um + ordinary + distress
    after = layer_state(depth, shells.overlay_um)
    shells.depth_um = depth
    total = ordinary + distress
    share = np.divide(distress, total, out=np.zeros_like(total), where=total > 0)
    seen = (shells.capture[:, None] * (1 - share) + shells.capture_distress[:, None] * share)
    volume = seen * shells.area_mm2 / 1000  # mm³ per µm
    return _by_layer(shells.material, volume * (after[0] - before[0]),
                     volume * (after[1] - before[1]))


def _grown(shells: Shells, at_km: Floats) -> Floats:
    """Give exp(y / G); the growth is cut off where nothing of the lining would be left."""
    passed = np.maximum(at_km - shells.onset_km, 0.0) / shells.growth_km
    return np.exp(np.minimum(passed, _ONSET_GROWTH_LIMIT))


def _by_layer(material: NDArray[np.int64], overlay_mm3: Floats, lining_mm3: Floats) -> Floats:
    overlay_of, lining_of, density = layer_table()
    overlay_row, lining_row = overlay_of[material], lining_of[material]
    columns = []
    # A loop over the four layers that exist.
    for layer in range(len(LAYERS)):
        mass = density[layer] * ((overlay_row == layer) * overlay_mm3
                                 + (lining_row == layer) * lining_mm3)
        columns.append((mass[:, :ROD_SLOTS].sum(axis=1), mass[:, MAINS]))
    return np.stack([rod for rod, _ in columns] + [main for _, main in columns], axis=1)


def _per_family(fleet: Fleet, values: list[float | None] | list[int | None]) -> Floats:
    return np.array(values, dtype=np.float64)[fleet.family]


def _areas(fleet: Fleet, rods: NDArray[np.int64]) -> Floats:
    """Give the loaded area per slot, 0 where there is no such slot; all main halves in the last."""
    records = [spec.record for spec in FAMILIES]
    half = loaded_area(_per_family(fleet, [r.pin_mm for r in records]),
                       _per_family(fleet, [r.shell_width_mm for r in records]))
    main = loaded_area(_per_family(fleet, [r.main_pin_mm for r in records]),
                       _per_family(fleet, [r.main_width_mm for r in records]))
    areas = np.where(np.arange(ROD_SLOTS + 1) < 2 * rods[:, None], half[:, None], 0.0)
    areas[:, MAINS] = 2 * _per_family(fleet, [r.mains for r in records]) * main
    return areas


def _by_material(fleet: Fleet) -> tuple[Floats, Floats]:
    """Steady loss [µm per 1000 km] and onset scale [km] per engine, by family and material."""
    steady = np.full((len(FAMILIES), len(MATERIALS)), np.nan)
    scale = steady.copy()
    for kind, spec in enumerate(FAMILIES):
        for entry, (material, *_) in enumerate(spec.materials):
            steady[kind, material] = spec.steady_um[entry]
            scale[kind, material] = spec.onset_km[entry]
    return steady[fleet.family, fleet.material], scale[fleet.family, fleet.material]
