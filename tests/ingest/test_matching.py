import pytest

from oiltrend import records
from oiltrend.errors import FileRefused, ValueRefused
from oiltrend.ingest.matching import IGNORE, Matcher, plan_columns
from oiltrend.ingest.model import ReadOptions

ABSORBANCES = ("oxidation", "nitration", "sulfation")  # their unit is the next question


def plan_of(*headings, kind="samples", **options):
    matcher = Matcher(kind, ReadOptions(**options))
    return plan_columns(headings, kind=kind, matcher=matcher, filename="a.csv")


def mapping(**parts):
    return records.Mapping(**{"name": "Lab A", "columns": {}, "engines": {}, "units": {}, **parts})


def found(plan):
    return [(m.heading, m.column, m.unit, m.how) for m in plan.matched]


def test_how_each_heading_was_matched_is_told():
    plan = plan_of("engine", "Date", "Ferrum", "Plumbum", "Rest",
                   matches={"ferrum": "Fe", "Rest": IGNORE},
                   mapping=mapping(columns={"PLUMBUM": "Pb"}, units={"Plumbum": "%"}))
    assert found(plan) == [
        ("engine", "engine", "-", "known"), ("Date", "sample_date", "-", "known"),
        ("Ferrum", "Fe", "mg/kg", "user"), ("Plumbum", "Pb", "%", "mapping"),
        ("Rest", "ignore", "-", "user")]
    assert not plan.questions


def test_what_is_said_now_wins_over_what_is_remembered_and_known():
    plan = plan_of("engine", "Date", "Fe", matches={"Fe": IGNORE},
                   mapping=mapping(columns={"Fe": "Cu", "Date": "note"}))
    assert found(plan)[1:] == [("Date", "note", "-", "mapping"), ("Fe", IGNORE, "-", "user")]


@pytest.mark.parametrize(("target", "unit"), [
    ("Fe", "mg/kg"), ("fe [%]", "%"), ("Fe [ppm]", "mg/kg"), ("fuel_pct [vol%]", "% (V/V)"),
    ("oxidation [Abs/0.1 mm]", "Abs/0.1 mm"), ("odometer_mi", "mi"), ("KV40 [cSt]", "mm²/s")])
def test_a_match_may_carry_its_unit(target, unit):
    plan = plan_of("engine", "hours", "X", matches={"X": target})
    assert plan.matched[2].unit == unit
    assert not plan.questions


def test_a_heading_matched_by_hand_keeps_the_unit_it_names():
    plan = plan_of("engine", "hours", "Eisengehalt [%]", matches={"Eisengehalt [%]": "Fe"})
    assert plan.unit("Fe") == "%"


def test_a_strange_unit_is_asked_even_when_the_column_is_said():
    plan = plan_of("engine", "hours", "Eisengehalt [mg/L]", matches={"Eisengehalt [mg/L]": "Fe"})
    question, = plan.questions
    assert (question.code, question.choices) == ("unit", ("Fe [mg/kg]", "Fe [%]"))
    answered = plan_of("engine", "hours", "Eisengehalt [mg/L]",
                       matches={"Eisengehalt [mg/L]": question.choices[0]})
    assert not answered.questions


def test_every_unit_that_is_offered_is_an_answer():
    for heading in ("Fe mg/l", "Oxidation", "Fuel [mg/L]", "KV40 [ppm]", "Top up [kg]"):
        question = plan_of("engine", "hours", heading).questions[0]
        assert question.code == "unit"
        for choice in question.choices:
            assert not plan_of("engine", "hours", heading, matches={heading: choice}).questions


def test_every_column_that_is_offered_is_an_answer():
    question = plan_of("engine", "hours", "Colour").questions[0]
    assert question.choices[-1] == IGNORE
    for choice in question.choices:
        if choice not in ("engine", "hours", "measurand", "value", "unit", *ABSORBANCES):
            assert not plan_of("engine", "hours", "Colour", matches={"Colour": choice}).questions


def test_a_remembered_unit_answers_a_known_heading():
    plan = plan_of("engine", "hours", "Oxidation", mapping=mapping(units={"oxidation": "Abs/cm"}))
    assert plan.unit("oxidation") == "Abs/cm"


def test_a_remembered_column_that_no_longer_exists_is_asked_again():
    plan = plan_of("engine", "hours", "X", mapping=mapping(columns={"X": "colour"}))
    assert [q.column for q in plan.questions] == ["X"]


@pytest.mark.parametrize(("matches", "message"), [
    ({"X": "Ferrum"}, "match: must name a column of this kind of file or 'ignore', found 'Ferrum'; "
     "see the list of columns: oiltrend template KIND --describe"),
    ({"X": "Fe [km]"}, "match: Fe must be in mg/kg, %, found 'km'; give one of these units"),
    ({"X": "note [km]"}, "match: note must be in no unit, found 'km'; give one of these units"),
])
def test_a_match_to_nothing_is_told(matches, message):
    with pytest.raises(ValueRefused) as refused:
        plan_of("engine", "hours", "X", matches=matches)
    assert str(refused.value) == message


def test_a_match_that_fits_no_heading_is_noted():
    note, = plan_of("engine", "hours", "Fe", matches={"Ferum": "Fe"}).notes
    assert (note.raw, note.text) == (
        "ferum", "a match was given for this heading, which the file does not have")


def test_two_headings_for_one_column_are_refused_unless_one_is_ignored():
    with pytest.raises(FileRefused) as refused:
        plan_of("engine", "hours", "Fe", "Iron")
    assert str(refused.value) == ("a.csv: each column must have one heading, found 'Fe' and "
                                  "'Iron' for Fe; match one of them to 'ignore'")
    assert plan_of("engine", "hours", "Fe", "Iron", matches={"Iron": IGNORE}).unit("Fe") == "mg/kg"


def test_headings_equal_but_for_composition_are_refused():
    with pytest.raises(FileRefused, match="headings must differ by more than case"):
        plan_of("engine", "hours", "\u00e4", "a\u0308")


def test_result_and_unit_are_columns_of_the_long_layout_only():
    wide = plan_of("engine", "hours", "Fe", "Result", "Unit")
    assert (wide.layout, [q.column for q in wide.questions]) == ("wide", ["Result", "Unit"])
    long = plan_of("engine", "hours", "Parameter", "Result", "Unit")
    assert (long.layout, long.questions) == ("long", ())
    assert set(long.position) == {"engine", "hours", "measurand", "value", "unit"}


def test_absorbance_without_a_unit_under_our_own_name_is_noted():
    note, = plan_of("engine", "hours", "oxidation").notes
    assert note.text == "the heading has no unit; read as Abs/cm"


def test_a_bare_meter_is_answered_by_option_or_memory():
    assert plan_of("engine", "Odometer").questions[0].code == "meter"
    assert "odometer_mi" in plan_of("engine", "Odometer", meter="mi").position
    assert "hours" in plan_of("engine", "Odometer", mapping=mapping(meter="h")).position


def test_a_file_that_names_no_engine_asks_unless_it_was_said():
    assert [q.code for q in plan_of("hours", "Fe").questions] == ["engine"]
    assert not plan_of("hours", "Fe", engine="E1").questions
    assert not plan_of("hours", "Fe", mapping=mapping(engine="E1")).questions


@pytest.mark.parametrize(("kind", "headings", "missing"), [
    ("limits", ["family", "measurand"], "quantity, level, operator, value, valid_from"),
    ("engines", ["family"], "engine"), ("families", ["rods"], "family"),
    ("teardowns", ["engine", "rod"], "teardown_date, half"),
    ("events", ["engine", "date"], "event"), ("new-oil", ["Ca"], "oil_product")])
def test_columns_that_every_row_needs(kind, headings, missing):
    with pytest.raises(FileRefused) as refused:
        plan_of(*headings, kind=kind)
    assert str(refused.value) == (
        f"a.csv: a file of {kind} must have the column {missing}, found no heading for it; "
        f"match a heading to it, or see oiltrend template {kind} --describe")
    # While a heading is still being asked about, it may be the missing one.
    assert plan_of(*headings, "Colour", kind=kind).questions
