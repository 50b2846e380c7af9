"""Fleets drawn from the latent-rate model itself, truth known, for tests of limits and charts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.limits.latent import RateReadings, rate_readings

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Fleet:
    """Readings, and what the laboratory did not know."""

    readings: RateReadings
    starts: NDArray[np.intp]
    family: NDArray[np.intp]
    true: Floats  # (engines, n, m)
    below: NDArray[np.bool_]

    def in_order(self, values: Floats) -> Floats:
        """Fold a long table into engines, intervals, measurands."""
        return values.reshape(self.true.shape)


def fleet(rng: np.random.Generator, engines: int, intervals: int, *, measurands: int = 1,
          level: float = 1.5, spread: float = 0.4, scatter: float = 0.3, fixed: float = 0.5,
          relative: float = 0.08, bound: float | None = None,
          shift: Floats | float = 0.0, common: float = 0.0) -> Fleet:
    """Draw a fleet: rates lognormal around levels that are lognormal, errors normal.

    ``bound`` is a reporting limit of the rate; ``shift`` is added to the log rates; ``common`` is
    the part of the variance from interval to interval that all measurands share.
    """
    shape = (engines, intervals, measurands)
    own = rng.normal(level, spread, (engines, 1, measurands))
    each = rng.normal(0.0, scatter * np.sqrt(1.0 - common), shape)
    shared = rng.normal(0.0, scatter * np.sqrt(common), (engines, intervals, 1)) if common else 0.0
    true = np.exp(own + each + shared + shift)
    rate = true + np.hypot(fixed, relative * true) * rng.normal(size=shape)
    below = np.zeros(shape, dtype=bool) if bound is None else rate < bound
    shown = rate if bound is None else np.where(below, bound, rate)
    error = np.hypot(fixed, relative * np.fmax(shown, 0.0))
    long = (engines * intervals, measurands)
    return Fleet(rate_readings(shown.reshape(long), error.reshape(long), relative=relative,
                               below=below.reshape(long)),
                 np.arange(0, long[0], intervals), np.zeros(engines, dtype=np.intp), true, below)
