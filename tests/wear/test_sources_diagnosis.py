"""What the known sources cannot explain.

Outside: the rows of the split table (cooler copper 0, 0, 25, 80 and corroded lead 30, 0, 0, 80
with norms 7.657 and 3.453; derived, arithmetic); under no misfit the sum of squares follows
chi-squared, so that 1 % of sound rows are flagged for each question at most.
"""

import numpy as np
import pytest
from scipy.stats import chi2

from oiltrend.wear.sources import split_sources
from oiltrend.wear.sources_diagnosis import GAIN_99, SplitNote, note_codes, pair_limits
from oiltrend.wear.sources_fit import fit, prepare
from oiltrend.wear.sources_input import Found, Signatures

ELEMENTS = ("Pb", "Sn", "Cu", "Fe")
LEADED = np.array([[[0.88, 0.10, 0.02, 0.0], [0.24, 0.013, 0.747, 0.0], [0.0, 0.0, 0.0, 1.0]]])
LEAD_FREE = np.array([[[0.0, 0.94, 0.06, 0.0], [0.0, 0.08, 0.91, 0.0], [0.0, 0.0, 0.0, 1.0]]])
NAMES = ("overlay", "lining", "steel")


def note(found, *, shares=LEADED, uncertainty=1.0, new=False, elements=ELEMENTS, **options):
    values = np.array([found], float)
    signatures = Signatures(NAMES, shares[:, :, :len(elements)],
                            0 * shares[:, :, :len(elements)], np.zeros(1, int))
    split = split_sources(Found(elements, values, np.full(values.shape, uncertainty)), signatures,
                          new_shells=np.array([new]), **options)
    return note_codes(int(split.note[0]))


def test_the_limit_is_that_of_chi_squared():
    assert pytest.approx(chi2.isf(0.01, 1), abs=5e-4) == GAIN_99


@pytest.mark.parametrize(("found", "wanted"), [
    ((28.8, 3.13, 8.07, 100.0), ("nothing_unexplained",)),
    ((0.0, 0.0, 25.0, 80.0), ("copper_alone",)),
    ((30.0, 0.0, 0.0, 80.0), ("lead_alone",)),
    ((0.0, 20.0, 0.0, 80.0), ("tin_alone",)),
    # Copper beside lead enough for it is taken for lining; tin is too little to object.
    ((88.0, 10.0, 42.0, 80.0), ("nothing_unexplained",)),
    ((40.0, 0.0, 40.0, 80.0), ("lead_alone",)),
    ((0.0, 30.0, 60.0, 80.0), ("copper_alone", "tin_alone")),
])
def test_what_stands_alone_is_named(found, wanted):
    assert note(found) == wanted


def test_the_residual_of_the_first_step_is_kept():
    values = np.array([(0.0, 0.0, 25.0, 80.0), (30.0, 0.0, 0.0, 80.0)])
    split = split_sources(Found(ELEMENTS, values, np.ones((2, 4))),
                          Signatures(NAMES, LEADED, 0 * LEADED, np.zeros(2, int)))
    np.testing.assert_allclose(np.sqrt(split.known_chi2), [7.657, 3.453], atol=6e-4)
    np.testing.assert_allclose(split.known[:, 0], [0.0, 33.639], atol=6e-4)
    # Copper left over and lead missing; lead left over and tin missing.
    assert split.residual[0, 2] > 2.0
    assert split.residual[0, 0] < -7.0
    assert split.residual[1, 0] > 0.3
    assert split.residual[1, 1] < -3.0


def test_tin_on_new_shells_is_flash():
    assert note((0.0, 20.0, 0.0, 80.0), new=True) == ("tin_flash",)


def test_lead_without_a_leaded_layer_is_foreign():
    assert note((30.0, 2.0, 1.0, 80.0), shares=LEAD_FREE) == ("lead_foreign",)


def test_what_is_within_its_uncertainty_is_not_named():
    assert note((30.0, 0.0, 0.0, 80.0), uncertainty=2.0) == ("nothing_unexplained",)


def test_without_lead_and_tin_copper_cannot_be_questioned():
    values = np.array([[np.nan, np.nan, 25.0, 80.0]])
    split = split_sources(Found(ELEMENTS, values, np.ones((1, 4))),
                          Signatures(NAMES, LEADED, 0 * LEADED, np.zeros(1, int)))
    codes = note_codes(int(split.note[0]))
    assert codes == ("not_checked",)
    assert ("lining", "Cu, other") in split.pairs(0)


def test_another_element_with_a_free_term():
    assert note((0.0, 0.0, 0.0, -40.0), free=("Fe",)) == ("unexplained",)
    elements, shares = ("Pb", "Ag"), np.array([[[0.88, 0.0], [0.24, 0.0], [0.0, 0.0]]])
    assert note((8.0, 12.0), elements=elements, shares=shares, free=("Ag",)) == ("other_alone",)


def test_a_misfit_that_no_element_explains():
    # Too little tin for the lead and no free term for either.
    assert note((60.0, 0.0, 0.0, 80.0), free=()) == ("unexplained",)


def test_nothing_measured_is_said():
    assert note((np.nan,) * 4) == ("nothing_measured",)


def test_sound_rows_are_seldom_flagged():
    rng = np.random.default_rng(31)
    amount = rng.lognormal(2.5, 0.5, (8000, 3))
    values = amount @ LEADED[0] + rng.normal(size=(8000, 4))
    split = split_sources(Found(ELEMENTS, values, np.ones((8000, 4))),
                          Signatures(NAMES, LEADED, 0 * LEADED, np.zeros(8000, int)),
                          with_ranges=np.zeros(8000, bool))
    # One spare element, three one-sided questions at 1 % of two sides.
    flagged = (split.note & ~int(SplitNote.NOT_CHECKED)) != 0
    assert 0.002 < flagged.mean() < 0.02
    # With uncertainties told half of what they are, far more are flagged.
    told_less = split_sources(Found(ELEMENTS, values, np.full((8000, 4), 0.5)),
                              Signatures(NAMES, LEADED, 0 * LEADED, np.zeros(8000, int)),
                              with_ranges=np.zeros(8000, bool))
    assert (told_less.note & ~int(SplitNote.NOT_CHECKED) != 0).mean() > 0.1


def test_every_flag_has_a_code_of_its_own():
    codes = [note_codes(int(flag)) for flag in SplitNote]
    assert len({code for code, in codes}) == len(SplitNote)
    assert note_codes(0) == ("nothing_unexplained",)


def test_a_cell_parts_sources_by_the_width_of_its_interval():
    # Tin below 3, with and without a lower bound; lead above 500; copper not measured.
    nothing = np.full((2, 4), np.nan)
    low, high = nothing.copy(), nothing.copy()
    low[0, 1], high[:, 1], low[0, 0], high[0, 0] = 0.0, 3.0, 500.0, np.inf
    found = Found(ELEMENTS, nothing.copy(), np.ones((2, 4)), low, high)
    found.value[:, 3] = 9.0
    block = prepare(found, Signatures(NAMES, LEADED, 0 * LEADED, np.zeros(2, int)), np.arange(2),
                    free=np.array([], int), free_share=0.3)
    weight = fit(block, block.seen, prior=False).weight
    np.testing.assert_allclose(pair_limits(block, weight).T, [
        [0.0, 1 / (1 + 9 / 12), 0.0, 1.0], [0.0, 1 / (1 + 9 / 12), 0.0, 1.0]])
