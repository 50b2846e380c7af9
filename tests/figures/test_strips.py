import numpy as np

from oiltrend.assessment.results import Marker
from oiltrend.figures.strips import (
    EVENT_SYMBOLS,
    event_lane,
    events_along,
    limit_marks,
    use_range,
    visible_range,
)
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
    assert event_lane((), use=use_unit("km"), span=(0, 1), theme=LIGHT) == ([], [], [])


def test_an_event_far_away_is_named_at_the_edge_and_does_not_squash_the_data() -> None:
    markers = (Marker("shells_fitted", 0.0, None, ""), Marker("oil_change", 200_000.0, None, ""),
               Marker("teardown", 500_000.0, None, ""), Marker("teardown", 600_000.0, None, ""))
    use = use_unit("km")
    span = use_range(np.array([160_000.0, 260_000.0]), events_along(markers, use))
    assert span == (156_000.0, 264_000.0)
    traces, shapes, beyond = event_lane(markers, use=use, span=span, theme=LIGHT)
    assert traces[0]["x"] == [200_000.0]
    assert shapes == []
    assert [note["text"] for note in beyond] == ["← shells fitted, 0 km", "→ 2 later events"]


def test_the_stretch_without_samples_holds_the_events_and_is_never_empty() -> None:
    low, high = use_range(NONE, [5.0])
    assert low < 5.0 < high
    low, high = use_range(NONE[:0], [])
    assert low < high


def test_a_sample_awaited_just_ahead_is_on_the_axis() -> None:
    assert use_range(np.array([0.0, 100.0]), [120.0])[1] > 120.0
