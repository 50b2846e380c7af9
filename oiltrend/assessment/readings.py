"""Readings as the maths takes them: bounds, standard uncertainty, fresh-oil baseline, series."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.settings import Settings
from oiltrend.limits.precision import coefficients, site_standard_uncertainty
from oiltrend.nomenclature import MEASURANDS, PANEL
from oiltrend.records import Qualifier

__all__ = ["Readings", "read_fleet"]

_WEAR = np.array([m.kind == "wear" for m in MEASURANDS])
_ELEMENT = np.array([m.unit == "mg/kg" for m in MEASURANDS])


@dataclass(frozen=True, slots=True)
class Readings:
    """Per sample and measurand of the panel.

    ``value`` is NaN unless a number was reported exactly; ``low`` and ``high`` bound it
    ("<1" is 0 to 1, ">9" is 9 to infinity; NaN where nothing was reported or "not detected"
    came without a bound); ``uncertainty`` is one standard uncertainty of the test; ``fresh``
    and ``fresh_uncertainty`` describe the oil of the sample when new; ``series`` numbers the
    laboratory and method; ``measured`` is true where anything was reported; ``has_result``
    is true per sample.
    """

    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    below: NDArray[np.bool_]
    uncertainty: NDArray[np.float64]
    fresh: NDArray[np.float64]
    fresh_uncertainty: NDArray[np.float64]
    series: NDArray[np.int64]
    measured: NDArray[np.bool_]
    has_result: NDArray[np.bool_]


def read_fleet(fleet: FleetInput) -> Readings:
    """Turn values and qualifiers of the fleet into bounds and uncertainties.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.

    Returns
    -------
    Readings [-]
        Arrays of shape (n_samples, n_measurands).
    """
    samples, settings = fleet.samples, fleet.settings
    reported, qualifier = samples.value, samples.qualifier
    exact = qualifier == Qualifier.EXACT
    below = qualifier == Qualifier.BELOW
    value = np.where(exact, reported, np.nan)
    low = np.where(below, np.where(_ELEMENT, 0.0, -np.inf), reported)
    high = np.where(qualifier == Qualifier.ABOVE, np.inf, reported)
    missing = qualifier == Qualifier.MISSING
    low[missing] = np.nan
    high[missing] = np.nan
    # Most of the panel is never measured: only the columns that are, are worked out.
    columns = np.flatnonzero((~missing).any(axis=0))
    uncertainty = np.full(reported.shape, np.nan)
    uncertainty[:, columns] = _tested(np.nan_to_num(reported[:, columns]), columns, settings)
    fresh, fresh_uncertainty = _fresh(fleet)
    pairs = samples.lab + "\x1f" + samples.method
    _, series = np.unique(pairs.astype(str), return_inverse=True)
    return Readings(value, low, high, below, uncertainty, fresh, fresh_uncertainty,
                    series.astype(np.int64), ~missing, (~missing).any(axis=1))


def _fresh(fleet: FleetInput) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Baseline per sample: the stored new-oil sample of its product, else 0 for wear metals."""
    products = {name: row for row, name in enumerate(fleet.fresh.product)}
    table = np.full((len(products) + 1, len(PANEL)), np.nan)
    table[:-1] = fleet.fresh.value
    row = np.array([products.get(name, -1) for name in fleet.samples.oil_product.tolist()],
                   dtype=np.int64)
    # Worked out per product, of which there are few, then handed to the samples.
    spread = np.where(np.isnan(table), fleet.settings.fresh_uncertainty,
                      _tested(table, np.arange(len(PANEL)), fleet.settings))
    fresh = np.where(np.isnan(table) & _WEAR, 0.0, table)
    return fresh[row], spread[row]


def _tested(value: NDArray[np.float64], columns: NDArray[np.int64], settings: Settings
            ) -> NDArray[np.float64]:
    """One standard uncertainty of the test, at least the rounding of a reported metal."""
    statement = coefficients(symbols=[PANEL[column] for column in columns])
    tested = site_standard_uncertainty(value, statement, share=settings.site_precision)
    return np.where(_ELEMENT[columns], np.fmax(tested, settings.same_lab_floor_ppm), tested)
