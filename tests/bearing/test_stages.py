"""The wear-stage scale, which is the project's own, and how failures count in it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.bearing.stages import (
    FAILURES,
    LAYER_STRUCTURES,
    WEAR_STAGES,
    counts_as,
    stage_text,
)
from oiltrend.errors import ValueRefused


def test_the_scale_runs_from_0_to_5_and_every_step_is_described_for_every_structure():
    assert [row.stage for row in WEAR_STAGES] == [0, 1, 2, 3, 4, 5]
    for structure in LAYER_STRUCTURES:
        texts = [stage_text(stage, structure) for stage in range(6)]
        assert len(set(texts)) == 6


def test_a_polymer_coating_is_scored_as_an_overlay():
    assert [stage_text(s, "polymer") for s in range(6)] == [
        stage_text(s, "trimetal") for s in range(6)]
    assert stage_text(3, "bimetal") == (
        "wall loss a quarter to all of what is allowed, or scoring over the width")


@pytest.mark.parametrize("word", FAILURES)
def test_a_failed_shell_counts_as_stage_4_or_worse(word):
    assert counts_as([0, 3, 4, 5, np.nan], [word] * 5).tolist() == [4, 4, 4, 5, 4]


def test_a_shell_that_was_not_scored_stays_unknown_and_none_is_no_failure():
    told = counts_as([2, np.nan, 1], ["none", "", "none"])
    assert told[[0, 2]].tolist() == [2, 1]
    assert np.isnan(told[1])


@given(st.integers(0, 5), st.sampled_from(["", "none", *FAILURES]))
def test_a_failure_never_lowers_a_stage(stage, word):
    assert counts_as(stage, word) >= stage
    assert counts_as(stage, word) in range(6)


@pytest.mark.parametrize(("use", "message"), [
    (lambda: counts_as([1, 6], ["", ""]),
     "wear_stage: must be 0 to 5, found 6; use 0 to 5, or not_scorable"),
    (lambda: counts_as([2.5], [""]),
     "wear_stage: must be 0 to 5, found 2.5; use 0 to 5, or not_scorable"),
    (lambda: counts_as([1], ["melted"]),
     "failed: must be one of none, wiped, turned, fatigued, found 'melted'; correct the word or "
     "leave it blank"),
    (lambda: stage_text(6, "trimetal"),
     "wear_stage: must be 0 to 5, found 6; use 0 to 5, or not_scorable"),
    (lambda: stage_text(1, "quadmetal"),
     "layer_structure: must be one of trimetal, bimetal, polymer, found 'quadmetal'; correct the "
     "engine family"),
])
def test_what_is_not_on_the_scale_is_refused_in_full_words(use, message):
    with pytest.raises(ValueRefused) as refused:
        use()
    assert str(refused.value) == message
