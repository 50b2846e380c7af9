"""Reported rates as intervals."""

import numpy as np
import pytest

from oiltrend.errors import ValueRefused
from oiltrend.limits.latent_readings import RateReadings, rate_readings


def test_qualifiers_become_open_ends():
    told = rate_readings([[3.0, 2.0, 9.0]], 0.5, below=[[False, True, False]],
                         above=[[False, False, True]])
    assert told.low.tolist() == [[3.0, -np.inf, 9.0]]
    assert told.high.tolist() == [[3.0, 2.0, np.inf]]
    assert told.take(np.array([0, 0])).low.shape == (2, 3)


def test_shapes_must_agree():
    one, two = np.zeros((2, 1)), np.zeros((2, 2))
    with pytest.raises(ValueRefused) as refused:
        RateReadings(one, one, two, one)
    assert str(refused.value) == (
        "rates: low, high, uncertainty and relative must have one shape (n, m), found (2, 1), "
        "(2, 1), (2, 2), (2, 1); give one number per row and measurand")


def test_a_rate_without_uncertainty_is_no_reading_and_one_without_rate_is_to_come():
    readings = rate_readings([[3.0], [np.nan]], [[np.nan], [0.4]], below=[[True], [False]])
    assert np.isnan(readings.low).all()
    assert np.isnan(readings.high).all()
    assert readings.uncertainty[1, 0] == 0.4
    assert readings.fixed()[1, 0] == pytest.approx(0.16)
