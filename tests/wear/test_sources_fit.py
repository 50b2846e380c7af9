"""The fit behind a source split: intervals and signature errors.

Outside: ``scipy.optimize.nnls`` on the problem with its slacks written out, and
``scipy.optimize.minimize`` on the cost itself (nothing inside an interval, squared distance
outside), which knows of no slacks.
"""

import numpy as np
import pytest
from scipy.optimize import minimize, nnls

from oiltrend.wear import sources_fit
from oiltrend.wear.sources_fit import bounds_per_row, fit, free_columns, freedom, misfit, prepare
from oiltrend.wear.sources_input import Found, Signatures

NONE = np.array([], int)


def fleet(rows, elements, sources, seed, hidden=0.4, spread=0.0):
    rng = np.random.default_rng(seed)
    shares = rng.random((3, sources, elements)) * (rng.random((3, sources, elements)) < 0.7)
    shares += 0.02
    kind = rng.integers(0, 3, rows)
    amount = rng.lognormal(1.0, 0.8, (rows, sources)) * (rng.random((rows, sources)) < 0.7)
    value = np.einsum("ns,nsm->nm", amount, np.minimum(shares, 1.0)[kind])
    value = value + 0.5 * rng.normal(size=value.shape)
    low, high = np.full((2, rows, elements), np.nan)
    away = rng.random(value.shape) < hidden
    low[away] = value[away] - rng.uniform(0.0, 4.0, away.sum())
    high[away] = np.where(rng.random(away.sum()) < 0.15, np.inf, low[away] + 3.0)
    value[away] = np.nan
    names = tuple("abcdefgh"[:elements])
    found = Found(names, value, np.full(value.shape, 0.5), low, high)
    return found, Signatures(tuple("stuvw"[:sources]), np.minimum(shares, 1.0),
                             spread * np.minimum(shares, 1.0), kind)


def block_of(found, signatures, free=NONE):
    return prepare(found, signatures, np.arange(len(found.value)), free=free, free_share=0.3)


def written_out(found, shares, row):
    """Write one row's problem out with a slack for every bound."""
    lines, aims, slacks = [], [], []
    for element in range(found.value.shape[1]):
        weight = 1.0 / found.uncertainty[row, element]
        if np.isfinite(found.value[row, element]):
            lines.append(weight * shares[:, element])
            aims.append(weight * found.value[row, element])
            slacks.append(0.0)
            continue
        for bound, sign in ((found.high[row, element], 1.0), (found.low[row, element], -1.0)):
            if np.isfinite(bound) and (sign > 0 or bound > 0):
                lines.append(weight * shares[:, element])
                aims.append(weight * bound)
                slacks.append(sign * weight)
    matrix, slacks = np.array(lines), np.array(slacks)
    extra = np.diag(slacks)[:, slacks != 0.0]
    return np.column_stack([matrix, extra]), np.array(aims)


def cost(amount, found, shares, row):
    predicted = amount @ shares
    value, unit = found.value[row], found.uncertainty[row]
    off = np.where(np.isfinite(value), predicted - value,
                   np.fmax(predicted - found.high[row], 0) + np.fmax(found.low[row] - predicted, 0))
    return np.nansum((off / unit) ** 2)


def test_intervals_equal_the_problem_written_out():
    found, signatures = fleet(150, 7, 4, seed=1)
    block = block_of(found, signatures)
    assert bounds_per_row(found).max() > 3
    result = fit(block, block.seen, prior=False)
    chi2 = misfit(block, result)[1]
    for row in range(150):
        shares = signatures.shares[signatures.kind[row]]
        wanted, norm = nnls(*written_out(found, shares, row))
        assert chi2[row] == pytest.approx(norm**2, abs=1e-5 * (1 + norm**2))
        if np.linalg.matrix_rank(shares[:, np.isfinite(found.value[row])]) == 4:
            np.testing.assert_allclose(result.amount[:, row], wanted[:4], atol=1e-5)


def test_intervals_equal_a_general_minimiser():
    found, signatures = fleet(25, 6, 3, seed=2)
    block = block_of(found, signatures)
    result = fit(block, block.seen, prior=False)
    for row in range(25):
        shares = signatures.shares[signatures.kind[row]]
        best = minimize(cost, np.ones(3), args=(found, shares, row), method="L-BFGS-B",
                        bounds=[(0, None)] * 3, options={"ftol": 1e-14, "gtol": 1e-10})
        own = cost(result.amount[:, row], found, shares, row)
        assert own <= best.fun + 1e-6
        assert own == pytest.approx(misfit(block, result)[1][row], abs=1e-9)


def test_an_amount_inside_the_interval_costs_nothing():
    # Lead says 10, tin only "below 3": the overlay's 1.1 of tin fits, an alloy with half tin not.
    value = np.array([[10.0, np.nan]])
    found = Found(("Pb", "Sn"), value, np.full((1, 2), 0.1), np.zeros((1, 2)),
                  np.array([[np.nan, 3.0]]))
    for share, inside in ((0.1, True), (0.5, False)):
        signatures = Signatures(("alloy",), np.array([[[1 - share, share]]]),
                                np.zeros((1, 1, 2)), np.zeros(1, int))
        block = block_of(found, signatures)
        chi2 = misfit(block, fit(block, block.seen, prior=False))[1][0]
        assert bool(chi2 < 1e-9) is inside


def test_a_bound_below_zero_says_nothing():
    found = Found(("Pb",), np.full((1, 1), np.nan), np.ones((1, 1)), np.full((1, 1), -2.0),
                  np.full((1, 1), np.inf))
    assert bounds_per_row(found).tolist() == [0]


def test_a_source_held_only_by_an_interval_takes_the_least():
    found = Found(("Pb", "Fe"), np.array([[np.nan, 5.0]]), np.ones((1, 2)),
                  np.array([[0.0, np.nan]]), np.array([[4.0, np.nan]]))
    signatures = Signatures(("overlay", "steel"), np.array([[[0.9, 0.0], [0.0, 1.0]]]),
                            np.zeros((1, 2, 2)), np.zeros(1, int))
    block = block_of(found, signatures)
    amount = fit(block, block.seen, prior=False).amount[:, 0]
    np.testing.assert_allclose(amount, [0.0, 5.0], atol=1e-6)


def test_effective_variance_weighs_what_the_signature_leaves_open():
    # The fixed point, worked out by hand for one source: weights 1/(u² + x² s²).
    shares, spread = np.array([0.7, 0.3]), np.array([0.05, 0.10])
    found = Found(("Cu", "Pb"), np.array([[70.0, 36.0]]), np.ones((1, 2)))
    signatures = Signatures(("lining",), shares[None, None], spread[None, None], np.zeros(1, int))
    block = block_of(found, signatures)
    result = fit(block, block.seen, prior=False)
    x = 100.0
    for _ in range(200):
        weight = 1.0 / (1.0 + x**2 * spread**2)
        x = (weight * shares * found.value[0]).sum() / (weight * shares**2).sum()
    assert result.amount[0, 0] == pytest.approx(x, rel=1e-3)
    np.testing.assert_allclose(result.weight[:, 0], weight, rtol=0.01)
    assert x < 102.0  # with equal weights it would be 103.1


def test_free_terms_pay_for_what_they_take():
    # Nothing but copper, and no known source of it: an exponential prior of mean μ moves the
    # estimate down by u²/μ, μ = 0.3 (25 + 1).
    found = Found(("Cu",), np.array([[25.0]]), np.ones((1, 1)))
    signatures = Signatures(("steel",), np.zeros((1, 1, 1)), np.zeros((1, 1, 1)),
                            np.zeros(1, int))
    block = block_of(found, signatures, free=np.array([0]))
    amount = fit(block, np.ones((2, 1), bool), prior=True).amount
    assert amount[1, 0] == pytest.approx(25.0 - 1.0 / (0.3 * 26.0), abs=1e-6)
    assert fit(block, np.ones((2, 1), bool), prior=False).amount[1, 0] == pytest.approx(25.0)


def test_degrees_of_freedom_count_cells_that_speak_less_sources():
    found = Found(("Pb", "Sn", "Cu"), np.array([[9.0, np.nan, 1.0]]), np.full((1, 3), 0.1),
                  np.array([[np.nan, 0.0, np.nan]]), np.array([[np.nan, 0.5, np.nan]]))
    signatures = Signatures(("alloy",), np.array([[[0.6, 0.4, 0.0]]]), np.zeros((1, 1, 3)),
                            np.zeros(1, int))
    block = block_of(found, signatures)
    result = fit(block, block.seen, prior=False)
    residual, chi2 = misfit(block, result)
    # Lead and copper have values, tin lies beyond its bound; one source is above zero.
    assert freedom(block, result).tolist() == [2]
    assert residual[1, 0] < 0.0
    assert chi2[0] == pytest.approx(np.sum(residual**2))


def test_free_columns_follow_the_order_asked_for():
    assert free_columns(("Fe", "Sn", "Cu"), ("Cu", "Pb", "Sn")).tolist() == [2, 1]


def test_rows_of_a_block_can_be_taken():
    found, signatures = fleet(20, 5, 3, seed=3)
    block = block_of(found, signatures)
    some = block.some(np.array([4, 9]))
    whole = fit(block, block.seen, prior=False).amount
    np.testing.assert_allclose(fit(some, some.seen, prior=False).amount, whole[:, [4, 9]],
                               atol=1e-9)


def test_effective_variance_of_pearson_with_the_weights_of_york(monkeypatch):
    # A straight line through Pearson's data (1901) with the weights of York (1966): going round
    # for the effective variance ends at slope −.4634489 and intercept 5.3960523 (reproduced
    # elsewhere; from memory). It is not the maximum-likelihood line, −.4805334 and 5.4799102.
    x = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
    y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
    wx = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0])
    wy = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500.0])
    # As amounts above zero: y = level · 1 + fall · (10 − x)/10.
    shares = np.array([[np.ones(10), (10.0 - x) / 10.0]])
    spread = np.array([[np.zeros(10), 1.0 / np.sqrt(wx) / 10.0]])
    monkeypatch.setattr(sources_fit, "SETTLED", 1e-12)
    monkeypatch.setattr(sources_fit, "ROUNDS", 100)
    block = block_of(Found(tuple("abcdefghij"), y[None], 1.0 / np.sqrt(wy)[None]),
                     Signatures(("level", "fall"), shares, spread, np.zeros(1, int)))
    level, fall = fit(block, block.seen, prior=False).amount[:, 0]
    assert -fall / 10.0 == pytest.approx(-0.4634489, abs=2e-6)
    assert level + fall == pytest.approx(5.3960523, abs=2e-6)
    assert abs(-fall / 10.0 + 0.4805334) > 0.01
