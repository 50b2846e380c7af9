import re
from dataclasses import dataclass

import pytest

from oiltrend import records
from oiltrend.errors import StoreError
from oiltrend.store.codec import columns_of, fields_of, from_row, to_row
from oiltrend.store.schema import RECORD_TABLES, SAMPLE_COLUMNS
from tests.store.made import FINDINGS, RECORDS


@pytest.mark.parametrize("record", [*RECORDS, *FINDINGS], ids=lambda r: type(r).__name__)
def test_records_come_back(record):
    more = {name: getattr(record, name) for name, kind, _ in fields_of(type(record))
            if kind == "rows"}
    assert from_row(type(record), to_row(record), more=more) == record


def test_every_field_of_a_record_has_its_column():
    for record, table in RECORD_TABLES.items():
        assert set(columns_of(record)) <= set(table.columns.keys()), record.__name__


def test_every_array_of_a_sample_table_has_its_column():
    packed = {"value": "panel_values", "qualifier": "panel_qualifiers"}
    assert [packed.get(name, name) for name in records.SampleTable.__slots__] == [
        name for name, _ in SAMPLE_COLUMNS]


def test_not_a_number_is_not_known():
    assert to_row(records.Family("F", pin_mm=float("nan")))["pin_mm"] is None


@dataclass(frozen=True)
class Odd:
    when: complex


def test_a_type_that_nobody_knows_how_to_store():
    with pytest.raises(StoreError, match=re.escape(
            "Odd.when: no way is known to store <class 'complex'>; add the type to the codec, and "
            "a migration")):
        fields_of(Odd)
