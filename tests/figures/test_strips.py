import numpy as np

from oiltrend.figures.strips import EVENT_SYMBOLS, event_lane, limit_marks, visible_range
from oiltrend.figures.theme import LIGHT
from oiltrend.figures.use import use_unit
from oiltrend.records import EVENT_KINDS
from tests.figures.histories import limit

NONE = np.array([np.nan])


def test_every_kind_of_event_has_its_own_symbol() -> None:
    assert set(EVENT_KINDS) <= set(EVENT_SYMBOLS)
    for column in zip(*EVENT_SYMBOLS.values(), strict=True):
        assert len(set(column)) == len(EVENT_SYMBOLS)


def test_range_without_data_shows_the_lowest_limit() -> None:
    assert visible_range(NONE[:0], NONE[:0], NONE[:0], [30.0, 60.0]) == (0.0, 33.6)
    assert visible_range(NONE[:0], NONE[:0], NONE[:0], []) == (0.0, 1.12)


def test_range_cuts_a_whisker_that_would_squash_the_data() -> None:
    bottom, top = visible_range(np.array([-500.0]), np.array([4.0]), np.array([900.0]), [])
    assert (bottom, top) == (-3.0, 11.2)


def test_a_lower_limit_has_a_line_and_a_name_but_no_band() -> None:
    low = limit("base_number", "alert", 4.0, quantity="level", operator="<")
    shapes, names = limit_marks([low], [4.0], strip=0, span=(0.0, 9.0), theme=LIGHT, decimal=".")
    assert [shape["type"] for shape in shapes] == ["line"]
    assert names[0]["text"] == "alert &lt; 4 · fixed"


def test_an_alert_above_the_alarm_draws_no_inside_out_band() -> None:
    both = [limit("Pb", "alert", 6.0), limit("Pb", "alarm", 5.0)]
    shapes, _ = limit_marks(both, [6.0, 5.0], strip=0, span=(0.0, 9.0), theme=LIGHT, decimal=".")
    assert [(s["y0"], s["y1"]) for s in shapes if s["type"] == "rect"] == [(5.0, 9.0)]


def test_a_lane_without_events_is_empty() -> None:
    assert event_lane((), use=use_unit("km"), theme=LIGHT) == ([], [])
