"""The two invented laboratories: precision, bias, rounding, reporting limits, and the text.

A report is ``true value × response + bias + noise``, then rounded, then censored. The noise
is the site precision, 0.6 R / 2.77 with the reproducibility R of the test method (0.6 is
assumed); the bias of a laboratory takes up the rest of R, so that two laboratories differ as R
says. Below the validated range the equations are simply continued, which no standard states.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from oiltrend.nomenclature import MEASURANDS, PANEL, PANEL_INDEX
from oiltrend.records import Qualifier, Reading, SampleTable

__all__ = ["SITE_SHARE", "STATIONS", "Station", "cell_text", "decimals", "draw_bias",
           "readings_of", "report", "report_texts", "reproducibility", "site_deviation",
           "station_of"]

Floats = NDArray[np.float64]
# Weeks apart in one laboratory the precision lies between r and R: 0.6 R assumed.
SITE_SHARE = 0.6
# ISO 4259: R = 1.96 √2 standard deviations.
_R_TO_SIGMA = 1.96 * 2 ** 0.5

# Reproducibility c X^d + e where the nomenclature has no equation (all assumed).
_ASSUMED_R: dict[str, tuple[float, float, float]] = {
    "Sb": (0.5, 0.5, 0.5), "Bi": (0.5, 0.5, 0.5), "In": (0.6, 0.5, 0.4),
    "base_number": (0.07, 1.0, 0.1), "fuel_pct": (0.25, 1.0, 0.15),
    "water_pct": (0.3, 1.0, 0.005), "soot_pct": (0.2, 1.0, 0.03),
    "glycol_pct": (0.3, 1.0, 0.005), "oxidation": (0.08, 1.0, 0.8),
    "nitration": (0.08, 1.0, 0.8), "sulfation": (0.08, 1.0, 0.8), "HTHS": (0.03, 1.0, 0.0),
}


@dataclass(frozen=True, slots=True)
class Station:
    """One laboratory with one method: a series of its own.

    Parameters
    ----------
    lab : str [-]
        Laboratory.
    method : str [-]
        Element method, as the report names it.
    reported : dict of str to tuple of (int, int, float) [-]
        Measurand to decimals below 10, decimals from 10 on, and reporting limit (NaN none; a
        limit of infinity means "not detected", without a number).
    response : float [-]
        Factor on wear metals: how much of the particles the method sees (assumed).
    """

    lab: str
    method: str
    reported: dict[str, tuple[int, int, float]]
    response: float


_NONE = float("nan")
_COMMON: dict[str, tuple[int, int, float]] = {
    "B": (0, 0, 1), "Mg": (0, 0, 1), "Ca": (0, 0, 1), "P": (0, 0, 1), "Zn": (0, 0, 1),
    "Mo": (0, 0, 1), "KV100": (2, 2, _NONE), "base_number": (1, 1, _NONE),
}
_LAB_A = {symbol: (0, 0, 1.0) for symbol in ("Fe", "Cu", "Pb", "Sn", "Al", "Cr", "Ni", "Ag")}
_LAB_A |= {"Si": (0, 0, 1), "Na": (0, 0, 2), "K": (0, 0, 2)}
_LAB_A |= {"fuel_pct": (1, 1, 0.5), "water_pct": (2, 2, 0.1), "oxidation": (0, 0, _NONE),
           "nitration": (0, 0, _NONE), **_COMMON}
_LAB_A_LATER = _LAB_A | {symbol: (1, 0, 0.5) for symbol in
                         ("Fe", "Cu", "Pb", "Sn", "Al", "Cr", "Ni", "Ag", "Si")}
_LAB_B = {symbol: (1, 0, limit) for symbol, limit in {
    "Fe": 1.0, "Cu": 0.5, "Pb": 1.0, "Sn": 1.0, "Al": 1.0, "Cr": 0.5, "Ni": 0.5, "In": 0.5,
    "Mn": 0.5, "Ti": 0.5, "Si": 1.0, "Na": 1.0, "K": 1.0}.items()}
_LAB_B |= {"glycol_pct": (2, 2, float("inf")), "fuel_pct": (1, 1, 0.3), "S": (0, 0, 1),
           "KV40": (1, 1, _NONE), "acid_number": (2, 2, _NONE), **_COMMON}

# Reporting limits, decimals and panels are invented; methods are the usual two.
STATIONS: tuple[Station, ...] = (
    Station("Lab A", "ASTM D5185", _LAB_A, 1.0),
    Station("Lab A", "ASTM D6595", _LAB_A_LATER, 1.12),
    Station("Lab B", "ASTM D5185", _LAB_B, 1.0),
)


def station_of(lab: NDArray[np.int64], day: Floats, method_day: float) -> NDArray[np.int64]:
    """Find which station reports: Lab A changes its method on one day.

    Parameters
    ----------
    lab : array of int, shape (n,) [-]
        0 Lab A, 1 Lab B.
    day : array, shape (n,) [d]
        Day of the sample.
    method_day : float [d]
        Day of Lab A's change.

    Returns
    -------
    array of int, shape (n,) [-]
        Row of :data:`STATIONS`.

    Examples
    --------
    >>> station_of(np.array([0, 0, 1]), np.array([1.0, 9.0, 9.0]), 5.0).tolist()
    [0, 1, 2]
    """
    return np.where(lab == 1, 2, np.where(day >= method_day, 1, 0)).astype(np.int64)


@cache
def _r_coefficients() -> Floats:
    """Rows c, d, e of R = c X^d + e per measurand."""
    table = np.zeros((3, len(PANEL)))
    for column, measurand in enumerate(MEASURANDS):
        if measurand.precision is not None:
            table[:2, column] = (measurand.precision.reproducibility_factor,
                                 measurand.precision.reproducibility_power)
        else:
            table[:, column] = _ASSUMED_R[measurand.symbol]
    table.setflags(write=False)
    return table


def reproducibility(value: Floats) -> Floats:
    """Give the reproducibility R at a value; continued below the validated range.

    Equation: ``R = c X^d + e``.

    Parameters
    ----------
    value : array, shape (..., n_measurands) [-]
        True value in each measurand's unit.

    Returns
    -------
    array, shape (..., n_measurands) [-]
        R in the measurand's unit.

    Examples
    --------
    >>> round(float(reproducibility(np.full((1, len(PANEL)), 20.0))[0, PANEL_INDEX["Pb"]]), 2)
    8.82

    References
    ----------
    ASTM D5185 tables, from memory, by way of the nomenclature; 8.82 for lead at 20 mg/kg is
    3.0 · 20^0.36.
    """
    factor, power, extra = _r_coefficients()
    # At least a thousandth: a negative power of nothing would be infinite.
    return np.asarray(factor * np.maximum(value, 1e-3) ** power + extra, dtype=np.float64)


def site_deviation(value: Floats) -> Floats:
    """Give the standard deviation of one laboratory's results weeks apart.

    Equation: ``s = 0.6 R / (1.96 √2)``.

    Parameters
    ----------
    value : array, shape (..., n_measurands) [-]
        True value in each measurand's unit.

    Returns
    -------
    array, shape (..., n_measurands) [-]
        Standard deviation in the measurand's unit.

    Examples
    --------
    >>> round(float(site_deviation(np.full((1, len(PANEL)), 20.0))[0, PANEL_INDEX["Pb"]]), 2)
    1.91
    """
    return SITE_SHARE * reproducibility(value) / _R_TO_SIGMA


def draw_bias(rng: np.random.Generator) -> Floats:
    """Draw the lasting bias of each station, in standard deviations of its kind.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.

    Returns
    -------
    array, shape (n_stations, n_measurands) [-]
        Normal draws, cut at 1.5 so that no laboratory is far out.
    """
    return np.clip(rng.normal(0, 1, (len(STATIONS), len(PANEL))), -1.5, 1.5)


@cache
def _rules() -> tuple[Floats, Floats, Floats, Floats]:
    """Per station and measurand: decimals below and above 10, limit, response; NaN not reported."""
    small = np.full((len(STATIONS), len(PANEL)), np.nan)
    large, limit, response = small.copy(), small.copy(), np.ones_like(small)
    wear = np.array([m.kind == "wear" for m in MEASURANDS])
    for row, station in enumerate(STATIONS):
        for symbol, (below, above, least) in station.reported.items():
            column = PANEL_INDEX[symbol]
            small[row, column], large[row, column], limit[row, column] = below, above, least
        response[row, wear] = station.response
    return small, large, limit, response


def report(rng: np.random.Generator, true: Floats, station: NDArray[np.int64], bias: Floats
           ) -> tuple[Floats, NDArray[np.int8]]:
    """Test a set of samples as their stations do.

    Parameters
    ----------
    rng : Generator [-]
        Source of chance.
    true : array, shape (n, n_measurands) [-]
        True values in each measurand's unit.
    station : array of int, shape (n,) [-]
        Row of :data:`STATIONS`.
    bias : array, shape (n_stations, n_measurands) [-]
        Lasting bias in standard deviations.

    Returns
    -------
    tuple of array, shape (n, n_measurands) [-]
        Reported value (the limit where below it, NaN where not reported or not detected)
        and qualifier.
    """
    small, large, limit, response = (table[station] for table in _rules())
    sigma = reproducibility(true) / _R_TO_SIGMA
    lasting = (1 - SITE_SHARE ** 2) ** 0.5 * sigma * bias[station]
    noise = SITE_SHARE * sigma * rng.normal(0, 1, true.shape)
    raw = np.maximum(true * response + lasting + noise, 0.0)
    scale = 10.0 ** np.where(raw < 10, small, large)
    value = np.round(raw * scale) / scale
    not_detected = np.isinf(limit) & (true < _GLYCOL_SHOWS)
    below = (value < np.where(np.isinf(limit), -1.0, limit)) | not_detected
    qualifier = np.where(below, Qualifier.BELOW, Qualifier.EXACT)
    missing = np.isnan(small)
    value = np.where(below, limit, value)
    value[missing | not_detected] = np.nan
    return value, np.where(missing, Qualifier.MISSING, qualifier).astype(np.int8)


# Least glycol that the invented spot test shows [%], assumed.
_GLYCOL_SHOWS = 0.02


def decimals(value: float, symbol: str, station: Station) -> int:
    """Tell how many decimals a station writes.

    Parameters
    ----------
    value : float [-]
        Reported value in the measurand's unit.
    symbol : str [-]
        Measurand.
    station : Station [-]
        Laboratory and method.

    Returns
    -------
    int [-]
        Decimals.
    """
    below, above, _ = station.reported[symbol]
    return below if value < 10 else above


def cell_text(value: float, qualifier: int, symbol: str, station: Station) -> str:
    """Write one result as the station does.

    Parameters
    ----------
    value : float [-]
        Reported value in the measurand's unit, NaN for not detected.
    qualifier : int [-]
        A :class:`Qualifier`.
    symbol : str [-]
        Measurand.
    station : Station [-]
        Laboratory and method.

    Returns
    -------
    str [-]
        ``"<1"``, ``"ND"``, ``"7.3"``, or ``""`` where nothing is reported.

    Examples
    --------
    >>> cell_text(1.0, Qualifier.BELOW, "Fe", STATIONS[0]), cell_text(12.3, 1, "KV100", STATIONS[0])
    ('<1', '12.30')
    """
    if qualifier == Qualifier.MISSING:
        return ""
    if qualifier == Qualifier.BELOW:
        return "ND" if np.isnan(value) else f"<{value:g}"
    return f"{value:.{decimals(value, symbol, station)}f}"


def report_texts(samples: SampleTable) -> NDArray[np.object_]:
    """Write every result of a table as its laboratory wrote it.

    Parameters
    ----------
    samples : SampleTable [-]
        Samples of the invented laboratories.

    Returns
    -------
    array of object, shape (n,) [-]
        One JSON object per sample, symbol to text; ``""`` without a result.
    """
    stations = {(s.lab, s.method): s for s in STATIONS}
    texts = np.full(len(samples), "", dtype=object)
    # A loop over samples and their reported cells: text is made once, for a file or the store.
    for row in np.flatnonzero((samples.qualifier != Qualifier.MISSING).any(axis=1)):
        station = stations[samples.lab[row], samples.method[row]]
        values, qualifiers = samples.value[row].tolist(), samples.qualifier[row].tolist()
        texts[row] = json.dumps({
            symbol: cell_text(values[column], qualifiers[column], symbol, station)
            for symbol, column in PANEL_INDEX.items() if qualifiers[column]})
    return texts


def readings_of(values: Floats, qualifiers: NDArray[np.int8], station: Station
                ) -> dict[str, Reading]:
    """Turn one report into readings.

    Parameters
    ----------
    values : array, shape (n_measurands,) [-]
        Reported values in each measurand's unit.
    qualifiers : array of int, shape (n_measurands,) [-]
        Qualifiers.
    station : Station [-]
        Laboratory and method.

    Returns
    -------
    dict of str to Reading [-]
        Symbol to reading, without the ones not reported.
    """
    return {symbol: Reading(None if np.isnan(values[column]) else float(values[column]),
                            Qualifier(int(qualifiers[column])),
                            cell_text(float(values[column]), int(qualifiers[column]), symbol,
                                      station))
            for symbol, column in PANEL_INDEX.items() if qualifiers[column]}
