"""State of the oil of a sample, and what it says by itself. Numbers come from the maths rooms,
where they are held against the standards; here it is whether the right ones arrive."""

from __future__ import annotations

import numpy as np

from oiltrend.assessment.assess import assess
from oiltrend.assessment.inputs import FreshOil
from oiltrend.assessment.oil_state import OilState, oil_states
from oiltrend.assessment.results import Verdict
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from tests.assessment.fleets import fleet

NEW = {"KV40": 90.0, "KV100": 14.0, "base_number": 10.0, "acid_number": 1.5, "Na": 5.0, "K": 1.0,
       "Si": 5.0, "Al": 1.0, "B": 200.0, "Ca": 2500.0, "Zn": 1000.0, "P": 900.0}


def fresh() -> FreshOil:
    row = np.full((1, len(PANEL)), np.nan)
    for symbol, value in NEW.items():
        row[0, PANEL_INDEX[symbol]] = value
    return FreshOil(("Quay 5W-40",), row, {"Quay 5W-40": "5W-40"})


def looked_at(**readings: object) -> tuple[OilState, Verdict]:
    made = fleet([{"engine": "E1", "sample_date": "2025-05-01", "meter": 60000,
                   "oil_distance": 8000, "oil_product": "Quay 5W-40", **NEW, **readings}],
                 fresh=fresh())
    result = assess(made)
    (state,) = oil_states(np.array([0]), made, result.worked.readings)
    return state, result.verdicts[0]


def codes(verdict: Verdict) -> set[str]:
    return {reason.code for reason in verdict.reasons}


def test_oil_like_new_says_nothing() -> None:
    state, verdict = looked_at()
    # 40 °C 90.0 and 100 °C 14.0 give index 160 (ASTM D2270, constructed row) and 9.317 at 120 °C.
    assert state.viscosity_index == 160
    assert state.grades == ("40",)
    assert state.at_temperature == state.new_at_temperature
    assert (state.signs, state.acid_reaches_base) == ((), False)
    assert verdict.reasons == ()


def test_thin_oil_is_out_of_grade_and_may_hold_fuel() -> None:
    state, verdict = looked_at(KV40=60.0, KV100=10.5)
    assert codes(verdict) >= {"oil_out_of_grade", "oil_drift"}
    assert verdict.level == "alert"
    assert state.fuel_state == "shown"
    assert state.fuel_low is not None
    assert state.fuel_high is not None
    assert state.fuel_low < 5 < state.fuel_high
    far = {drift.measurand for drift in state.drifts if drift.far}
    assert far == {"KV40", "KV100"}


def test_sodium_and_potassium_together_are_a_sign_of_coolant() -> None:
    state, verdict = looked_at(Na=120.0, K=80.0)
    (sign,) = (sign for sign in state.signs if sign.sign == "coolant")
    assert set(sign.supports) >= {"Na", "K"}
    assert "oil_coolant" in codes(verdict)


def test_silicon_with_aluminium_in_the_ratio_of_dust() -> None:
    state, verdict = looked_at(Si=55.0, Al=11.0)
    assert [sign.code for sign in state.signs if sign.sign == "dirt"] == ["dust"]
    assert "oil_dirt" in codes(verdict)


def test_spent_base_number() -> None:
    state, verdict = looked_at(base_number=2.0, acid_number=4.0)
    assert state.acid_reaches_base is True
    assert codes(verdict) >= {"oil_acid", "oil_drift"}


def test_what_was_not_measured_stays_unknown() -> None:
    made = fleet([{"engine": "E1", "sample_date": "2025-05-01", "meter": 60000, "Fe": 12}])
    (state,) = oil_states(np.array([0]), made, assess(made).worked.readings)
    assert (state.viscosity_index, state.at_temperature, state.fuel, state.grades) == (
        None, None, None, ())
    assert state.acid_reaches_base is None
    assert state.drifts == ()
