"""One stretch of the mass balance.

Sources: MB1 to MB3, MB5 and MB6 are exact solutions of the balance of oil and metal, derived
from the differential equation and re-run with an integrator to nine digits; no published
worked table of the balance could be opened. The factor 1.130203 (45.208 mg/kg) is the
closed form a/(1 − e^−a) at a = 1/4, computed.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oiltrend.wear.transfer import (
    Transfer,
    compose,
    end_concentration,
    generation_rate,
    lump,
    segment,
)

steady = settings(derandomize=True, deadline=None, max_examples=200)
MM = 1000.0  # km in the unit of distance the worked examples count in

masses = st.floats(1.0, 30.0)
uses = st.floats(10.0, 1e5)
shares = st.floats(0.0, 1.0)
ppm = st.floats(0.0, 500.0)


@st.composite
def stretches(draw):
    start, make_up = draw(masses), draw(st.floats(0.0, 10.0))
    end = (start + make_up) * draw(st.floats(0.3, 1.0))
    return {"start_mass": start, "end_mass": end, "make_up_mass": make_up, "use": draw(uses),
            "liquid_share": draw(shares), "filter_rate": draw(st.floats(0.0, 1e-3))}


def parts(transfer):
    return [float(transfer.p), float(transfer.q), float(transfer.r)]


class TestWorkedExamples:
    def test_mb1_constant_level_with_make_up(self):
        kept = segment(5.0, 5.0, 0.25 * 10, use=10 * MM, liquid_share=1.0)
        end = end_concentration(kept, 0.0, 5 / MM, 0.0)
        assert end == pytest.approx(7.8693868, abs=5e-8)
        assert generation_rate(kept, 0.0, end, 0.0) * MM == pytest.approx(5.0, rel=1e-13)
        # The balance left out: M·dC/dx = 3.9347, 21 % low.
        assert 5.0 * end / 10 == pytest.approx(3.9347, abs=5e-5)

    def test_mb1_the_end_of_a_long_run_is_the_equilibrium(self):
        kept = segment(5.0, 5.0, 0.25 * 1000, use=1000 * MM, liquid_share=1.0)
        assert end_concentration(kept, 80.0, 5 / MM, 0.0) == pytest.approx(20.0, abs=1e-9)

    def test_mb2_with_filter_and_fresh_oil_that_is_not_empty(self):
        kept = segment(5.0, 5.0, 2.5, use=10 * MM, liquid_share=1.0, filter_rate=0.10 / MM)
        end = end_concentration(kept, 3.0, 5 / MM, 1.0)
        assert end == pytest.approx(9.0409764, abs=5e-8)
        assert generation_rate(kept, 3.0, end, 1.0) * MM == pytest.approx(5.0, rel=1e-13)

    @pytest.mark.parametrize(("liquid_share", "expected"), [(1.0, 11.5113318), (0.0, 14.2857143)])
    def test_mb3_falling_level(self, liquid_share, expected):
        falling = segment(5.0, 3.5, 0.0, use=10 * MM, liquid_share=liquid_share)
        end = end_concentration(falling, 2.0, 4 / MM, 0.0)
        assert end == pytest.approx(expected, abs=5e-8)
        assert generation_rate(falling, 2.0, end, 0.0) * MM == pytest.approx(4.0, rel=1e-13)

    @pytest.mark.parametrize("middle_mass", [4.6, 5.0, 5.2])
    def test_mb5_nothing_is_lost_by_vapour_wherever_the_sample_was_taken(self, middle_mass):
        # 5.0 kg at 0.96; 0.6 kg added; a sample of 0.10 kg at 3.0; 4.9 kg at 5.0.
        before = segment(5.0, middle_mass, 0.3, use=1.0, liquid_share=0.0)
        after = segment(middle_mass - 0.1, 4.9, 0.3, use=1.0, liquid_share=0.0)
        metal = (generation_rate(before, 0.96, 3.0, 0.0) + generation_rate(after, 3.0, 5.0, 0.0))
        assert metal == pytest.approx(20.000, abs=1e-9)

    def test_mb5_liquid_loss_is_the_ledger_with_the_mean_concentration(self):
        before = segment(5.0, 5.0, 0.3, use=1.0, liquid_share=1.0)
        after = segment(4.9, 4.9, 0.3, use=1.0, liquid_share=1.0)
        rates = [generation_rate(before, 0.96, 3.0, 0.0), generation_rate(after, 3.0, 5.0, 0.0)]
        # The mean over the interval, by Gauss-Legendre over positions inside it.
        nodes, weights = np.polynomial.legendre.leggauss(8)
        place, weights = (nodes + 1) / 2, weights / 2
        carried_out = 0.0
        for mass, start, rate in ((5.0, 0.96, rates[0]), (4.9, 3.0, rates[1])):
            inside = segment(mass, mass, 0.3 * place, use=place, liquid_share=1.0)
            carried_out += 0.3 * float(weights @ end_concentration(inside, start, rate, 0.0))
        assert sum(rates) == pytest.approx(4.9 * 5.0 - 5.0 * 0.96 + 0.3 + carried_out, rel=1e-12)
        # With the plain mean 2.98 of start and end the paper ledger gives 21.788.
        assert sum(rates) == pytest.approx(21.788, rel=5e-3)

    @pytest.mark.parametrize(("removed", "equilibrium", "cycles"),
                             [(0.5, 2.0, 6.64), (0.1, 10.0, 43.7), (0.01, 100.0, 458.2)])
    def test_mb6_removal_pass_by_pass(self, removed, equilibrium, cycles):
        one = Transfer(1.0 - removed, 1.0, 0.0)
        many = one
        for _ in range(9):
            many = compose(many, one)
        if removed == 0.1:
            assert many.q == pytest.approx(6.513215599, abs=5e-10)
        for _ in range(5000):
            many = compose(many, one)
        assert many.q == pytest.approx(equilibrium, rel=1e-12)
        needed = np.log(0.01) / np.log(one.p)
        assert needed == pytest.approx(cycles, rel=1e-3)

    def test_oil_added_since_the_change(self):
        # C = 40 mg/kg in 4.0 kg kept full with 1.0 kg of fresh oil without metal.
        kept = segment(4.0, 4.0, 1.0, use=1.0, liquid_share=1.0)
        rate = generation_rate(kept, 0.0, 40.0, 0.0)
        assert rate / 4.0 == pytest.approx(45.208, abs=5e-4)
        assert rate / 4.0 / 40.0 == pytest.approx(1.130203, abs=5e-7)


class TestClosedForms:
    """The published special cases, written out here in their own form."""

    mass = np.array([4.0, 5.0, 8.0])
    wear = np.array([2.0, 5.0, 30.0]) / MM
    start = np.array([0.0, 3.0, 40.0])
    use = np.array([2.0, 10.0, 25.0]) * MM

    def test_constant_level(self):
        lost, filtered, fresh = 0.3 / MM, 0.2 / MM, 1.5
        made = segment(self.mass, self.mass, lost * self.use, use=self.use, liquid_share=1.0,
                       filter_rate=filtered)
        decay = (lost + filtered) / self.mass
        limit = (self.wear + lost * fresh) / (decay * self.mass)
        expected = limit + (self.start - limit) * np.exp(-decay * self.use)
        found = end_concentration(made, self.start, self.wear, fresh)
        np.testing.assert_allclose(found, expected, rtol=1e-13)

    def test_no_loss_at_all(self):
        made = segment(self.mass, self.mass, 0.0, use=self.use, liquid_share=0.5)
        np.testing.assert_allclose(end_concentration(made, self.start, self.wear, 7.0),
                                   self.start + self.wear * self.use / self.mass, rtol=1e-14)

    def test_constant_level_kept_against_vapour(self):
        made = segment(self.mass, self.mass, 0.8, use=self.use, liquid_share=0.0)
        np.testing.assert_allclose(end_concentration(made, self.start, self.wear, 2.0),
                                   self.start + (self.wear * self.use + 0.8 * 2.0) / self.mass,
                                   rtol=1e-13)

    def test_falling_level_liquid(self):
        end = 0.7 * self.mass
        lost = (self.mass - end) / self.use
        made = segment(self.mass, end, 0.0, use=self.use, liquid_share=1.0)
        np.testing.assert_allclose(end_concentration(made, self.start, self.wear, 0.0),
                                   self.start + self.wear / lost * np.log(self.mass / end),
                                   rtol=1e-13)

    def test_falling_level_vapour(self):
        end = 0.7 * self.mass
        made = segment(self.mass, end, 0.0, use=self.use, liquid_share=0.0)
        np.testing.assert_allclose(end_concentration(made, self.start, self.wear, 0.0),
                                   (self.mass * self.start + self.wear * self.use) / end,
                                   rtol=1e-13)

    def test_a_stretch_without_length_is_a_lump(self):
        spot = segment(4.0, 5.5, 1.5, use=0.0, liquid_share=0.3)
        np.testing.assert_allclose(parts(spot), parts(lump(4.0, 1.5)), rtol=1e-14)

    @pytest.mark.parametrize("change", [1e-3, 1e-6, 1e-9, 1e-12, 1e-15, 0.0])
    def test_nothing_happens_at_the_limit_of_constant_level_and_no_decay(self, change):
        made = segment(5.0, 5.0 - change, 0.0, use=10 * MM, liquid_share=1.0)
        # Falling by next to nothing: C2 = C1 + (W x/d)·ln(1/(1 − d/M)), as a series in d/M.
        d = change / 5.0
        assert made.q == pytest.approx(10 * MM / 5.0 * (1 + d / 2 + d * d / 3), rel=1e-11)
        assert made.p == pytest.approx(1.0, rel=1e-15)

    @pytest.mark.parametrize("decay", [1e-2, 1e-5, 1e-8, 1e-11, 1e-16])
    def test_small_decay(self, decay):
        made = segment(1.0, 1.0, decay, use=1.0, liquid_share=1.0)
        assert made.q == pytest.approx(1 - decay / 2 + decay**2 / 6 - decay**3 / 24, rel=1e-9)


class TestProperties:
    @steady
    @given(stretches(), ppm, ppm, st.floats(0.0, 1.0))
    def test_wear_to_concentration_and_back(self, stretch, start, fresh, wear):
        made = segment(**stretch)
        end = end_concentration(made, start, wear, fresh)
        noise = 1e-13 * (1 + start + fresh + abs(end)) / float(made.q)
        assert generation_rate(made, start, end, fresh) == pytest.approx(wear, abs=noise)

    @steady
    @given(stretches(), st.floats(0.0, 1.0))
    def test_two_parts_make_the_whole(self, stretch, place):
        middle = stretch["start_mass"] + place * (stretch["end_mass"] - stretch["start_mass"])
        common = {name: stretch[name] for name in ("liquid_share", "filter_rate")}
        first = segment(stretch["start_mass"], middle, place * stretch["make_up_mass"],
                        use=place * stretch["use"], **common)
        second = segment(middle, stretch["end_mass"], (1 - place) * stretch["make_up_mass"],
                         use=(1 - place) * stretch["use"], **common)
        assert parts(compose(first, second)) == pytest.approx(parts(segment(**stretch)), rel=1e-9)

    @steady
    @given(stretches(), stretches(), stretches())
    def test_how_three_stretches_are_bracketed_does_not_matter(self, one, two, three):
        a, b, c = (segment(**stretch) for stretch in (one, two, three))
        assert parts(compose(compose(a, b), c)) == pytest.approx(
            parts(compose(a, compose(b, c))), rel=1e-12)

    @steady
    @given(stretches())
    def test_oil_like_the_fresh_one_stays_as_it_is_without_wear_filter_or_vapour(self, stretch):
        made = segment(**{**stretch, "liquid_share": 1.0, "filter_rate": 0.0})
        assert end_concentration(made, 12.0, 0.0, 12.0) == pytest.approx(12.0, rel=1e-12)

    @steady
    @given(stretches())
    def test_kilometres_or_thousands_of_them(self, stretch):
        made = segment(**stretch)
        other = segment(**{**stretch, "use": stretch["use"] / MM,
                           "filter_rate": stretch["filter_rate"] * MM})
        assert parts(other) == pytest.approx([float(made.p), float(made.q) / MM, float(made.r)],
                                             rel=1e-12)

    @steady
    @given(stretches(), st.floats(0.01, 100.0))
    def test_a_larger_engine_of_the_same_kind_dilutes_in_proportion(self, stretch, scale):
        made = segment(**stretch)
        larger = segment(**{name: value * scale if "mass" in name or name == "filter_rate"
                            else value for name, value in stretch.items()})
        assert parts(larger) == pytest.approx([float(made.p), float(made.q) / scale,
                                               float(made.r)], rel=1e-12)

    @steady
    @given(st.lists(stretches(), min_size=1, max_size=8))
    def test_arrays_give_what_single_numbers_give(self, rows):
        together = segment(**{name: np.array([row[name] for row in rows]) for name in rows[0]})
        for index, row in enumerate(rows):
            alone = segment(**row)
            assert [together.p[index], together.q[index], together.r[index]] == parts(alone)

    @steady
    @given(stretches())
    def test_loss_as_vapour_leaves_more_metal_behind_than_loss_as_liquid(self, stretch):
        liquid = segment(**{**stretch, "liquid_share": 1.0})
        vapour = segment(**{**stretch, "liquid_share": 0.0})
        assert vapour.q >= liquid.q * (1 - 1e-12)
        assert vapour.p >= liquid.p * (1 - 1e-12)

    @pytest.mark.parametrize("name", ["start_mass", "end_mass", "make_up_mass", "use",
                                      "liquid_share", "filter_rate"])
    def test_nan_in_gives_nan_out(self, name):
        stretch = {"start_mass": 5.0, "end_mass": 4.5, "make_up_mass": 0.2, "use": 1e4,
                   "liquid_share": 0.5, "filter_rate": 1e-5}
        assert np.isnan(segment(**{**stretch, name: np.nan}).q)

    @pytest.mark.parametrize("mass", [0.0, -1.0])
    def test_no_oil_gives_nan(self, mass):
        assert np.isnan(parts(segment(mass, 4.0, 0.0, use=1.0, liquid_share=1.0))).all()
        assert np.isnan(parts(segment(4.0, mass, 0.0, use=1.0, liquid_share=1.0))).all()

    def test_no_oil_before_or_after_a_lump_gives_nan(self):
        nothing = lump(0.0, 0.0)
        assert np.isnan([float(nothing.p), float(nothing.r)]).all()

    def test_a_stretch_without_length_has_no_rate(self):
        assert np.isnan(generation_rate(lump(4.0, 1.0), 1.0, 2.0, 0.0))

    def test_mass_from_nowhere_is_taken_as_fresh_oil(self):
        found = segment(4.0, 5.0, 0.25, use=1e4, liquid_share=0.4)
        expected = segment(4.0, 5.0, 1.0, use=1e4, liquid_share=0.4)
        assert parts(found) == parts(expected)

    def test_rows_against_measurands(self):
        level = np.array([4.0, 5.0])[:, None]
        made = segment(level, level, 1.0, use=1e4, liquid_share=1.0)
        end = end_concentration(made, np.zeros((2, 3)), np.array([1.0, 2.0, 3.0]) / MM, 0.0)
        assert end.shape == (2, 3)
        assert end[1, 2] == pytest.approx(float(end_concentration(
            segment(5.0, 5.0, 1.0, use=1e4, liquid_share=1.0), 0.0, 3 / MM, 0.0)), rel=1e-15)
