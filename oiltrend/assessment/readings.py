"""Readings as the maths takes them: bounds, standard uncertainty, fresh-oil baseline, series."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import FleetInput
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
    anchor = np.where(np.isfinite(reported), reported, 0.0)
    uncertainty = site_standard_uncertainty(anchor, coefficients(),
                                            share=settings.site_precision)
    uncertainty = np.where(_ELEMENT, np.fmax(uncertainty, settings.same_lab_floor_ppm),
                           uncertainty)
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
    known = table[row] if len(row) else np.zeros((0, len(PANEL)))
    fresh = np.where(np.isnan(known) & _WEAR, 0.0, known)
    settings = fleet.settings
    tested = site_standard_uncertainty(known, coefficients(), share=settings.site_precision)
    tested = np.where(_ELEMENT, np.fmax(tested, settings.same_lab_floor_ppm), tested)
    return fresh, np.where(np.isnan(known), settings.fresh_uncertainty, tested)
