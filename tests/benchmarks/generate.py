"""An invented lab file of any size: distances, rates and readings of a plausible fleet.

Fixed by its seed. Every engine is sampled at each oil change; metals follow a lognormal rate
of its own times the distance on the oil, additives lie about a level.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from oiltrend.nomenclature import MEASURANDS

# Level and how much it moves from sample to sample, by kind of measurand.
_LEVELS = {"wear": (9.0, 0.15), "contaminant": (6.0, 0.15), "additive": (900.0, 0.03),
           "condition": (12.0, 0.03)}
_FIRST = np.datetime64("2016-01-04")
_BAD_CELLS = ("1O.2", "12..3", "see note", "--4", "7 8")


def engine_name(number: int) -> str:
    """Give the name of an engine by its number in the fleet."""
    return f"E-{number:05d}"


def cells(values: NDArray[np.float64], below: NDArray[np.bool_]) -> NDArray[np.str_]:
    """Write readings as a lab does: one decimal, ``<1`` below the reporting limit."""
    return np.where(below, "<1", np.char.mod("%.1f", np.round(values, 1)))


def lab_file(path: Path, *, engines: int, samples: int, measurands: int, below: float = 0.05,
             bad_rows: float = 0.0, seed: int = 20250101) -> int:
    """Write a lab file in our own wide layout; give the number of rows with a bad cell."""
    rng = np.random.default_rng(seed)
    panel = MEASURANDS[:measurands]
    shape = (engines, samples)
    distance = rng.uniform(4000, 12000, shape).round()
    odometer = rng.uniform(0, 90000, (engines, 1)).round() + distance.cumsum(axis=1)
    days = (distance / 40).cumsum(axis=1).astype("timedelta64[D]")
    columns = [np.repeat([engine_name(number) for number in range(engines)], samples),
               (_FIRST + days).ravel().astype(str), np.char.mod("%d", odometer.ravel()),
               np.char.mod("%d", distance.ravel()), np.full(engines * samples, "yes"),
               np.full(engines * samples, "Lab A")]
    # Only small readings hide below a reporting limit; the share is of all cells.
    small = [m for m in panel if m.kind == "wear" or m.symbol in ("Si", "Na", "K")]
    for m in panel:
        level, moves = _LEVELS[m.kind]
        spread = rng.lognormal(0, 0.35, (engines if m.kind == "wear" else 1, 1))
        value = level * spread * rng.lognormal(0, moves, shape)
        value = value * distance / 8000 if m.kind == "wear" else value
        hidden = rng.random(shape) < (below * measurands / len(small) if m in small else 0.0)
        columns.append(cells(value.clip(m.low + 0.1, m.high), hidden).ravel())
    grid = np.column_stack([column.astype(object) for column in columns])
    spoilt = rng.choice(len(grid), size=round(len(grid) * bad_rows), replace=False)
    grid[spoilt, 6 + rng.integers(0, measurands, len(spoilt))] = rng.choice(
        _BAD_CELLS, len(spoilt))
    header = ["engine", "sample_date", "odometer_km", "oil_distance_km", "oil_changed", "lab",
              *(m.symbol for m in panel)]
    lines = [",".join(header), *(",".join(row) for row in grid.tolist())]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(spoilt)
