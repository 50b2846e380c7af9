"""What enters the oil from outside, and what it does to wear."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from oiltrend.demo.confounders import (
    CONFOUNDERS,
    Schedule,
    contaminants,
    copper_shows,
    draw_schedule,
    during,
    fuel_content,
    wear_factors,
)
from oiltrend.demo.garage import draw_fleet


def schedule(**strength: float) -> Schedule:
    """Two engines: the first struck by everything from day 100 to 200, the second by nothing."""
    kinds = ("cooler_copper", "dirt", "coolant", "fuel_dilution")
    return Schedule({k: np.array([100.0, np.inf]) for k in kinds},
                    {k: np.array([200.0, np.inf]) for k in kinds},
                    {k: np.full(2, strength.get(k, 0.0)) for k in kinds})


def entered(made: Schedule, *, day: float, start: float, end: float) -> np.ndarray:
    return contaminants(made, np.full(2, 5.0), np.array([1000.0, np.inf]), day=np.full(2, day),
                        start_km=np.full(2, start), end_km=np.full(2, end))


def test_copper_of_a_new_cooler_fades_away() -> None:
    """All that ever comes is strength · oil · decay distance: 20 mg/(kg 1000 km) · 5 kg · 7."""
    made = schedule(cooler_copper=20.0)
    steps = [entered(made, day=0, start=x, end=x + 500)[:, 0] for x in range(0, 200_000, 500)]
    assert np.sum(steps, axis=0) == pytest.approx([700.0, 0.0])
    assert (np.diff([step[0] for step in steps[2:]]) < 0).all()
    assert steps[0][0] == steps[1][0] == 0
    assert entered(made, day=0, start=1000, end=9000)[0, 0] == pytest.approx(
        700 * (1 - np.exp(-8 / 7)))


def test_dirt_and_coolant_come_while_the_leak_lasts() -> None:
    made = schedule(dirt=10.0, coolant=2000.0)
    # 10 and 2000 mg per kg of oil and 1000 km, 5 kg, 3000 km.
    assert entered(made, day=150, start=0, end=3000)[:, 1:].tolist() == [[150, 30_000], [0, 0]]
    assert entered(made, day=99, start=0, end=3000)[0, 1:].tolist() == [0, 0]
    assert entered(made, day=201, start=0, end=3000)[0, 1:].tolist() == [0, 0]


def test_spans_overlap_or_not() -> None:
    made = schedule()
    for begin, end, struck in ((0, 99, False), (0, 101, True), (150, 160, True),
                               (199, 300, True), (201, 300, False)):
        found = during(made, "dirt", np.full(2, float(begin)), np.full(2, float(end)))
        assert found.tolist() == [struck, False]


def test_dirt_and_fuel_wear_shells_and_bores() -> None:
    shells, bores = wear_factors(schedule(), np.full(2, 150.0))
    assert shells.tolist() == [pytest.approx(1.8), 1.0]
    assert bores.tolist() == [pytest.approx(2.4), 1.0]


def test_fuel_rises_by_the_fault() -> None:
    found = fuel_content(schedule(fuel_dilution=4.0), np.array([0.7, 0.7]), np.full(2, 150.0))
    assert found.tolist() == [pytest.approx(4.7), 0.7]


def test_copper_shows_for_two_and_a_half_decay_distances() -> None:
    fitted = np.array([1000.0, 1000.0, 1000.0, np.inf])
    assert copper_shows(fitted, np.array([1000.0, 1001.0, 18_501.0, 5000.0])).tolist() == [
        False, True, False, False]


def test_strikes_fall_into_the_middle_of_long_histories() -> None:
    fleet = draw_fleet(np.random.default_rng(8), engines=92, today=date(2026, 3, 14))
    drawn = draw_schedule(np.random.default_rng(9), fleet)
    span = fleet.end_day - fleet.start_day
    assert set(drawn.begin) <= set(CONFOUNDERS)
    for begin in drawn.begin.values():
        struck = np.isfinite(begin)
        assert 6 <= struck.sum() <= 12
        place = (begin - fleet.start_day)[struck] / span[struck]
        assert place.min() >= 0.25
        assert place.max() <= 0.6
        assert span[struck].min() >= 3 * 365
