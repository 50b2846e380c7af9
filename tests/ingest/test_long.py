import json

import pytest

from oiltrend import records
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import Qualifier
from oiltrend.samplekeys import content_hashes
from tests.ingest.reading import counts, read

HEAD = "engine,sample_date,sample_id,measurand,value,unit\n"


def test_rows_of_one_sample_make_one_sample():
    found = read(HEAD + "E1,2024-03-05,S1,Eisen,12,ppm\nE1,2024-03-05,S1,Cu,<1,\n"
                 "E2,2024-03-06,S2,KV 100,13.1,cSt\nE1,2024-03-05,S1,Pb,,\n")
    assert counts(found) == [5, 1, 4, 0, 0, 0, 0]
    samples = found.samples
    assert samples is not None
    assert found.layout == "long"
    assert samples.sample_id.tolist() == ["S1", "S2"]
    assert samples.line.tolist() == [2, 4]
    assert samples.value[0, PANEL_INDEX["Fe"]] == 12
    assert samples.qualifier[0, PANEL_INDEX["Cu"]] == Qualifier.BELOW
    assert samples.qualifier[0, PANEL_INDEX["Pb"]] == Qualifier.MISSING
    assert samples.value[1, PANEL_INDEX["KV100"]] == 13.1
    assert [json.loads(raw) for raw in samples.raw] == [{"Fe": "12", "Cu": "<1"},
                                                        {"KV100": "13.1"}]


def test_long_and_wide_say_the_same():
    long = read(HEAD + "E1,2024-03-05,S1,Fe,12,\nE1,2024-03-05,S1,Cu,<1,\n").samples
    wide = read("engine,sample_date,sample_id,Fe,Cu\nE1,2024-03-05,S1,12,<1\n").samples
    assert long is not None
    assert wide is not None
    assert content_hashes(long) == content_hashes(wide)


@pytest.mark.parametrize(("name", "unit", "symbol", "value"), [
    ("Fe", "%", "Fe", 120000), ("water", "ppm", "water_pct", 0.0012),
    ("Iron [ppm]", "", "Fe", 12), ("oxidation", "", "oxidation", 12),
    ("Oxidation", "Abs/0.1 mm", "oxidation", 1200), ("fuel", "vol%", "fuel_pct", 12)])
def test_each_reading_is_converted_from_its_own_unit(name, unit, symbol, value):
    found = read(HEAD + f"E1,2024-03-05,S1,{name},12,{unit}\n")
    high = {"Fe": 20000, "oxidation": 500}.get(symbol, 1e9)
    if value > high:
        assert found.rejects[0].reason.startswith(f"{symbol}: must be from")
    else:
        assert found.samples is not None
        assert found.samples.value[0, PANEL_INDEX[symbol]] == pytest.approx(value)


def test_shares_of_volume_say_so():
    found = read(HEAD + "E1,2024-03-05,S1,fuel,2,vol%\n")
    assert found.samples is not None
    assert json.loads(found.samples.methods[0]) == {"fuel_pct": "% volume"}


def test_an_absorbance_needs_its_unit_unless_it_bears_our_name():
    found = read(HEAD + "E1,2024-03-05,S1,Oxidation,2,\n")
    assert found.rejects[0].reason == "the unit of oxidation must be one of Abs/cm, Abs/0.1 mm"


def test_a_bad_reading_rejects_its_row_and_leaves_the_rest_of_the_sample():
    found = read(HEAD + "E1,2024-03-05,S1,Fe,x,\nE1,2024-03-05,S1,Pb,3,\n")
    assert counts(found) == [3, 1, 1, 0, 1, 0, 0]
    assert (found.rejects[0].column, found.rejects[0].raw) == ("value", "x")
    assert found.rejects[0].reason == "Fe: must be a number"
    assert found.samples is not None
    assert found.samples.qualifier[0, PANEL_INDEX["Pb"]] == Qualifier.EXACT


def test_a_repeated_reading_is_a_duplicate():
    found = read(HEAD + "E1,2024-03-05,S1,Fe,3,\n" * 2 + "E1,2024-03-05,S1,Fe,3.0,\n")
    assert counts(found) == [4, 1, 1, 0, 0, 2, 0]


def test_names_that_are_not_known_are_asked_and_remembered():
    text = HEAD + "E1,2024-03-05,S1,Ferrum,3,\nE1,2024-03-05,S1,Colour,red,\n"
    asked = read(text)
    assert [(q.code, q.column) for q in asked.questions] == [("measurand", "Ferrum"),
                                                            ("measurand", "Colour")]
    assert counts(asked) == [3, 1, 0, 2, 0, 0, 0]
    told = read(text, matches={"ferrum": "Fe", "Colour": "ignore"})
    assert counts(told) == [3, 1, 2, 0, 0, 0, 0]
    assert told.samples is not None
    assert told.samples.value[0, PANEL_INDEX["Fe"]] == 3
    assert told.notes[-1].text == "'Colour' was left out as asked, rows: 1"
    mapping = records.Mapping("Lab", {"Ferrum": "Fe", "Colour": "ignore"}, {}, {})
    assert counts(read(text, mapping=mapping)) == counts(told)


def test_methods_stand_with_their_readings_and_notes_are_joined():
    found = read("engine,sample_date,sample_id,measurand,value,method,note\n"
                 "E1,2024-03-05,S1,Fe,3,ICP,one\nE1,2024-03-05,S1,Pb,3,,two\n"
                 "E1,2024-03-05,S1,Cu,3,XRF,one\n")
    assert found.samples is not None
    assert json.loads(found.samples.methods[0]) == {"Fe": "ICP", "Cu": "XRF"}
    assert (found.samples.method[0], found.samples.note[0]) == ("", "one; two")


def test_unknown_engines_are_held_row_by_row():
    found = read(HEAD + "E9,2024-03-05,S1,Fe,3,\nE9,2024-03-05,S1,Pb,3,\nE1,2024-03-05,S1,Pb,3,\n")
    assert counts(found) == [4, 1, 1, 2, 0, 0, 0]


def test_the_decimal_sign_is_decided_from_the_values():
    found = read(HEAD.replace(",", ";") + "E1;2024-03-05;S1;Fe;3,5;\n")
    assert found.decimal == "comma"
    asked = read(HEAD.replace(",", ";") + "E1;2024-03-05;S1;Fe;3.500;\n")
    assert [q.code for q in asked.questions] == ["decimal"]


def test_a_blank_name_is_rejected():
    found = read(HEAD + "E1,2024-03-05,S1,,3,\n")
    assert found.rejects[0].reason == "must not be blank"
