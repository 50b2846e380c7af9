import pytest

from oiltrend.errors import ValueRefused
from oiltrend.figures.table import show
from oiltrend.figures.use import use_unit


@pytest.mark.parametrize(("value", "text"), [
    (0.0, "0"), (-0.001, "-0.001"), (0.0051, "0.0051"), (1e-9, "0"), (-1e-9, "0"), (0.4567, "0.46"),
     (9.996, "10"), (10.04, "10"), (99.96, "100"),
    (1e6, "1\u202f000\u202f000"), (-3.2, "-3.2"), (float("nan"), "–"), (float("inf"), "–"),
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
