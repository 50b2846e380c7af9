"""Wear of shells: closed forms, closure of mass, and what the ledger of layers says."""

from __future__ import annotations

from copy import deepcopy
from datetime import date

import numpy as np
import pytest

from oiltrend.demo.garage import draw_fleet
from oiltrend.demo.materials import LAYERS, MATERIALS, SOURCES, signatures
from oiltrend.demo.shells import layer_state
from oiltrend.demo.wearing import (
    MAINS,
    ROD_SLOTS,
    Shells,
    draw_onset,
    draw_shells,
    fit_new,
    progress,
)
from oiltrend.nomenclature import PANEL_INDEX


@pytest.fixture
def shells() -> Shells:
    rng = np.random.default_rng(11)
    return draw_shells(rng, draw_fleet(rng, engines=46, today=date(2026, 3, 14)))


def start_of(shells: Shells) -> np.ndarray:
    """A distance just ahead of the onset of distress, later than any shell was fitted."""
    return np.asarray(shells.onset_km - 2000)


def test_many_small_steps_wear_as_one_large_step(shells: Shells) -> None:
    other = deepcopy(shells)
    start, duty = start_of(shells), np.ones(46)
    whole = progress(shells, start, start + 9000, duty)
    parts = sum(progress(other, start + step * 90, start + (step + 1) * 90, duty)
                for step in range(100))
    assert other.depth_um == pytest.approx(shells.depth_um, rel=1e-9)
    # What is seen depends on how steady loss and distress mix within a step, a little.
    assert parts == pytest.approx(whole, rel=0.05, abs=1.0)


def test_depth_follows_the_written_law(shells: Shells) -> None:
    """Outside source: the law of the module's first lines, evaluated term by term."""
    start = start_of(shells)
    before = shells.depth_um.copy()
    progress(shells, start, start + 9000, np.full(46, 1.2))
    for engine, slot in ((2, 5), (31, 3), (44, 6), (10, MAINS)):
        x0 = start[engine] - shells.fitted_km[engine, slot]
        x1, y = x0 + 9000, 7000.0
        run_in = shells.run_in_um[engine, slot] * (np.exp(-x0 / 3000) - np.exp(-x1 / 3000))
        steady = 1.2 * shells.steady_um_km[engine, slot] * 9000
        growth = shells.growth_km[engine]
        distress = (shells.hit[engine, slot] * shells.first_um_km[engine] * growth
                    * (np.exp(y / growth) - 1))
        assert shells.depth_um[engine, slot] - before[engine, slot] == pytest.approx(
            run_in + steady + distress, rel=1e-9)


def test_visible_metal_is_depth_times_area_times_density(shells: Shells) -> None:
    """Closure, with one capture share for all: nothing appears in oil that no shell lost."""
    shells.capture_distress = shells.capture.copy()
    start = start_of(shells)
    before = layer_state(shells.depth_um.copy(), shells.overlay_um)
    seen = progress(shells, start, start + 15_000, np.ones(46))
    after = layer_state(shells.depth_um, shells.overlay_um)
    for engine in range(46):
        made = MATERIALS[shells.material[engine, 0]]
        overlay = (after[0] - before[0])[engine] * shells.area_mm2[engine] / 1000
        lining = (after[1] - before[1])[engine] * shells.area_mm2[engine] / 1000
        rods = lining[:ROD_SLOTS].sum() * LAYERS[made.lining].density
        assert seen[engine, made.lining] == pytest.approx(shells.capture[engine] * rods)
        if made.overlay >= 0:
            rods = overlay[:ROD_SLOTS].sum() * LAYERS[made.overlay].density
            assert seen[engine, made.overlay] == pytest.approx(shells.capture[engine] * rods)
            mains = overlay[MAINS] * LAYERS[made.overlay].density
            assert seen[engine, len(LAYERS) + made.overlay] == pytest.approx(
                shells.capture[engine] * mains)


def test_one_micrometre_of_lead_overlay_in_milligrams() -> None:
    """16.12 mg of overlay, 14.19 mg of lead, per µm of a full 48 × 20 mm half (own derivation
    from density and shares; two thirds of it on the loaded area)."""
    overlay = LAYERS[0]
    full = np.pi * 48 / 2 * 20
    assert full * 1e-3 * overlay.density == pytest.approx(16.12, abs=0.01)
    lead = signatures()[SOURCES.index("rod PbSn10Cu2"), PANEL_INDEX["Pb"]]
    assert full * 1e-3 * overlay.density * lead == pytest.approx(14.19, abs=0.01)


def test_shares_of_a_layer_add_up() -> None:
    for layer in LAYERS:
        assert sum(layer.shares.values()) == pytest.approx(1.0)
        assert layer.source
    for made in MATERIALS:
        assert made.source


def test_distress_hits_one_or_two_shells_of_one_pin_or_neighbours(shells: Shells) -> None:
    hit = (shells.hit > 0).sum(axis=1)
    assert set(hit.tolist()) == {1, 2}
    assert (shells.hit.max(axis=1) == 1.0).all()
    assert not (shells.hit[:, MAINS] > 0).any()
    assert not ((shells.hit > 0) & (shells.area_mm2 == 0)).any()


def test_onset_given_what_was_reached_is_a_cut_weibull(shells: Shells) -> None:
    """Shape 2.5: a chi-square-free check of the share beyond one scale, exp(a − 1) by hand."""
    rng = np.random.default_rng(12)
    fitted, reached = np.zeros(46), 0.5 * shells.onset_scale_km
    beyond = []
    for _ in range(400):
        draw_onset(rng, shells, np.ones(46, dtype=bool), fitted, reached)
        assert (shells.onset_km > reached).all()
        beyond.append((shells.onset_km > shells.onset_scale_km).mean())
    assert np.mean(beyond) == pytest.approx(np.exp(0.5 ** 2.5 - 1), abs=0.01)


def test_new_shells_start_at_nothing(shells: Shells) -> None:
    rng = np.random.default_rng(13)
    renewed = np.zeros((46, ROD_SLOTS + 1), dtype=bool)
    renewed[4, 2:6] = True
    old = deepcopy(shells)
    at = np.full(46, 123_456.0)
    fit_new(rng, shells, renewed, np.full((46, ROD_SLOTS + 1), 1), at)
    assert (shells.depth_um[4, 2:6] == 0).all()
    assert (shells.overlay_um[4, 2:6] == 0).all()
    assert (shells.fitted_km[4, 2:6] == 123_456.0).all()
    for name in ("depth_um", "overlay_um", "fitted_km", "material"):
        assert np.array_equal(getattr(shells, name)[~renewed], getattr(old, name)[~renewed])
