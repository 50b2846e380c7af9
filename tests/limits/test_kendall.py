"""Kendall's score: variance and chance against published examples and all permutations."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.limits.kendall import exact_p_value, normal_p_value, score_variance


@pytest.mark.parametrize(("n", "score", "p"), [
    (5, 6, 2 * 0.1166667),  # US EPA QA/G-9, Mann-Kendall small-sample box, from memory
    (7, 5, 0.5619048),      # Helsel and Hirsch, chapter 8, from memory
    (3, 3, 2 / 6), (4, 6, 2 / 24), (10, 45, 2 / 3628800),
])
def test_exact_chances(n, score, p):
    assert exact_p_value(n, score) == pytest.approx(p, rel=1e-6)
    assert exact_p_value(n, -score) == exact_p_value(n, score)


def test_exact_chances_by_counting_every_order_of_six():
    scores = []
    for order in permutations(range(6)):
        y = np.array(order)
        scores.append(np.sign(y[None, :] - y[:, None])[np.triu_indices(6, 1)].sum())
    for score in range(-15, 16, 2):
        assert exact_p_value(6, score) == pytest.approx(
            np.mean(np.abs(scores) >= abs(score)), rel=1e-12)


def test_beyond_ten_samples_nothing_is_counted():
    assert np.isnan(exact_p_value([11, 1], [3, 0])).all()


def test_a_score_larger_than_possible_is_refused_in_full_words():
    with pytest.raises(ValueRefused) as refused:
        exact_p_value([5, 4], [6, 8])
    assert str(refused.value) == ("score: must not exceed n(n − 1)/2, found 8; pass the number of "
                                  "samples that the score was counted on")


def test_normal_chance_of_the_small_sample_box():  # US EPA QA/G-9: normal p two-sided 0.2206714
    z, p = normal_p_value(6, 5 * 4 * 15 / 18)
    assert p == pytest.approx(0.2206714, abs=1e-6)
    assert z == pytest.approx(1.2247449)


def test_all_values_tied_say_nothing():
    z, p = normal_p_value([0, 0], [0.0, 12.0])
    assert z.tolist() == [0.0, 0.0]
    assert p.tolist() == [1.0, 1.0]


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 3), st.booleans()), min_size=3, max_size=6),
       st.integers(0, 1))
def test_variance_is_that_of_every_order_with_ties_and_open_pairs(cells, tied_x):
    # Brute force: scores over all orders of the (value, censored) cells.
    n = len(cells)
    value = np.array([cell[0] for cell in cells])
    lost = np.array([cell[1] for cell in cells])
    above = (value[:, None] >= value) & lost[None, :] & ~lost[:, None]
    above |= (value[:, None] > value) & ~lost[None, :] & ~lost[:, None]
    sign = above.astype(int) - above.T.astype(int)
    x = np.arange(n)
    x[1] -= tied_x  # two samples at one place
    sign_x = np.sign(x[:, None] - x)
    scores = [(sign[np.ix_(order, order)] * sign_x).sum() / 2
              for order in (list(order) for order in permutations(range(n)))]
    variance = score_variance(n, ((sign.sum(axis=1) ** 2).sum(), (sign_x.sum(axis=1) ** 2).sum()),
                              ((sign**2).sum(), (sign_x**2).sum()))
    assert np.mean(scores) == pytest.approx(0.0, abs=1e-9)
    assert variance == pytest.approx(np.var(scores), rel=1e-9, abs=1e-9)
