import json
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from oiltrend.errors import StoreError, ValueRefused
from oiltrend.nomenclature import PANEL
from oiltrend.records import Qualifier, Reading
from oiltrend.store.packing import pack, pack_readings, unpack, unpack_readings

WIDTH = len(PANEL)
NUMBERS = st.floats(allow_nan=True, allow_infinity=True, width=64)
QUALIFIERS = st.sampled_from([int(q) for q in Qualifier])


@given(st.integers(0, 5).flatmap(lambda n: st.tuples(
    arrays(np.float64, (n, WIDTH), elements=NUMBERS),
    arrays(np.int8, (n, WIDTH), elements=QUALIFIERS))))
def test_packed_rows_come_back_bit_by_bit(both):
    value, qualifier = both
    found, kinds = unpack(*pack(value, qualifier))
    np.testing.assert_array_equal(found.view(np.int64), value.view(np.int64))
    np.testing.assert_array_equal(kinds, qualifier)
    assert (found.dtype, kinds.dtype) == (np.float64, np.int8)


@given(st.lists(st.integers(0, WIDTH), min_size=1, max_size=6), st.data())
def test_rows_of_older_panels_are_filled_up_with_missing(widths, data):
    value = data.draw(arrays(np.float64, (len(widths), WIDTH), elements=NUMBERS))
    qualifier = np.ones((len(widths), WIDTH), dtype=np.int8)
    values, qualifiers = pack(value, qualifier)
    found, kinds = unpack([row[:8 * w] for row, w in zip(values, widths, strict=True)],
                          [row[:w] for row, w in zip(qualifiers, widths, strict=True)])
    for row, width in enumerate(widths):
        np.testing.assert_array_equal(found[row, :width], value[row, :width])
        assert np.isnan(found[row, width:]).all()
        assert kinds[row].tolist() == [1] * width + [0] * (WIDTH - width)


def test_the_bytes_are_little_endian_whatever_the_machine():
    value = np.full((1, WIDTH), np.nan, dtype=">f8")
    value[0, 0] = 1.0
    (row,), _ = pack(value, np.zeros((1, WIDTH), dtype=np.int8))
    assert row[:8] == b"\x00\x00\x00\x00\x00\x00\xf0\x3f"


READINGS = st.dictionaries(st.sampled_from(PANEL), st.builds(
    Reading, st.none() | st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([Qualifier.EXACT, Qualifier.BELOW, Qualifier.ABOVE]), st.text(max_size=8)))


@given(READINGS)
def test_readings_come_back(readings):
    assert unpack_readings(*pack_readings(readings)) == readings


def test_a_missing_reading_with_a_text_is_kept_for_its_text():
    readings = {"Fe": Reading(None, Qualifier.MISSING, "see note")}
    assert unpack_readings(*pack_readings(readings)) == readings


def test_a_row_of_a_longer_panel():
    with pytest.raises(StoreError, match=re.escape(
            f"readings: a row must have at most {WIDTH} measurands, found {WIDTH + 1}; "
            "use the version of oiltrend that wrote them")):
        unpack([bytes(8 * (WIDTH + 1))], [bytes(WIDTH + 1)])


def test_an_unknown_measurand():
    with pytest.raises(ValueRefused, match=re.escape(
            "readings: each must be a known measurand, found 'Fee'; use one of "
            + ", ".join(PANEL))):
        pack_readings({"Fee": Reading(1.0, Qualifier.EXACT, "1")})


def test_texts_are_json():
    _, _, raw = pack_readings({"Fe": Reading(1.0, Qualifier.BELOW, '<1 "µ"')})
    assert json.loads(raw) == {"Fe": '<1 "µ"'}
