"""Non-negative least squares of many rows.

Outside: ``scipy.optimize.nnls`` row by row; the Karush-Kuhn-Tucker conditions, which are the
definition of the minimum; Lawson and Hanson, Solving Least Squares Problems, 1974, chapter 23,
example of a line under three conditions (x .621 .379, norm .338; more digits computed); the
split of (28.8, 3.13, 8.07, 100) into 30, 10, 100 and its three neighbours (derived,
arithmetic, confirmed with scipy).
"""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from oiltrend.errors import ValueRefused
from oiltrend.wear import sources_nnls
from oiltrend.wear.sources_nnls import nnls_rows


def problems(rows, elements, sources, kinds, seed):
    """Draw signatures with zeros, true amounts with zeros, noise, and uneven weights."""
    rng = np.random.default_rng(seed)
    shares = rng.random((kinds, sources, elements)) * (rng.random((kinds, sources, elements)) < .6)
    shares += 1e-3 * rng.random(shares.shape)
    kind = rng.integers(0, kinds, rows)
    amount = rng.lognormal(1.0, 1.0, (rows, sources)) * (rng.random((rows, sources)) < 0.6)
    value = np.einsum("ns,nsm->nm", amount, shares[kind]) + rng.normal(size=(rows, elements))
    return shares, kind, value, 1.0 / rng.uniform(0.2, 2.0, (rows, elements))


def one_by_one(shares, kind, value, weight):
    found = [nnls((shares[k] * w).T, y * w)
             for k, y, w in zip(kind, value, weight, strict=True)]
    return np.array([x for x, _ in found]), np.array([rest for _, rest in found])


@pytest.mark.parametrize(("elements", "sources", "kinds"), [
    (8, 6, 1), (8, 6, 12), (8, 6, 1500), (8, 8, 5), (12, 3, 4), (5, 1, 2)])
def test_equals_scipy_row_by_row(elements, sources, kinds):
    problem = problems(1500, elements, sources, kinds, seed=elements + sources + kinds)
    amount, rest = nnls_rows(*problem)
    wanted, wanted_rest = one_by_one(*problem)
    scale = np.maximum(wanted.max(axis=1, keepdims=True), 1.0)
    np.testing.assert_allclose(amount / scale, wanted / scale, atol=1e-8)
    np.testing.assert_allclose(rest, wanted_rest, atol=1e-8)


def test_more_sources_than_elements_fit_as_well_as_scipy():
    problem = problems(1000, 5, 8, 3, seed=4)
    np.testing.assert_allclose(nnls_rows(*problem)[1], one_by_one(*problem)[1], atol=1e-6)


def test_the_conditions_of_a_minimum_hold():
    shares, kind, value, weight = problems(4000, 8, 6, 9, seed=2)
    amount, _ = nnls_rows(shares, kind, value, weight)
    assert (amount >= 0.0).all()
    residual = (np.einsum("ns,nsm->nm", amount, shares[kind]) - value) * weight**2
    slope = np.einsum("nm,nsm->ns", residual, shares[kind])
    size = np.einsum("nm,nsm->ns", np.abs(value) * weight**2, shares[kind])
    assert (slope >= -1e-9 * size).all()
    assert (np.abs(slope[amount > 0.0]) <= 1e-9 * size[amount > 0.0]).all()
    # A wrong answer breaks them: the same amounts, each 1 % too large.
    residual = (np.einsum("ns,nsm->nm", 1.01 * amount, shares[kind]) - value) * weight**2
    slope = np.einsum("nm,nsm->ns", residual, shares[kind])
    assert (np.abs(slope[amount > 0.0]) > 1e-9 * size[amount > 0.0]).mean() > 0.9


def test_lawson_and_hanson_line_under_conditions():
    # Least squares with x >= 0 and x1 + x2 <= 1, by way of least distance to NNLS (chapter 23).
    t, w = np.array([0.25, 0.5, 0.5, 0.8]), np.array([0.5, 0.6, 0.7, 1.2])
    E = np.column_stack([t, np.ones(4)])
    G, h = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]]), np.array([0.0, 0.0, -1.0])
    Q, R = np.linalg.qr(E)
    GR = G @ np.linalg.inv(R)
    bound = h - GR @ (Q.T @ w)
    F = np.column_stack([GR, bound])
    aim = np.array([[0.0, 0.0, 1.0]])
    for u in (nnls_rows(F[None], np.zeros(1, int), aim, np.ones((1, 3)))[0][0],
              nnls(F.T, aim[0])[0]):
        rest = F.T @ u - aim[0]
        x = np.linalg.solve(R, -rest[:2] / rest[2] + Q.T @ w)
        np.testing.assert_allclose(x, [0.62131519, 0.37868481], atol=5e-8)
        assert np.linalg.norm(E @ x - w) == pytest.approx(0.33822936, abs=5e-8)


# Pb, Sn, Cu, Fe of overlay, lining, steel; metal found; amounts; norm of the residual.
SPLITS = [
    ((28.8, 3.13, 8.07, 100.0), (30.0, 10.0, 100.0), 0.0),
    ((40.0, 4.5, 1.0, 80.0), (45.415, 0.1239, 80.0), 0.0434),
    ((0.0, 0.0, 25.0, 80.0), (0.0, 30.327, 80.0), 7.657),
    ((30.0, 0.0, 0.0, 80.0), (33.639, 0.0, 80.0), 3.453),
]
SHARES = np.array([[[0.88, 0.10, 0.02, 0.0], [0.24, 0.013, 0.747, 0.0], [0.0, 0.0, 0.0, 1.0]]])


@pytest.mark.parametrize(("found", "amounts", "norm"), SPLITS)
def test_split_table(found, amounts, norm):
    amount, rest = nnls_rows(SHARES, np.zeros(1, int), np.array([found]), np.ones((1, 4)))
    np.testing.assert_allclose(amount[0], amounts, atol=6e-4)
    assert rest[0] == pytest.approx(norm, abs=5e-4)


def test_exact_recovery_of_three_sources_from_five_metals():
    # 12, 5 and 0 come back from data without noise (synthetic, derived, arithmetic).
    shares = np.random.default_rng(9).random((1, 3, 5))
    value = np.array([12.0, 5.0, 0.0]) @ shares
    amount, _ = nnls_rows(shares, np.zeros(1, int), value, np.ones((1, 5)))
    np.testing.assert_allclose(amount[0], [12.0, 5.0, 0.0], atol=1e-9)


def test_an_element_not_measured_is_left_out():
    shares, kind, value, weight = problems(200, 8, 4, 3, seed=6)
    value[:, 2] = np.nan
    keep = [0, 1, 3, 4, 5, 6, 7]
    np.testing.assert_allclose(
        nnls_rows(shares, kind, value, weight)[0],
        nnls_rows(shares[:, :, keep], kind, value[:, keep], weight[:, keep])[0], atol=1e-10)


def test_nothing_measured_gives_nothing():
    shares, kind, value, weight = problems(3, 5, 4, 1, seed=8)
    value[1] = np.nan
    amount, rest = nnls_rows(shares, kind, value, weight)
    assert np.isnan(amount[1]).all()
    assert np.isnan(rest[1])
    assert np.isfinite(amount[[0, 2]]).all()


def test_sources_that_cannot_be_told_apart_share_alike():
    shares = np.array([[[0.5, 0.5], [0.5, 0.5], [0.5, 0.5]]])
    amount, rest = nnls_rows(shares, np.zeros(1, int), np.array([[3.0, 3.0]]), np.ones((1, 2)))
    np.testing.assert_allclose(amount[0], 2.0, atol=1e-6)
    assert rest[0] == pytest.approx(0.0, abs=1e-9)


def test_the_order_of_the_sources_does_not_matter():
    shares, kind, value, weight = problems(500, 8, 6, 4, seed=11)
    order = np.random.default_rng(0).permutation(6)
    np.testing.assert_allclose(nnls_rows(shares[:, order], kind, value, weight)[0],
                               nnls_rows(shares, kind, value, weight)[0][:, order], atol=1e-9)


def test_many_rows_are_as_one(monkeypatch):
    problem = problems(60, 8, 6, 5, seed=12)
    whole = nnls_rows(*problem)[0]
    monkeypatch.setattr(sources_nnls, "BLOCK_ROWS", 7)
    np.testing.assert_allclose(nnls_rows(*problem)[0], whole, atol=1e-12)
    shares, kind, value, weight = problem
    for row in range(60):
        one = slice(row, row + 1)
        np.testing.assert_allclose(nnls_rows(shares, kind[one], value[one], weight[one])[0][0],
                                   whole[row], atol=1e-12)


@pytest.mark.parametrize("rounds", [0, 1, 2])
def test_rows_that_do_not_settle_are_finished_one_by_one(monkeypatch, rounds):
    problem = problems(200, 8, 6, 5, seed=13)
    whole = nnls_rows(*problem)[0]
    monkeypatch.setattr(sources_nnls, "ROUNDS", rounds)
    np.testing.assert_allclose(nnls_rows(*problem)[0], whole, atol=1e-8)


def test_going_in_circles_is_left_by_single_exchanges(monkeypatch):
    # With no patience every exchange is a single one, and the answer must be the same.
    problem = problems(500, 8, 6, 5, seed=14)
    whole = nnls_rows(*problem)[0]
    monkeypatch.setattr(sources_nnls, "PATIENCE", -1)
    np.testing.assert_allclose(nnls_rows(*problem)[0], whole, atol=1e-9)


@settings(max_examples=40)
@given(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3), st.integers(0, 2**16))
def test_amounts_scale_with_the_metal_and_not_with_the_weights(factor, heavier, seed):
    shares, kind, value, weight = problems(5, 8, 4, 2, seed=seed)
    amount, rest = nnls_rows(shares, kind, value, weight)
    other, other_rest = nnls_rows(shares, kind, factor * value, heavier * weight)
    scale = factor * np.maximum(amount.max(), 1.0)
    np.testing.assert_allclose(other / scale, factor * amount / scale, atol=1e-8)
    np.testing.assert_allclose(other_rest, factor * heavier * rest, rtol=1e-6,
                               atol=1e-8 * factor * heavier)


def test_wrong_shapes_are_refused():
    shares, kind, value, weight = problems(3, 5, 4, 1, seed=1)
    with pytest.raises(ValueRefused, match=r"^weights: must have 3 rows and 5 elements, found "
                                           r"shape \(3, 4\); give one number per row and "
                                           r"element$"):
        nnls_rows(shares, kind, value, weight[:, :4])
    with pytest.raises(ValueRefused, match=r"^values: must have 3 rows and 5 elements, found "
                                           r"shape \(2, 5\); give one number per row and "
                                           r"element$"):
        nnls_rows(shares, kind, value[:2], weight)


def test_is_at_least_three_times_faster_than_a_loop():
    # Time of this process alone, the better of three, so that other work does not count.
    shares, kind, value, weight = problems(30_000, 8, 6, 12, seed=3)

    def seconds(work, times):
        spent = []
        for _ in range(times):
            began = time.process_time()
            work()
            spent.append(time.process_time() - began)
        return min(spent)

    whole = seconds(lambda: nnls_rows(shares, kind, value, weight), 3)
    part = slice(0, 3000)
    loop = 10 * seconds(lambda: one_by_one(shares, kind[part], value[part], weight[part]), 3)
    assert loop > 3.0 * whole, f"loop {loop:.2f} s, all at once {whole:.2f} s"
