"""From the legs to the truth that is kept beside the demo."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.confounders import CONFOUNDER_INDEX, CONFOUNDERS
from oiltrend.demo.garage import Fleet
from oiltrend.demo.history import Kind, Legs
from oiltrend.demo.oil import OilSystem
from oiltrend.demo.paperwork import openings, sample_rows
from oiltrend.demo.truth import (
    SITUATIONS,
    EngineTruth,
    OpeningTruth,
    SampleTruth,
    Truth,
    wear_rates,
)
from oiltrend.demo.wearing import ROD_SLOTS, Shells
from oiltrend.records import OPENING_REASONS

__all__ = ["reveal"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def reveal(fleet: Fleet, oil: OilSystem, shells: Shells, legs: Legs,
           mixed_up: tuple[tuple[int, int], ...]) -> Truth:
    """Gather the truth of a simulated fleet.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    oil : OilSystem [-]
        Their oil systems.
    shells : Shells [-]
        Shells at the end, for what never changes.
    legs : Legs [-]
        Their legs.
    mixed_up : tuple of pairs of int [-]
        Rows of the sample table whose bottles were exchanged.

    Returns
    -------
    Truth [-]
        Per engine, sample and opening.
    """
    present = shells.area_mm2 > 0
    samples = _samples(legs, present, mixed_up)
    leg, engine = openings(legs)
    found = (leg, engine)
    return Truth(
        engines=EngineTruth(
            fleet.engine, oil.full_kg, oil.residue_kg / oil.full_kg, oil.liquid, oil.vapour,
            oil.filtered, shells.capture, shells.capture_distress,
            np.where(present, shells.steady_um_km, np.nan)),
        samples=samples,
        openings=OpeningTruth(
            tuple(fleet.engine[row] for row in engine), legs.km[found],
            _of_present(legs.depth_um[found], present[engine]),
            _of_present(legs.overlay_um[found], present[engine]), legs.material[found],
            legs.renewed[found], legs.km[found] > legs.onset_km[found], legs.worst[found]),
        mixed_up=mixed_up, situations=_situations(fleet, oil, shells, legs),
        confounders=_confounders(fleet, legs, samples))


def _of_present(values: Floats, present: Bools) -> Floats:
    return np.where(present, values, np.nan)


def _samples(legs: Legs, present: Bools, mixed_up: tuple[tuple[int, int], ...]) -> SampleTruth:
    leg, engine = sample_rows(legs)
    at = (leg, engine)
    touched = legs.touched[at].copy()
    same = np.concatenate(([False], engine[1:] == engine[:-1]))
    lab, station = legs.lab[at], legs.station[at]
    new_lab = same & (lab != np.concatenate(([0], lab[:-1])))
    new_station = same & (station != np.concatenate(([0], station[:-1])))
    touched[:, CONFOUNDER_INDEX["lab_change"]] = new_lab
    touched[:, CONFOUNDER_INDEX["method_change"]] = new_station & ~new_lab
    for pair in mixed_up:
        touched[list(pair), CONFOUNDER_INDEX["bottle_mixed_up"]] = True
    return SampleTruth(
        own_km=legs.km[at], oil_km=legs.oil_km[at], interval_km=legs.interval_km[at],
        value=legs.true[at], wear_rate=wear_rates(legs.sources[at]), sources=legs.sources[at],
        depth_um=_of_present(legs.depth_um[at], present[engine]),
        overlay_um=_of_present(legs.overlay_um[at], present[engine]),
        material=legs.material[at], onset_km=legs.onset_km[at],
        distressed=legs.km[at] > legs.onset_km[at], worst_stage=legs.worst[at], touched=touched)


def _confounders(fleet: Fleet, legs: Legs, samples: SampleTruth) -> dict[str, tuple[str, ...]]:
    _, engine = sample_rows(legs)
    return {kind: tuple(fleet.engine[row] for row in np.unique(engine[samples.touched[:, column]]))
            for column, kind in enumerate(CONFOUNDERS)}


def _situations(fleet: Fleet, oil: OilSystem, shells: Shells, legs: Legs
                ) -> dict[str, tuple[str, ...]]:
    """List the engines of every situation."""
    opened = legs.active & legs.opened
    renewed = legs.renewed[:, :, :ROD_SLOTS].sum(axis=2)
    halves = 2 * shells.rods
    followed = np.zeros_like(opened)
    followed[:-1] = legs.active[1:] & (legs.kind[1:] == Kind.OPENING)
    marks: dict[str, Bools] = {
        "distressed": _ever(legs.active & (legs.km > legs.onset_km)
                            & (legs.sampled | legs.opened)),
        "opened": _ever(opened),
        "set_replaced": _ever(opened & (renewed == halves)),
        "set_partly_replaced": _ever(opened & (renewed > 0) & (renewed < halves)),
        "set_refitted": _ever(opened & (renewed == 0)),
        "alarm_not_followed": _ever(legs.active & legs.alarm & ~followed),
        "mid_fill_samples": _ever(legs.active & (legs.kind == Kind.MID_FILL)),
        "oil_product_changed": _ever(legs.active & (legs.product != oil.product)),
    }
    for row, reason in enumerate(OPENING_REASONS):
        marks[f"opened_{reason}"] = _ever(opened & (legs.reason == row))
    named = {part: tuple(fleet.engine[row] for row in rows) for part, rows in fleet.parts.items()}
    for name, mark in marks.items():
        named[name] = tuple(fleet.engine[row] for row in np.flatnonzero(mark))
    return {name: named[name] for name in SITUATIONS}


def _ever(mark: Bools) -> Bools:
    """Tell per engine whether any of its legs is marked."""
    return np.asarray(mark.any(axis=0), dtype=np.bool_)
