"""The truth agrees with itself and with the records made from it."""

from __future__ import annotations

import json

import numpy as np
import pytest

from oiltrend.demo.materials import MATERIALS
from oiltrend.demo.shells import layer_state, wear_stage
from oiltrend.demo.truth import SITUATIONS, truth_as_json
from oiltrend.demo.wearing import ROD_SLOTS
from oiltrend.demo.workshop import Workshop
from oiltrend.nomenclature import PANEL_INDEX


def of_engine(works: Workshop, engine: str) -> np.ndarray:
    return np.flatnonzero(works.samples.engine == engine)


def test_depth_never_shrinks_unless_the_shell_was_renewed(large_fleet: Workshop) -> None:
    truth, renewed_seen = large_fleet.truth, 0
    openings = truth.openings
    for engine in truth.engines.engine:
        rows = of_engine(large_fleet, engine)
        ours = [k for k, name in enumerate(openings.engine) if name == engine]
        for before, after in zip(rows[:-1], rows[1:], strict=True):
            between = [k for k in ours if truth.samples.own_km[before] <= openings.own_km[k]
                       < truth.samples.own_km[after]]
            renewed = np.zeros(ROD_SLOTS + 1, dtype=bool)
            for k in between:
                renewed |= openings.renewed[k]
            grown = truth.samples.depth_um[after] - truth.samples.depth_um[before]
            kept = ~renewed & np.isfinite(grown)
            assert (grown[kept] >= 0).all()
            if renewed.any():
                renewed_seen += 1
                since = truth.samples.own_km[after] - openings.own_km[between[-1]]
                assert since > 0
    assert renewed_seen > 50


def test_stages_are_those_of_the_layer_state(large_fleet: Workshop) -> None:
    for part in (large_fleet.truth.samples, large_fleet.truth.openings):
        stages = wear_stage(np.nan_to_num(part.depth_um), np.nan_to_num(part.overlay_um))
        worst = np.where(np.isfinite(part.depth_um), stages, 0)[:, :ROD_SLOTS].max(axis=1)
        assert np.array_equal(worst, part.worst_stage)
    assert set(large_fleet.truth.openings.worst_stage.tolist()) == {1, 2, 3, 4, 5}


def test_bench_findings_are_the_truth_as_seen(large_fleet: Workshop) -> None:
    openings = large_fleet.truth.openings
    unscored = 0
    for row, teardown in enumerate(large_fleet.teardowns):
        assert teardown.engine == openings.engine[row]
        _, _, share, _ = layer_state(openings.depth_um[row], openings.overlay_um[row])
        stages = wear_stage(np.nan_to_num(openings.depth_um[row]),
                            np.nan_to_num(openings.overlay_um[row]))
        for finding in teardown.findings:
            slot = 2 * (finding.number - 1) + (finding.half == "cap")
            unscored += finding.not_scorable
            assert finding.wear_stage == (None if finding.not_scorable else stages[slot])
            if finding.layer_pct is not None:
                assert finding.layer_pct == pytest.approx(100 * share[slot], abs=0.051)
            assert finding.material == MATERIALS[openings.material[row, slot]].name
            assert (finding.action == "replaced") == openings.renewed[row, slot]
            assert (finding.failed != "none") == (stages[slot] == 5)
        assert len(teardown.findings) == np.isfinite(openings.depth_um[row, :ROD_SLOTS]).sum()
    assert unscored > 0


def test_the_two_halves_of_a_rod_share_one_clearance(works: Workshop) -> None:
    for teardown in works.teardowns:
        for rod in {finding.number for finding in teardown.findings}:
            pair = [f for f in teardown.findings if f.number == rod]
            assert len({f.clearance_mm for f in pair}) == 1
            assert len({f.new_clearance_mm for f in pair}) == 1


def test_wall_loss_is_read_at_the_crown(large_fleet: Workshop) -> None:
    """Twice the mean depth, within three standard deviations of the gauge (1 µm)."""
    openings, differences = large_fleet.truth.openings, []
    for row, teardown in enumerate(large_fleet.teardowns):
        for finding in teardown.findings:
            if finding.wall_crown_mm is not None and finding.wall_new_mm is not None:
                slot = 2 * (finding.number - 1) + (finding.half == "cap")
                lost = 1000 * (finding.wall_new_mm - finding.wall_crown_mm)
                differences.append(lost - 2 * openings.depth_um[row, slot])
    assert len(differences) > 300
    assert np.abs(differences).max() < 5
    assert np.std(differences) == pytest.approx(np.hypot(1.0, 1 / np.sqrt(12)), rel=0.1)


def test_ordinary_intervals_lose_less_than_a_micrometre(large_fleet: Workshop) -> None:
    samples, table = large_fleet.truth.samples, large_fleet.samples
    same = table.engine[1:] == table.engine[:-1]
    grown = np.nanmean(samples.depth_um[1:, :ROD_SLOTS] - samples.depth_um[:-1, :ROD_SLOTS], axis=1)
    quiet = same & ~samples.distressed[1:] & (grown >= 0)
    assert np.quantile(grown[quiet], 0.98) < 1.0
    assert np.median(grown[quiet]) > 0.02


def test_lead_of_sound_and_of_distressed_engines(large_fleet: Workshop) -> None:
    """The scenario: 2 to 8 ppm of lead per 10 000 km when sound, multiples after onset."""
    samples, table = large_fleet.truth.samples, large_fleet.samples
    v8 = np.char.startswith(table.engine.astype(str), "V8")
    lead = v8 & (samples.material[:, 0] == 0)
    ppm = samples.wear_rate[:, PANEL_INDEX["Pb"]] * 10 / (8.8 * 0.85)
    sound = ppm[lead & ~samples.distressed]
    assert np.quantile(sound, 0.10) > 2
    assert np.quantile(sound, 0.80) < 8
    late = lead & samples.distressed & (samples.own_km > samples.onset_km + 8000)
    assert np.median(ppm[late]) > 2 * np.median(sound)


def test_rates_are_the_sum_of_their_sources(works: Workshop) -> None:
    samples = works.truth.samples
    iron = samples.wear_rate[:, PANEL_INDEX["Fe"]]
    assert (iron > 0).all()
    lead = samples.wear_rate[:, PANEL_INDEX["Pb"]]
    no_lead_shells = samples.material[:, 0] == 1
    mains = samples.material[:, ROD_SLOTS] == 1
    assert (lead[no_lead_shells & mains] == 0).all()
    assert (lead[samples.material[:, 0] == 0] > 0).all()


def test_distressed_means_past_the_onset(works: Workshop) -> None:
    samples = works.truth.samples
    assert np.array_equal(samples.distressed, samples.own_km > samples.onset_km)


def test_the_document_is_complete_and_plain(works: Workshop) -> None:
    document = truth_as_json(works.truth, works.samples.engine, works.samples.sample_id)
    read = json.loads(json.dumps(document, allow_nan=False))
    assert read == document
    assert len(read["samples"]["engine"]) == len(works.samples)
    assert set(read["situations"]) == set(SITUATIONS)
    assert read["samples"]["depth_um"][0][0] == pytest.approx(
        works.truth.samples.depth_um[0, 0], abs=0.006)
    assert "invented" in read["note"]
