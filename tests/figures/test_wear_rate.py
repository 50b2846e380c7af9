from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.figures.theme import DARK, LIGHT
from oiltrend.figures.wear_rate import draw_wear_rate, table_of_wear_rate, wear_rate_info
from tests.figures.histories import NAN, events, history, limit, with_below, with_doubt
from tests.figures.round_trip import same_after_round_trip


def test_info_of_an_engine_without_samples_says_so_and_draws() -> None:
    info = wear_rate_info(history(rows=0), "Pb")
    assert info.axis.size == 0
    assert info.empty == "No result for Pb yet."
    figure = draw_wear_rate(info, theme=LIGHT, unit="km")
    assert same_after_round_trip(figure)


def test_info_counts_samples_whose_result_is_awaited() -> None:
    base = history(rows=1)
    waiting = replace(base, awaited=np.array([True]),
                      qualifier=np.zeros((1, 3), dtype=np.int8),
                      value=np.full((1, 3), NAN), rate=np.full((1, 3), NAN))
    info = wear_rate_info(waiting, "Pb")
    assert info.empty == "No result for Pb yet; 1 drawn and awaited."
    assert [(m.kind, m.axis) for m in info.markers] == [("awaited", 10_000.0)]


def test_one_sample_is_a_mark_without_a_line() -> None:
    info = wear_rate_info(history(rows=1), "Pb")
    assert info.joined.tolist() == [False]
    assert info.place.tolist() == [1.6]


def test_results_without_a_rate_are_counted_and_explained() -> None:
    base = history(rows=2)
    info = wear_rate_info(replace(base, rate=np.full((2, 3), NAN)), "Pb")
    assert (info.unplaced, info.axis.size) == (2, 0)
    assert info.empty == ("Pb was measured 2 times, but no wear rate can be given: the distance "
                          "on the oil is not known.")


def test_all_below_the_limit_are_arrows_at_their_upper_end() -> None:
    base = with_below(with_below(history(rows=2), 0, "Pb", 1.0), 1, "Pb", 1.0)
    info = wear_rate_info(base, "Pb")
    assert info.mark.tolist() == [2, 2]
    assert info.place.tolist() == [0.4, 0.4]
    assert info.joined.tolist() == [False, False]
    marks = [t for t in draw_wear_rate(info, theme=LIGHT, unit="km")["data"]
             if t.get("name") == "below the reporting limit"]
    assert marks[0]["marker"]["symbol"] == ["arrow-down", "arrow-down"]
    assert marks[0]["hovertext"][0] == ("2024-01-10 · 10\u202f000 km: below the reporting limit; "
                                        "at most 0.4 mg per 1000 km")


def test_not_detected_without_a_bound_stands_at_zero_and_is_not_lost() -> None:
    base = with_below(history(rows=1), 0, "Pb", NAN)
    info = wear_rate_info(base, "Pb")
    assert (info.place.tolist(), info.unplaced) == ([0.0], 0)


def test_a_doubted_sample_is_hollow_and_the_line_goes_around_it() -> None:
    info = wear_rate_info(with_doubt(history(rows=4), 1), "Pb")
    assert info.mark.tolist() == [0, 1, 0, 0]
    assert info.joined.tolist() == [False, False, False, True]
    figure = draw_wear_rate(info, theme=LIGHT, unit="km")
    hollow = next(t for t in figure["data"] if t.get("name") == "doubted")
    assert hollow["marker"]["symbol"] == ["circle-open"]
    assert hollow["hovertext"][0].endswith("; doubted")
    line = next(t for t in figure["data"] if t["mode"] == "lines")
    assert line["x"] == [10_000.0, None, 20_000.0, None, 30_000.0, 40_000.0]


def test_a_new_laboratory_breaks_the_line() -> None:
    base = replace(history(rows=4), series=np.array([0, 0, 1, 1]))
    assert wear_rate_info(base, "Pb").joined.tolist() == [False, True, False, True]


def test_a_missing_result_leaves_a_gap_in_the_rows_not_a_zero() -> None:
    base = history(rows=3)
    qualifier = base.qualifier.copy()
    qualifier[1, 2] = 0
    info = wear_rate_info(replace(base, qualifier=qualifier), "Pb")
    assert info.sample.tolist() == [11, 13]
    assert info.unplaced == 0


def test_limits_are_named_on_the_chart_and_withheld_ones_kept_apart() -> None:
    base = replace(history(), limits=(
        limit("Pb", "alert", 3.0), limit("Pb", "alarm", 5.0, kind="population"),
        limit("Pb", "alarm", None, kind="own"), limit("Cu", "alert", 2.0),
        limit("Pb", "alert", 30.0, quantity="level")))
    info = wear_rate_info(base, "Pb")
    assert [one.value for one in info.limits] == [3.0, 5.0]
    assert [one.kind for one in info.withheld] == ["own"]
    figure = draw_wear_rate(info, theme=LIGHT, unit="km", decimal=",")
    assert [a["text"] for a in figure["layout"]["annotations"][1:]] == [
        "alert &gt; 3 · fixed", "alarm &gt; 5 · this family"]
    bands = [s for s in figure["layout"]["shapes"] if s["type"] == "rect"]
    assert [(b["y0"], round(b["y1"], 3)) for b in bands] == [(3.0, 5.0), (5.0, 5.6)]


def test_a_limit_far_above_is_named_at_the_edge_and_does_not_squash_the_data() -> None:
    base = replace(history(), limits=(limit("Pb", "alarm", 400.0),))
    figure = draw_wear_rate(wear_rate_info(base, "Pb"), theme=LIGHT, unit="km")
    assert figure["layout"]["yaxis"]["range"][1] < 10
    assert figure["layout"]["annotations"][1]["text"] == (
        "↑ above: alarm &gt; 400 · fixed")
    assert not figure["layout"]["shapes"]


def test_miles_change_the_axis_and_the_rate_together() -> None:
    base = replace(history(), limits=(limit("Pb", "alert", 3.0),))
    figure = draw_wear_rate(wear_rate_info(base, "Pb"), theme=DARK, unit="mi")
    measured = next(t for t in figure["data"] if t.get("name") == "measured")
    # 10 000 km = 6213.7 mi; 1.6 mg per 1000 km = 2.575 mg per 1000 mi (mile: 1.609344 km exactly)
    assert measured["x"][0] == pytest.approx(6213.71, abs=0.01)
    assert measured["y"][0] == pytest.approx(1.6 * 1.609344)
    assert figure["layout"]["annotations"][1]["text"] == "alert &gt; 4.83 · fixed"
    assert figure["layout"]["xaxis"]["title"]["text"] == "Engine distance [mi]"
    assert figure["layout"]["annotations"][0]["text"] == "<b>Pb [mg per 1000 mi]</b>"


def test_events_stand_in_the_lane_and_text_of_the_store_is_harmless() -> None:
    base = replace(history(), markers=events())
    figure = draw_wear_rate(wear_rate_info(base, "Pb"), theme=LIGHT, unit="km")
    lane = figure["data"][-1]
    assert lane["x"] == [10_000.0, 25_000.0]
    assert lane["marker"]["symbol"] == ["line-ns", "square-open"]
    assert lane["hovertext"][1] == "shells fitted: new shells &lt;all rods&gt;"
    cuts = [s for s in figure["layout"]["shapes"] if s["type"] == "line"]
    assert [c["x0"] for c in cuts] == [25_000.0]


def test_every_key_means_something_to_plotly() -> None:
    base = with_below(with_doubt(replace(history(), markers=events(), limits=(
        limit("Pb", "alert", 3.0), limit("Pb", "alarm", 900.0))), 1), 2, "Pb", 1.0)
    for theme in (LIGHT, DARK):
        assert same_after_round_trip(
            draw_wear_rate(wear_rate_info(base, "Pb"), theme=theme, unit="km"))


def test_the_round_trip_finds_a_shortcut_that_the_browser_would_ignore() -> None:
    assert not same_after_round_trip({"data": [{"type": "scatter", "line_dash": "dot"}],
                                      "layout": {}})
    with pytest.raises(ValueError, match="lime"):
        go.Figure({"data": [{"type": "scatter", "lime": {}}], "layout": {}})


def test_the_table_holds_what_the_figure_shows() -> None:
    base = with_below(with_doubt(history(rows=3), 1), 2, "Pb", 1.0)
    table = table_of_wear_rate(wear_rate_info(base, "Pb"), unit="km")
    assert table.caption == "Wear rate of lead, engine E-7"
    assert table.columns[2:4] == ("distance [km]", "rate [mg per 1000 km]")
    assert [row[0] for row in table.rows] == [11, 12, 13]
    assert [row[6] for row in table.rows] == ["measured", "doubted", "below the reporting limit"]
    assert table.rows[2][3] is None
    assert table.rows[2][5] == pytest.approx(0.4)


def test_a_measurand_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueRefused) as caught:
        wear_rate_info(history(), "Ag")
    assert str(caught.value) == ("measurand: must be one that engine E-7 has, found 'Ag'; "
                                 "use one of Fe, Cu, Pb")
