"""The whole history of some engines, re-integrated numerically stretch by stretch."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from oiltrend.demo.confounders import draw_schedule
from oiltrend.demo.garage import draw_fleet
from oiltrend.demo.history import STRETCHES, Kind, Legs, Stretch, World, live
from oiltrend.demo.laboratory import draw_bias
from oiltrend.demo.oil import SAMPLE_KG, OilSystem, draw_oil, fresh_oil
from oiltrend.demo.truth import wear_rates
from oiltrend.demo.wearing import draw_shells
from oiltrend.nomenclature import PANEL_INDEX

METALS = [PANEL_INDEX[symbol] for symbol in ("Fe", "Cu", "Pb", "Si", "Ca")]
WATCHED = (3, 33, 42)  # one engine of each family


@pytest.fixture(scope="module")
def lived() -> tuple[Legs, OilSystem, list[Stretch]]:
    rng = np.random.default_rng(99)
    fleet = draw_fleet(rng, engines=46, today=date(2026, 3, 14))
    oil = draw_oil(rng, fleet)
    shells = draw_shells(rng, fleet)
    world = World(fleet, oil, draw_schedule(rng, fleet), draw_bias(rng), 17000.0,
                  np.full((46, 5), 3.0), rng, rng)
    stretches: list[Stretch] = []
    legs = live(world, shells, watch=stretches.append)
    return legs, oil, stretches


@pytest.mark.parametrize("engine", WATCHED)
def test_the_balance_of_a_whole_history(
        lived: tuple[Legs, OilSystem, list[Stretch]], engine: int) -> None:
    """Outside source: solve_ivp on mass and content, carried through top-ups, bottles, drains."""
    legs, oil, stretches = lived
    mass, content = oil.full_kg[engine], stretches[0].content[engine, METALS]
    checked = 0
    for number, stretch in enumerate(stretches):
        if not legs.active[stretch.leg, engine]:
            break
        liquid, vapour, cleaned = (float(part[engine]) for part in (
            stretch.liquid_kg, stretch.vapour_kg, stretch.filtered_kg))
        entered = stretch.generated[engine, METALS]

        def slope(x: float, state: np.ndarray, liquid: float = liquid, vapour: float = vapour,
                  cleaned: float = cleaned, entered: np.ndarray = entered) -> np.ndarray:
            return np.concatenate(([-(liquid + vapour)],
                                   entered - (liquid + cleaned) * state[1:] / state[0]))

        state = solve_ivp(slope, (0, 1), np.concatenate(([mass], content)), rtol=1e-9,
                          atol=1e-9).y[:, -1]
        fresh = stretch.fresh[engine, METALS]
        added = float(stretch.top_up_kg[engine])
        mass, content = state[0] + added, state[1:] + added * fresh
        if number % STRETCHES == STRETCHES - 1:
            at = (stretch.leg, engine)
            assert legs.true[at][METALS] == pytest.approx(content / mass, rel=1e-6)
            mass, content = after_visit(legs, oil, at, mass, content)
            checked += 1
    assert checked == legs.active[:, engine].sum() >= 6


def after_visit(legs: Legs, oil: OilSystem, at: tuple[int, int], mass: float,
                content: np.ndarray) -> tuple[float, np.ndarray]:
    concentration = content / mass
    if legs.changed[at]:
        residue, full = oil.residue_kg[at[1]], oil.full_kg[at[1]]
        fresh = fresh_oil()[legs.refill[at], METALS]
        return full, concentration * residue + fresh * (full - residue)
    bottle = SAMPLE_KG if legs.sampled[at] else 0.0
    return mass - bottle, concentration * (mass - bottle)


def test_the_level_stays_between_full_and_the_owners_patience(
        lived: tuple[Legs, OilSystem, list[Stretch]]) -> None:
    _, oil, stretches = lived
    for stretch in stretches:
        assert (stretch.mass_kg <= oil.full_kg + 1e-9).all()
        assert (stretch.mass_kg > 0.6 * oil.full_kg).all()


def test_what_is_written_follows_what_was_done(
        lived: tuple[Legs, OilSystem, list[Stretch]]) -> None:
    """The distance on the oil differs from what is written only after an unwritten change."""
    legs, _, _ = lived
    for engine in range(46):
        used = written = 0.0
        start = legs.km[0, engine] - legs.oil_km[0, engine]
        for leg in np.flatnonzero(legs.active[:, engine]):
            driven = legs.km[leg, engine] - start
            used, written, start = used + driven, written + driven, legs.km[leg, engine]
            assert legs.oil_km[leg, engine] == pytest.approx(used)
            assert legs.written_oil_km[leg, engine] == pytest.approx(written)
            if legs.changed[leg, engine]:
                used = 0.0
                written = written if legs.kind[leg, engine] == Kind.CHANGE_HIDDEN else 0.0
    assert (legs.kind[legs.active] == Kind.CHANGE_HIDDEN).sum() >= 3


def test_top_ups_are_remembered_litre_by_litre(
        lived: tuple[Legs, OilSystem, list[Stretch]]) -> None:
    legs, _, stretches = lived
    for leg in range(len(legs.kind)):
        poured = sum(s.top_up_kg for s in stretches if s.leg == leg) / 0.85
        assert legs.top_up_l[leg].sum(axis=1) == pytest.approx(poured)


def test_rates_in_the_truth_are_what_entered_since_the_last_sample_or_change(
        lived: tuple[Legs, OilSystem, list[Stretch]]) -> None:
    """Stretch by stretch: kilograms times rates against what the integrator was told."""
    legs, _, stretches = lived
    metals = [PANEL_INDEX[symbol] for symbol in ("Fe", "Cu", "Pb", "Sn", "Al", "Si")]
    entered, driven = np.zeros((46, len(metals))), np.zeros(46)
    for number, stretch in enumerate(stretches):
        entered, driven = entered + stretch.generated[:, metals], driven + stretch.km
        if number % STRETCHES == STRETCHES - 1:
            leg = stretch.leg
            rate = wear_rates(legs.sources[leg])[:, metals]
            active = legs.active[leg]
            assert legs.interval_km[leg][active] == pytest.approx(driven[active])
            assert (rate * driven[:, None] / 1000)[active] == pytest.approx(entered[active])
            restart = legs.sampled[leg] | legs.changed[leg]
            entered[restart], driven[restart] = 0.0, 0.0
