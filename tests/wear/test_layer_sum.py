"""Metal since each shell went in.

Outside: the sum written out interval by interval in plain Python (below), which is the
definition; the rule of gaps (mean of the neighbours, else the one there is) is ours.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear.layer_sum import Intervals, mass_since


def plain_sum(starts, ends, rates, fitted, until):
    """Sum one engine and one element: sampled, and filled, in mg."""
    pieces = []  # (begin, end, rate or None)
    place = -np.inf
    for start, end, rate in zip(starts, ends, rates, strict=True):
        start = max(start, place)
        pieces += [(place, start, None), (start, end, None if np.isnan(rate) else rate)]
        place = end
    pieces.append((place, np.inf, None))
    cut = [(max(a, fitted), min(b, until), r) for a, b, r in pieces]
    cut = [(a, b, r) for a, b, r in cut if b > a]
    known = [i for i, (_, _, r) in enumerate(cut) if r is not None]
    if not known:
        return np.nan, np.nan
    sampled = sum((b - a) * r for a, b, r in cut if r is not None) / 1e3
    filled = 0.0
    for i, (a, b, r) in enumerate(cut):
        if r is None:
            sides = [max((k for k in known if k < i), default=None),
                     min((k for k in known if k > i), default=None)]
            near = [cut[k][2] for k in sides if k is not None]
            filled += (b - a) * sum(near) / len(near) / 1e3
    return sampled + filled, filled


def history(rng, engines, elements=2, missing=0.2):
    engine, start, end = [], [], []
    for number in range(engines):
        place = rng.uniform(0, 30e3)
        for _ in range(rng.integers(1, 9)):
            place += rng.uniform(0, 8e3) * (rng.random() < 0.5)
            use = rng.uniform(1e3, 12e3)
            engine.append(number)
            start.append(place)
            end.append(place + use)
            place += use
    rate = rng.uniform(0.5, 9.0, (len(engine), elements))
    rate[rng.random(rate.shape) < missing] = np.nan
    return Intervals(np.array(engine), np.array(start), np.array(end), rate,
                     np.full(rate.shape, 0.3))


def test_equals_the_sum_written_out():
    rng = np.random.default_rng(3)
    rows = history(rng, 60)
    fitted = np.sort(rng.uniform(-5e3, 60e3, (60, 3)), axis=1)
    until = rng.uniform(40e3, 110e3, 60)
    found = mass_since(rows, fitted, until)
    compared = 0
    for engine in range(60):
        own = rows.engine == engine
        for fitting in range(3):
            for element in range(2):
                total, filled = plain_sum(rows.start[own], rows.end[own], rows.rate[own, element],
                                          fitted[engine, fitting], until[engine])
                cell = (engine, fitting, element)
                np.testing.assert_allclose(found.value[cell], total, rtol=1e-9)
                if np.isfinite(total) and total > 0:
                    np.testing.assert_allclose(found.filled_share[cell], filled / total,
                                               atol=1e-9)
                    compared += 1
    assert compared > 200


ROWS = Intervals(np.zeros(3, int), np.array([0.0, 10e3, 20e3]), np.array([10e3, 20e3, 30e3]),
                 np.array([[2.0], [4.0], [6.0]]), np.array([[0.3], [0.4], [1.2]]))


def test_independent_readings_add_in_quadrature():
    found = mass_since(ROWS, np.zeros((1, 1)), np.array([30e3]))
    assert found.value[0, 0, 0] == pytest.approx(120.0)
    assert found.uncertainty[0, 0, 0] == pytest.approx(10.0 * np.sqrt(0.09 + 0.16 + 1.44))
    assert found.filled_share[0, 0, 0] == 0.0
    assert found.unsampled_start[0, 0] == 0.0


def test_a_rate_that_fills_a_gap_carries_its_error_there():
    found = mass_since(ROWS, np.zeros((1, 1)), np.array([45e3]))
    assert found.value[0, 0, 0] == pytest.approx(120.0 + 15 * 6.0)
    assert found.uncertainty[0, 0, 0] == pytest.approx(
        np.sqrt((10 * 0.3) ** 2 + (10 * 0.4) ** 2 + (25 * 1.2) ** 2))
    assert found.filled_use[0, 0, 0] == pytest.approx(15e3)


def test_shells_that_went_in_later_count_from_then():
    found = mass_since(ROWS, np.array([[0.0, 15e3, 25e3, np.nan]]), np.array([30e3]))
    np.testing.assert_allclose(found.value[0, :, 0], [120.0, 80.0, 30.0, np.nan])
    np.testing.assert_allclose(found.unsampled_start[0], [0.0, 0.0, 0.0, np.nan])


def test_the_shells_before_fill_no_gap_of_the_new_ones():
    rows = Intervals(np.zeros(2, int), np.array([0.0, 20e3]), np.array([10e3, 30e3]),
                     np.array([[50.0], [1.0]]), np.ones((2, 1)))
    found = mass_since(rows, np.array([[12e3]]), np.array([30e3]))
    # 8000 without a sample at the new shells' rate, not at the old ones' 50.
    assert found.value[0, 0, 0] == pytest.approx(18.0)
    assert found.unsampled_start[0, 0] == pytest.approx(8e3)


def test_new_shells_without_a_sample_are_unknown():
    found = mass_since(ROWS, np.array([[31e3]]), np.array([40e3]))
    assert np.isnan(found.value[0, 0, 0])
    assert np.isnan(found.high[0, 0, 0])


def test_bounds_add_up_and_the_value_is_then_unknown():
    rate = np.array([[2.0], [np.nan], [6.0]])
    low, high = np.array([[np.nan], [0.0], [np.nan]]), np.array([[np.nan], [3.0], [np.nan]])
    rows = Intervals(ROWS.engine, ROWS.start, ROWS.end, rate, ROWS.uncertainty, low, high)
    found = mass_since(rows, np.zeros((1, 1)), np.array([30e3]))
    assert np.isnan(found.value[0, 0, 0])
    np.testing.assert_allclose([found.low[0, 0, 0], found.high[0, 0, 0]], [80.0, 110.0])
    # Shells fitted after it do not have it in their sum.
    later = mass_since(rows, np.full((1, 1), 20e3), np.array([30e3]))
    assert later.value[0, 0, 0] == later.low[0, 0, 0] == later.high[0, 0, 0] == pytest.approx(60)


def test_an_open_bound_leaves_the_sum_open():
    rate = np.array([[2.0], [np.nan], [6.0]])
    low = np.array([[np.nan], [500.0], [np.nan]])
    high = np.array([[np.nan], [np.inf], [np.nan]])
    rows = Intervals(ROWS.engine, ROWS.start, ROWS.end, rate, ROWS.uncertainty, low, high)
    found = mass_since(rows, np.zeros((1, 1)), np.array([30e3]))
    assert found.low[0, 0, 0] == pytest.approx(80.0 + 5000.0)
    assert np.isinf(found.high[0, 0, 0])


def test_a_stretch_that_two_intervals_cover_counts_once():
    rows = Intervals(np.zeros(2, int), np.array([0.0, 5e3]), np.array([10e3, 15e3]),
                     np.array([[2.0], [4.0]]), np.ones((2, 1)))
    assert mass_since(rows, np.zeros((1, 1)), np.array([15e3])).value[0, 0, 0] == pytest.approx(40)


def test_an_engine_without_intervals_is_unknown_and_harms_no_other():
    found = mass_since(Intervals(ROWS.engine + 1, ROWS.start, ROWS.end, ROWS.rate,
                                 ROWS.uncertainty), np.zeros((3, 1)), np.full(3, 30e3))
    assert np.isnan(found.value[[0, 2]]).all()
    assert found.value[1, 0, 0] == pytest.approx(120.0)


def test_no_interval_at_all():
    empty = np.empty((0, 2))
    found = mass_since(Intervals(np.empty(0, int), np.empty(0), np.empty(0), empty, empty),
                       np.zeros((2, 1)), np.zeros(2))
    assert np.isnan(found.value).all()


@settings(max_examples=30)
@given(st.integers(0, 2**16), st.floats(0.01, 100.0))
def test_scales_with_the_rates_and_splits_at_any_meter(seed, factor):
    rng = np.random.default_rng(seed)
    rows = history(rng, 5, missing=0.0)
    # Without gaps, what came before a meter and what came after it is all of it.
    start = np.r_[rows.start[:1], np.where(np.diff(rows.engine) == 0, rows.end[:-1],
                                           rows.start[1:])]
    rows = Intervals(rows.engine, start, rows.end, rows.rate, rows.uncertainty)
    begin = np.array([[rows.start[rows.engine == e][0]] for e in range(5)])
    end = np.array([rows.end[rows.engine == e][-1] for e in range(5)])
    middle = begin[:, 0] + rng.uniform(0.1, 0.9, 5) * (end - begin[:, 0])
    whole = mass_since(rows, begin, end).value
    parts = mass_since(rows, begin, middle).value + mass_since(rows, middle[:, None], end).value
    np.testing.assert_allclose(parts, whole, rtol=1e-9)
    scaled = Intervals(rows.engine, rows.start, rows.end, factor * rows.rate, rows.uncertainty)
    np.testing.assert_allclose(mass_since(scaled, begin, end).value, factor * whole, rtol=1e-9)


@pytest.mark.parametrize(("change", "message"), [
    ({"start": np.zeros(2)}, r"^start: must have one number per row, 3 rows, found shape \(2,\); "
                             r"give an array of shape \(n,\)$"),
    ({"uncertainty": np.ones((3, 2))}, r"^uncertainty: must have the shape of rate \(3, 1\), "
                                       r"found \(3, 2\); give one number per row and element$"),
    ({"low": np.ones((3, 1))}, r"^low and high: must be given together, found one alone; give "
                               r"both bounds or neither$"),
    ({"end": np.array([10e3, 30e3, 20e3])}, r"^intervals: must be sorted by engine, then by use, "
                                            r"found row 2 before row 1; sort the rows$"),
])
def test_intervals_are_refused(change, message):
    whole = {"engine": ROWS.engine, "start": ROWS.start, "end": ROWS.end, "rate": ROWS.rate,
             "uncertainty": ROWS.uncertainty}
    with pytest.raises(ValueRefused, match=message):
        Intervals(**{**whole, **change})


def test_engines_and_ends_must_fit():
    with pytest.raises(ValueRefused, match=r"^until: must have one number per engine, 1 engines, "
                                           r"found shape \(2,\); give an array of shape "
                                           r"\(e,\)$"):
        mass_since(ROWS, np.zeros((1, 1)), np.zeros(2))
    with pytest.raises(ValueRefused, match=r"^engine: must be 0 to 0, found 1; number the "
                                           r"engines as the rows of fitted$"):
        mass_since(Intervals(ROWS.engine + 1, ROWS.start, ROWS.end, ROWS.rate, ROWS.uncertainty),
                   np.zeros((1, 1)), np.array([30e3]))
