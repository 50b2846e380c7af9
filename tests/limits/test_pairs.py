"""The sweep over all pairs against two plain loops."""

import numpy as np
import pytest

from oiltrend.limits.pairs import sweep


def by_loops(x, value, censored):
    """Count pair by pair: slopes of the break points, score, and score of the falling line."""
    slopes, score, rising = [], 0, 0
    for i in range(len(x)):
        for j in range(i + 1, len(x)):
            if np.isnan([x[i], x[j], value[i], value[j]]).any():
                continue
            if censored[i] and censored[j]:
                sign = 0
            elif censored[i]:
                sign = 1 if value[j] >= value[i] else 0
            elif censored[j]:
                sign = -1 if value[j] <= value[i] else 0
            else:
                sign = int(np.sign(value[j] - value[i]))
            score += sign * int(np.sign(x[j] - x[i]))
            if x[i] == x[j] or (censored[i] and censored[j]):
                continue
            twice = not censored[i] and not censored[j]
            slopes += [(value[j] - value[i]) / (x[j] - x[i])] * (2 if twice else 1)
            further = j if x[j] > x[i] else i
            rising += 1 if twice or not censored[further] else 0
    return sorted(slopes), score, rising


@pytest.mark.parametrize("seed", range(6))
def test_every_pair_is_counted_once_in_any_order_with_gaps_and_bounds(seed):
    rng = np.random.default_rng(seed)
    x = rng.integers(0, 12, (9, 40)).astype(float)
    value = rng.integers(0, 8, x.shape).astype(float)
    value[rng.random(x.shape) < 0.15] = np.nan
    x[np.isnan(value)] = np.nan
    censored = (rng.random(x.shape) < 0.3) & ~np.isnan(value)
    sums = sweep(x, value, censored)
    for series in range(40):
        slopes, score, rising = by_loops(x[:, series], value[:, series], censored[:, series])
        found = sums.slopes[series]
        assert found[~np.isnan(found)] == pytest.approx(slopes)
        assert (sums.total[series], sums.score[series], sums.rising[series]) == (
            len(slopes), score, rising)


def test_without_bounds_every_slope_stands_once():
    x, value = np.arange(5.0)[:, None], np.array([3.0, 1.0, 4.0, 1.0, 5.0])[:, None]
    plain, doubled = sweep(x, value, None), sweep(x, value, np.zeros((5, 1), dtype=bool))
    assert plain.slopes.shape == (1, 10)
    assert np.repeat(plain.slopes, 2, axis=1) == pytest.approx(doubled.slopes)
    assert plain.score == doubled.score
    assert doubled.total == 2 * plain.total


def test_one_sample_has_no_pairs():
    assert sweep(np.zeros((1, 3)), np.zeros((1, 3)), None).slopes.shape == (3, 0)
