"""Sources of the metal and what is left of the layers, on an engine whose story is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oiltrend.assessment.assess import assess
from oiltrend.assessment.results import Figures
from oiltrend.assessment.settings import Settings
from tests.assessment.fleets import eight_shells, fleet, one_event

SHELLS = "PbSn10Cu2/CuPb24Sn"
KNOWN = replace(Settings(), capture_median=1.0, capture_factor=1.0)


def engine(fills: int, *, material: str = SHELLS, metals: dict[str, float] | None = None,
           settings: Settings = KNOWN) -> Figures:
    """An engine with new shells whose overlay alone sheds 20 mg per 1000 km."""
    ppm = {"Pb": 41.4, "Sn": 4.7, "Cu": 0.94, "Fe": 20.0, "Al": 1.0, "Cr": 1.0, "Si": 3.0,
           **(metals or {})}
    entries = [{"engine": "E1", "sample_date": f"{2015 + n}-05-01", "meter": 10000.0 * (n + 1),
                "oil_distance": 10000.0, "oil_changed": 1, "top_up_l": 0.0,
                "level_at_sampling": 1, "lab": "Lab A", **ppm, "Na": 3.0 + n} for n in range(fills)]
    made = fleet(entries, shells=eight_shells(material, fitting=0), settings=settings,
                 events=one_event("shells_fitted", on="2014-05-01", meter=0.0))
    figures = assess(made, with_figures=True).verdicts[0].figures
    assert figures is not None
    return figures


def test_metal_in_the_proportion_of_the_overlay_is_put_down_to_it() -> None:
    sources = engine(4).sources
    assert sources is not None
    overlay = sources.ranges["overlay PbSn10Cu2"]
    assert overlay.low is not None
    assert overlay.high is not None
    # 41.4 ppm in 4.25 kg less one tenth carried over is 158.4 mg of lead in 10 000 km; lead is
    # 0.88 of the overlay (ISO 4383, from memory): 18.0 mg per 1000 km.
    assert overlay.low < 18.0 < overlay.high
    assert overlay.value == pytest.approx(18.0, rel=0.1)
    assert sources.ranges["lining CuPb24Sn"].value < 2.0


def test_copper_without_lead_or_tin_is_not_lining() -> None:
    sources = engine(4, metals={"Pb": 0.0, "Sn": 0.0, "Cu": 60.0}).sources
    assert sources is not None
    assert "copper_alone" in sources.notes
    assert sources.ranges["Cu, other"].value > 10 * sources.ranges["lining CuPb24Sn"].value


def test_depth_lost_is_the_arithmetic_of_mass_area_and_density() -> None:
    (overlay,) = (layer for layer in engine(6).layers if layer.layer == "overlay PbSn10Cu2")
    # First fill 41.4·4.25 mg, the others less a tenth, 0.6 of it from the rods (assumed prior),
    # over eight halves of 1000 mm² at 10.69 mg/mm³ (derived, arithmetic).
    lead = 41.4 * 4.25 * (1 + 5 * 0.9)
    spread = 1000 * 0.6 * lead / 0.88 / (10.69 * 8 * 1000)
    assert overlay.lost_spread.value == pytest.approx(spread, rel=0.1)
    assert overlay.lost_one_half.value == pytest.approx(8 * spread, rel=0.1)
    assert overlay.lost_spread.low is not None
    assert overlay.lost_spread.high is not None
    assert overlay.lost_spread.low < spread < overlay.lost_spread.high
    assert overlay.left_spread.value == pytest.approx(16.0 - spread, abs=1.0)
    assert overlay.left_one_half.value == 0.0
    assert (overlay.halves, overlay.area_mm2, overlay.since) == (8, 1000.0, 60000.0)


def test_unknown_capture_widens_the_range() -> None:
    (known,) = (x for x in engine(6).layers if x.layer.startswith("overlay"))
    (wide,) = (x for x in engine(6, settings=Settings()).layers if x.layer.startswith("overlay"))
    assert known.lost_spread.high is not None
    assert wide.lost_spread.high is not None
    assert wide.lost_spread.high > 1.5 * known.lost_spread.high


def test_coating_without_metal_is_named_as_a_blind_spot() -> None:
    verdict = engine(3, material="polymer/AlSn20Cu")
    assert verdict.sources is not None
    assert "no_metal:overlay polymer" in verdict.sources.blind
    assert [layer.layer for layer in verdict.layers] == ["lining AlSn20Cu"]


def test_material_that_is_not_understood_is_not_guessed() -> None:
    verdict = engine(3, material="something grey")
    assert verdict.layers == ()
    assert verdict.sources is not None
    assert not [name for name in verdict.sources.ranges if name.startswith(("overlay", "lining"))]


def test_engine_without_shells_has_no_layers() -> None:
    made = fleet([{"engine": "E1", "sample_date": "2025-05-01", "meter": 1e4, "oil_distance": 1e4,
                   "Pb": 5}])
    figures = assess(made, with_figures=True).verdicts[0].figures
    assert figures is not None
    assert figures.layers == ()
    assert figures.sources is not None
    assert set(figures.sources.ranges) <= {"Pb, other", "journal", "bore_ring", "piston", "dirt",
                                           "coolant"}
