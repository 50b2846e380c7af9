from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import FileRefused
from oiltrend.ingest.dates import choose_order, read_date
from tests.ingest.reading import TODAY

DAY = date(2024, 3, 5)


@pytest.mark.parametrize("text", [
    "2024-03-05", "2024/03/05", "2024.03.05", "2024-3-5", "20240305", "2024-03-05T10:20:00",
    "2024-03-05 10:20", "2024-03-05T00:00:00Z", "5 Mar 2024", "05-Mar-2024", "5. März 2024",
    "March 5, 2024", "Mar 5 2024", "5 mars 2024", "5 marzo 2024", "5 março 2024", "5 maart 2024",
    "5 marca 2024", "5 března 2024", " 2024-03-05 ", "２０２４-03-05"])
@pytest.mark.parametrize("order", ["", "dmy", "mdy", "ymd"])
def test_dates_that_need_no_order(text, order):
    assert read_date(text, order, today=TODAY).value == DAY


@pytest.mark.parametrize(("text", "order"), [
    ("05/03/2024", "dmy"), ("5.3.2024", "dmy"), ("5-3-2024", "dmy"), ("03/05/2024", "mdy"),
    ("05.03.24", "dmy"), ("3/5/24", "mdy"), ("24-03-05", "ymd"), ("05/03/2024 14:30", "dmy"),
    ("3/5/2024 2:30 PM", "mdy")])
def test_dates_in_an_order(text, order):
    assert read_date(text, order, today=TODAY).value == DAY


def test_blank_is_no_date_and_no_problem():
    found = read_date("  ", "dmy", today=TODAY)
    assert (found.value, found.problem) == (None, "")


@pytest.mark.parametrize(("text", "problem"), [
    ("2024-02-30", "must be a day that exists"), ("2023-02-29", "must be a day that exists"),
    ("31.11.2024", "must be a day that exists"), ("0000-01-01", "must be a day that exists"),
    ("1889-01-01", "must not be before 1950"),
    ("2026-01-02", "must not be in the future (today is 2026-01-01)"),
    ("45356", "must be a date, found what may be a spreadsheet's day number"),
    ("45356.5", "must be a date, found what may be a spreadsheet's day number"),
    ("5-Mar", "must be a date with its year"), ("Mar-24", "must be a date with its year"),
    ("03/25/2024", "must be in the order dmy of this file"), ("x", "must be a date"),
    ("5", "must be a date"), ("5 Foo 2024", "must name a month that is known"),
    ("2024-03", "must be a date"), ("05/03-2024", "must be a date")])
def test_what_is_no_date(text, problem):
    found = read_date(text, "dmy", today=TODAY)
    assert (found.value, found.problem) == (None, problem)
    assert found.hint


def test_a_day_number_says_what_it_may_mean():
    # 45356 is 2024-03-05 in the 1900 system of spreadsheets (manifest of the invented corpus).
    assert "2024-03-05" in read_date("45356", "dmy", today=TODAY).hint


def test_a_limit_may_hold_from_a_later_day():
    assert read_date("2027-01-01", "", today=TODAY, later=True).value == date(2027, 1, 1)


@pytest.mark.parametrize(("text", "year"), [("05/03/69", None), ("05/03/70", 1970),
                                            ("05/03/99", 1999), ("05/03/00", 2000)])
def test_two_digit_years_turn_at_70(text, year):
    found = read_date(text, "dmy", today=TODAY).value
    assert (found and found.year) == year


def test_what_was_left_out_or_changed_is_said():
    assert read_date("2024-03-05 10:20", "", today=TODAY).note == "the time of day was left out"
    assert read_date("2024-03-05 00:00", "", today=TODAY).note == ""
    assert "unusual characters" in read_date("٢٠٢٤-03-05", "", today=TODAY).note


def order_of(*texts, given=""):
    return choose_order(texts, given=given, today=TODAY, where="a.csv")


@pytest.mark.parametrize(("texts", "order", "choices"), [
    (["2024-03-05"], "", ()), (["25/03/2024", "03/04/2024"], "dmy", ()),
    (["03/25/2024", "03/04/2024"], "mdy", ()), (["03/04/2024"], "", ("dmy", "mdy")),
    (["03.04.2024"], "", ("dmy", "mdy")), (["05/05/2024"], "dmy", ()),
    (["05/05/2024", "06/05/2024"], "", ("dmy", "mdy")), ([], "", ()),
    (["05/03/24"], "", ("dmy", "mdy", "ymd")), (["25/03/24"], "", ("dmy", "ymd")),
    (["03/25/24"], "", ("mdy",)), (["31/12/24", "25/03/24"], "", ("dmy", "ymd")),
    (["41/12/24", "25/03/24"], "", ("ymd",)),
    (["x", "", "45356"], "", ()), (["30/02/2024"], "dmy", ()),
])
def test_the_order_is_decided_or_asked(texts, order, choices):
    found = order_of(*texts)
    assert (found.order, found.choices) == (order, choices)


def test_what_was_said_is_not_asked():
    assert order_of("03/04/2024", given="mdy").order == "mdy"
    assert order_of("03/04/24", given="mdy").choices == ()


def test_two_orders_in_one_file_are_refused():
    with pytest.raises(FileRefused) as refused:
        order_of("25/03/2024", "03/25/2024")
    assert str(refused.value) == ("a.csv: all dates must be in one order, found '25/03/2024' and "
                                  "'03/25/2024'; write every date as 2025-03-31")


def test_examples_show_what_each_answer_makes():
    assert order_of("03/04/2024").examples == ("03/04/2024", "dmy: 2024-04-03", "mdy: 2024-03-04")


FORMS = {"dmy": "%d{0}%m{0}%Y", "mdy": "%m{0}%d{0}%Y", "ymd": "%Y{0}%m{0}%d"}
days = st.integers(0, 20_000).map(lambda n: TODAY - timedelta(days=n))


@given(days, st.sampled_from(sorted(FORMS)), st.sampled_from("/.-"))
def test_a_date_comes_back_as_it_was_written(day, order, mark):
    text = day.strftime(FORMS[order].format(mark))
    assert read_date(text, order, today=TODAY).value == day


@given(st.lists(days, min_size=1, max_size=8), st.sampled_from(["dmy", "mdy"]))
def test_a_column_is_asked_about_or_read_right(column, order):
    """Ambiguous always asked, decidable never wrong."""
    texts = [day.strftime(FORMS[order].format("/")) for day in column]
    found = order_of(*texts)
    if any(day.day > 12 for day in column):
        assert found.order == order
    elif any(day.day != day.month for day in column):
        assert found.choices == ("dmy", "mdy")
    else:
        assert [read_date(t, found.order, today=TODAY).value for t in texts] == column


@given(st.text(max_size=12), st.sampled_from(["", "dmy", "mdy", "ymd"]))
def test_nothing_is_uncaught(text, order):
    found = read_date(text, order, today=TODAY)
    assert found.problem or found.value or not text.strip()
