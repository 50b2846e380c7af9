import pytest

from oiltrend.errors import ValueRefused
from oiltrend.ingest import KINDS, columns_of, template_headings
from oiltrend.nomenclature import MEASURANDS, PANEL
from oiltrend.units import known_unit
from tests.ingest.reading import counts, read


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_template_is_read_without_a_question(kind):
    found = read(",".join(template_headings(kind)) + "\n", kind=kind)
    assert counts(found) == [1, 1, 0, 0, 0, 0, 0]
    assert not found.questions
    assert [m.column for m in found.matched] == list(template_headings(kind))


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_says_what_it_means(kind):
    columns = columns_of(kind)
    assert len({c.name for c in columns}) == len(columns)
    for column in columns:
        assert column.meaning
        assert known_unit(column.unit)
        assert known_unit(column.inside)
        assert column.low < column.high
        assert (column.type == "choice") <= bool(column.allowed)


def test_measurands_are_columns_with_their_own_range():
    columns = {c.name: c for c in columns_of("samples")}
    for m in MEASURANDS:
        column = columns[m.symbol]
        assert (column.unit, column.low, column.high) == (m.unit, m.low, m.high)
        assert f"{m.symbol} method" in columns


def test_the_columns_of_the_promise_are_there():
    samples = {c.name for c in columns_of("samples")}
    assert set(PANEL) | set(
        "engine sample_date odometer_km odometer_mi hours oil_distance_km oil_distance_mi "
        "oil_hours oil_changed top_up_l level_at_sampling refill_l oil_product refill_product lab "
        "method sample_id note filter_finding hot_oil_pressure_bar noise glitter".split()
    ) <= samples
    assert {"measurand", "value", "unit"} <= {c.name for c in columns_of("samples", layout="long")}
    assert {c.name for c in columns_of("limits")} == set(
        "family measurand quantity level operator value source valid_from".split())
    assert set("engine event date odometer_km litres oil_product car new_meter note".split()) <= {
        c.name for c in columns_of("events")}


def test_there_is_no_other_kind():
    with pytest.raises(ValueRefused) as refused:
        columns_of("oils")
    assert str(refused.value) == (
        "kind: must be one of samples, events, teardowns, engines, families, new-oil, limits, "
        "found 'oils'; say which kind of file it is")
