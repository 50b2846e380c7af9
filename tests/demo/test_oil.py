"""The oil system against exact solutions and numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from oiltrend.demo.oil import advance, fresh_oil, mix, viscosity
from oiltrend.nomenclature import PANEL_INDEX


def run(mass: float, start: float, *, liquid: float = 0.0, vapour: float = 0.0,
        filtered: float = 0.0, generated: float = 0.0) -> tuple[float, float]:
    """One stretch of one engine and one metal; concentration in and out."""
    end_mass, content = advance(
        np.array([mass]), np.array([[start * mass]]), liquid_kg=np.array([liquid]),
        vapour_kg=np.array([vapour]), filtered_kg=np.array([filtered]),
        generated=np.array([[generated]]))
    return float(end_mass[0]), float(content[0, 0] / end_mass[0])


@pytest.mark.parametrize(("told", "expected"), [
    # Closed forms of the balance, evaluated by hand and by an integrator (own derivation).
    # 5 kg, 5 mg per 1000 km, cleaned at 0.25 kg per 1000 km, 10 000 km: 20 (1 − exp(−0.5)).
    ({"mass": 5, "start": 0, "filtered": 2.5, "generated": 50}, 7.8693868),
    # 5 to 3.5 kg by liquid loss, 4 mg per 1000 km, from 2 mg/kg: 2 + 4 / 0.15 ln(5 / 3.5).
    ({"mass": 5, "start": 2, "liquid": 1.5, "generated": 40}, 11.5113318),
    # The same loss as vapour: (10 + 40) / 3.5.
    ({"mass": 5, "start": 2, "vapour": 1.5, "generated": 40}, 14.2857143),
    # Nothing lost, nothing cleaned.
    ({"mass": 5, "start": 2, "generated": 40}, 10.0),
])
def test_known_solutions(told: dict[str, float], expected: float) -> None:
    assert run(**told)[1] == pytest.approx(expected, abs=1e-6)


@given(st.floats(3, 9), st.floats(0, 100), st.floats(0, 1.5), st.floats(0, 1.0),
       st.floats(0, 0.5), st.floats(0, 300))
def test_a_stretch_is_the_integral_of_its_equation(
        mass: float, start: float, liquid: float, vapour: float, filtered: float,
        generated: float) -> None:
    def slope(x: float, state: np.ndarray) -> list[float]:
        oil, metal = state
        return [-(liquid + vapour), generated - (liquid + filtered) * metal / oil]

    exact = solve_ivp(slope, (0, 1), [mass, start * mass], rtol=1e-10, atol=1e-12).y[:, -1]
    end_mass, concentration = run(mass, start, liquid=liquid, vapour=vapour, filtered=filtered,
                                  generated=generated)
    assert end_mass == pytest.approx(exact[0], rel=1e-9)
    assert concentration == pytest.approx(exact[1] / exact[0], rel=1e-7, abs=1e-9)


def test_a_drain_leaves_its_residue() -> None:
    """0.4 kg at 12 mg/kg under 4.6 kg of clean oil is 0.96 mg/kg, by arithmetic."""
    mass, content = mix(np.array([0.4]), np.array([[4.8]]), np.array([4.6]), np.zeros((1, 1)))
    assert float(content[0, 0] / mass[0]) == pytest.approx(0.96)


def test_a_bottle_takes_oil_and_leaves_the_concentration() -> None:
    mass, content = mix(np.array([5.0]), np.array([[40.0]]), np.array([-0.1]), np.ones((1, 1)))
    assert float(mass[0]) == pytest.approx(4.9)
    assert float(content[0, 0] / mass[0]) == pytest.approx(8.0)


def test_fuel_thins_the_oil_as_the_blending_index_says() -> None:
    """Refutas index by hand for 14.0 mm²/s with 5 % of a 0.45 mm²/s fuel, mass shares."""
    def index(value: float) -> float:
        return 14.534 * np.log(np.log(value + 0.8)) + 10.975

    blended = 0.95 * index(14.0) + 0.05 * index(0.45)
    expected = np.exp(np.exp((blended - 10.975) / 14.534)) - 0.8
    _, kv100 = viscosity(np.array([0]), np.zeros(1), np.zeros(1), np.array([5.0]))
    assert fresh_oil()[0, PANEL_INDEX["KV100"]] == 14.0
    assert float(kv100[0]) == pytest.approx(expected, rel=1e-12)


def test_shear_thins_and_oxidation_thickens() -> None:
    used = np.array([0.0, 5000.0, 5000.0])
    _, kv100 = viscosity(np.zeros(3, dtype=int), used, np.array([0.0, 0.0, 10.0]), np.zeros(3))
    assert kv100[1] < kv100[2] < kv100[0] * 1.1
    assert kv100[1] < kv100[0]
