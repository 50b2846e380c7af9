"""What a source split takes, and what it refuses.

Outside: the spread of a share is the first-order effect of an error in its log-odds (checked
against the exact function). The dust of ISO 12103-1: 68 to 76 % silica and 10 to 15 % alumina,
from memory.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import PANEL
from oiltrend.wear.sources_fit import bounds_per_row
from oiltrend.wear.sources_input import Found, Signatures, hidden_uncertainty, share_spread
from oiltrend.wear.sources_table import OTHER_SOURCES, signature_rows

ONE = np.ones((2, 3))


@pytest.mark.parametrize(("given_", "message"), [
    ({"value": np.ones((2, 2))}, r"^value: must have rows and 3 elements, found shape \(2, 2\); "
                                 r"give an array of shape \(n, m\)$"),
    ({"low": ONE}, r"^low and high: must be given together, found one alone; give both bounds "
                   r"or neither$"),
    ({"uncertainty": np.ones((2, 4))}, r"^uncertainty: must have the shape of value \(2, 3\), "
                                       r"found \(2, 4\); give one number per row and element$"),
    ({"uncertainty": 0.0 * ONE}, r"^uncertainty: must be above zero, found 0; give the standard "
                                 r"uncertainty, or NaN if it is not known$"),
])
def test_found_is_refused(given_, message):
    with pytest.raises(ValueRefused, match=message):
        Found(**{"elements": ("Pb", "Sn", "Cu"), "value": ONE, "uncertainty": ONE, **given_})


SHARES = np.full((2, 1, 3), 0.3)


@pytest.mark.parametrize(("given_", "message"), [
    ({"shares": np.ones((2, 2, 3))}, r"^shares: must have kinds, 1 sources and elements, found "
                                     r"shape \(2, 2, 3\); give an array of shape \(k, s, m\)$"),
    ({"spread": np.ones((2, 1, 2))}, r"^spread: must have the shape of shares \(2, 1, 3\), found "
                                     r"\(2, 1, 2\); give one number per share$"),
    ({"shares": 100 * SHARES}, r"^shares: must lie between 0 and 1, found 30; give mass shares, "
                               r"not per cent$"),
    ({"spread": -SHARES}, r"^spread: must not be negative, found -0\.3; give mass shares, not "
                          r"per cent$"),
    ({"kind": np.array([0, 2])}, r"^kind: must be 0 to 1, found 2; number the sets of signatures "
                                 r"from 0$"),
])
def test_signatures_are_refused(given_, message):
    with pytest.raises(ValueRefused, match=message):
        Signatures(**{"sources": ("overlay",), "shares": SHARES, "spread": 0 * SHARES,
                      "kind": np.zeros(2, int), **given_})


@given(st.floats(0.001, 0.999), st.floats(0.001, 0.05))
def test_spread_of_a_share(share, relative):
    odds = np.log(share / (1 - share))
    moved = 1 / (1 + np.exp(-(odds + relative))) - share
    assert float(share_spread(share, relative=relative)) == pytest.approx(moved, rel=0.05)


def test_nothing_and_everything_are_certain():
    assert share_spread(np.array([0.0, 1.0])).tolist() == [0.0, 0.0]


def test_hidden_cells_of_the_ledger_can_be_split():
    # What the ledger gives for a reading below its limit: no rate, no uncertainty, an interval.
    low, high = np.array([[-0.5, 1.0, 500.0, np.nan]]), np.array([[2.5, 3.0, np.inf, np.nan]])
    unit = np.array([[np.nan, 0.2, np.nan, np.nan]])
    filled = hidden_uncertainty(unit, low, high)
    np.testing.assert_allclose(filled, [[0.3, 0.2, 50.0, np.nan]])
    found = Found(("Pb", "Sn", "Fe", "Al"), np.array([[np.nan, 2.0, np.nan, np.nan]]), filled,
                  low, high)
    assert bounds_per_row(found).tolist() == [2]


class TestOtherSources:
    def test_shares_are_shares_of_measurable_elements(self):
        for source in OTHER_SOURCES:
            assert 0.0 < sum(source.shares.values()) <= 1.0
            assert set(source.shares) <= set(PANEL)
            assert source.source

    def test_each_is_named_once(self):
        assert len({source.code for source in OTHER_SOURCES}) == len(OTHER_SOURCES)

    def test_dust_lies_in_the_ranges_of_the_test_dust(self):
        dust = next(source for source in OTHER_SOURCES if source.code == "dirt").shares
        assert 68 <= 100 * dust["Si"] / 0.4674 <= 76
        assert 10 <= 100 * dust["Al"] / 0.5293 <= 15

    def test_rows_follow_the_elements(self):
        rows = signature_rows([source.shares for source in OTHER_SOURCES], ("Fe", "Pb"))
        assert rows.shape == (len(OTHER_SOURCES), 2)
        assert not rows[:, 1].any()
        assert rows[0, 0] == OTHER_SOURCES[0].shares["Fe"]

    def test_no_source_is_an_empty_table(self):
        assert signature_rows([], ("Fe", "Pb")).shape == (0, 2)
