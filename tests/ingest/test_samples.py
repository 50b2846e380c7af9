import json
import math
from pathlib import Path

import numpy as np
import pytest

from oiltrend import records
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import FILTER_FINDINGS, LEVELS_AT_SAMPLING, Qualifier
from tests.ingest.reading import counts, known, read


def table(text, **options):
    found = read(text, **options)
    assert not found.questions
    assert not found.rejects
    assert found.samples is not None
    return found.samples


def reading(samples, symbol, row=0):
    at = PANEL_INDEX[symbol]
    return float(samples.value[row, at]), Qualifier(samples.qualifier[row, at])


def test_every_column_reaches_the_table():
    samples = table(
        "engine,sample_date,odometer_km,oil_distance_km,oil_changed,top_up_l,level_at_sampling,"
        "refill_l,oil_product,refill_product,lab,method,sample_id,note,filter_finding,"
        "hot_oil_pressure_bar,noise,glitter,Fe,KV100\n"
        "E1,2024-03-05,81000,8000,yes,0.5,max,5.5,Oil X,Oil Y,Lab A,ICP,S-1,fine,flakes,1.2,no,"
        "yes,12,13.1\n")
    assert samples.engine[0] == "E1"
    assert samples.sample_date[0] == np.datetime64("2024-03-05")
    assert (samples.meter[0], samples.meter_unit[0], samples.oil_distance[0]) == (81000, 0, 8000)
    assert (samples.oil_changed[0], samples.noise[0], samples.glitter[0]) == (1, 0, 1)
    assert (samples.top_up_l[0], samples.refill_l[0]) == (0.5, 5.5)
    assert LEVELS_AT_SAMPLING[samples.level_at_sampling[0]] == "max"
    assert FILTER_FINDINGS[samples.filter_finding[0]] == "flakes"
    assert samples.hot_oil_pressure_bar[0] == 1.2
    assert (samples.oil_product[0], samples.refill_product[0]) == ("Oil X", "Oil Y")
    assert (samples.lab[0], samples.method[0]) == ("Lab A", "ICP")
    assert (samples.sample_id[0], samples.note[0]) == ("S-1", "fine")
    assert (samples.line[0], samples.awaited[0]) == (2, False)
    assert reading(samples, "Fe") == (12, Qualifier.EXACT)
    assert json.loads(samples.raw[0]) == {"Fe": "12", "KV100": "13.1"}


def test_what_a_file_does_not_say_is_unknown_never_zero():
    samples = table("engine,sample_date,Fe\nE1,2024-03-05,\n")
    for name in ("meter", "oil_distance", "top_up_l", "refill_l", "hot_oil_pressure_bar"):
        assert math.isnan(getattr(samples, name)[0])
    for name in ("oil_changed", "noise", "glitter"):
        assert getattr(samples, name)[0] == -1
    assert math.isnan(reading(samples, "Fe")[0])
    assert not samples.qualifier.any()
    assert (samples.raw[0], samples.methods[0]) == ("", "")


def test_text_as_received_is_kept_beside_the_value():
    samples = table('engine;hours;Fe;Pb;Cu;Sn;note\nH1;5; 12,50 ;< 0,5;ND;0;"a ""b"" é"\n')
    assert json.loads(samples.raw[0]) == {"Fe": "12,50", "Pb": "< 0,5", "Cu": "ND", "Sn": "0"}
    assert reading(samples, "Pb") == (0.5, Qualifier.BELOW)
    assert reading(samples, "Cu")[1] == Qualifier.BELOW
    assert samples.note[0] == 'a "b" é'


@pytest.mark.parametrize("odd", ['"', "\\", "é", "\t", "<&>", "\u2028"])
def test_the_text_as_received_is_always_json(odd):
    found = read(f"engine,hours,Fe,note\nH1,5,\"n/a\",x{odd.replace(chr(34), '')}\n")
    assert found.samples is not None
    assert json.loads(found.samples.raw[0]) == {"Fe": "n/a"}


@pytest.mark.parametrize(("heading", "cell", "symbol", "value"), [
    ("Fe [%]", "0.0012", "Fe", 12), ("Water ppm", "200", "water_pct", 0.02),
    ("Oxidation [Abs/0.1 mm]", "0.05", "oxidation", 5), ("Fe ppm", "12", "Fe", 12)])
def test_units_are_converted_at_this_border(heading, cell, symbol, value):
    samples = table(f"engine,hours,{heading}\nH1,5,{cell}\n")
    assert reading(samples, symbol)[0] == pytest.approx(value, rel=1e-12)


def test_miles_become_km_by_the_international_mile():
    samples = table("engine,odometer_mi,Miles on oil,Fe\nM1,1000,100,1\n")
    # 1 mile = 1.609344 km exactly (1959 agreement).
    assert (samples.meter[0], samples.oil_distance[0]) == (1609.344, 160.9344)
    assert samples.meter_unit[0] == 0


def test_other_amounts_are_converted_too():
    samples = table("engine,hours,Top up [qt],Hot oil pressure [psi],Fe\nH1,5,1,100,1\n")
    # US quart 0.946352946 L; 1 psi = 0.0689476 bar (units.py).
    assert samples.top_up_l[0] == pytest.approx(0.946352946)
    assert samples.hot_oil_pressure_bar[0] == pytest.approx(6.89476, abs=1e-5)


def test_an_engine_counted_in_miles_may_be_read_in_km():
    assert table("engine,odometer_km,Fe\nM1,1000,1\n").meter[0] == 1000


def test_the_plausible_range_holds_inside_not_in_the_files_unit():
    found = read("engine,hours,Fe [%]\nH1,5,3\nH1,6,1\n")
    assert [(r.line, r.reason) for r in found.rejects] == [(2, "must be from 0 to 20000 mg/kg")]


def test_shares_of_volume_keep_their_number_and_say_so():
    samples = table("engine,hours,Fuel vol%,fuel_pct method,water_pct\nH1,5,2,GC,1\nH1,6,,GC,1\n")
    assert reading(samples, "fuel_pct")[0] == 2
    assert json.loads(samples.methods[0]) == {"fuel_pct": "GC, % volume"}
    assert samples.methods[1] == ""


def test_methods_of_file_row_and_measurand():
    samples = table("engine,hours,method,Fe method,Fe,Pb\nH1,5,RDE,ICP,1,2\nH1,6,,,1,2\n"
                    "H1,7,,ICP,,2\n", method="XRF")
    assert samples.method.tolist() == ["RDE", "XRF", "XRF"]
    assert [json.loads(m or "{}") for m in samples.methods] == [{"Fe": "ICP"}, {}, {}]


def test_the_laboratory_of_the_options_fills_blanks():
    samples = table("engine,hours,lab,Fe\nH1,5,Lab B,1\nH1,6,,1\n", lab="Lab A")
    assert samples.lab.tolist() == ["Lab B", "Lab A"]


def test_a_unit_number_of_the_laboratory_becomes_our_engine():
    mapping = records.Mapping("Lab A", {}, {"U-7": "H1"}, {}, lab="Lab A")
    found = read("engine,hours,Fe\nU-7,5,1\nU-8,6,1\n", mapping=mapping)
    assert found.samples is not None
    assert (found.samples.engine.tolist(), found.samples.lab.tolist()) == (["H1"], ["Lab A"])
    assert [(h.line, h.engine_text, h.raw) for h in found.held_rows] == [(3, "U-8", "U-8,6,1")]


def test_an_engine_is_never_found_by_a_guess():
    for name in ("e1", "E 1", "E01", "E1.", "\u0415" + "1"):  # the last is a Cyrillic letter
        assert counts(read(f"engine,sample_date,Fe\n{name},2024-03-05,1\n"))[3] == 1


def test_names_are_compared_composed_and_trimmed():
    store = known(engines={"\u00e41": "km"})
    found = read("engine,sample_date,Fe\n a\u03081 ,2024-03-05,1\n", store=store)
    assert found.accepted == 1


def test_our_own_mark_before_formulas_is_taken_away():
    samples = table("engine,sample_date,note,Fe\nE1,2024-03-05,'=1+1,1\n")
    assert samples.note[0] == "=1+1"


def test_a_file_may_give_both_meters_and_the_engines_own_is_kept():
    found = read("engine,odometer_km,hours,Fe\nE1,81000,900,1\nH1,81000,900,1\n")
    assert found.samples is not None
    assert found.samples.meter.tolist() == [81000, 900]
    assert found.notes[0].text == ("rows with a distance and hours: 2; the one that the engine "
                                   "is counted in was kept")


@pytest.mark.parametrize("word", ["yes", "Ja", "OUI", "sì", "1", "true"])
def test_yes(word):
    assert table(f"engine,hours,noise,Fe\nH1,5,{word},1\n").noise[0] == 1


@pytest.mark.parametrize("word", ["no", "Nein", "NON", "0", "false"])
def test_no(word):
    assert table(f"engine,hours,noise,Fe\nH1,5,{word},1\n").noise[0] == 0


def test_maybe_is_no_answer():
    found = read("engine,hours,noise,Fe\nH1,5,maybe,1\n")
    assert found.rejects[0].reason == "must be yes or no"


@pytest.mark.parametrize(("word", "kept"), [("not_looked", "not looked"), ("Fine", "fine"),
                                            ("Späne", "flakes"), ("", "")])
def test_filter_findings(word, kept):
    samples = table(f"engine,hours,filter_finding,Fe\nH1,5,{word},1\n")
    assert FILTER_FINDINGS[samples.filter_finding[0]] == kept


def test_all_measurands_at_once():
    cells = {symbol: "0.6" if symbol in ("KV100", "HTHS") else "1" for symbol in PANEL}
    samples = table(f"engine,hours,{','.join(cells)}\nH1,5,{','.join(cells.values())}\n")
    assert samples.value[0].tolist() == [float(cell) for cell in cells.values()]
    assert list(json.loads(samples.raw[0])) == list(PANEL)


def test_more_rows_than_one_block_keep_their_texts():
    rows = 9000
    samples = table("engine;hours;sample_id;Fe;Cu\n" + "".join(
        f"H1;{n};S{n};{n % 300};{'<1' if n % 3 else '2,5'}\n" for n in range(rows)))
    for n in (0, 1, 8191, 8192, rows - 1):
        assert json.loads(samples.raw[n]) == {"Fe": str(n % 300), "Cu": "<1" if n % 3 else "2,5"}


def test_every_row_of_the_published_series_is_accepted(shared: Path):
    # Four oil fills of two engines, published with a 2021 maintenance congress paper.
    data = (shared / "data" / "published_series" / "engine_fills.csv").read_bytes()
    found = read(data, store=known(engines={"A": "h", "B": "h"}))
    assert counts(found) == [25, 1, 24, 0, 0, 0, 0]
    assert found.samples is not None
    assert found.samples.meter_unit.tolist() == [1] * 24
    blank = found.samples.qualifier[:, PANEL_INDEX["Cu"]] == Qualifier.MISSING
    assert blank.sum() == 4
