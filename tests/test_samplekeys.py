import dataclasses

import numpy as np
import pytest

from oiltrend import samplekeys
from oiltrend.nomenclature import PANEL
from oiltrend.records import Qualifier, SampleTable, empty_samples
from oiltrend.samplekeys import content_hashes, keys_of


def one_sample() -> SampleTable:
    table = empty_samples(1)
    table.engine[0], table.sample_id[0] = "E1", "L-1"
    table.value[0, 0], table.qualifier[0, 0] = 12.0, Qualifier.EXACT
    return table


def test_engine_line_and_text_as_received_do_not_change_the_hash():
    first, second = one_sample(), one_sample()
    second.engine[0], second.line[0], second.raw[0] = "E2", 9, '{"Fe": "12,0"}'
    assert content_hashes(first) == content_hashes(second)


SAID = [f.name for f in dataclasses.fields(SampleTable)
        if f.name not in ("engine", "line", "raw", "awaited", "value", "qualifier")]


@pytest.mark.parametrize("column", SAID)
def test_everything_else_a_sample_says_changes_the_hash(column):
    first, second = one_sample(), one_sample()
    array = getattr(second, column)
    array[0] = {"O": "other", "M": np.datetime64("2025-03-01"), "f": 3.5, "i": 1}[array.dtype.kind]
    assert content_hashes(first) != content_hashes(second)


def test_a_reading_below_its_limit_differs_from_the_same_number_reported():
    first, second = one_sample(), one_sample()
    second.qualifier[0, 0] = Qualifier.BELOW
    assert content_hashes(first) != content_hashes(second)


def test_the_same_number_at_another_measurand_differs():
    first, second = one_sample(), one_sample()
    second.value[0, :2], second.qualifier[0, :2] = (np.nan, 12.0), (0, Qualifier.EXACT)
    assert content_hashes(first) != content_hashes(second)


def test_below_an_unknown_bound_differs_from_missing():
    first, second = one_sample(), one_sample()
    second.qualifier[0, 3] = Qualifier.BELOW
    assert content_hashes(first) != content_hashes(second)


def test_minus_zero_and_stray_numbers_under_missing_say_nothing_new():
    first, second = one_sample(), one_sample()
    first.value[0, 0], second.value[0, 0] = 0.0, -0.0
    second.value[0, 5] = 99.0
    assert content_hashes(first) == content_hashes(second)


def test_a_measurand_added_later_leaves_old_hashes_alone(monkeypatch):
    before = content_hashes(one_sample())
    longer = (*PANEL, "Co")
    monkeypatch.setattr("oiltrend.records.PANEL", longer)
    monkeypatch.setattr(samplekeys, "PANEL", longer)
    assert content_hashes(one_sample()) == before


def test_without_a_number_date_and_meter_name_the_sample():
    table = empty_samples(2)
    table.engine[:] = "E1"
    table.sample_date[0], table.meter[0] = np.datetime64("2025-03-01"), 81200.0
    assert keys_of(table) == [("E1", "at", "2025-03-01", 81200.0), ("E1", "at", "", None)]
