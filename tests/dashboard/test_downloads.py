from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient

from oiltrend.dashboard.downloads import TRY_RESULTS
from oiltrend.ingest import KINDS, columns_of
from oiltrend.service import files, fleet
from oiltrend.store import Store
from tests.dashboard.workshop import SHOP


def ask(client: FlaskClient, figure: str, **query: str) -> tuple[int, str]:
    answer = client.get(f"/data/{figure}.csv?{urlencode(query)}")
    return answer.status_code, answer.get_data().decode("utf-8-sig")


def test_the_numbers_behind_the_wear_rate(client: FlaskClient) -> None:
    status, text = ask(client, "wear-rate", engine="AQ-101", measurand="Pb", unit="km")
    assert status == 200
    assert len(text.splitlines()) == 6
    assert text.splitlines()[1].startswith("1,2024-02-01,8000.0,")


def test_the_numbers_behind_the_panels(client: FlaskClient) -> None:
    status, text = ask(client, "values", engine="AQ-104", measurand="Pb,Fe", unit="mi")
    assert status == 200
    assert text.splitlines()[0] == (
        "sample,date,distance [mi],Pb [mg/kg],Pb mark,Fe [mg/kg],Fe mark")
    assert text.splitlines()[1].split(",")[2].startswith("5000")


@pytest.mark.parametrize(("figure", "query", "said"), [
    ("wear-rate", {"engine": "AQ-999", "measurand": "Pb", "unit": "km"}, "AQ-999"),
    ("wear-rate", {"engine": "AQ-101", "measurand": "Xx", "unit": "km"},
     "measurand: must be one that engine AQ-101 has, found 'Xx'"),
    ("wear-rate", {"engine": "AQ-101", "measurand": "Pb", "unit": "furlong"},
     "unit: must be one of 'km', 'mi', 'h', found 'furlong'"),
    ("values", {"engine": "AQ-101", "measurand": ",".join(["Pb"] * 9), "unit": "km"},
     "measurands: must be at most 6, found 9"),
    ("secrets", {"engine": "AQ-101"}, "There is no such table."),
])
def test_what_is_not_there_is_not_found(client: FlaskClient, figure: str,
                                        query: dict[str, str], said: str) -> None:
    status, text = ask(client, figure, **query)
    assert status == 404
    assert said in text


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_an_empty_table_to_fill(client: FlaskClient, kind: str) -> None:
    answer = client.get(f"/data/template/{kind}.csv")
    heads = answer.get_data().decode("utf-8-sig").strip().split(",")
    assert {column.name for column in columns_of(kind) if column.required} <= set(heads)


def test_a_template_of_no_kind_is_not_found(client: FlaskClient) -> None:
    assert client.get("/data/template/secrets.csv").status_code == 404


def test_the_file_to_try_is_stored_whole_and_has_something_to_say(client: FlaskClient,
                                                                  store: Store) -> None:
    assert client.get("/data/try-results.csv").get_data().decode() == TRY_RESULTS
    report = files.import_file(store, SHOP, TRY_RESULTS.encode(), filename="try-results.csv",
                               create_family="AQ-V8-40")
    assert (report.stored, report.parsed.rejected) == (5, 0)
    verdict, = fleet.assess_fleet(store, SHOP, engines=["TRY-1"])
    assert verdict.level in ("alert", "alarm")
    assert verdict.reasons[0].measurand == "Pb"
