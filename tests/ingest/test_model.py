import json

import pytest

from oiltrend.errors import OiltrendError, ValueRefused
from oiltrend.ingest import ParsedFile, ReadOptions, accounting
from tests.ingest.reading import read


def parsed(**counted: int) -> ParsedFile:
    numbers = {"records": 7, "header": 1, "accepted": 2, "held": 1, "rejected": 1,
               "duplicates": 1, "blank": 1, **counted}
    return ParsedFile("a.csv", "", "events", "utf-8", ",", "point", "", "wide", (), (), **numbers)


def test_an_accounting_that_adds_up_stands():
    assert parsed().records == 7


@pytest.mark.parametrize("part", ["records", "header", "accepted", "held", "rejected",
                                  "duplicates", "blank"])
def test_an_accounting_that_does_not_add_up_is_a_fault_of_the_program(part):
    with pytest.raises(OiltrendError, match="records must equal header"):
        parsed(**{part: 9})


def test_no_part_may_be_negative():
    with pytest.raises(OiltrendError, match="records must equal header"):
        parsed(accepted=-1, held=4)


@pytest.mark.parametrize(("option", "value", "message"), [
    ("date_order", "ydm", "date order: must be one of 'ymd', 'dmy', 'mdy', found 'ydm'; "
     "correct it, or leave it out and be asked"),
    ("decimal", ".", "decimal: must be one of 'point', 'comma', found '.'; "
     "correct it, or leave it out and be asked"),
    ("meter", "yd", "meter: must be one of 'km', 'mi', 'h', found 'yd'; "
     "correct it, or leave it out and be asked"),
    ("encoding", "ebcdic", "encoding: must be one of 'utf-8', 'utf-16', 'cp1252', 'latin-1', "
     "found 'ebcdic'; correct it, or leave it out and be asked"),
])
def test_options_are_checked(option, value, message):
    with pytest.raises(ValueRefused) as refused:
        ReadOptions(**{option: value})
    assert str(refused.value) == message


def test_accounting_is_json_with_the_promised_names():
    found = read("engine,sample_date,Fe\nE1,2024-03-05,x\nE1,03/04/2024,1\n")
    document = json.loads(json.dumps(accounting(found)))
    assert {"file", "sha256", "records", "header", "accepted", "held", "rejected", "duplicates",
            "blank", "rejects", "questions"} <= set(document)
    assert document["records"] == 3
    assert document["questions"][0]["code"] == "date_order"
    rejected = read("engine,sample_date,Fe\nE1,2024-03-05,x\n")
    assert accounting(rejected)["rejects"] == [
        {"line": 2, "column": "Fe", "raw": "x", "reason": "must be a number",
         "hint": "correct it, or leave it blank when not measured"}]
