"""Reports of the invented laboratories: precision, rounding, limits, text."""

from __future__ import annotations

import json
from datetime import date

import numpy as np
import pytest

from oiltrend.demo.laboratory import (
    STATIONS,
    cell_text,
    draw_bias,
    report,
    report_texts,
    reproducibility,
    station_of,
)
from oiltrend.demo.workshop import Workshop
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import Qualifier

MANY = 60_000
NO_BIAS = np.zeros((len(STATIONS), len(PANEL)))
# R at 20 mg/kg by the equations of ASTM D5185 (from memory): 0.52 X^0.80 for iron, 0.24 X for
# copper, 3.0 X^0.36 for lead, 0.72 X^0.77 for magnesium at 500.
BY_HAND = {"Fe": (20.0, 5.71), "Cu": (20.0, 4.80), "Pb": (20.0, 8.82), "Mg": (500.0, 86.2)}


def constant(symbol: str, value: float, rows: int = MANY) -> np.ndarray:
    true = np.zeros((rows, len(PANEL)))
    true[:, PANEL_INDEX[symbol]] = value
    return true


@pytest.mark.parametrize("symbol", sorted(BY_HAND))
def test_noise_is_the_site_precision(symbol: str) -> None:
    """Standard deviation 0.6 R / 2.77, with the variance that rounding adds."""
    value, r_by_hand = BY_HAND[symbol]
    reported, _ = report(np.random.default_rng(1), constant(symbol, value),
                         np.zeros(MANY, dtype=int), NO_BIAS)
    results = reported[:, PANEL_INDEX[symbol]]
    expected = np.hypot(0.6 * r_by_hand / 2.7719, 1 / np.sqrt(12))
    assert results.std() == pytest.approx(expected, rel=0.02)
    assert results.mean() == pytest.approx(value, rel=0.01)


def test_two_laboratories_differ_as_reproducibility_says() -> None:
    """R is exceeded by two single results of two laboratories once in twenty (ISO 4259)."""
    rng = np.random.default_rng(2)
    true = constant("Mg", 500.0, 40)  # so large that rounding does not count
    column = PANEL_INDEX["Mg"]
    apart = []
    for _ in range(3000):
        bias = rng.normal(0, 1, NO_BIAS.shape)
        one, _ = report(rng, true[:1], np.array([0]), bias)
        other, _ = report(rng, true[:1], np.array([2]), bias)
        apart.append(abs(one[0, column] - other[0, column]))
    limit = 0.72 * 500.0 ** 0.77
    assert np.mean(np.array(apart) > limit) == pytest.approx(0.05, abs=0.012)


def test_no_laboratory_is_far_out() -> None:
    bias = draw_bias(np.random.default_rng(3))
    assert np.abs(bias).max() <= 1.5
    assert bias.std() > 0.7


def test_below_the_limit_the_limit_is_reported_and_never_zero() -> None:
    for station, limit in ((0, 1.0), (1, 0.5), (2, 1.0)):
        reported, qualifier = report(np.random.default_rng(4), constant("Pb", 0.05, 500),
                                     np.full(500, station), NO_BIAS)
        column = PANEL_INDEX["Pb"]
        below = qualifier[:, column] == Qualifier.BELOW
        assert below.mean() > 0.5
        assert set(reported[below, column]) == {limit}
        assert (reported[~below, column] >= limit).all()


def test_decimals_are_the_laboratorys() -> None:
    rng = np.random.default_rng(5)
    for station, value, decimals in ((0, 6.0, 0), (1, 6.0, 1), (2, 30.0, 0)):
        reported, _ = report(rng, constant("Fe", value, 200), np.full(200, station), NO_BIAS)
        results = reported[:, PANEL_INDEX["Fe"]]
        assert np.array_equal(results, np.round(results, decimals))
        assert len(np.unique(results)) >= 3


def test_what_a_station_does_not_report_is_missing() -> None:
    reported, qualifier = report(np.random.default_rng(6), constant("In", 9.0, 50),
                                 np.repeat([0, 2], 25), NO_BIAS)
    column = PANEL_INDEX["In"]
    assert (qualifier[:25, column] == Qualifier.MISSING).all()
    assert np.isnan(reported[:25, column]).all()
    assert (qualifier[25:, column] == Qualifier.EXACT).all()


def test_not_detected_has_no_bound() -> None:
    reported, qualifier = report(np.random.default_rng(7), constant("glycol_pct", 0.0, 20),
                                 np.full(20, 2), NO_BIAS)
    column = PANEL_INDEX["glycol_pct"]
    assert (qualifier[:, column] == Qualifier.BELOW).all()
    assert np.isnan(reported[:, column]).all()


@pytest.mark.parametrize(("value", "qualifier", "symbol", "station", "text"), [
    (1.0, Qualifier.BELOW, "Pb", 0, "<1"), (0.5, Qualifier.BELOW, "Pb", 1, "<0.5"),
    (7.0, Qualifier.EXACT, "Fe", 0, "7"), (7.0, Qualifier.EXACT, "Fe", 1, "7.0"),
    (12.0, Qualifier.EXACT, "Fe", 1, "12"), (13.8, Qualifier.EXACT, "KV100", 2, "13.80"),
    (float("nan"), Qualifier.BELOW, "glycol_pct", 2, "ND"),
    (float("nan"), Qualifier.MISSING, "Sb", 0, ""),
])
def test_results_are_written_as_the_laboratory_writes_them(
        value: float, qualifier: int, symbol: str, station: int, text: str) -> None:
    assert cell_text(value, qualifier, symbol, STATIONS[station]) == text


def test_every_written_result_reads_back(works: Workshop) -> None:
    for row, text in enumerate(report_texts(works.samples)):
        written = json.loads(text or "{}")
        present = [symbol for symbol, column in PANEL_INDEX.items()
                   if works.samples.qualifier[row, column]]
        assert list(written) == present
        for symbol, cell in written.items():
            if cell != "ND":
                number = works.samples.value[row, PANEL_INDEX[symbol]]
                assert float(cell.lstrip("<")) == pytest.approx(number)


def test_method_changes_on_its_day() -> None:
    assert station_of(np.array([0, 0, 1, 1]), np.array([9.0, 10.0, 9.0, 10.0]), 10.0
                      ).tolist() == [0, 1, 2, 2]


def test_reproducibility_of_iron_by_hand() -> None:
    """0.52 · 100^0.80 = 20.7."""
    assert float(reproducibility(constant("Fe", 100.0, 1))[0, PANEL_INDEX["Fe"]]
                 ) == pytest.approx(20.7, abs=0.05)


def test_lab_a_changed_half_way(works: Workshop) -> None:
    samples = works.samples
    old = (samples.lab == "Lab A") & (samples.method == "ASTM D5185")
    new = (samples.lab == "Lab A") & (samples.method == "ASTM D6595")
    assert old.sum() > 50
    assert new.sum() > 50
    assert samples.sample_date[old].max() < samples.sample_date[new].min()
    middle = samples.sample_date[new].min().astype(date)
    assert abs((middle - date(2022, 3, 14)).days) < 60
