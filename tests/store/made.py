"""Records and samples made up for the tests of the store."""

from datetime import date

import numpy as np

from oiltrend.nomenclature import PANEL
from oiltrend.records import (
    Action,
    Caller,
    Car,
    Engine,
    EngineStay,
    Event,
    Family,
    Lab,
    Limit,
    Mapping,
    NewOil,
    OilProduct,
    Ownership,
    Qualifier,
    Reading,
    SampleTable,
    ShellFinding,
    Slot,
    Teardown,
    empty_samples,
)
from oiltrend.store import Store

KIM = Caller("Kim", "shop")
ROBIN = Caller("Robin", "technician")
DAY = date(2025, 3, 1)

FINDINGS = (
    ShellFinding("rod", 1, "rod", wear_stage=2, layer_pct=7.5, damage=("scratches", "dirt µ"),
                 clearance_mm=0.048, action="refitted", line=4),
    ShellFinding("rod", 1, "cap", not_scorable=True, failed="wiped", action="replaced",
                 new_material="aluminium-tin", note="heat"))

# One of each kind with everything known, one with as little as may be.
RECORDS = [
    Family("AQ-V8-40", rods=8, crankpins="1+5;2+6;3+7;4+8", pin_mm=52.0, shell_width_mm=19.5,
           mains=5, main_pin_mm=60.0, main_width_mm=22.0, main_overlay="lead-tin",
           main_lining="copper-lead", oil_fill_l=8.8, residue_fraction=0.05, density_kg_l=0.85,
           overlay="lead-tin", overlay_um=20.0, lining="copper-lead", layer_structure="trimetal",
           clearance_min_mm=0.025, clearance_max_mm=0.076, note="früh"),
    Family("bare"),
    Car("J-1042", note="blue"),
    Lab("Lab A", date_order="dmy", decimal="comma", method="ASTM D5185", note="n"),
    OilProduct("X 5W-40", grade="5W-40", note="n"),
    Mapping("lab a", {"Eisen": "Fe"}, {"17": "E1"}, {"Eisen": "mg/kg"}, lab="Lab A",
            date_order="dmy", decimal="comma", meter="mi", engine="E1"),
    NewOil("X 5W-40", {"Ca": Reading(2000.0, Qualifier.EXACT, "2000"),
                       "Fe": Reading(1.0, Qualifier.BELOW, "<1"),
                       "Pb": Reading(None, Qualifier.BELOW, "ND")},
           batch="b7", lab="Lab A", method="ASTM D5185", sample_date=DAY),
    NewOil("X 5W-40", {}),
    Ownership("J-1042", "Ines", from_date=DAY, to_date=date(2026, 1, 2)),
    Ownership("J-1042", "Ines"),
    Engine("E9", "AQ-V8-40", meter_unit="h", built="2019", oil_fill_l=8.5,
           shell_material="copper-lead", set_fitted_meter=120.5, car="J-1042", owner="Ines",
           note="n"),
    Engine("E8", "bare"),
    EngineStay("E9", "J-1042", from_date=DAY, from_meter=0.0, to_date=DAY, to_meter=9.0),
    Event("E9", "oil_change", date=DAY, meter=81200.0, litres=8.4, oil_product="X 5W-40",
          car="J-1042", new_meter=3.0, note="n"),
    Event("E9", "top_up", meter=0.0),
    Teardown("E9", DAY, 90000.0, FINDINGS, reason="alarm", oil_verdict_seen=True,
             oil_changed=False, refill_l=8.0, refill_product="X 5W-40", filter_finding="flakes",
             note="n"),
    Teardown("E9", DAY, None, ()),
    Action("E9", "told", DAY, note="by phone"),
]


def furnish(store: Store, *engines: str) -> None:
    """One family and some engines, so that there is something to hang samples on."""
    with store.write(KIM, "furnish") as tx:
        tx.add(Family("F"))
        tx.add_all([Engine(name, "F") for name in engines or ("E1",)])


def samples(count: int, *, engine: str = "E1", seed: int = 0) -> SampleTable:
    """Samples in which everything varies: unknown values, all qualifiers, odd text."""
    rng = np.random.default_rng(seed)
    table = empty_samples(count)
    table.engine[:] = engine
    table.sample_date[:] = np.datetime64("2020-01-01") + rng.permutation(count) * 30
    table.meter[:] = np.round(rng.uniform(0, 2e5, count), 1)
    table.sample_id[:] = [f"{engine}-{seed}-{row}" for row in range(count)]
    table.value[:] = np.round(rng.uniform(0, 60, table.value.shape), 2)
    table.qualifier[:] = rng.integers(0, 4, table.qualifier.shape)
    table.value[table.qualifier == Qualifier.MISSING] = np.nan
    table.value[(table.qualifier == Qualifier.BELOW) & (table.value < 20)] = np.nan
    table.raw[:] = '{"Fe": "<1 µg"}'
    table.lab[:] = "Lab Ä"
    table.line[:] = np.arange(count) + 2
    for name in ("oil_distance", "top_up_l", "refill_l", "hot_oil_pressure_bar", "meter"):
        column = getattr(table, name)
        column[:] = np.where(rng.random(count) < 0.3, np.nan, rng.uniform(0, 9000, count))
    for name in ("oil_changed", "noise", "glitter"):
        getattr(table, name)[:] = rng.integers(-1, 2, count)
    table.sample_date[rng.random(count) < 0.2] = np.datetime64("NaT")
    return table


def one_sample(engine: str = "E1", *, day: str = "2025-03-01", fe: float = 12.0,
               number: str = "") -> SampleTable:
    table = empty_samples(1)
    table.engine[0], table.sample_id[0] = engine, number
    table.sample_date[0] = np.datetime64(day)
    table.meter[0] = 81200.0
    table.value[0, 0], table.qualifier[0, 0] = fe, Qualifier.EXACT
    table.raw[0] = f'{{"Fe": "{fe}"}}'
    return table


def awaited(engine: str = "E1") -> SampleTable:
    table = empty_samples(1)
    table.engine[0], table.awaited[0] = engine, True
    table.sample_date[0], table.meter[0] = np.datetime64("2025-03-01"), 81200.0
    table.note[0], table.meter_unit[0] = "drawn hot", 1
    return table


def limit(value: float, *, measurand: str = "Pb", level: str = "alarm", family: str = "F",
          operator: str = ">") -> Limit:
    return Limit(family, measurand, "level", level, operator, value, "shop's own", DAY)


def slot(number: int, half: str, *, meter: float | None = None, on: date | None = None,
         material: str = "copper-lead") -> Slot:
    return Slot("rod", number, half, material=material, fitted_meter=meter, fitted_date=on)


def assert_same(found: SampleTable, expected: SampleTable) -> None:
    for name in SampleTable.__slots__:
        np.testing.assert_array_equal(getattr(found, name), getattr(expected, name), err_msg=name)
        assert getattr(found, name).dtype == getattr(expected, name).dtype, name
    assert found.value.shape[1] == len(PANEL)
