"""The interval ledger: from readings and oil masses to wear rates with their 95 % interval.

For every row (an interval of one oil fill) and every measurand the mass balance of
:mod:`oiltrend.wear.transfer` is solved for the generation rate. Two kinds of input are
uncertain: the readings, whose effect is exact because the solution is linear in them, and
the masses, whose effect is the change of the solution at the ends of their ranges. All rows
and all measurands are worked through at once, block by block of rows so that the
intermediate figures stay small.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import Floats
from oiltrend.wear.masses import IntervalMasses, solve_rows

__all__ = ["COVERAGE_FACTOR", "IntervalReadings", "WearRates", "wear_rates"]

# 95 % of a normal distribution; the sum of many small contributions is close to one.
COVERAGE_FACTOR = 1.96
# Cells worked on at once; the buffers of a block then fit a processor's cache.
BLOCK_CELLS = 25_000


@dataclass(frozen=True, slots=True)
class IntervalReadings:
    """Concentrations of n intervals and m measurands, with standard uncertainties.

    A reading below or above a reporting limit has no value: its field is NaN and its
    interval stands in the low and high fields (``<1`` is 0 to 1, ``>500`` is 500 to inf, a
    low without a high is "not detected, bound unknown"). Where the value is a number the
    interval is not looked at. A missing reading is NaN with NaN bounds.

    Parameters
    ----------
    start : array, shape (n, m) [mg/kg]
        Concentration at the start of the interval.
    start_uncertainty : array, shape (n, m) [mg/kg]
        Standard uncertainty of the start; where the start lies below its limit, that of the
        bound. It includes the share of the fresh oil's uncertainty that sits in the start.
    end : array, shape (n, m) [mg/kg]
        Concentration at the end of the interval.
    end_uncertainty : array, shape (n, m) [mg/kg]
        Standard uncertainty of the end; where the end lies below its limit, that of the bound.
    fresh : array, broadcast to (n, m) [mg/kg]
        Concentration in the fresh oil.
    fresh_uncertainty : array, broadcast to (n, m) [mg/kg]
        Standard uncertainty of the fresh oil.
    start_low, start_high : array, shape (n, m), or None [mg/kg]
        Interval of a start without a value; it counts as a rectangular uncertainty around
        the middle of the interval.
    end_low, end_high : array, shape (n, m), or None [mg/kg]
        Interval of an end without a value; the low bound gives the low end of the wear
        rate, the high bound the high end, and the rate itself has no value.

    Raises
    ------
    ValueRefused
        When shapes do not fit.
    """

    start: Floats
    start_uncertainty: Floats
    end: Floats
    end_uncertainty: Floats
    fresh: Floats
    fresh_uncertainty: Floats
    start_low: Floats | None = None
    start_high: Floats | None = None
    end_low: Floats | None = None
    end_high: Floats | None = None

    def __post_init__(self) -> None:
        shape = self.start.shape
        if len(shape) != 2:
            raise ValueRefused(f"start: must have rows and measurands, found shape {shape}",
                               hint="give an array of shape (n, m)")
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and value.shape != shape and (
                    not field.name.startswith("fresh") or not _broadcasts(value.shape, shape)):
                raise ValueRefused(
                    f"{field.name}: must have the shape of start {shape}, found {value.shape}",
                    hint="give one number per row and measurand")
        for low, high in (("start_low", "start_high"), ("end_low", "end_high")):
            if (getattr(self, low) is None) != (getattr(self, high) is None):
                raise ValueRefused(f"{low} and {high}: must be given together, found one alone",
                                   hint="give both bounds or neither")


def _broadcasts(found: tuple[int, ...], wanted: tuple[int, ...]) -> bool:
    try:
        return np.broadcast_shapes(found, wanted) == wanted
    except ValueError:
        return False


@dataclass(frozen=True, slots=True)
class WearRates:
    """Wear rates of n intervals and m measurands.

    Parameters
    ----------
    rate : array, shape (n, m) [mg/(1000 use)]
        Generation rate; NaN where it has no value.
    standard_uncertainty : array, shape (n, m) [mg/(1000 use)]
        Standard uncertainty of the rate.
    low : array, shape (n, m) [mg/(1000 use)]
        Lower end of the 95 % interval; may be negative.
    high : array, shape (n, m) [mg/(1000 use)]
        Upper end of the 95 % interval; infinite above an upper reporting limit.
    undiluted : array, shape (n, m) [mg/kg]
        What the end concentration would have been with nothing lost, added or filtered:
        C_start + W·use/M_start.
    note : array of RowNote, shape (n,) [-]
        What is to be said about the masses of each row.
    """

    rate: Floats
    standard_uncertainty: Floats
    low: Floats
    high: Floats
    undiluted: Floats
    note: NDArray[np.int8]


class _Cells(NamedTuple):
    """Readings of a block, or of single cells, that belong to one set of row figures."""

    end: Floats
    end_uncertainty: Floats
    start: Floats
    start_variance: Floats
    fresh: Floats
    fresh_uncertainty: Floats


class _Figures(NamedTuple):
    """Row figures in the shape that broadcasts with the cells they belong to."""

    form: Floats
    moves: Floats
    fresh_in_start: Floats


def _linear(form: Floats, cells: _Cells, out: Floats, spare: Floats) -> Floats:
    """Work out ``form · (C_end, −C_start, −C_fresh)`` in place."""
    np.multiply(form[0], cells.end, out=out)
    for factor, value in ((form[1], cells.start), (form[2], cells.fresh)):
        np.multiply(factor, value, out=spare)
        np.subtract(out, spare, out=out)
    return out


def _reading_variance(figures: _Figures, cells: _Cells, out: Floats, spare: Floats) -> Floats:
    """Sum the parts of end, start and fresh oil; the fresh oil in the start is the same oil."""
    by_end, by_start, by_fresh = figures.form
    fresh = by_fresh * (by_fresh + 2.0 * by_start * figures.fresh_in_start)
    np.square(cells.end_uncertainty, out=out)
    out *= by_end**2
    np.multiply(by_start**2, cells.start_variance, out=spare)
    out += spare
    np.square(cells.fresh_uncertainty, out=spare)
    spare *= fresh
    out += spare
    return out


def _solve(figures: _Figures, cells: _Cells) -> tuple[Floats, Floats]:
    """Give rate and standard uncertainty.

    Of the two ends of an input's range the one that moves the rate further counts as its
    half range h, with standard uncertainty h/√3.
    """
    rate, variance, worst, other, spare = np.empty((5, *cells.end.shape))
    _linear(figures.form, cells, rate, spare)
    _reading_variance(figures, cells, variance, spare)
    for low, high in figures.moves:
        if not (low.any() or high.any()):
            continue
        np.abs(_linear(low, cells, worst, spare), out=worst)
        np.abs(_linear(high, cells, other, spare), out=other)
        np.maximum(worst, other, out=worst)
        np.square(worst, out=worst)
        worst /= 3.0
        variance += worst
    variance[np.isnan(rate)] = np.nan
    return rate, np.sqrt(variance, out=variance)


def _bounded_start(readings: IntervalReadings, rows: slice) -> tuple[Floats, Floats]:
    """Give start and its variance, with the middle of its interval where it has no value."""
    start, variance = readings.start[rows], np.square(readings.start_uncertainty[rows])
    if readings.start_low is None or readings.start_high is None:
        return start, variance
    low, high = readings.start_low[rows], readings.start_high[rows]
    bounded = np.isnan(start) & np.isfinite(high)
    start = np.where(bounded, (low + high) / 2.0, start)
    variance += np.where(bounded, np.square(high - low) / 12.0, 0.0)
    return start, variance


def _bounded_end(figures: _Figures, cells: _Cells, bound: Floats,
                 where: tuple[NDArray[np.intp], ...], side: float) -> Floats:
    """Give the end of the rate's interval that one bound of unvalued end readings leads to."""
    row, _ = where
    at_bound = _Cells(bound[where], *(part[where] for part in cells[1:]))
    rate, uncertainty = _solve(
        _Figures(figures.form[:, row, 0], figures.moves[..., row, 0],
                 figures.fresh_in_start[row, 0]), at_bound)
    return np.where(np.isinf(at_bound.end), at_bound.end,
                    rate + side * COVERAGE_FACTOR * uncertainty)


def _fill_block(result: WearRates, rows: slice, figures: _Figures, per_mass: Floats,
                readings: IntervalReadings) -> None:
    """Work out one block of rows and write it into the result."""
    shape = result.rate.shape
    fresh, fresh_uncertainty = (np.broadcast_to(value, shape)[rows] for value in
                                (readings.fresh, readings.fresh_uncertainty))
    cells = _Cells(readings.end[rows], readings.end_uncertainty[rows],
                   *_bounded_start(readings, rows), fresh, fresh_uncertainty)
    rate, uncertainty = _solve(figures, cells)
    low, high = result.low[rows], result.high[rows]
    np.add(rate, COVERAGE_FACTOR * uncertainty, out=high)
    np.subtract(rate, COVERAGE_FACTOR * uncertainty, out=low)
    result.rate[rows], result.standard_uncertainty[rows] = rate, uncertainty
    result.undiluted[rows] = cells.start + rate * per_mass
    if readings.end_low is not None and readings.end_high is not None:
        where = np.nonzero(np.isnan(cells.end))
        low[where] = _bounded_end(figures, cells, readings.end_low[rows], where, -1.0)
        high[where] = _bounded_end(figures, cells, readings.end_high[rows], where, 1.0)


def wear_rates(masses: IntervalMasses, readings: IntervalReadings) -> WearRates:
    """Give the wear rates of a whole fleet with their 95 % intervals.

    Equation: ``W = 1000·(C_end − p·C_start − r·C_fresh)/q``, p, q and r from the masses;
    ``u² = Σ (∂W/∂C · u_C)² + Σ h²/3`` with h the change of W at the further end of the range
    of each mass, share or time; interval ``W ± 1.96·u``.

    Parameters
    ----------
    masses : IntervalMasses [-]
        Use and oil masses of n intervals.
    readings : IntervalReadings [-]
        Concentrations of the same intervals, m measurands.

    Returns
    -------
    WearRates [-]
        Rates, uncertainties, intervals and undiluted concentrations; NaN in gives NaN out.

    Raises
    ------
    ValueRefused
        When masses and readings do not have the same number of rows.

    Examples
    --------
    >>> masses = IntervalMasses(np.array([10e3]), 5.0, 0.0, 5.0, 0.0, 2.5, 0.0, 1.0, 0.0)
    >>> nought, end = np.zeros((1, 1)), np.full((1, 1), 7.8693868)
    >>> result = wear_rates(masses, IntervalReadings(nought, nought, end, nought, nought, nought))
    >>> round(float(result.rate[0, 0]), 6), round(float(result.undiluted[0, 0]), 6)
    (5.0, 10.0)
    """
    n, m = readings.start.shape
    if np.shape(masses.use) != (n,):
        raise ValueRefused(
            f"masses: must have the {n} rows of the readings, found {np.shape(masses.use)[0]}",
            hint="give one row of masses per row of readings")
    solution = solve_rows(masses)
    share = np.broadcast_to(np.asarray(masses.fresh_in_start, float), (n,))
    result = WearRates(np.empty((n, m)), np.empty((n, m)), np.empty((n, m)), np.empty((n, m)),
                       np.empty((n, m)), solution.note)
    step = max(1, BLOCK_CELLS // max(m, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        per_mass = np.asarray(masses.use) / masses.start_mass / 1e3
        # A loop over blocks of rows, so that no intermediate figure is as large as the fleet.
        for first in range(0, n, step):
            rows = slice(first, first + step)
            figures = _Figures(solution.form[:, rows, None], solution.moves[..., rows, None],
                               share[rows, None])
            _fill_block(result, rows, figures, per_mass[rows, None], readings)
    return result
