"""The truth for the ledger's tests: the differential equation itself, integrated numerically.

Nothing of ``oiltrend`` is used here. The state is (M, M·C), exactly as the balance of oil and
the balance of metal are written down: d(MC)/dx = W + a·C0 − (q + K)·C, dM/dx = a − q − qe with
generation W, make-up a, liquid loss q, evaporation qe and filter K.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp


@dataclass(frozen=True)
class Truth:
    """What really happened on n intervals: all arrays (n,), top-ups (n, k) in order."""

    use: NDArray[np.float64]
    start_mass: NDArray[np.float64]
    end_mass: NDArray[np.float64]
    spread: NDArray[np.float64]
    liquid_share: NDArray[np.float64]
    filter_rate: NDArray[np.float64]
    start: NDArray[np.float64]
    fresh: NDArray[np.float64]
    generation: NDArray[np.float64]
    lump_mass: NDArray[np.float64]
    lump_position: NDArray[np.float64]

    @property
    def loss(self) -> NDArray[np.float64]:
        return self.start_mass + self.spread + self.lump_mass.sum(axis=1) - self.end_mass


def integrate(truth: Truth) -> NDArray[np.float64]:
    """Give the concentration at the end of every interval, metal and oil counted separately."""
    liquid = truth.loss * truth.liquid_share / truth.use
    vapour = truth.loss * (1.0 - truth.liquid_share) / truth.use
    make_up = truth.spread / truth.use
    assert (truth.loss >= 0).all()

    def run(oil, metal, length):
        def slope(_, state):
            oil, metal = np.split(state, 2)
            concentration = metal / oil
            d_oil = make_up - liquid - vapour
            d_metal = (truth.generation + make_up * truth.fresh
                       - (liquid + truth.filter_rate) * concentration)
            return np.concatenate([d_oil * length, d_metal * length])

        solved = solve_ivp(slope, (0.0, 1.0), np.concatenate([oil, metal]), method="DOP853",
                           rtol=1e-11, atol=1e-11)
        assert solved.success
        return np.split(solved.y[:, -1], 2)

    oil, metal, done = truth.start_mass, truth.start_mass * truth.start, np.zeros_like(truth.use)
    for added, position in zip(truth.lump_mass.T, truth.lump_position.T, strict=True):
        oil, metal = run(oil, metal, (position - done) * truth.use)
        oil, metal, done = oil + added, metal + added * truth.fresh, position
    oil, metal = run(oil, metal, (1.0 - done) * truth.use)
    np.testing.assert_allclose(oil, truth.end_mass, rtol=1e-9)
    return metal / oil


@pytest.fixture(name="integrate")
def _integrate():
    return integrate


@pytest.fixture(name="Truth")
def _truth_class():
    return Truth
