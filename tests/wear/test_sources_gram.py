"""Small linear systems, rows last, against ``numpy.linalg`` one by one (the outside source)."""

import numpy as np
import pytest

from oiltrend.wear.sources_gram import (
    factored,
    normal_equations,
    passive_inverse,
    ridge,
    scaled,
    solve_passive,
    substitute,
    times,
)

ROWS = 40


@pytest.fixture
def equations():
    rng = np.random.default_rng(20)
    shares = rng.random((5, 7, ROWS))
    weight = rng.uniform(0.2, 3.0, (7, ROWS))
    value = rng.normal(size=(7, ROWS))
    return shares, weight, value, normal_equations(shares, weight, weight * value)


def test_normal_equations(equations):
    shares, weight, value, (gram, right) = equations
    for row in range(ROWS):
        F, W = shares[:, :, row], np.diag(weight[:, row])
        np.testing.assert_allclose(gram[:, :, row], F @ W @ F.T, rtol=1e-12)
        np.testing.assert_allclose(right[:, row], F @ W @ value[:, row], rtol=1e-10)


def test_scaled_equations_have_ones_on_the_diagonal_and_the_same_solution(equations):
    gram, right = equations[3]
    normal = scaled(gram, right, np.ones(right.shape, bool))
    np.testing.assert_allclose(np.einsum("ssn->sn", normal.gram), 1.0, rtol=1e-12)
    x = solve_passive(normal, normal.right, normal.usable) * normal.scale
    for row in range(ROWS):
        np.testing.assert_allclose(x[:, row], np.linalg.solve(gram[:, :, row], right[:, row]),
                                   rtol=1e-4)


def test_only_the_passive_part_is_solved(equations):
    gram, right = equations[3]
    normal = scaled(gram, right, np.ones(right.shape, bool))
    passive = np.random.default_rng(1).random(right.shape) < 0.5
    x = solve_passive(normal, normal.right, passive) * normal.scale
    inverse = passive_inverse(normal, passive)
    for row in range(ROWS):
        use = np.flatnonzero(passive[:, row])
        own = gram[np.ix_(use, use, [row])][:, :, 0]
        assert (x[~passive[:, row], row] == 0.0).all()
        np.testing.assert_allclose(x[use, row], np.linalg.solve(own, right[use, row]), rtol=1e-4)
        scale = normal.scale[use, row]
        np.testing.assert_allclose(inverse[np.ix_(use, use, [row])][:, :, 0],
                                   np.linalg.inv(own * np.outer(scale, scale)), rtol=1e-4)
        assert (inverse[~passive[:, row]][:, :, row] == 0.0).all()


def test_slacks_that_are_uncoupled_give_the_same_factors(equations):
    shares, weight, value, _ = equations
    shares[0, 3:] = 0.0
    shares[1, :3] = 0.0
    gram, right = normal_equations(shares, weight, weight * value)
    assert not gram[0, 1].any()
    every = np.ones(right.shape, bool)
    plain, with_slacks = scaled(gram, right, every), scaled(gram, right, every, slacks=2)
    assert ridge(plain).all()
    assert ridge(with_slacks)[:2].tolist() == [0.0, 0.0]
    for normal in (plain, with_slacks):
        solved = substitute(factored(normal, every), normal.right.copy())
        np.testing.assert_allclose(times(normal.gram, solved), normal.right, atol=1e-6)


def test_an_unknown_without_data_drops_out():
    gram = np.zeros((2, 2, 1))
    gram[0, 0] = 4.0
    normal = scaled(gram, np.array([[2.0], [0.0]]), np.ones((2, 1), bool))
    assert normal.usable[:, 0].tolist() == [True, False]
    assert (normal.scale[1] == 0.0).all()


def test_rows_can_be_taken(equations):
    gram, right = equations[3]
    normal = scaled(gram, right, np.ones(right.shape, bool))
    some = normal.some(np.array([3, 7]))
    np.testing.assert_array_equal(some.gram, normal.gram[:, :, [3, 7]])
    np.testing.assert_array_equal(some.right, normal.right[:, [3, 7]])
