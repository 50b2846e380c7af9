"""What an assessment takes: the fleet as arrays, put together by the service from the store."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.settings import Settings
from oiltrend.records import Limit, SampleTable

__all__ = ["EngineTable", "EventTable", "FleetInput", "FreshOil", "ShellTable"]


@dataclass(frozen=True, slots=True)
class EngineTable:
    """One entry per engine, in the order of the samples. NaN and "" where nothing is known.

    ``set_fitted_date`` and ``set_fitted_meter`` tell when the whole set of rod shells was last
    renewed: what the oil said before it is about other shells.
    """

    engine: NDArray[np.object_]
    family: NDArray[np.object_]
    car: NDArray[np.object_]
    meter_unit: NDArray[np.object_]
    oil_fill_l: NDArray[np.float64]
    density_kg_l: NDArray[np.float64]
    residue_fraction: NDArray[np.float64]
    set_fitted_date: NDArray[np.datetime64]
    set_fitted_meter: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class EventTable:
    """Events of the fleet, one entry each; ``engine`` is the row in :class:`EngineTable`.

    Teardowns that drained the oil stand here as ``oil_change``; openings as ``teardown``; times
    at which shells went in as ``shells_fitted``.
    """

    engine: NDArray[np.int64]
    kind: NDArray[np.object_]
    on: NDArray[np.datetime64]
    meter: NDArray[np.float64]
    litres: NDArray[np.float64]
    new_meter: NDArray[np.float64]
    text: NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class FreshOil:
    """New-oil baselines: ``value[product, measurand]``, NaN where not measured; and the grade."""

    product: tuple[str, ...]
    value: NDArray[np.float64]
    grade: dict[str, str]


@dataclass(frozen=True, slots=True)
class ShellTable:
    """Rod shells that are in the engines now, one entry per half, sorted by engine.

    ``fitting`` is the entry in :class:`EventTable` of kind ``shells_fitted`` that put the half
    in, -1 where nobody knows; ``material`` the text as recorded; ``area_mm2`` the loaded area of
    the half and ``overlay_um`` the thickness of its overlay when new, NaN where not known.
    """

    engine: NDArray[np.int64]
    number: NDArray[np.int64]
    half: NDArray[np.object_]
    material: NDArray[np.object_]
    fitting: NDArray[np.int64]
    area_mm2: NDArray[np.float64]
    overlay_um: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FleetInput:
    """A fleet ready to be assessed.

    ``samples`` is sorted by engine, then date, meter and id; ``engine_of`` gives per sample the
    row in ``engines``; ``answered`` is per sample "", "confirmed" or "set_aside".
    """

    engines: EngineTable
    samples: SampleTable
    sample_id: NDArray[np.int64]
    engine_of: NDArray[np.int64]
    answered: NDArray[np.object_]
    events: EventTable
    shells: ShellTable
    fresh: FreshOil
    limits: tuple[Limit, ...]
    settings: Settings
    as_of: date
