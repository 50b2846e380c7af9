"""Layers and stages of a worn shell against brute force and the written table."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.demo.shells import ALLOWED_UM, layer_state, loaded_area, wear_stage

depths = st.floats(0, 200)
thickness = st.one_of(st.just(0.0), st.floats(5, 30))


@given(depths, thickness)
def test_layers_are_what_summing_over_the_loaded_area_gives(depth: float, overlay: float) -> None:
    """Outside source: the profile itself, summed at 200 000 places."""
    place = (np.arange(200_000) + 0.5) / 200_000
    local = 2 * depth * (1 - place)
    got = layer_state(np.array([depth]), np.array([overlay]))
    lost, lining, share, crown = (float(part[0]) for part in got)
    assert lost == pytest.approx(np.minimum(local, overlay).mean(), abs=1e-3)
    assert lining == pytest.approx(np.maximum(local - overlay, 0).mean(), abs=1e-3)
    if depth > 1e-3:
        assert share == pytest.approx((local > overlay).mean(), abs=1e-4)
    assert crown == pytest.approx(max(2 * depth - overlay, 0), abs=1e-9)


@given(depths, thickness)
def test_nothing_is_lost_twice(depth: float, overlay: float) -> None:
    lost, lining, _, _ = layer_state(np.array([depth]), np.array([overlay]))
    assert float(lost[0] + lining[0]) == pytest.approx(depth, abs=1e-9)
    assert lost[0] <= overlay + 1e-9


def written_stage(share: float, wall_loss: float, covered: bool) -> int:
    """The table of the method, read word by word; what it leaves open is the module's."""
    if covered:
        if share == 0:
            return 1
        return 2 if share < 0.10 else 3 if share <= 0.50 else 4
    if wall_loss < 5:  # not to be measured with a ball micrometer, so only polish shows
        return 1
    return 2 if wall_loss < ALLOWED_UM / 4 else 3 if wall_loss <= ALLOWED_UM else 4


@given(st.floats(0.5, 22), thickness)
def test_stages_follow_the_written_table(depth: float, overlay: float) -> None:
    _, _, share, _ = layer_state(np.array([depth]), np.array([overlay]))
    stage = int(wear_stage(np.array([depth]), np.array([overlay]))[0])
    assert stage == written_stage(float(share[0]), 2 * depth, overlay > 0)


@given(st.lists(depths, min_size=2, max_size=8), thickness)
def test_a_deeper_shell_never_scores_lower(many: list[float], overlay: float) -> None:
    ordered = np.sort(many)
    stages = wear_stage(ordered, np.full(len(many), overlay))
    assert (np.diff(stages) >= 0).all()


def test_only_a_shell_that_breaks_up_reaches_the_last_stage() -> None:
    assert wear_stage(np.array([30.0, 38.0]), np.array([15.0, 15.0])).tolist() == [4, 5]
    assert wear_stage(np.array([59.0, 61.0]), np.zeros(2)).tolist() == [4, 5]


def test_loaded_area_of_one_half() -> None:
    """Two thirds of 1507.964 mm², the full half of a 48 × 20 mm shell (π D / 2 · B)."""
    area = float(loaded_area(np.float64(48), np.float64(20)))
    assert area == pytest.approx(1507.964 * 2 / 3, abs=1e-3)
