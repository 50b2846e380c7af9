import pytest

from oiltrend.errors import ValueRefused
from oiltrend.figures.table import show
from oiltrend.figures.use import use_unit


@pytest.mark.parametrize(("value", "text"), [
    (0.0, "0"), (10.04, "10"), (999.6, "1\u202f000"), (1e6, "1\u202f000\u202f000"),
    (-3.2, "-3.2"), (-12345.0, "-12\u202f345"), (float("nan"), "–"),
])
def test_numbers_are_written_short(value: float, text: str) -> None:
    assert show(value) == text


def test_the_reader_chooses_the_decimal_sign() -> None:
    assert show(1.25, decimal=",") == "1,25"


def test_an_unknown_way_to_count_is_refused() -> None:
    with pytest.raises(ValueRefused) as caught:
        use_unit("nmi")
    assert str(caught.value) == ("unit: must be one of 'km', 'mi', 'h', found 'nmi'; "
                                 "count the engine in kilometres, miles or hours")
