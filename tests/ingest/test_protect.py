import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.ingest import protect, unprotect

# OWASP's list of leads with NUL, after the prefixes that spreadsheets skip.
LEADS = ["=", "+", "-", "@", "\t", "\r", "\n", "\x00"]
PREFIXES = ["", " ", "  ", "\u00a0", "\ufeff", "'"]


@pytest.mark.parametrize(("lead", "prefix"), [*itertools.product(LEADS, PREFIXES)])
def test_formula_leads_are_marked(lead, prefix):
    text = f"{prefix}{lead}1+1"
    assert protect(text) == "'" + text
    assert unprotect(protect(text)) == text


def test_every_line_of_a_cell_is_looked_at():
    assert protect("one\n=two\n@three") == "one\n'=two\n'@three"


@pytest.mark.parametrize("text", ["Ines", "'tis", "J-1042", "a=b", "", "12", "[x](y)"])
def test_other_text_is_left_alone(text):
    assert protect(text) == text == unprotect(text)


@given(st.text(alphabet="'=+-@ \t\r\n\x00a\u00a0\ufeff", max_size=10))
def test_the_way_back_is_exact(text):
    assert unprotect(protect(text)) == text
