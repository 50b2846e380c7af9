"""Wear rates of a fleet: figures, uncertainty, reporting limits.

Outside numbers: 45.208 mg/kg (C 40, M 4.0 kg, 1.0 kg fresh oil since the change; closed form
a/(1 − e^−a), computed) and MB1 (exact solution). The uncertainty is held against simulation.
"""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.errors import ValueRefused
from oiltrend.wear import ledger
from oiltrend.wear.carry_over import carry_over
from oiltrend.wear.ledger import COVERAGE_FACTOR, IntervalReadings, wear_rates
from oiltrend.wear.masses import IntervalMasses, RowNote

PLAIN = {"use": 10e3, "start_mass": 5.0, "start_mass_half": 0.1, "end_mass": 4.8,
         "end_mass_half": 0.2, "added_mass": 0.6, "added_mass_half": 0.3, "liquid_share": 0.7,
         "liquid_share_half": 0.2, "filter_rate": 1e-5, "fresh_in_start": 0.9}
READ = {"start": 2.0, "start_uncertainty": 0.3, "end": 14.0, "end_uncertainty": 0.8,
        "fresh": 0.5, "fresh_uncertainty": 0.2}
EXACT = {"start_mass_half": 0.0, "end_mass_half": 0.0, "added_mass_half": 0.0,
         "liquid_share_half": 0.0}
CERTAIN = {"start_uncertainty": 0.0, "end_uncertainty": 0.0, "fresh_uncertainty": 0.0}


def masses(n=1, **changes):
    return IntervalMasses(**{name: np.broadcast_to(np.asarray(value, float), (n,))
                             for name, value in {**PLAIN, **changes}.items()})


def readings(n=1, **changes):
    return IntervalReadings(**{
        name: np.broadcast_to(np.reshape(np.asarray(value, float), (-1, 1)), (n, 1)).copy()
        for name, value in {**READ, **changes}.items()})


def one(result, name):
    return float(getattr(result, name)[0, 0])


def fleet(n=40, m=7, seed=5):
    """Draw a fleet with blanks, readings below and above their limits, and odd masses."""
    rng = np.random.default_rng(seed)
    start = rng.uniform(4, 9, n)
    side = {"use": rng.uniform(2e3, 2e4, n), "start_mass": start,
            "start_mass_half": rng.uniform(0, 0.2, n), "end_mass": start * rng.uniform(0.8, 1.1, n),
            "end_mass_half": rng.uniform(0, 0.3, n), "added_mass": rng.uniform(0, 1.5, n),
            "added_mass_half": rng.uniform(0, 0.5, n), "liquid_share": rng.uniform(0.2, 0.9, n),
            "liquid_share_half": rng.uniform(0, 0.3, n), "filter_rate": rng.uniform(0, 2e-5, n),
            "fresh_in_start": rng.uniform(0, 1, n)}
    read = {name: rng.uniform(0, high, (n, m)) for name, high in
            (("start", 5), ("start_uncertainty", 0.5), ("end", 40), ("end_uncertainty", 1),
             ("fresh", 1), ("fresh_uncertainty", 0.3))}
    if n >= 10:  # one of each kind of odd row
        side["end_mass"][3] = 3 * start[3]
        side["end_mass"][4] = 0.05 * start[4]
        side["end_mass"][5] = np.nan
        side["use"][6] = 0.0
    limit = rng.uniform(0.5, 2, (n, m))
    read |= {"start_low": np.zeros((n, m)), "start_high": limit,
             "end_low": np.zeros((n, m)), "end_high": limit.copy()}
    for name in ("start", "end"):
        read[name][rng.random((n, m)) < 0.2] = np.nan
        blank = np.isnan(read[name]) & (rng.random((n, m)) < 0.3)
        read[f"{name}_low"][blank] = read[f"{name}_high"][blank] = np.nan
    return side, read


def same(found, expected):
    for field in fields(expected):
        np.testing.assert_array_equal(getattr(found, field.name), getattr(expected, field.name))


class TestFigures:
    def test_mb1(self):
        found = wear_rates(masses(**EXACT, end_mass=5.0, added_mass=2.5, liquid_share=1.0,
                                  filter_rate=0.0),
                           readings(start=0.0, end=7.8693868, fresh=0.0, **CERTAIN))
        assert one(found, "rate") == pytest.approx(5.0, abs=5e-8)
        # Without loss it would have read 10.0 mg/kg.
        assert one(found, "undiluted") == pytest.approx(10.0, abs=1e-7)

    def test_oil_added_since_the_change(self):
        found = wear_rates(masses(**EXACT, start_mass=4.0, end_mass=4.0, added_mass=1.0,
                                  liquid_share=1.0, filter_rate=0.0),
                           readings(start=0.0, end=40.0, fresh=0.0, **CERTAIN))
        assert one(found, "undiluted") == pytest.approx(45.208, abs=5e-4)

    def test_no_range_and_no_uncertainty_leave_no_interval(self):
        side = masses(**EXACT, added_mass=0.0)
        found = wear_rates(side, readings(**CERTAIN))
        assert one(found, "standard_uncertainty") == 0.0
        assert one(found, "low") == one(found, "rate") == one(found, "high")

    def test_an_unrecorded_top_up_widens_the_interval_and_is_not_nought(self):
        recorded = wear_rates(masses(added_mass=0.0, added_mass_half=0.0), readings())
        unrecorded = wear_rates(masses(added_mass=0.6, added_mass_half=0.6), readings())
        assert one(unrecorded, "rate") > one(recorded, "rate")
        assert one(unrecorded, "standard_uncertainty") > one(recorded, "standard_uncertainty")

    def test_mass_from_nowhere_is_computed_and_noted(self):
        found = wear_rates(masses(end_mass=6.5), readings())
        assert found.note.tolist() == [RowNote.MASS_GAINED]
        assert np.isfinite(found.rate).all()

    @pytest.mark.parametrize(("changes", "expected"), [
        ({"use": 0.0}, RowNote.NO_USE), ({"end_mass": 0.1}, RowNote.RAN_DRY),
        ({"start_mass": 0.0}, RowNote.RAN_DRY), ({"end_mass": np.nan}, RowNote.UNKNOWN)])
    def test_a_row_without_solution_is_nan_and_noted(self, changes, expected):
        found = wear_rates(masses(**changes), readings())
        assert found.note.tolist() == [expected]
        for name in ("rate", "standard_uncertainty", "low", "high", "undiluted"):
            assert np.isnan(getattr(found, name)).all()

    def test_no_rows_and_no_measurands(self):
        nothing = np.empty((0, 3))
        assert wear_rates(masses(0), IntervalReadings(*[nothing] * 6)).rate.shape == (0, 3)
        none = np.empty((2, 0))
        assert wear_rates(masses(2), IntervalReadings(*[none] * 6)).rate.shape == (2, 0)


class TestReportingLimits:
    def test_an_end_below_its_limit_is_an_interval(self):
        below = wear_rates(masses(), readings(end=np.nan, end_low=0.0, end_high=3.0))
        at_low, at_high = (wear_rates(masses(), readings(end=bound)) for bound in (0.0, 3.0))
        assert np.isnan(one(below, "rate"))
        assert np.isnan(one(below, "standard_uncertainty"))
        assert np.isnan(one(below, "undiluted"))
        assert one(below, "low") == one(at_low, "low")
        assert one(below, "high") == one(at_high, "high")

    def test_an_end_above_its_limit_has_no_upper_end(self):
        above = wear_rates(masses(), readings(end=np.nan, end_low=500.0, end_high=np.inf))
        assert one(above, "low") == one(wear_rates(masses(), readings(end=500.0)), "low")
        assert one(above, "high") == np.inf

    def test_an_end_above_its_limit_beside_a_row_without_ranges(self):
        side = masses(2, added_mass=[0.0, 0.6], **{name: [0.0, PLAIN[name]] for name in EXACT})
        above = wear_rates(side, readings(2, end=np.nan, end_low=500.0, end_high=np.inf))
        assert above.high[:, 0].tolist() == [np.inf, np.inf]

    def test_no_value_has_no_uncertainty_even_where_the_masses_are_certain(self):
        below = wear_rates(masses(**EXACT, added_mass=0.0),
                           readings(end=np.nan, end_low=0.0, end_high=3.0))
        assert np.isnan(one(below, "standard_uncertainty"))
        assert np.isfinite([one(below, "low"), one(below, "high")]).all()

    def test_not_detected_without_a_bound_has_a_low_end_only(self):
        found = wear_rates(masses(), readings(end=np.nan, end_low=0.0, end_high=np.nan))
        assert np.isfinite(one(found, "low"))
        assert np.isnan(one(found, "high"))

    def test_a_start_below_its_limit_is_the_middle_with_a_rectangular_uncertainty(self):
        found = wear_rates(masses(), readings(start=np.nan, start_low=0.0, start_high=2.0))
        same(found, wear_rates(masses(), readings(
            start=1.0, start_uncertainty=np.hypot(0.3, 1.0 / np.sqrt(3)))))

    def test_bounds_beside_a_value_are_not_looked_at(self):
        same(wear_rates(masses(), readings(end_low=0.0, end_high=99.0, start_low=7.0,
                                           start_high=8.0)),
             wear_rates(masses(), readings()))

    def test_a_missing_reading_stays_missing(self):
        found = wear_rates(masses(), readings(end=np.nan, end_low=np.nan, end_high=np.nan))
        for name in ("rate", "low", "high"):
            assert np.isnan(one(found, name))


class TestUncertainty:
    """Held against drawing the inputs and solving again; 200,000 draws each."""

    draws = 200_000

    def simulate(self, side, read, seed):
        """Draw readings from normal, ranges from rectangular distributions; all independent."""
        rng = np.random.default_rng(seed)
        n = self.draws
        drawn = {**PLAIN, **side}
        for value, half in (("start_mass", "start_mass_half"), ("end_mass", "end_mass_half"),
                            ("added_mass", "added_mass_half"),
                            ("liquid_share", "liquid_share_half")):
            drawn[value] = drawn[value] + rng.uniform(-1, 1, n) * drawn[half]
            drawn[half] = 0.0
        noise = rng.standard_normal((3, n))
        values = {**READ, **read}
        share = drawn["fresh_in_start"]
        own = np.sqrt(values["start_uncertainty"]**2 - (share * values["fresh_uncertainty"])**2)
        values["end"] = values["end"] + noise[0] * values["end_uncertainty"]
        # What is fresh oil in the start is wrong by as much as the fresh oil itself.
        by_fresh = noise[2] * values["fresh_uncertainty"]
        values["start"] = values["start"] + noise[1] * own + share * by_fresh
        values["fresh"] = values["fresh"] + by_fresh
        return wear_rates(masses(n, **drawn), readings(n, **values)).rate[:, 0]

    # Undated oil that was lost as liquid may have gone in at another time, which the ledger
    # counts at its worst; so here nothing is undated, or everything left as vapour.
    @pytest.mark.parametrize(("side", "read"), [
        ({**EXACT, "added_mass": 0.0}, {}),
        ({**EXACT, "added_mass": 0.0, "fresh_in_start": 0.0}, {}),
        # A great deal of fresh oil of which little is known: the shared part counts.
        ({**EXACT, "added_mass": 4.0, "liquid_share": 0.0},
         {"fresh_uncertainty": 1.0, "start_uncertainty": 0.95, "end_uncertainty": 0.1}),
        ({**EXACT, "added_mass": 0.0, "end_mass": 4.0, "start_mass_half": 0.15}, CERTAIN),
        ({**EXACT, "added_mass": 0.0, "end_mass": 4.0, "end_mass_half": 0.15}, CERTAIN),
        ({**EXACT, "liquid_share": 0.0, "added_mass_half": 0.2}, {**CERTAIN, "fresh": 9.0}),
        ({**EXACT, "added_mass": 0.0, "end_mass": 4.0, "liquid_share_half": 0.2}, CERTAIN),
        ({**EXACT, "added_mass": 0.0, "end_mass": 4.0, "start_mass_half": 0.1,
          "end_mass_half": 0.1, "liquid_share_half": 0.1}, {}),
    ])
    def test_it_is_the_spread_of_the_drawn_rates(self, side, read):
        side = {**side, "filter_rate": 0.0}
        found = wear_rates(masses(**side), readings(**read))
        spread = self.simulate(side, read, 11).std()
        assert one(found, "standard_uncertainty") == pytest.approx(spread, rel=0.015)

    def test_wide_ranges_that_go_together_are_not_understated(self):
        side = {"start_mass_half": 0.0, "end_mass_half": 0.0, "end_mass": 5.0, "added_mass": 1.0,
                "added_mass_half": 1.0, "liquid_share": 0.5, "liquid_share_half": 0.5,
                "fresh_in_start": 0.0}
        found = wear_rates(masses(**side), readings(**CERTAIN))
        drawn = self.simulate(side, {**READ, **CERTAIN}, 12)
        assert 1.0 < one(found, "standard_uncertainty") / drawn.std() < 2.0
        inside = (one(found, "low") <= drawn) & (drawn <= one(found, "high"))
        assert inside.mean() > 0.95
        # Each alone, added in squares at the nominal loss, would have covered too little.
        alone = [one(wear_rates(masses(**{**side, other: 0.0}), readings(**CERTAIN)),
                     "standard_uncertainty") for other in ("added_mass_half",
                                                           "liquid_share_half")]
        assert np.hypot(*alone) < one(found, "standard_uncertainty")

    def test_the_interval_is_196_standard_uncertainties(self):
        assert COVERAGE_FACTOR == 1.96
        found = wear_rates(masses(), readings())
        half = 1.96 * one(found, "standard_uncertainty")
        assert one(found, "high") - one(found, "rate") == pytest.approx(half, rel=1e-12)
        assert one(found, "rate") - one(found, "low") == pytest.approx(half, rel=1e-12)

    def test_start_from_carry_over_shares_the_fresh_oil(self):
        start = carry_over(0.1, 30.0, 0.5, residue_half=0.05, drained_uncertainty=1.0,
                           fresh_uncertainty=0.4)
        read = readings(start=start.value, start_uncertainty=start.standard_uncertainty,
                        fresh_uncertainty=0.4)
        shared = wear_rates(masses(fresh_in_start=0.9), read)
        apart = wear_rates(masses(fresh_in_start=0.0), read)
        assert one(shared, "rate") == one(apart, "rate")
        assert one(shared, "standard_uncertainty") > one(apart, "standard_uncertainty")


class TestFleet:
    def test_every_row_is_what_it_is_alone(self):
        side, read = fleet()
        whole = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        assert set(whole.note.tolist()) == set(RowNote)
        for row in range(len(side["use"])):
            alone = wear_rates(
                IntervalMasses(**{name: value[row:row + 1] for name, value in side.items()}),
                IntervalReadings(**{name: value[row:row + 1] for name, value in read.items()}))
            for field in fields(alone):
                np.testing.assert_array_equal(getattr(whole, field.name)[row:row + 1],
                                              getattr(alone, field.name))

    def test_every_measurand_is_what_it_is_alone(self):
        side, read = fleet()
        whole = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        for column in range(7):
            alone = wear_rates(IntervalMasses(**side), IntervalReadings(
                **{name: value[:, column:column + 1] for name, value in read.items()}))
            np.testing.assert_array_equal(whole.high[:, column], alone.high[:, 0])

    @pytest.mark.parametrize("cells", [1, 7, 50, 10**9])
    def test_the_size_of_the_blocks_does_not_matter(self, cells, monkeypatch):
        side, read = fleet()
        expected = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        monkeypatch.setattr(ledger, "BLOCK_CELLS", cells)
        same(wear_rates(IntervalMasses(**side), IntervalReadings(**read)), expected)

    def test_order_of_rows_does_not_matter(self):
        side, read = fleet()
        order = np.random.default_rng(8).permutation(len(side["use"]))
        whole = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        turned = wear_rates(
            IntervalMasses(**{name: value[order] for name, value in side.items()}),
            IntervalReadings(**{name: value[order] for name, value in read.items()}))
        for field in fields(whole):
            np.testing.assert_array_equal(getattr(whole, field.name)[order],
                                          getattr(turned, field.name))

    def test_fresh_oil_may_be_one_line_for_all_rows(self):
        side, read = fleet()
        line = {"fresh": read["fresh"][0], "fresh_uncertainty": read["fresh_uncertainty"][0]}
        full = {name: np.tile(value, (40, 1)) for name, value in line.items()}
        same(wear_rates(IntervalMasses(**side), IntervalReadings(**{**read, **line})),
             wear_rates(IntervalMasses(**side), IntervalReadings(**{**read, **full})))

    def test_nothing_handed_in_is_changed(self):
        side, read = fleet()
        kept = {name: value.copy() for name, value in {**side, **read}.items()}
        wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        for name, value in {**side, **read}.items():
            np.testing.assert_array_equal(value, kept[name])


class TestProperties:
    @settings(derandomize=True, deadline=None)
    @given(st.integers(0, 10**6))
    def test_kilometres_or_thousands_of_them(self, seed):
        side, read = fleet(4, 3, seed)
        other = {**side, "use": side["use"] / 1e3, "filter_rate": side["filter_rate"] * 1e3}
        found = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        thousands = wear_rates(IntervalMasses(**other), IntervalReadings(**read))
        scale = np.nanmax(np.abs(found.rate)) * 1e-11
        for name in ("rate", "standard_uncertainty", "low", "high"):
            np.testing.assert_allclose(getattr(thousands, name) / 1e3, getattr(found, name),
                                       rtol=1e-9, atol=scale)
        np.testing.assert_allclose(thousands.undiluted, found.undiluted, rtol=1e-9, atol=1e-9)

    @settings(derandomize=True, deadline=None)
    @given(st.integers(0, 10**6), st.floats(1e-3, 1e3))
    def test_all_concentrations_scale_the_rate(self, seed, scale):
        side, read = fleet(4, 3, seed)
        found = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        other = wear_rates(IntervalMasses(**side), IntervalReadings(
            **{name: value * scale for name, value in read.items()}))
        size = np.nanmax(np.abs(found.rate)) * scale * 1e-10
        for name in ("rate", "standard_uncertainty", "low", "high"):
            np.testing.assert_allclose(getattr(other, name), getattr(found, name) * scale,
                                       rtol=1e-8, atol=size)

    @settings(derandomize=True, deadline=None)
    @given(st.integers(0, 10**6), st.sampled_from(sorted(READ)))
    def test_nan_in_gives_nan_out_in_its_own_cell_only(self, seed, name):
        side, read = fleet(4, 3, seed)
        clean = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        if name in ("start", "end"):
            read[f"{name}_low"][2, 1] = read[f"{name}_high"][2, 1] = np.nan
        read[name][2, 1] = np.nan
        found = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        others = np.ones((4, 3), bool)
        others[2, 1] = False
        for result in ("standard_uncertainty", "low", "high"):
            assert np.isnan(getattr(found, result)[2, 1])
            np.testing.assert_array_equal(getattr(found, result)[others],
                                          getattr(clean, result)[others])

    @settings(derandomize=True, deadline=None)
    @given(st.integers(0, 10**6))
    def test_the_interval_holds_the_rate(self, seed):
        side, read = fleet(4, 3, seed)
        found = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        known = np.isfinite(found.rate)
        assert (found.low[known] <= found.rate[known]).all()
        assert (found.rate[known] <= found.high[known]).all()
        bounded = np.isfinite(found.low) & np.isfinite(found.high)
        assert (found.low[bounded] <= found.high[bounded]).all()


SQUARE = np.ones((2, 3))
REFUSALS = [
    ({"start": np.ones(3)},
     "start: must have rows and measurands, found shape (3,); give an array of shape (n, m)"),
    ({"end": np.ones((2, 2))},
     "end: must have the shape of start (2, 3), found (2, 2); "
     "give one number per row and measurand"),
    ({"fresh": np.ones(2)},
     "fresh: must have the shape of start (2, 3), found (2,); "
     "give one number per row and measurand"),
    ({"fresh_uncertainty": np.ones((4, 2, 3))},
     "fresh_uncertainty: must have the shape of start (2, 3), found (4, 2, 3); "
     "give one number per row and measurand"),
    ({"start_high": SQUARE},
     "start_low and start_high: must be given together, found one alone; "
     "give both bounds or neither"),
    ({"end_low": SQUARE},
     "end_low and end_high: must be given together, found one alone; "
     "give both bounds or neither"),
]


@pytest.mark.parametrize(("changes", "words"), REFUSALS)
def test_readings_that_do_not_fit_are_refused(changes, words):
    with pytest.raises(ValueRefused) as refused:
        IntervalReadings(**{**dict.fromkeys(READ, SQUARE), **changes})
    assert str(refused.value) == words


def test_masses_of_other_rows_are_refused():
    with pytest.raises(ValueRefused) as refused:
        wear_rates(masses(3), readings(2))
    assert str(refused.value) == ("masses: must have the 2 rows of the readings, found 3; "
                                  "give one row of masses per row of readings")
