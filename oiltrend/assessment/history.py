"""The history behind a verdict: everything that a figure or a table about one engine needs."""

from __future__ import annotations

import numpy as np

from oiltrend.assessment.doubts import DOUBT_CODES
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.rates import over_panel
from oiltrend.assessment.results import AppliedLimit, Doubt, EngineHistory, Marker
from oiltrend.assessment.values import day_or_none, number_or_none
from oiltrend.assessment.work import Worked
from oiltrend.nomenclature import PANEL

__all__ = ["engine_history"]


def engine_history(fleet: FleetInput, worked: Worked, engine: int,
                   limits: tuple[AppliedLimit, ...]) -> EngineHistory:
    """Cut one engine out of a worked fleet, oldest sample first.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    engine : int [-]
        Row in the engine table.
    limits : tuple of AppliedLimit [-]
        Limits as they stand for this engine.

    Returns
    -------
    EngineHistory [-]
        Only measurands that were ever reported have a column.
    """
    rows = np.flatnonzero(fleet.engine_of == engine)
    ledger, readings, samples = worked.ledger, worked.readings, fleet.samples
    columns = np.flatnonzero(readings.measured[rows].any(axis=0))
    cells = np.ix_(rows, columns)
    doubts = tuple(Doubt(int(fleet.sample_id[row]), DOUBT_CODES[code], "", fleet.answered[row])
                   for row in rows for code in np.flatnonzero(worked.doubts[row]))
    return EngineHistory(
        engine=fleet.engines.engine[engine], family=fleet.engines.family[engine],
        meter_unit=fleet.engines.meter_unit[engine],
        measurands=tuple(PANEL[i] for i in columns), sample=fleet.sample_id[rows],
        sample_date=samples.sample_date[rows], meter=samples.meter[rows],
        axis=worked.axis[rows], oil_distance=worked.fills.use[rows],
        fill=worked.fills.number[rows], series=readings.series[rows],
        doubted=worked.doubted[rows], awaited=samples.awaited[rows], lab=samples.lab[rows],
        value=samples.value[cells], qualifier=samples.qualifier[cells],
        start_ppm=ledger.start[cells], ppm_per_1000=ledger.per_1000[cells],
        mid_fill_per_1000=ledger.mid_fill_per_1000[cells],
        rate=over_panel(ledger.wear.rate, rows, columns),
        rate_low=over_panel(ledger.wear.low, rows, columns),
        rate_high=over_panel(ledger.wear.high, rows, columns), limits=limits,
        markers=_markers(fleet, worked, engine, rows), doubts=doubts)


def _markers(fleet: FleetInput, worked: Worked, engine: int, rows: np.ndarray[tuple[int], np.dtype[
        np.int64]]) -> tuple[Marker, ...]:
    """Events, changes of the oil at a sample, and breaks of the series."""
    events, samples = fleet.events, fleet.samples
    found = [Marker(str(events.kind[number]), number_or_none(worked.event_axis[number]),
                    day_or_none(events.on[number]), str(events.text[number]))
             for number in np.flatnonzero(events.engine == engine)]
    previous = -1
    for row in rows:
        axis, on = number_or_none(worked.axis[row]), day_or_none(samples.sample_date[row])
        if samples.oil_changed[row] == 1:
            found.append(Marker("oil_change", axis, on, str(samples.refill_product[row])))
        if not worked.readings.has_result[row]:
            continue
        if previous >= 0 and worked.readings.series[row] != worked.readings.series[previous]:
            found.append(Marker("series_break", axis, on,
                                f"{samples.lab[row]} {samples.method[row]}".strip()))
        previous = int(row)
    return tuple(sorted(found, key=lambda marker: (marker.axis is None, marker.axis or 0.0)))

