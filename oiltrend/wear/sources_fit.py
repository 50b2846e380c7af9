"""The fit behind a source split: one block of rows, intervals and signature errors included.

Two things make it more than plain least squares. A reading that is only known to lie in an
interval becomes a row with a slack of its own, ``F x + v = high`` with ``v ≥ 0``: below the
bound the slack takes up the difference at no cost, above it the distance counts. That is an
ordinary non-negative problem with one more unknown, so it is solved exactly. And signatures
are uncertain: the variance of a cell includes what that does to the amount fitted (effective
variance), which is found by going round a few times.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.wear.arrays import Floats
from oiltrend.wear.sources_gram import Normal, factored, normal_equations, scaled
from oiltrend.wear.sources_input import Found, Signatures
from oiltrend.wear.sources_nnls import Solution, nonnegative

__all__ = ["Block", "Fit", "bounds_per_row", "fit", "free_columns", "freedom",
           "misfit", "prepare", "refit"]

Bools = NDArray[np.bool_]

# Times round for the effective variance at most; it settles geometrically.
ROUNDS = 6
# A row has settled when no weight of it has changed by more than this share.
SETTLED = 0.01
# A source whose signature is this close to a mixture of those before it is not independent.
LEAST_PIVOT = 1e-6


class Block(NamedTuple):
    """Rows side by side: sources s (known, then free), elements m, bounds h, rows n last.

    Parameters
    ----------
    shares, spread2 : array, shape (s, m, n) [-]
        Signatures and the squares of their uncertainties.
    value, variance : array, shape (m, n) [any]
        Values (0 where there is none) and variances of the cells (infinite where not measured).
    exact, bounded : array of bool, shape (m, n) [-]
        Cells that count by their value, and by their interval.
    width : array, shape (m, n) [any]
        Width of the interval of bounded cells; infinite when open.
    bound_cell : array of int, shape (h, n) [-]
        Element of each bound.
    bound_sign : array, shape (h, n) [-]
        1 for an upper bound, −1 for a lower one, 0 where a row has fewer than h bounds.
    bound : array, shape (h, n) [any]
        The bounds.
    penalty : array, shape (s, n) [any]
        One over the mean of the prior of each free term; 0 for known sources.
    there, seen : array of bool, shape (s, n) [-]
        Sources that the engine has, and those with an element that was measured.
    """

    shares: Floats
    spread2: Floats
    value: Floats
    variance: Floats
    exact: Bools
    bounded: Bools
    width: Floats
    bound_cell: NDArray[np.int64]
    bound_sign: Floats
    bound: Floats
    penalty: Floats
    there: Bools
    seen: Bools

    def some(self, rows: NDArray[np.int64]) -> Block:
        """Take some rows of the block.

        Parameters
        ----------
        rows : array of int [-]
            Rows to take.

        Returns
        -------
        Block [-]
            Those rows.
        """
        return Block._make(part.take(rows, axis=-1) for part in self)


class Fit(NamedTuple):
    """Amounts fitted to a block.

    Parameters
    ----------
    amount : array, shape (s, n) [any]
        Amount from each source.
    weight : array, shape (m, n) [any]
        One over the effective variance of each cell.
    normal : Normal [-]
        Equations behind the amounts; the slacks of bounds come before the sources.
    solution : Solution [-]
        Their solution.
    """

    amount: Floats
    weight: Floats
    normal: Normal
    solution: Solution


def free_columns(elements: tuple[str, ...], free: tuple[str, ...]) -> NDArray[np.int64]:
    """Find the columns of the elements that have a free term.

    Parameters
    ----------
    elements : tuple of str [-]
        Symbols of the columns.
    free : tuple of str [-]
        Elements with a free term; those without a column are left out.

    Returns
    -------
    array of int [-]
        Columns.

    Examples
    --------
    >>> free_columns(("Pb", "Sn", "Cu"), ("Cu", "Ag")).tolist()
    [2]
    """
    return np.array([elements.index(symbol) for symbol in free if symbol in elements], dtype=int)


def bounds_per_row(found: Found) -> NDArray[np.int64]:
    """Count the bounds of each row, so that rows of like size can be worked on together.

    Parameters
    ----------
    found : Found [-]
        Metal found.

    Returns
    -------
    array of int, shape (n,) [-]
        Upper and lower bounds of cells without a value.

    Examples
    --------
    >>> nothing = np.full((1, 2), np.nan)
    >>> bounds_per_row(Found(("Pb", "Sn"), nothing, np.ones((1, 2)), np.array([[0.0, 2.0]]),
    ...                      np.array([[3.0, 5.0]]))).tolist()
    [3]
    """
    if found.low is None or found.high is None:
        return np.zeros(len(found.value), dtype=np.int64)
    upper, lower = _bounded(found.value, found.uncertainty, found.low, found.high)
    return np.asarray(upper.sum(axis=1) + lower.sum(axis=1))


def _bounded(value: Floats, uncertainty: Floats, low: Floats, high: Floats
             ) -> tuple[Bools, Bools]:
    """Say which cells have an upper bound, and which a lower one that says something.

    Amounts are never below zero, so a lower bound says something only above it.
    """
    hidden = np.isfinite(uncertainty) & ~np.isfinite(value)
    return hidden & np.isfinite(high), hidden & (low > 0.0) & np.isfinite(low)


def prepare(found: Found, signatures: Signatures, rows: NDArray[np.int64], *,
            free: NDArray[np.int64], free_share: float) -> Block:
    """Lay one block of rows out for fitting.

    Parameters
    ----------
    found : Found [-]
        Metal found.
    signatures : Signatures [-]
        Known sources.
    rows : array of int [-]
        Rows of the block.
    free : array of int, shape (f,) [-]
        Columns that have a free term.
    free_share : float [-]
        Mean of the exponential prior of a free term, as a share of the metal found.

    Returns
    -------
    Block [-]
        The rows, known sources first, then one free term per element.

    Examples
    --------
    >>> found = Found(("Pb", "Cu"), np.array([[8.8, 1.2]]), np.full((1, 2), 0.1))
    >>> known = Signatures(("overlay",), np.array([[[0.88, 0.02]]]), np.zeros((1, 1, 2)),
    ...                    np.zeros(1, int))
    >>> block = prepare(found, known, np.arange(1), free=np.array([1]), free_share=0.3)
    >>> block.shares[:, :, 0].tolist()
    [[0.88, 0.02], [0.0, 1.0]]
    """
    count, elements = found.value[rows].shape
    kind = signatures.kind[rows]
    value, uncertainty = found.value[rows].T, found.uncertainty[rows].T
    known = np.isfinite(uncertainty)
    exact = known & np.isfinite(value)
    empty = np.full((elements, count), np.nan)
    low = empty if found.low is None else found.low[rows].T
    high = empty if found.high is None else found.high[rows].T
    upper, lower = _bounded(value, uncertainty, low, high)
    bounded = upper | lower
    measured = exact | bounded
    free_rows = np.zeros((len(free), elements, count))
    free_rows[np.arange(len(free)), free] = 1.0
    shares = np.concatenate([np.moveaxis(signatures.shares[kind], 0, -1), free_rows])
    spread2 = np.concatenate([np.moveaxis(signatures.spread[kind], 0, -1) ** 2,
                              np.zeros_like(free_rows)])
    nearest = np.where(exact, np.maximum(value, 0.0),
                       np.where(upper, np.maximum(high, 0.0), np.where(lower, low, 0.0)))
    scale = nearest + np.where(known, uncertainty, 0.0)
    penalty = np.zeros(shares.shape[::2])
    penalty[len(shares) - len(free):] = 1.0 / (free_share * np.where(scale > 0.0, scale, 1.0))[free]
    with np.errstate(invalid="ignore"):
        width = np.where(bounded, np.where(upper, high, np.inf) - np.fmax(low, 0.0), 0.0)
    return Block(np.ascontiguousarray(shares), np.ascontiguousarray(spread2),
                 np.where(exact, value, 0.0), np.where(measured, uncertainty, np.inf) ** 2, exact,
                 bounded, width, *_bounds(upper, lower, high, low), penalty,
                 np.any(shares > 0.0, axis=1), np.any((shares > 0.0) & measured, axis=1))


def _bounds(upper: Bools, lower: Bools, high: Floats, low: Floats
            ) -> tuple[NDArray[np.int64], Floats, Floats]:
    """List the bounds of every row side by side: element, sign and number."""
    stands = np.concatenate([upper, lower])
    elements, count = upper.shape
    most = int(stands.sum(axis=0).max(initial=0))
    order: NDArray[np.int64] = np.argsort(~stands, axis=0, kind="stable")[:most]
    there = np.take_along_axis(stands, order, axis=0)
    sign = np.where(order < elements, 1.0, -1.0) * there
    bound = np.take_along_axis(np.concatenate([high, low]), order, axis=0)
    return np.asarray(order % elements), sign.reshape(most, count), np.where(there, bound, 0.0)


def _equations(block: Block, weight: Floats, allowed: Bools, *, prior: bool) -> Normal:
    """Form the equations: slacks of bounds first, then the sources."""
    slacks, count = block.bound.shape
    size, every = slacks + len(block.shares), np.arange(count)
    total = weight * block.exact
    weighted = total * block.value
    for cell, sign, bound in zip(block.bound_cell, block.bound_sign, block.bound, strict=True):
        own = weight[cell, every] * np.abs(sign)
        total[cell, every] += own
        weighted[cell, every] += own * bound
    gram, right = np.zeros((size, size, count)), np.zeros((size, count))
    gram[slacks:, slacks:], right[slacks:] = normal_equations(block.shares, total, weighted)
    for slack, (cell, sign) in enumerate(zip(block.bound_cell, block.bound_sign, strict=True)):
        own = weight[cell, every] * np.abs(sign)
        gram[slack, slacks:] = gram[slacks:, slack] = (
            sign * own * block.shares[:, cell, every])
        gram[slack, slack] = own
        right[slack] = sign * own * block.bound[slack]
    if prior:
        right[slacks:] -= block.penalty
    return scaled(gram, right, np.concatenate([block.bound_sign != 0.0, allowed]),
                  slacks=slacks)


def _weight(block: Block, amount: Floats) -> Floats:
    """Give one over the effective variance: of the reading, and of the signatures."""
    weight: Floats = 1.0 / (block.variance + np.einsum("smn,sn->mn", block.spread2, amount**2))
    return weight


def fit(block: Block, allowed: Bools, *, prior: bool, amount: Floats | None = None) -> Fit:
    """Fit sources to a block, going round for the effective variance.

    Equation: ``min Σ_e (Σ_s x_s F_se − y_e)² / (u_e² + Σ_s x_s² u_se²) + 2 Σ_f x_f/μ_f`` with
    ``x ≥ 0``; the variance is held while x is solved for, and then renewed.

    Parameters
    ----------
    block : Block [-]
        The rows.
    allowed : array of bool, shape (s, n) [-]
        Sources that may take part.
    prior : bool [-]
        Whether free terms pay for what they take.
    amount : array, shape (s, n), or None [any]
        Amounts to begin with; none by default.

    Returns
    -------
    Fit [-]
        Amounts, weights and equations.

    Examples
    --------
    >>> found = Found(("Pb", "Cu"), np.array([[8.8, 0.2]]), np.full((1, 2), 0.1))
    >>> known = Signatures(("overlay",), np.array([[[0.88, 0.02]]]), np.zeros((1, 1, 2)),
    ...                    np.zeros(1, int))
    >>> block = prepare(found, known, np.arange(1), free=np.array([], int), free_share=0.3)
    >>> fit(block, block.seen, prior=False).amount.round(6).tolist()
    [[10.0]]
    """
    current = np.zeros(block.penalty.shape) if amount is None else amount
    result = refit(block, _weight(block, current), allowed, prior=prior)
    rows = np.arange(result.weight.shape[1])
    for _ in range(ROUNDS):
        weight = _weight(block, result.amount[:, rows])
        moved = np.flatnonzero((np.abs(weight - result.weight[:, rows])
                                > SETTLED * weight).any(axis=0))
        if not len(moved):
            break
        rows, block = rows[moved], block.some(moved)
        part = refit(block, weight[:, moved], allowed[:, rows], prior=prior,
                     start=result.solution.passive[:, rows])
        _put(result, rows, part)
    return result


def _put(result: Fit, rows: NDArray[np.int64], part: Fit) -> None:
    """Write the fit of some rows over the one before it."""
    for whole, new in ((result.amount, part.amount), (result.weight, part.weight),
                       *zip(result.solution, part.solution, strict=True),
                       *zip(result.normal[:4], part.normal[:4], strict=True)):
        whole[..., rows] = new


def refit(block: Block, weight: Floats, allowed: Bools, *, prior: bool,
          start: Bools | None = None) -> Fit:
    """Fit sources to a block with given weights.

    Parameters
    ----------
    block : Block [-]
        The rows.
    weight : array, shape (m, n) [any]
        One over the variance of each cell.
    allowed : array of bool, shape (s, n) [-]
        Sources that may take part.
    prior : bool [-]
        Whether free terms pay for what they take.
    start : array of bool, shape (h + s, n), or None [-]
        A guess of which unknowns are above zero.

    Returns
    -------
    Fit [-]
        Amounts, weights and equations.

    Examples
    --------
    >>> found = Found(("Pb",), np.array([[8.8]]), np.ones((1, 1)))
    >>> known = Signatures(("overlay",), np.array([[[0.88]]]), np.zeros((1, 1, 1)),
    ...                    np.zeros(1, int))
    >>> block = prepare(found, known, np.arange(1), free=np.array([], int), free_share=0.3)
    >>> refit(block, np.ones((1, 1)), block.seen, prior=False).amount.round(6).tolist()
    [[10.0]]
    """
    normal = _equations(block, weight, allowed & block.seen, prior=prior)
    guess = None if start is None else start & normal.usable
    solution = nonnegative(normal, start=guess)
    amount = (solution.x * normal.scale)[len(block.bound):]
    return Fit(amount, weight, normal, solution)


def misfit(block: Block, result: Fit) -> tuple[Floats, Floats]:
    """Give what the fit leaves over.

    Equation: ``r_e = (y_e − Σ_s x_s F_se)/σ_e``; for an interval the distance to it, 0 inside.

    Parameters
    ----------
    block : Block [-]
        The rows.
    result : Fit [-]
        The fit.

    Returns
    -------
    tuple of array, shapes (m, n) and (n,) [-]
        Residuals in standard uncertainties (NaN for cells not measured) and their sum of
        squares.

    Examples
    --------
    >>> found = Found(("Pb", "Sn"), np.array([[8.8, 2.0]]), np.full((1, 2), 0.5))
    >>> known = Signatures(("overlay",), np.array([[[0.9, 0.0]]]), np.zeros((1, 1, 2)),
    ...                    np.zeros(1, int))
    >>> block = prepare(found, known, np.arange(1), free=np.array([], int), free_share=0.3)
    >>> residual, chi2 = misfit(block, fit(block, block.seen, prior=False))
    >>> residual.round(6).tolist(), chi2.round(6).tolist()
    ([[0.0], [4.0]], [16.0])
    """
    predicted = np.einsum("smn,sn->mn", block.shares, result.amount)
    residual = np.where(block.exact, block.value - predicted, 0.0)
    every = np.arange(block.value.shape[1])
    for cell, bound, beyond in zip(block.bound_cell, block.bound, _beyond(block, predicted),
                                   strict=True):
        residual[cell, every] += np.where(beyond, bound - predicted[cell, every], 0.0)
    residual = residual * np.sqrt(result.weight)
    return np.where(block.exact | block.bounded, residual, np.nan), (residual**2).sum(axis=0)


def _beyond(block: Block, predicted: Floats) -> Bools:
    """Say which bounds the amounts fitted break."""
    at = np.take_along_axis(predicted, block.bound_cell, axis=0)
    return np.asarray(block.bound_sign * (at - block.bound) > 0.0)


def freedom(block: Block, result: Fit) -> NDArray[np.int64]:
    """Count the degrees of freedom of a fit.

    Equation: cells with a value + bounds broken − sources above zero that are independent.

    Parameters
    ----------
    block : Block [-]
        The rows.
    result : Fit [-]
        The fit.

    Returns
    -------
    array of int, shape (n,) [-]
        Degrees of freedom; below one the fit cannot contradict itself.

    Examples
    --------
    >>> found = Found(("Pb", "Sn"), np.array([[8.8, 2.0]]), np.full((1, 2), 0.5))
    >>> twins = Signatures(("rods", "mains"), np.array([[[0.9, 0.0], [0.9, 0.0]]]),
    ...                    np.zeros((1, 2, 2)), np.zeros(1, int))
    >>> block = prepare(found, twins, np.arange(1), free=np.array([], int), free_share=0.3)
    >>> freedom(block, fit(block, block.seen, prior=False)).tolist()
    [1]
    """
    predicted = np.einsum("smn,sn->mn", block.shares, result.amount)
    passive = result.solution.passive
    pivot = factored(result.normal, passive).inverse ** -2.0
    independent = (passive & (pivot > LEAST_PIVOT))[len(block.bound):].sum(axis=0)
    return np.asarray(block.exact.sum(axis=0) + _beyond(block, predicted).sum(axis=0)
                      - independent)
