"""Results on their way into the store: an awaited sample gets its result, others are new."""

from __future__ import annotations

import numpy as np

from oiltrend.records import SampleTable
from oiltrend.store import FleetSamples, Transaction

__all__ = ["add_results"]


def add_results(tx: Transaction, samples: SampleTable, *, import_id: int | None = None) -> None:
    """Store results; one that belongs to an awaited sample is put into it.

    It belongs there when the engine is the same and the laboratory's number, the date or the
    meter reading agree.

    Parameters
    ----------
    tx : Transaction [-]
        Inside a write.
    samples : SampleTable [-]
        Results.
    import_id : int or None [-]
        The import they came from.
    """
    awaited = tx.awaited_samples()
    new = np.ones(len(samples), dtype=bool)
    if len(awaited):
        open_rows = set(range(len(awaited)))
        waiting = set(awaited.table.engine.tolist())
        # A loop over the results of engines that wait for one; those are few.
        for row in np.flatnonzero([name in waiting for name in samples.engine.tolist()]):
            place = _match(samples, int(row), awaited, open_rows)
            if place is not None:
                open_rows.discard(place)
                new[row] = False
                tx.fill_awaited(int(awaited.sample[place]), samples.take(np.array([row])),
                                int(awaited.rev[place]), import_id=import_id)
    tx.add_samples(samples if new.all() else samples.take(new), import_id=import_id)


def _match(samples: SampleTable, row: int, awaited: FleetSamples, open_rows: set[int]
           ) -> int | None:
    drawn = awaited.table
    for place in sorted(open_rows):
        if drawn.engine[place] != samples.engine[row]:
            continue
        number = bool(samples.sample_id[row]) and drawn.sample_id[place] == samples.sample_id[row]
        day = drawn.sample_date[place] == samples.sample_date[row]
        meter = drawn.meter[place] == samples.meter[row]
        if number or day or meter:
            return place
    return None
