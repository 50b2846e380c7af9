from dataclasses import replace

import numpy as np
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.figures.samples import samples_table
from tests.figures.histories import NAN, history, with_below, with_doubt


def test_figures_can_be_redone_on_paper() -> None:
    table = samples_table(history(rows=1), "Pb", unit="km")
    assert table.columns[5:8] == ("Pb [mg/kg]", "start [mg/kg]", "per 1000 km since the change")
    _, _, meter, oil, lab, result, start, per, mid, remark = table.rows[0]
    assert (meter, oil, lab, result, start, mid, remark) == (
        10_500.0, 10_000.0, "Lab A", "4", 0.5, None, "")
    assert per == pytest.approx((4 - 0.5) / 10_000 * 1000)  # contract: (C - C_start) / distance


def test_miles_change_meter_and_figure_together() -> None:
    row = samples_table(history(rows=1), "Pb", unit="mi").rows[0]
    assert row[3] == pytest.approx(6213.71, abs=0.01)
    assert row[7] == pytest.approx(0.35 * 1.609344)


def test_hidden_missing_and_not_detected_are_three_things() -> None:
    base = with_below(with_below(history(rows=3), 0, "Pb", 1.0), 1, "Pb", NAN)
    qualifier = base.qualifier.copy()
    qualifier[2, 2] = 0
    rows = samples_table(replace(base, qualifier=qualifier), "Pb", unit="km").rows
    assert [row[5] for row in rows] == ["< 1", "not detected", ""]


def test_remarks_name_doubt_wait_and_break() -> None:
    base = replace(with_doubt(history(rows=3), 0), series=np.array([0, 1, 1]),
                   awaited=np.array([False, False, True]))
    remarks = [row[-1] for row in samples_table(base, "Pb", unit="km").rows]
    assert remarks == ["doubted", "laboratory or method changed", "result awaited"]


def test_a_measurand_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueRefused) as caught:
        samples_table(history(), "Ag", unit="km")
    assert str(caught.value) == ("measurand: must be one that engine E-7 has, found 'Ag'; "
                                 "use one of Fe, Cu, Pb")
