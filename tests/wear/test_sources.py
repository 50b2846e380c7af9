"""The source split as a whole.

Outside: the split table (derived, arithmetic); statistics: zero-bound sources get an upper
limit, the active set is compared with a tolerance. Cover is tested in
``test_sources_simulated.py``.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear import sources
from oiltrend.wear.sources import FREE_ELEMENTS, SourceState, split_sources
from oiltrend.wear.sources_input import Found, Signatures, share_spread
from oiltrend.wear.sources_table import OTHER_SOURCES, signature_rows

ELEMENTS = ("Pb", "Sn", "Cu", "Fe", "Al", "Si", "Cr", "Na", "K")
LAYERS = ({"Pb": 0.88, "Sn": 0.10, "Cu": 0.02}, {"Cu": 0.747, "Pb": 0.24, "Sn": 0.013})
BIMETAL = ({}, {"Al": 0.79, "Sn": 0.20, "Cu": 0.01})
NAMES = ("overlay", "lining", *(source.code for source in OTHER_SOURCES))


def known(kind):
    others = [source.shares for source in OTHER_SOURCES]
    shares = np.array([signature_rows([*LAYERS, *others], ELEMENTS),
                       signature_rows([*BIMETAL, *others], ELEMENTS)])
    return Signatures(NAMES, shares, share_spread(shares), np.asarray(kind))


def fleet(rows=60, seed=1, limit=0.0):
    rng = np.random.default_rng(seed)
    signatures = known(rng.integers(0, 2, rows))
    amount = rng.lognormal(1.5, 0.8, (rows, len(NAMES))) * (rng.random((rows, len(NAMES))) < 0.7)
    value = np.einsum("ns,nsm->nm", amount, signatures.shares[signatures.kind])
    unit = np.sqrt(0.2**2 + (0.05 * value) ** 2)
    value += unit * rng.normal(size=value.shape)
    low, high = np.full((2, *value.shape), np.nan)
    below = value < limit
    value[below], low[below], high[below] = np.nan, -1.0, limit
    value[rng.random(value.shape) < 0.05] = np.nan
    return Found(ELEMENTS, value, unit, low, high), signatures


def blank(found, *symbols):
    for symbol in symbols:
        for array in (found.value, found.low, found.high):
            array[:, ELEMENTS.index(symbol)] = np.nan


def figures(split):
    return np.concatenate([split.value, split.low, split.high], axis=1)


def test_the_split_table_comes_back():
    shares = np.array([[[0.88, 0.10, 0.02, 0], [0.24, 0.013, 0.747, 0], [0, 0, 0, 1.0]]])
    found = Found(("Pb", "Sn", "Cu", "Fe"), np.array([[28.8, 3.13, 8.07, 100.0]]),
                  np.full((1, 4), 0.1))
    split = split_sources(found, Signatures(("overlay", "lining", "steel"), shares, 0 * shares,
                                            np.zeros(1, int)))
    np.testing.assert_allclose(split.value[0], [30.0, 10.0, 100.0, 0.0, 0.0, 0.0], atol=1e-5)
    np.testing.assert_allclose(split.known[0], [30.0, 10.0, 100.0], atol=1e-5)
    assert split.note.tolist() == [0]
    assert (split.low[0, :3] > 0.0).all()
    assert (split.low[0, 3:] == 0.0).all()
    assert (split.high[0, 3:] > 0.0).all()  # an upper limit, no standard error


def test_ranges_enclose_values():
    found, signatures = fleet(300, limit=0.5)
    split = split_sources(found, signatures)
    seen = split.state == SourceState.SEEN
    assert (split.low[seen] <= split.value[seen] + 1e-6).all()
    assert (split.value[seen] <= split.high[seen] + 1e-6).all()
    assert (split.low[seen] >= 0.0).all()
    for array in (split.value, split.low, split.high):
        assert np.isnan(array[~seen]).all()


def test_what_is_not_there_and_what_is_not_seen_are_two_things():
    found, signatures = fleet(20, seed=3)
    blank(found, "Na", "K", "Si")
    split = split_sources(found, signatures)
    bimetal = signatures.kind == 1
    assert (split.state[bimetal, 0] == SourceState.NOT_THERE).all()
    assert (split.state[~bimetal, 0] == SourceState.SEEN).all()
    assert (split.state[:, NAMES.index("coolant")] == SourceState.NOT_SEEN).all()


def test_journal_and_bore_cannot_be_told_apart_by_iron_alone():
    found, signatures = fleet(10, seed=4)
    blank(found, "Cr", "Si", "Al")
    split = split_sources(found, signatures)
    clear = found.value[:, ELEMENTS.index("Fe")] > 4 * found.uncertainty[:, ELEMENTS.index("Fe")]
    assert clear.sum() > 4
    for row in np.flatnonzero(clear):
        assert ("journal", "bore_ring") in split.pairs(row)
        journal = NAMES.index("journal")
        iron = found.value[row, ELEMENTS.index("Fe")]
        # Either of them may be nothing, and either may be all of it.
        assert split.low[row, journal] == pytest.approx(0.0, abs=1e-6)
        assert split.high[row, journal] > 0.9 * iron


def test_rod_and_cap_halves_of_one_lining_under_two_overlays():
    # Sputtered rod halves, plated cap halves: two overlays, told apart by aluminium and lead.
    shares = signature_rows([{"Al": 0.7925, "Sn": 0.20, "Cu": 0.0075}, LAYERS[0], LAYERS[1]],
                            ("Pb", "Sn", "Cu", "Al"))[None]
    amount = np.array([[12.0, 7.0, 4.0]])
    found = Found(("Pb", "Sn", "Cu", "Al"), amount @ shares[0], np.full((1, 4), 0.05))
    split = split_sources(found, Signatures(("rod overlay", "cap overlay", "lining"), shares,
                                            0 * shares, np.zeros(1, int)))
    np.testing.assert_allclose(split.value[0, :3], amount[0], atol=0.05)
    assert split.pairs(0) == ()


def test_a_row_without_a_reading_is_blank_and_harms_no_other():
    found, signatures = fleet(30, seed=5)
    whole = split_sources(found, signatures)
    for array in (found.value, found.low, found.high):
        array[7] = np.nan
    split = split_sources(found, signatures)
    assert np.isnan(figures(split)[7]).all()
    assert np.isnan(split.chi2[7])
    assert not split.alike[7].any()
    others = np.arange(30) != 7
    np.testing.assert_allclose(figures(split)[others], figures(whole)[others], rtol=1e-9,
                               atol=1e-9)


def test_many_rows_are_as_one(monkeypatch):
    found, signatures = fleet(25, seed=6, limit=0.6)
    whole = split_sources(found, signatures)
    monkeypatch.setattr(sources, "BLOCK_ROWS", 4)
    np.testing.assert_allclose(figures(split_sources(found, signatures)), figures(whole),
                               rtol=1e-5, atol=1e-5)
    for row in range(25):
        one = slice(row, row + 1)
        alone = split_sources(
            Found(ELEMENTS, found.value[one], found.uncertainty[one], found.low[one],
                  found.high[one]),
            Signatures(NAMES, signatures.shares, signatures.spread, signatures.kind[one]))
        np.testing.assert_allclose(figures(alone)[0], figures(whole)[row], rtol=1e-5, atol=1e-5)
        assert alone.note[0] == whole.note[row]


def test_the_order_of_sources_and_elements_does_not_matter():
    found, signatures = fleet(40, seed=7, limit=0.5)
    whole = split_sources(found, signatures)
    rng = np.random.default_rng(0)
    by, column = rng.permutation(len(NAMES)), rng.permutation(len(ELEMENTS))
    other = split_sources(
        Found(tuple(ELEMENTS[c] for c in column), *(array[:, column] for array in (
            found.value, found.uncertainty, found.low, found.high))),
        Signatures(tuple(NAMES[s] for s in by), signatures.shares[:, by][:, :, column],
                   signatures.spread[:, by][:, :, column], signatures.kind))
    place = np.r_[by, len(NAMES) + np.arange(len(FREE_ELEMENTS))]
    assert other.sources == tuple(whole.sources[s] for s in place)
    for name in ("value", "low", "high"):
        np.testing.assert_allclose(getattr(other, name), getattr(whole, name)[:, place],
                                   rtol=1e-5, atol=1e-5)
    np.testing.assert_array_equal(other.note, whole.note)


@settings(max_examples=25, deadline=None)
@given(st.integers(-10, 10), st.integers(0, 2**16))
def test_metal_in_another_unit_gives_the_same_split(power, seed):
    # Powers of two, so that rounding cannot tip a row that has just or just not settled.
    factor = 2.0**power
    found, signatures = fleet(6, seed=seed, limit=0.5)
    whole = split_sources(found, signatures)
    other = split_sources(Found(ELEMENTS, *(factor * array for array in (
        found.value, found.uncertainty, found.low, found.high))), signatures)
    np.testing.assert_allclose(figures(other) / factor, figures(whole), rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(other.note, whole.note)


def test_ranges_can_be_left_out():
    found, signatures = fleet(50, seed=8)
    whole = split_sources(found, signatures)
    wanted = np.arange(50) % 3 == 0
    some = split_sources(found, signatures, with_ranges=wanted)
    np.testing.assert_allclose(some.value, whole.value, atol=1e-9)
    np.testing.assert_allclose(some.high[wanted], whole.high[wanted], rtol=1e-9, atol=1e-9)
    assert np.isnan(some.high[~wanted]).all()
    assert not some.alike[~wanted].any()


def test_free_terms_can_be_left_out():
    found, signatures = fleet(10, seed=9)
    split = split_sources(found, signatures, free=())
    assert split.sources == NAMES
    np.testing.assert_allclose(split.value, split.known, rtol=1e-2, atol=1e-2)


def test_a_wider_prior_gives_free_terms_more():
    # Copper and lead without tin: lining, or copper and lead of their own.
    found, signatures = fleet(200, seed=10)
    free = slice(len(NAMES), None)
    narrow = split_sources(found, signatures, free_share=0.05).value[:, free]
    wide = split_sources(found, signatures, free_share=2.0).value[:, free]
    assert np.nansum(wide) > 1.2 * np.nansum(narrow)


@pytest.mark.parametrize(("options", "message"), [
    ({"free_share": 0.0}, r"^free_share: must be above zero, found 0; give no free terms "
                          r"instead$"),
    ({"free_share": -1.0}, r"^free_share: must not be negative, found -1; correct the value or "
                           r"leave it blank$"),
])
def test_a_prior_that_is_none_is_refused(options, message):
    with pytest.raises(ValueRefused, match=message):
        split_sources(*fleet(3), **options)


def test_shapes_that_do_not_fit_are_refused():
    found, signatures = fleet(5)
    with pytest.raises(ValueRefused, match=r"^kind: must have one number per row, 5 rows, found "
                                           r"shape \(4,\); give an array of shape \(n,\)$"):
        split_sources(found, Signatures(NAMES, signatures.shares, signatures.spread,
                                        signatures.kind[:4]))
    with pytest.raises(ValueRefused, match=r"^shares: must have the 9 elements of the metal "
                                           r"found, found 8; lay the signatures out over the "
                                           r"same elements$"):
        split_sources(found, Signatures(NAMES, signatures.shares[:, :, :8],
                                        signatures.spread[:, :, :8], signatures.kind))
