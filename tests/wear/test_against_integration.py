"""The ledger against the differential equation, integrated by ``scipy.integrate.solve_ivp``.

The outside source is the equation itself (see conftest: metal and oil counted separately, no
formula of ours). First the ledger is told everything and must give the generation rate back.
Then it is told something wrong within the range it was given, and its band must still hold
the truth; with the ranges left out it must not, or the test would prove nothing.
"""

import numpy as np
import pytest

from oiltrend.wear.carry_over import carry_over
from oiltrend.wear.ledger import IntervalReadings, wear_rates
from oiltrend.wear.masses import IntervalMasses, RowNote

CASES = 400
MANY = 3000
UNDATED = {"lump_mass": np.empty((CASES, 0)), "lump_position": np.empty((CASES, 0))}


def exact(start, end, fresh):
    zero = np.zeros((len(start), 1))
    return IntervalReadings(start[:, None], zero, end[:, None], zero, fresh[:, None], zero)


def ledger(truth, end, start=None, **told):
    """Solve with what the ledger is told; what it is not told, it is told truly."""
    side = {"use": truth.use, "start_mass": truth.start_mass, "start_mass_half": 0.0,
            "end_mass": truth.end_mass, "end_mass_half": 0.0, "added_mass": truth.spread,
            "added_mass_half": 0.0, "liquid_share": truth.liquid_share,
            "liquid_share_half": 0.0, "filter_rate": truth.filter_rate}
    return wear_rates(IntervalMasses(**{**side, **told}),
                      exact(truth.start if start is None else start, end, truth.fresh))


def holds(found, truth):
    wear = 1e3 * truth.generation
    return (found.low[:, 0] <= wear) & (wear <= found.high[:, 0])


def conditions(rng, n):
    """Draw what is not at issue: use, readings and wear of engines of all sizes."""
    return {"use": rng.uniform(1e3, 25e3, n), "fresh": rng.uniform(0, 3, n),
            "start": rng.uniform(0, 40, n) * (rng.random(n) < 0.7),
            "generation": rng.uniform(0.5, 60, n) / 1e3, "filter_rate": np.zeros(n)}


class TestToldEverything:
    @pytest.mark.parametrize("top_ups", [0, 1, 3])
    def test_the_generation_rate_comes_back(self, Truth, integrate, top_ups):
        rng = np.random.default_rng(100 + top_ups)
        drawn = conditions(rng, CASES)
        start = rng.uniform(3, 12, CASES)
        lumps = start[:, None] * rng.uniform(0, 0.25, (CASES, top_ups))
        spread = start * rng.uniform(0, 0.3, CASES) * (rng.random(CASES) < 0.5)
        drained, residue = rng.uniform(5, 80, CASES), rng.uniform(0.03, 0.2, CASES)
        begun = carry_over(residue, drained, drawn["fresh"]).value
        truth = Truth(**{**drawn, "start": begun, "start_mass": start,
                         "end_mass": start * rng.uniform(0.65, 1.0, CASES), "spread": spread,
                         "liquid_share": rng.random(CASES),
                         "filter_rate": rng.uniform(0, 2e-4, CASES),
                         "lump_mass": lumps,
                         "lump_position": np.sort(rng.random((CASES, top_ups)), axis=1)})
        end = integrate(truth)
        dated = {"top_up_mass": truth.lump_mass, "top_up_position": truth.lump_position}
        found = ledger(truth, end, start=begun, **dated)
        assert (found.note == RowNote.CLEAR).all()
        np.testing.assert_allclose(found.rate[:, 0], 1e3 * truth.generation, rtol=1e-7)

    def test_padding_the_list_of_top_ups_changes_nothing(self, Truth, integrate):
        rng = np.random.default_rng(110)
        start = rng.uniform(3, 12, CASES)
        # Every second engine was topped up once, the others three times.
        lumps = start[:, None] * rng.uniform(0.02, 0.2, (CASES, 3))
        place = np.sort(rng.random((CASES, 3)), axis=1)
        lumps[::2, 1:] = 0.0
        truth = Truth(**conditions(rng, CASES), start_mass=start,
                      end_mass=start * rng.uniform(0.7, 1.0, CASES), spread=np.zeros(CASES),
                      liquid_share=rng.random(CASES), lump_mass=lumps, lump_position=place)
        told = np.where(lumps > 0, lumps, np.nan)
        found = ledger(truth, integrate(truth), top_up_mass=told,
                       top_up_position=np.where(lumps > 0, place, np.nan))
        np.testing.assert_allclose(found.rate[:, 0], 1e3 * truth.generation, rtol=1e-7)


@pytest.fixture(name="engines")
def _engines():
    """What a shop would write down for CASES engines, and the ranges it would admit."""
    rng = np.random.default_rng(120)
    start = rng.uniform(3, 12, CASES)
    ranges = {"start_mass": start * rng.uniform(0.01, 0.06, CASES),
              "end_mass": start * rng.uniform(0.02, 0.10, CASES),
              "added_mass": start * rng.uniform(0.02, 0.20, CASES),
              "liquid_share": rng.uniform(0.1, 0.5, CASES)}
    told = {"start_mass": start, "end_mass": start * rng.uniform(0.7, 0.84, CASES),
            "added_mass": ranges["added_mass"] + start * rng.uniform(0, 0.2, CASES),
            "liquid_share": np.full(CASES, 0.5)}
    return conditions(rng, CASES), told, ranges


def happened(Truth, drawn, told, **lumps):
    """Let what was told be what happened, but for the undated oil going in as lumps."""
    spread = np.zeros(CASES) if lumps else told["added_mass"]
    return Truth(**drawn, start_mass=told["start_mass"], end_mass=told["end_mass"],
                 spread=spread, liquid_share=told["liquid_share"], **(lumps or UNDATED))


def dated_evenly(told):
    """Tell the same oil as forty dated portions, so that its time is no longer a range."""
    portions = np.tile(told["added_mass"][:, None] / 40, (1, 40))
    place = np.tile((np.arange(40) + 0.5) / 40, (CASES, 1))
    return {**told, "added_mass": 0.0, "top_up_mass": portions, "top_up_position": place}


class TestToldOneThingWrong:
    """400 cases at each extreme, no other range and no test uncertainty to help: all hold."""

    @pytest.mark.parametrize("side", [-1.0, 1.0])
    @pytest.mark.parametrize("name", ["start_mass", "end_mass", "added_mass", "liquid_share"])
    def test_at_its_extreme(self, Truth, integrate, engines, name, side):
        drawn, told, ranges = engines
        # No undated oil unless it is the point, so that its unknown time does not help either.
        if name != "added_mass":
            told = {**told, "added_mass": np.zeros(CASES)}
        real = {**told, name: told[name] + side * ranges[name]}
        truth = happened(Truth, drawn, real)
        end = integrate(truth)
        found = ledger(truth, end, **told, **{f"{name}_half": ranges[name]})
        assert holds(found, truth).sum() == CASES
        # Control: without the range none holds.
        assert holds(ledger(truth, end, **dated_evenly(told)), truth).sum() == 0

    @pytest.mark.parametrize("side", [0.0, 1.0])
    def test_all_of_the_loss_was_liquid_or_all_was_vapour(self, Truth, integrate, engines, side):
        drawn, told, _ = engines
        truth = happened(Truth, drawn, {**told, "liquid_share": np.full(CASES, side)})
        end = integrate(truth)
        assert holds(ledger(truth, end, **told, liquid_share_half=0.5), truth).sum() == CASES
        assert holds(ledger(truth, end, **dated_evenly(told)), truth).sum() == 0

    @pytest.mark.parametrize("case", ["start", "end", "anywhere", "four portions"])
    def test_time_of_the_undated_oil(self, Truth, integrate, engines, case):
        drawn, told, _ = engines
        rng = np.random.default_rng(130)
        portions = np.ones((CASES, 1))
        place = {"start": np.zeros((CASES, 1)), "end": np.ones((CASES, 1)),
                 "anywhere": rng.random((CASES, 1)),
                 "four portions": np.sort(rng.random((CASES, 4)), axis=1)}[case]
        if case == "four portions":
            portions = rng.dirichlet(np.ones(4), CASES)
        truth = happened(Truth, drawn, told, lump_mass=portions * told["added_mass"][:, None],
                         lump_position=place)
        end = integrate(truth)
        assert holds(ledger(truth, end, **told), truth).sum() == CASES
        # Control: a date that is wrong is not covered, because a date has no range.
        dated = {**told, "added_mass": 0.0, "top_up_mass": told["added_mass"][:, None],
                 "top_up_position": np.where(place[:, :1] > 0.5, 0.0, 1.0)}
        assert holds(ledger(truth, end, **dated), truth).sum() == 0


class TestToldSeveralThingsWrong:
    """All of it wrong at random, 3,000 cases each: at least 95 % of the bands hold."""

    @pytest.fixture
    def muddle(self, Truth):
        """Draw what the shop says first, and what happened from the ranges that it admits."""
        def draw(seed, share_half, at):
            rng = np.random.default_rng(seed)
            start = rng.uniform(3, 12, MANY)
            half = {"start_mass": start * rng.uniform(0, 0.06, MANY),
                    "end_mass": start * rng.uniform(0, 0.10, MANY),
                    "added_mass": start * rng.uniform(0.02, 0.20, MANY),
                    "liquid_share": np.full(MANY, share_half)}
            told = {"start_mass": start, "end_mass": start * rng.uniform(0.7, 0.84, MANY),
                    "added_mass": half["added_mass"] + start * rng.uniform(0, 0.1, MANY),
                    "liquid_share": np.full(MANY, 0.5)}
            real = {name: told[name] + half[name] * at(rng, MANY) for name in told}
            # Poured in once in half of the cases, in up to three portions in the others.
            portions = rng.dirichlet(np.ones(3), MANY)
            portions[rng.random(MANY) < 0.5] = [1.0, 0.0, 0.0]
            truth = Truth(**conditions(rng, MANY), start_mass=real["start_mass"],
                          end_mass=real["end_mass"], spread=np.zeros(MANY),
                          liquid_share=real["liquid_share"],
                          lump_mass=portions * real["added_mass"][:, None],
                          lump_position=np.sort(rng.random((MANY, 3)), axis=1))
            return truth, told, {f"{name}_half": value for name, value in half.items()}
        return draw

    @staticmethod
    def inside(rng, n):
        return rng.uniform(-1, 1, n)

    @staticmethod
    def corners(rng, n):
        return rng.choice([-1.0, 1.0], n)

    @pytest.mark.parametrize("share_half", [0.1, 0.3, 0.5])
    def test_at_random_inside_their_ranges(self, integrate, muddle, share_half):
        truth, told, half = muddle(140, share_half, self.inside)
        end = integrate(truth)
        assert holds(ledger(truth, end, **told, **half), truth).mean() >= 0.95
        assert holds(ledger(truth, end, **told), truth).mean() < 0.5

    def test_an_unrecorded_top_up_of_unknown_loss_form(self, Truth, integrate):
        # The two that go together: from nothing to twice the middle may have been lost and
        # made up, and any part of it as liquid. Added in squares at the middle, the two would
        # cover 92 in 100 only.
        rng = np.random.default_rng(150)
        level = rng.uniform(3, 12, MANY)
        half = level * rng.uniform(0.002, 0.05, MANY)
        truth = Truth(**conditions(rng, MANY), start_mass=level, end_mass=level,
                      spread=half * rng.uniform(0, 2, MANY), liquid_share=rng.random(MANY),
                      lump_mass=np.empty((MANY, 0)), lump_position=np.empty((MANY, 0)))
        found = ledger(truth, integrate(truth), added_mass=half, added_mass_half=half,
                       liquid_share=0.5, liquid_share_half=0.5)
        assert holds(found, truth).mean() >= 0.95

    def test_with_test_uncertainty_on_every_reading(self, integrate, muddle):
        truth, told, half = muddle(160, 0.3, self.inside)
        end = integrate(truth)
        rng = np.random.default_rng(161)
        read = {}
        for name, value in (("start", truth.start), ("end", end), ("fresh", truth.fresh)):
            uncertainty = 0.1 + 0.05 * value
            read[name] = (value + uncertainty * rng.standard_normal(MANY))[:, None]
            read[f"{name}_uncertainty"] = uncertainty[:, None]
        side = {"use": truth.use, **told, **half}
        found = wear_rates(IntervalMasses(**side), IntervalReadings(**read))
        assert holds(found, truth).mean() >= 0.95

    def test_test_uncertainty_alone_is_covered_in_95_of_100(self, integrate, muddle):
        truth, _, _ = muddle(170, 0.3, self.inside)
        end = integrate(truth)
        rng = np.random.default_rng(171)
        uncertainty = 0.1 + 0.05 * end
        zero = np.zeros((MANY, 1))
        read = IntervalReadings(truth.start[:, None], zero,
                                (end + uncertainty * rng.standard_normal(MANY))[:, None],
                                uncertainty[:, None], truth.fresh[:, None], zero)
        side = {"use": truth.use, "start_mass": truth.start_mass, "start_mass_half": 0.0,
                "end_mass": truth.end_mass, "end_mass_half": 0.0, "added_mass": 0.0,
                "added_mass_half": 0.0, "liquid_share": truth.liquid_share,
                "liquid_share_half": 0.0, "top_up_mass": truth.lump_mass,
                "top_up_position": truth.lump_position}
        share = holds(wear_rates(IntervalMasses(**side), read), truth).mean()
        # Nothing but a normal error: exactly 95 %, give or take four standard deviations.
        assert share == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / MANY) ** 0.5)

    def test_the_worst_corner_is_not_promised(self, integrate, muddle):
        # Every range at one of its ends at once: a 95 % band of independent inputs need not
        # hold all of these, and it does not.
        truth, told, half = muddle(180, 0.5, self.corners)
        share = holds(ledger(truth, integrate(truth), **told, **half), truth).mean()
        assert 0.7 < share < 1.0
