"""The hidden truth of the demo workshop, kept beside it so that tests can compare.

The program never reads it: it holds what no record says, such as how deep each shell is worn
at each sample, when distress began, and which sample is touched by what.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.confounders import CONFOUNDERS
from oiltrend.demo.materials import MATERIALS, SOURCES, signatures
from oiltrend.demo.wearing import ROD_SLOTS
from oiltrend.nomenclature import PANEL_INDEX, WEAR_METALS

__all__ = ["SITUATIONS", "EngineTruth", "OpeningTruth", "SampleTruth", "Truth",
           "truth_as_json", "wear_rates"]

Floats = NDArray[np.float64]

# What a situation is called. The parts of the fleet come first, then what follows from the
# history; confounders carry their own names.
SITUATIONS: dict[str, str] = {
    "hours_meter": "engine counted in running hours",
    "meter_replaced": "the car's meter was replaced",
    "engine_swapped_out": "engine taken out of a car that got another one",
    "engine_swapped_in": "the engine that went into that car",
    "awaited_last_week": "a sample was drawn last week, the result is awaited",
    "awaited": "a sample was drawn two to three weeks ago, the result is awaited",
    "overdue": "the owner has stayed away for more than a year and a half",
    "few_samples": "an engine that is new to the workshop",
    "new_owner": "the car changed hands",
    "rebuilt_before_first_sample": "fresh shells, rings and bores at the first visit",
    "planned_opening": "the owner ordered an opening, whatever the oil says",
    "distressed": "one or two shells wear fast at some time in the history",
    "opened": "opened for any reason",
    "opened_alarm": "opened because the oil alarmed",
    "opened_planned": "opened as planned",
    "opened_symptom": "opened because of a noise",
    "opened_failure": "opened because it failed",
    "opened_other": "opened for another reason",
    "set_replaced": "every rod shell replaced at an opening",
    "set_partly_replaced": "only some rod shells replaced",
    "set_refitted": "every rod shell looked at and put back",
    "alarm_not_followed": "the crude rule alarmed and the engine was not opened then",
    "mid_fill_samples": "at least one sample between two changes",
    "oil_product_changed": "another oil from some day on",
}


@dataclass(frozen=True, slots=True)
class SampleTruth:
    """True values, one row per row of the sample table.

    ``own_km`` is the engine's own distance, whatever the meter shows; ``wear_rate`` is what
    entered the oil since the sample or change before, mg per 1000 km, and ``sources`` the
    same by source. Depths are means over the loaded area as the sample was drawn, NaN where
    the engine has no such slot.
    """

    own_km: Floats
    oil_km: Floats
    interval_km: Floats
    value: Floats
    wear_rate: Floats
    sources: Floats
    depth_um: Floats
    overlay_um: Floats
    material: NDArray[np.int64]
    onset_km: Floats
    distressed: NDArray[np.bool_]
    worst_stage: NDArray[np.int8]
    touched: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class OpeningTruth:
    """True values at each opening, one row per teardown. Shells as found, before any new one."""

    engine: tuple[str, ...]
    own_km: Floats
    depth_um: Floats
    overlay_um: Floats
    material: NDArray[np.int64]
    renewed: NDArray[np.bool_]
    distressed: NDArray[np.bool_]
    worst_stage: NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class EngineTruth:
    """True values per engine: oil system and what the laboratory sees of the worn metal."""

    engine: tuple[str, ...]
    full_kg: Floats
    residue_fraction: Floats
    liquid_kg_km: Floats
    vapour_kg_km: Floats
    filtered_kg_km: Floats
    capture: Floats
    capture_distress: Floats
    steady_um_km: Floats


@dataclass(frozen=True, slots=True)
class Truth:
    """The whole truth of one invented workshop.

    ``mixed_up`` pairs rows of the sample table whose bottles were exchanged; ``situations``
    and ``confounders`` list the engines concerned.
    """

    engines: EngineTruth
    samples: SampleTruth
    openings: OpeningTruth
    mixed_up: tuple[tuple[int, int], ...]
    situations: dict[str, tuple[str, ...]]
    confounders: dict[str, tuple[str, ...]]


def wear_rates(sources: Floats) -> Floats:
    """Sum what the sources shed, element by element.

    Parameters
    ----------
    sources : array, shape (n, n_sources) [mg/(1000 km)]
        Metal that entered the oil, by source.

    Returns
    -------
    array, shape (n, n_measurands) [mg/(1000 km)]
        The same by element.
    """
    return np.asarray(sources @ signatures(), dtype=np.float64)


def truth_as_json(truth: Truth, samples_engine: NDArray[np.object_],
                  sample_id: NDArray[np.object_]) -> dict[str, Any]:
    """Turn the truth into one document of plain lists; numbers rounded, NaN as null.

    Parameters
    ----------
    truth : Truth [-]
        The truth.
    samples_engine, sample_id : array of object, shape (n,) [-]
        Engine and number of each sample, so that rows can be found again.

    Returns
    -------
    dict [-]
        A document for :func:`json.dumps`.
    """
    samples, openings, engines = truth.samples, truth.openings, truth.engines
    metals = [PANEL_INDEX[symbol] for symbol in WEAR_METALS]
    return {
        "note": "demo workshop, invented data: the truth that the simulator knows",
        "slots": [f"rod {slot // 2 + 1} {'cap' if slot % 2 else 'rod'}"
                  for slot in range(ROD_SLOTS)] + ["mains"],
        "metals": list(WEAR_METALS), "sources": list(SOURCES),
        "materials": [material.name for material in MATERIALS],
        "situations": {name: list(who) for name, who in truth.situations.items()},
        "confounders": {name: list(who) for name, who in truth.confounders.items()},
        "mixed_up": [[str(sample_id[a]), str(sample_id[b])] for a, b in truth.mixed_up],
        "engines": {
            "engine": list(engines.engine), "full_kg": _plain(engines.full_kg),
            "residue_fraction": _plain(engines.residue_fraction),
            "capture": _plain(engines.capture),
            "capture_distress": _plain(engines.capture_distress)},
        "samples": {
            "engine": samples_engine.tolist(), "sample_id": sample_id.tolist(),
            "own_km": _plain(samples.own_km, 0), "interval_km": _plain(samples.interval_km, 0),
            "value": _plain(samples.value[:, metals]),
            "wear_rate": _plain(samples.wear_rate[:, metals]),
            "sources": _plain(samples.sources), "depth_um": _plain(samples.depth_um, 2),
            "overlay_um": _plain(samples.overlay_um, 2), "material": samples.material.tolist(),
            "onset_km": _plain(samples.onset_km, 0), "distressed": samples.distressed.tolist(),
            "worst_stage": samples.worst_stage.tolist(),
            "confounders": [[CONFOUNDERS[k] for k in np.flatnonzero(row)]
                            for row in samples.touched]},
        "openings": {
            "engine": list(openings.engine), "own_km": _plain(openings.own_km, 0),
            "depth_um": _plain(openings.depth_um, 2),
            "overlay_um": _plain(openings.overlay_um, 2),
            "material": openings.material.tolist(), "renewed": openings.renewed.tolist(),
            "distressed": openings.distressed.tolist(),
            "worst_stage": openings.worst_stage.tolist()},
    }


def _plain(values: Floats, decimals: int = 4) -> list[Any]:
    rounded = np.round(values, decimals).astype(object)
    rounded[~np.isfinite(values)] = None
    return list(rounded.tolist())
