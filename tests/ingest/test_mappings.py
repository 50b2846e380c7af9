from oiltrend import records
from oiltrend.ingest import ReadOptions, remember
from tests.ingest.reading import known, read

TEXT = "Unit;Datum;Stand;Ferrum;Oxidation;Rest\nU-7;03/04/2025;81000;12;5;x\n"
ANSWERS = {
    "matches": {"Unit": "engine", "Ferrum": "Fe", "Oxidation": "oxidation [Abs/0.1 mm]",
                "Rest": "ignore", "Stand": "odometer_km"},
    "date_order": "dmy", "lab": "Lab A"}


def test_answers_are_needed_once():
    asked = read(TEXT)
    assert {q.code for q in asked.questions} == {"column", "unit", "date_order"}
    told = read(TEXT, **ANSWERS)
    assert not told.questions
    mapping = remember(told, name="Lab A", options=ReadOptions(**ANSWERS), engines={"U-7": "E1"})
    again = read(TEXT, mapping=mapping)
    assert not again.questions
    assert again.samples is not None
    assert again.samples.engine.tolist() == ["E1"]
    assert again.samples.lab.tolist() == ["Lab A"]
    assert str(again.samples.sample_date[0]) == "2025-04-03"
    assert {m.how for m in again.matched} == {"known", "mapping"}
    assert [m.unit for m in again.matched if m.column == "oxidation"] == ["Abs/0.1 mm"]


def test_what_the_file_decided_by_itself_is_not_remembered():
    options = ReadOptions()
    parsed = read("engine;Date;Fe\nE1;25/03/2025;12,5\n")
    assert (parsed.date_order, parsed.decimal) == ("dmy", "comma")
    mapping = remember(parsed, name="x", options=options)
    assert (mapping.date_order, mapping.decimal, mapping.columns) == ("", "", {})


def test_new_answers_join_the_old_ones():
    old = records.Mapping("Lab A", {"Ferrum": "Cu"}, {"U-1": "E1"}, {}, lab="Lab A", meter="km",
                          engine="E2")
    options = ReadOptions(mapping=old, matches={"Ferrum": "Fe"}, decimal="comma")
    parsed = read("engine,hours,Ferrum\nH1,5,1\n", mapping=old, matches={"Ferrum": "Fe"},
                  decimal="comma")
    mapping = remember(parsed, name="Lab A", options=options, engines={"U-2": "E2"})
    assert mapping == records.Mapping(
        "Lab A", {"Ferrum": "Fe"}, {"U-1": "E1", "U-2": "E2"}, {"Ferrum": "mg/kg"}, lab="Lab A",
        decimal="comma", meter="km", engine="E2")


def test_names_of_the_long_layout_are_remembered_too():
    text = "engine,hours,measurand,value\nH1,5,PQ,7\nH1,5,Ferrum,7\n"
    matches = {"PQ": "ignore", "Ferrum": "Fe"}
    parsed = read(text, matches=matches)
    mapping = remember(parsed, name="x", options=ReadOptions(matches=matches))
    assert mapping.columns == matches
    assert not read(text, mapping=mapping, store=known()).questions
