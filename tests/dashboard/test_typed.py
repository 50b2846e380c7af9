import pytest

from oiltrend.dashboard.typed import typed_day, typed_number
from oiltrend.errors import ValueRefused


@pytest.mark.parametrize(("text", "decimal", "number"), [
    ("12", ".", 12.0), ("12.5", ".", 12.5), ("12,5", ",", 12.5), ("12.5", ",", 12.5),
    ("48\u202f210", ".", 48210.0), ("48 210,5", ",", 48210.5), ("-3", ".", -3.0),
    ("1.250", ".", 1.25), ("1,250", ",", 1.25), ("  ", ".", None)])
def test_a_number_is_read_as_it_is_meant(text: str, decimal: str, number: float | None) -> None:
    assert typed_number(text, where="value", decimal=decimal) == number


@pytest.mark.parametrize("text", ["six", "1e3", "12 km", "1.2.3", "<1", "nan", "inf", "٣", "1,2,3"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(ValueRefused) as caught:
        typed_number(text, where="alert", decimal=".")
    assert str(caught.value) == (f"alert: must be a number, found '{text}'; write digits with one "
                                 "decimal sign and no unit")


@pytest.mark.parametrize(("text", "decimal"), [("1,250", "."), ("1.250", ",")])
def test_what_may_mean_thousands_is_asked_for_and_not_guessed(text: str, decimal: str) -> None:
    with pytest.raises(ValueRefused) as caught:
        typed_number(text, where="meter", decimal=decimal)
    assert str(caught.value) == (
        f"meter: must be one number, found '{text}', which may mean thousands; write '{decimal}' "
        "before decimals and nothing between thousands")


def test_a_day_is_a_day() -> None:
    assert typed_day("", where="on") is None
    with pytest.raises(ValueRefused) as caught:
        typed_day("2025-02-30", where="drawn on")
    assert str(caught.value) == "drawn on: must be a date, found '2025-02-30'; choose a day"
