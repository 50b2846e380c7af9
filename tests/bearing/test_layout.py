"""Crankpins, halves and the loaded area."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.bearing.layout import (
    loaded_area,
    parse_crankpins,
    pin_of_rod,
    rod_halves,
    rods_of_pin,
    share_text,
)
from oiltrend.errors import ValueRefused

HINT = "; join the rods of a pin by + and part the pins by ;, for instance 1+5;2+6;3+7;4+8"


def refusal(*arguments, **options):
    with pytest.raises(ValueRefused) as refused:
        parse_crankpins(*arguments, **options)
    return str(refused.value)


def test_a_v8_with_two_rods_on_a_pin():
    layout = parse_crankpins("1+5;2+6;3+7;4+8", rods=8)
    assert layout.rods == 8
    assert rods_of_pin(layout, 3) == (3, 7)
    assert [pin_of_rod(layout, rod) for rod in range(1, 9)] == [1, 2, 3, 4, 1, 2, 3, 4]


def test_blanks_do_not_matter_and_the_order_along_the_pin_is_kept():
    assert parse_crankpins(" 5 + 1 ;2+6; 3+7;4+8 ").pins[0] == (5, 1)


@pytest.mark.parametrize(("text", "rods", "message"), [
    ("", None, "crankpins: must list the rods of each pin, found nothing" + HINT),
    ("1+5;2+x", None,
     "crankpins: pin 2 must list rod numbers from 1 to 99, found 'x'" + HINT),
    ("1+5;;2+6", None, "crankpins: pin 2 must list rod numbers from 1 to 99, found ''" + HINT),
    ("0+1", None, "crankpins: pin 1 must list rod numbers from 1 to 99, found '0'" + HINT),
    ("1;-2", None, "crankpins: pin 2 must list rod numbers from 1 to 99, found '-2'" + HINT),
    ("1;²", None, "crankpins: pin 2 must list rod numbers from 1 to 99, found '²'" + HINT),
    ("1;٢", None, "crankpins: pin 2 must list rod numbers from 1 to 99, found '٢'" + HINT),
    ("1,5;2,6", None, "crankpins: pin 1 must list rod numbers from 1 to 99, found '1,5'" + HINT),
    ("1+2;2+3", 3, "crankpins: a rod runs on one pin, found rod 2 2 times in '1+2;2+3'; "
                   "list every rod once"),
    ("1+5;2+6;3+7", 8, "crankpins: every rod from 1 to 8 must be listed, found no 4, 8 in "
                       "'1+5;2+6;3+7'; add what is missing or correct the number of rods"),
    ("1+5;2+6", None, "crankpins: every rod from 1 to 6 must be listed, found no 3, 4 in "
                      "'1+5;2+6'; add what is missing or correct the number of rods"),
    ("1;2;3;4", 3, "crankpins: the engine has 3 rods, found rod 4 in '1;2;3;4'; correct the list "
                   "or the number of rods"),
])
def test_a_list_that_cannot_be_is_refused_in_full_words(text, rods, message):
    assert refusal(text, rods=rods) == message


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        layout = parse_crankpins(text)
    except ValueRefused:
        return
    assert sorted(rod for pin in layout.pins for rod in pin) == list(range(1, layout.rods + 1))


@given(st.integers(1, 16).flatmap(lambda rods: st.tuples(
    st.just(rods), st.permutations(range(1, rods + 1)), st.integers(1, 3))))
def test_what_is_written_is_read_back(case):
    rods, order, on_a_pin = case
    pins = [order[first:first + on_a_pin] for first in range(0, rods, on_a_pin)]
    layout = parse_crankpins(";".join("+".join(map(str, pin)) for pin in pins), rods=rods)
    assert layout.pins == tuple(tuple(pin) for pin in pins)
    for rod in range(1, rods + 1):
        assert rod in rods_of_pin(layout, pin_of_rod(layout, rod))


@pytest.mark.parametrize(("use", "message"), [
    (lambda layout: rods_of_pin(layout, 5),
     "pin: must be 1 to 4, found 5; count the crankpins from the front, starting at 1"),
    (lambda layout: rods_of_pin(layout, 0),
     "pin: must be 1 to 4, found 0; count the crankpins from the front, starting at 1"),
    (lambda layout: pin_of_rod(layout, 9),
     "rod: must be 1 to 8, found 9; use a rod number of this engine"),
])
def test_a_place_that_is_not_there_is_refused_in_full_words(use, message):
    with pytest.raises(ValueRefused) as refused:
        use(parse_crankpins("1+5;2+6;3+7;4+8"))
    assert str(refused.value) == message


def test_two_places_a_rod():
    places = rod_halves(8)
    assert len(places) == len(set(places)) == 16
    assert [place.half for place in places[:4]] == ["rod", "cap", "rod", "cap"]
    with pytest.raises(ValueRefused) as refused:
        rod_halves(0)
    assert str(refused.value) == ("rods: must be 1 or more, found 0; "
                                  "enter the number of connecting rods")


def test_loaded_area_of_a_half():
    # Worked example, D 48 mm, B 20 mm: (π·D/2)·B = 1507.964 mm² (computed).
    assert loaded_area(48.0, 20.0) == pytest.approx(1507.964, abs=5e-4)
    assert loaded_area(48.0, 20.0, arc_deg=120.0) == pytest.approx(1507.964 * 2 / 3, abs=5e-4)
    # Two halves make a whole bearing.
    assert 2 * loaded_area(50.0, 18.0) == pytest.approx(math.pi * 50 * 18)
    assert loaded_area([48.0, 52.0], 20.0).shape == (2,)


def test_a_share_says_what_it_is_a_share_of():
    assert share_text(48.0, 20.0, arc_deg=120.0) == (
        "of the loaded area of one half: 120° of arc, 20 mm wide, 1005 mm²")
