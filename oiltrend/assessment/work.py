"""The chain up to the rates: axis, fills, readings, doubts, ledger, and which rows are judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.axis import use_axis
from oiltrend.assessment.doubts import find_doubts
from oiltrend.assessment.fills import Fills, find_fills
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.rates import Ledger, keep_ledger
from oiltrend.assessment.readings import Readings, read_fleet

__all__ = ["Worked", "last_row", "work_out"]


@dataclass(frozen=True, slots=True)
class Worked:
    """All that is known about the samples before any limit is asked.

    ``kept``: has a result, is not doubted (or was confirmed) and not awaited. ``current``:
    drawn from the shells that are in the engine now. ``latest``, ``earlier`` and ``doubtful``
    are rows per engine or -1: the last kept and current sample, the one before it, and a
    doubted one after it.
    """

    axis: NDArray[np.float64]
    event_axis: NDArray[np.float64]
    fills: Fills
    readings: Readings
    doubts: NDArray[np.bool_]
    doubted: NDArray[np.bool_]
    kept: NDArray[np.bool_]
    current: NDArray[np.bool_]
    ledger: Ledger
    latest: NDArray[np.int64]
    earlier: NDArray[np.int64]
    doubtful: NDArray[np.int64]


def last_row(engine_of: NDArray[np.int64], wanted: NDArray[np.bool_], engines: int
             ) -> NDArray[np.int64]:
    """Find the last wanted row of every engine.

    Parameters
    ----------
    engine_of : array, shape (n,) [-]
        Engine of each row, rising.
    wanted : array of bool, shape (n,) [-]
        Rows that count.
    engines : int [-]
        Number of engines.

    Returns
    -------
    array of int, shape (engines,) [-]
        Row, or -1.

    Examples
    --------
    >>> last_row(np.array([0, 0, 1]), np.array([True, True, False]), 2).tolist()
    [1, -1]
    """
    found = np.full(engines, -1, dtype=np.int64)
    rows = np.flatnonzero(wanted)
    np.maximum.at(found, engine_of[rows], rows)
    return found


def work_out(fleet: FleetInput) -> Worked:
    """Carry a fleet from samples to wear rates.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.

    Returns
    -------
    Worked [-]
        Arrays over samples and engines.
    """
    axis, event_axis = use_axis(fleet)
    fills = find_fills(fleet, axis, event_axis)
    readings = read_fleet(fleet)
    doubts = find_doubts(fleet, axis, fills, readings)
    set_aside = fleet.answered == "set_aside"
    doubted = (doubts.any(axis=1) & (fleet.answered != "confirmed")) | set_aside
    kept = readings.has_result & ~doubted & ~fleet.samples.awaited
    ledger = keep_ledger(fleet, axis, event_axis, fills, readings, doubted)
    current = _of_current_shells(fleet)
    engines = len(fleet.engines.engine)
    latest = last_row(fleet.engine_of, kept & current, engines)
    index = np.arange(len(axis))
    ahead = np.zeros(len(axis), dtype=bool)
    if len(axis):
        ahead = index < latest[fleet.engine_of]
    earlier = last_row(fleet.engine_of, kept & current & ahead, engines)
    open_doubt = doubted & current & readings.has_result & ~set_aside
    doubtful = last_row(fleet.engine_of, open_doubt, engines)
    doubtful = np.where(doubtful > latest, doubtful, -1)
    return Worked(axis, event_axis, fills, readings, doubts, doubted, kept, current, ledger,
                  latest, earlier, doubtful)


def _of_current_shells(fleet: FleetInput) -> NDArray[np.bool_]:
    """Leave out what was drawn up to the fitting of the present shells: it speaks of others."""
    on = fleet.engines.set_fitted_date[fleet.engine_of]
    meter = fleet.engines.set_fitted_meter[fleet.engine_of]
    by_date = fleet.samples.sample_date > on
    by_meter = fleet.samples.meter > meter
    dated = ~np.isnat(on) & ~np.isnat(fleet.samples.sample_date)
    metered = np.isfinite(meter) & np.isfinite(fleet.samples.meter)
    return np.where(dated, by_date, np.where(metered, by_meter, True))
