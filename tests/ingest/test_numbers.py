import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.ingest.numbers import (
    NOT_DETECTED,
    decimal_evidence,
    join_evidence,
    odd_texts,
    read_number,
    read_reading,
)
from oiltrend.records import Qualifier


@pytest.mark.parametrize(("text", "decimal", "value"), [
    ("8000", "point", 8000), ("22.5", "point", 22.5), ("22,5", "comma", 22.5), (" 7 ", "point", 7),
    ("8E3", "point", 8000), ("2.25e1", "point", 22.5), ("2,25e1", "comma", 22.5),
    ("+5", "point", 5), ("-5", "point", -5), (".5", "point", 0.5), ("5.", "point", 5),
    ("-0", "point", 0), ("0", "point", 0), ("007", "point", 7),
    ("8.000", "point", 8), ("8.000", "comma", 8000), ("1,022", "point", 1022),
    ("1,022", "comma", 1.022), ("1,234,567.5", "point", 1234567.5),
    ("1.234.567,5", "comma", 1234567.5), ("12 345", "point", 12345), ("12'345.5", "point", 12345.5),
    ("12\u00a0345", "point", 12345), ("12\u202f345,5", "comma", 12345.5),
    ("\u221222.5", "point", -22.5), ("４", "point", 4), ("١٣", "point", 13),
    ("１２．５", "point", 12.5),
])
def test_numbers(text, decimal, value):
    found = read_number(text, decimal)
    assert (found.value, found.problem) == (value, "")
    assert math.copysign(1, found.value) == (1 if value >= 0 else -1)


@pytest.mark.parametrize(("text", "decimal", "problem"), [
    ("5 %", "point", "must be a number"), ("5 ppm", "point", "must be a number"),
    ("22,5", "point", "must be a number"), ("22.5", "comma", "must be a number"),
    ("1.2.3", "point", "must be a number"), ("12,34,567", "point", "must be a number"),
    ("1 2", "point", "must be a number"), ("<5", "point", "must be a number"),
    ("x", "point", "must be a number"), (".", "point", "must be a number"),
    ("-", "point", "must be a number"), ("1/2", "point", "must be a number"),
    ("0x10", "point", "must be a number"), ("1_000", "point", "must be a number"),
    ("1e400", "point", "must be a number that a computer can hold"),
    ("1e-400", "point", "must not be too small for a computer to tell from 0"),
    ("nan", "point", "must be a finite number"), ("-INF", "point", "must be a finite number"),
    ("#DIV/0!", "point", "must be a number, found a spreadsheet error"),
    ("5-Mar", "point", "must be a number, found a date"),
    ("Mar-24", "point", "must be a number, found a date"),
])
def test_what_is_no_number(text, decimal, problem):
    found = read_number(text, decimal)
    assert found.problem == problem
    assert found.hint
    assert math.isnan(found.value)


@pytest.mark.parametrize(("text", "value", "qualifier"), [
    ("5", 5, Qualifier.EXACT), ("0", 0, Qualifier.EXACT), ("", None, Qualifier.MISSING),
    ("  ", None, Qualifier.MISSING), ("<1", 1, Qualifier.BELOW), ("< 0.5", 0.5, Qualifier.BELOW),
    ("<=1", 1, Qualifier.BELOW), ("≤1", 1, Qualifier.BELOW), ("＜1", 1, Qualifier.BELOW),
    (">1000", 1000, Qualifier.ABOVE), ("> 1,000", 1000, Qualifier.ABOVE),
    (">=5", 5, Qualifier.ABOVE), ("---", None, Qualifier.BELOW), ("—", None, Qualifier.BELOW),
    ("-", None, Qualifier.MISSING), ("n/a", None, Qualifier.MISSING),
    ("not tested", None, Qualifier.MISSING),
])
def test_readings(text, value, qualifier):
    found = read_reading(text, "point")
    assert found.problem == ""
    assert found.qualifier == qualifier
    assert math.isnan(found.value) if value is None else found.value == value


@pytest.mark.parametrize("word", sorted({*NOT_DETECTED, "N.D.", "Not Detected", "TRACE", "BDL"}))
def test_not_detected_is_below_an_unknown_bound_never_zero_never_missing(word):
    found = read_reading(f" {word} ", "comma")
    assert found.qualifier == Qualifier.BELOW
    assert math.isnan(found.value)
    assert not found.problem


@pytest.mark.parametrize("text", ["<0", "<-1", ">-3"])
def test_a_bound_is_above_zero(text):
    assert read_reading(text, "point").problem == "a limit must be above 0"


@pytest.mark.parametrize("text", ["<", ">", "<<1", "<ND", "1<", "~5", "5*", "5-10", "ca. 5"])
def test_a_qualifier_needs_its_number(text):
    assert read_reading(text, "point").problem == "must be a number"


@pytest.mark.parametrize(("text", "note"), [
    ("\u22125", "unusual characters were read as '-5'"),
    ("٤", "unusual characters were read as '4'"),
    ("8 000", "blanks or marks between thousands were left out: 8000"),
    ("-", "'-' was read as not measured"), ("22.5", ""), ("<1", ""), ("ND", "")])
def test_what_was_changed_is_said(text, note):
    assert read_reading(text, "point").note == note


@pytest.mark.parametrize(("texts", "decided"), [
    ([], "point"), (["8", "<1", "ND", ""], "point"),
    (["22.5"], "point"), (["22,5"], "comma"), (["0.123"], "point"), (["0,123"], "comma"),
    (["1234.567"], "point"), (["13.1234"], "point"), (["2.25e1"], "point"), (["<0,5"], "comma"),
    (["8.000"], ""), (["1,022"], ""), (["13.123", "12.456"], ""),
    (["13.123", "22.5"], "point"), (["1,022", "22,5"], "comma"),
    (["8.000", "22,5"], ""), (["1,022", "22.5"], ""),
    (["1.234,5", "8.000"], "comma"), (["1,234.5", "1,022"], "point"),
    (["1.234.567"], "comma"), (["1,234,567"], "point"),
    (["22.5", "22,5"], ""), (["1.234.567", "22.5"], ""),
])
def test_the_decimal_sign_is_decided_or_asked(texts, decided):
    assert decimal_evidence(texts).decided == decided
    one_by_one = join_evidence(decimal_evidence([text]) for text in texts)
    assert one_by_one.decided == decided


WRITERS = {"point": lambda v: f"{v:.6f}", "comma": lambda v: f"{v:.6f}".replace(".", ",")}
GROUPED = {"point": lambda v: f"{v:,.2f}",
           "comma": lambda v: f"{v:,.2f}".translate(str.maketrans(",.", ".,"))}
amounts = st.floats(0, 1e6).map(lambda v: round(v, 6))


@given(amounts, st.sampled_from(["point", "comma"]))
def test_a_number_comes_back_as_it_was_written(value, decimal):
    assert read_number(WRITERS[decimal](value), decimal).value == pytest.approx(value, abs=5e-7)


@given(st.floats(0, 1e9).map(lambda v: round(v, 2)), st.sampled_from(["point", "comma"]),
       st.sampled_from(["", " ", "\u00a0", "\u202f", "'"]))
def test_a_number_with_thousands_comes_back_as_it_was_written(value, decimal, blank):
    text = GROUPED[decimal](value)
    if blank:
        text = text.replace("," if decimal == "point" else ".", blank)
    assert read_number(text, decimal).value == value


@given(amounts.filter(lambda v: v > 1e-5), st.sampled_from(["point", "comma"]),
       st.sampled_from(["<", "< ", ">", "> "]))
def test_a_censored_reading_comes_back_as_it_was_written(value, decimal, sign):
    found = read_reading(sign + WRITERS[decimal](value), decimal)
    assert found.value == pytest.approx(value, abs=5e-7)
    assert found.qualifier == (Qualifier.BELOW if "<" in sign else Qualifier.ABOVE)


@given(st.lists(amounts, min_size=1, max_size=20), st.sampled_from(["point", "comma"]),
       st.integers(0, 6))
def test_a_column_is_never_read_off_by_a_power_of_ten(values, decimal, digits):
    """Either the sign is asked for, or every number is what was written."""
    texts = [f"{v:.{digits}f}" for v in values]
    if decimal == "comma":
        texts = [text.replace(".", ",") for text in texts]
    decided = decimal_evidence(texts).decided
    if decided:
        assert [read_number(text, decided).value for text in texts] == [
            float(f"{v:.{digits}f}") for v in values]


@given(st.lists(st.text(max_size=6), max_size=8), st.sampled_from(["point", "comma"]))
def test_the_search_over_all_texts_finds_the_same_as_one_by_one(texts, decimal):
    texts = list(dict.fromkeys([*texts, "5", "5.5", "5,5", "x"]))
    odd = odd_texts(texts, decimal)
    assert odd == [code for code in range(len(texts)) if odd_texts([texts[code]], decimal)]


@given(st.text(max_size=12), st.sampled_from(["point", "comma"]))
def test_nothing_is_uncaught_and_nothing_becomes_zero_unseen(text, decimal):
    found = read_reading(text, decimal)
    assert found.problem or math.isnan(found.value) or math.isfinite(found.value)
    if found.value == 0 and not found.problem:
        assert any(c.isdecimal() for c in text)
