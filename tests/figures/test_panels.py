from dataclasses import replace

import numpy as np
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.figures.panels import draw_panels, panels_info, table_of_panels
from oiltrend.figures.theme import DARK, LIGHT
from tests.figures.histories import NAN, events, history, limit, with_below, with_doubt
from tests.figures.round_trip import same_after_round_trip


def test_each_fill_starts_at_its_start_concentration() -> None:
    panel = panels_info(history(rows=2), ["Pb"]).panels[0]
    np.testing.assert_array_equal(panel.tooth_x, [NAN, 0.0, 10_000.0, NAN, 10_000.0, 20_000.0])
    np.testing.assert_array_equal(panel.tooth_y, [NAN, 0.5, 4.0, NAN, 0.5, 6.0])


def test_samples_of_one_fill_are_joined() -> None:
    base = replace(history(rows=2), fill=np.array([0, 0]))
    panel = panels_info(base, ["Pb"]).panels[0]
    np.testing.assert_array_equal(panel.tooth_x, [NAN, 0.0, 10_000.0, 20_000.0])


def test_an_unknown_start_leaves_the_tooth_without_its_foot() -> None:
    base = replace(history(rows=1), oil_distance=np.array([NAN]))
    panel = panels_info(base, ["Pb"]).panels[0]
    np.testing.assert_array_equal(panel.tooth_x, [NAN, NAN, 10_000.0])
    np.testing.assert_array_equal(panel.tooth_y, [NAN, NAN, 4.0])


def test_doubted_and_hidden_results_are_marks_outside_the_line() -> None:
    base = with_below(with_doubt(history(rows=3), 0), 1, "Pb", 1.0)
    panel = panels_info(base, ["Pb"]).panels[0]
    assert panel.mark.tolist() == [1, 2, 0]
    assert panel.value.tolist() == [4.0, 1.0, 8.0]
    np.testing.assert_array_equal(panel.tooth_x, [NAN, 20_000.0, 30_000.0])


def test_not_detected_without_a_bound_stands_at_zero() -> None:
    panel = panels_info(with_below(history(rows=1), 0, "Pb", NAN), ["Pb"]).panels[0]
    assert (panel.value.tolist(), panel.mark.tolist()) == ([0.0], [2])


def test_no_sample_says_so_and_draws() -> None:
    info = panels_info(history(rows=0), ["Fe", "Pb"])
    assert info.empty == "No result that can be placed on the distance axis yet."
    assert same_after_round_trip(draw_panels(info, theme=LIGHT, unit="km"))


def test_strips_share_one_axis_and_do_not_overlap() -> None:
    figure = draw_panels(panels_info(history(), ["Fe", "Cu", "Pb"]), theme=LIGHT, unit="h")
    layout = figure["layout"]
    domains = [layout[f"yaxis{k}"]["domain"] for k in ("", "2", "3", "99")]
    for upper, lower in zip(domains[:-1], domains[1:], strict=True):
        assert lower[1] < upper[0]
    assert domains[0][1] < 1.0  # room for the title
    assert domains[-1][0] == 0.0
    assert {t.get("xaxis", "x") for t in figure["data"]} == {"x"}
    assert layout["xaxis"]["title"]["text"] == "Engine running time [h]"


def test_every_key_means_something_to_plotly() -> None:
    base = with_below(with_doubt(replace(history(), markers=events(), limits=(
        limit("Pb", "alert", 9.0, quantity="level"),
        limit("Fe", "alarm", 900.0, quantity="level"))), 1), 2, "Pb", 1.0)
    info = panels_info(base, ["Fe", "Cu", "Pb"])
    for theme in (LIGHT, DARK):
        assert same_after_round_trip(draw_panels(info, theme=theme, unit="mi"))
    assert [one.value for one in info.panels[2].limits] == [9.0]


def test_the_table_has_one_row_per_sample_and_marks_beside_the_numbers() -> None:
    base = with_below(history(rows=2), 1, "Pb", 1.0)
    qualifier = base.qualifier.copy()
    qualifier[0, 1] = 0
    table = table_of_panels(panels_info(replace(base, qualifier=qualifier), ["Cu", "Pb"]),
                            unit="km")
    assert table.columns == ("sample", "date", "distance [km]", "Cu [mg/kg]", "Cu mark",
                             "Pb [mg/kg]", "Pb mark")
    assert table.rows[0][3:] == (None, "", 4.0, "measured")
    assert table.rows[1][3:] == (8.0, "measured", 1.0, "below the reporting limit")


def test_more_strips_than_can_be_read_are_refused() -> None:
    with pytest.raises(ValueRefused) as caught:
        panels_info(history(), ["Fe"] * 7)
    assert str(caught.value) == ("measurands: must be at most 6, found 7; "
                                 "choose the ones you want to compare")


def test_a_measurand_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueRefused) as caught:
        panels_info(history(), ["Fe", "Ag"])
    assert str(caught.value) == ("measurands: must be ones that engine E-7 has, found 'Ag'; "
                                 "use Fe, Cu, Pb")
