"""Non-negative least squares of many rows at once, exactly.

Every row is its own small problem, with its own weights. A loop over a solver for one
problem spends its time in the calls; here all rows take the same steps together.

Method: block principal pivoting on the normal equations. A guess of which unknowns are above
zero is solved as an ordinary least-squares problem; whatever contradicts the guess (an unknown
below zero, or one at zero that the data would raise) changes sides, until nothing does. That
is the Karush-Kuhn-Tucker condition, so the answer is the exact minimum.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import Floats
from oiltrend.wear.sources_gram import (
    RIDGE,
    Normal,
    factored,
    normal_equations,
    scaled,
    solve_passive,
    substitute,
    times,
)

__all__ = ["Solution", "nnls_rows", "nonnegative"]

Bools = NDArray[np.bool_]

# Rows worked on at once: the Gram matrices of a block then stay near the processor.
BLOCK_ROWS = 4096
# Below this share of the largest number of a row, a contradiction is rounding.
TOLERANCE = 1e-12
# Exchanges of all contradictions that may pass without progress before they go one by one.
PATIENCE = 3
ROUNDS = 60
# Each takes the effect of the ridge down by RIDGE over the least eigenvalue.
REFINEMENTS = 2


class Solution(NamedTuple):
    """Scaled unknowns of n rows and which of them are above zero.

    Parameters
    ----------
    x : array, shape (s, n) [-]
        Scaled unknowns.
    passive : array of bool, shape (s, n) [-]
        Unknowns that were solved for; the others are zero.
    """

    x: Floats
    passive: Bools


def _exchange(bad: Bools, best: NDArray[np.int64], patience: NDArray[np.int64]) -> Bools:
    """Choose what changes sides: all contradictions, or the last one where that went in circles.

    The counts are updated in place. Taking only the last contradiction is Murty's rule, which
    cannot go in circles.
    """
    count = bad.sum(axis=0)
    better = count < best
    np.minimum(best, count, out=best)
    patience[better] = PATIENCE
    patience[~better] -= 1
    single = patience < 0
    if not single.any():
        return bad
    last = len(bad) - 1 - np.argmax(bad[::-1], axis=0)
    return np.asarray(bad & (~single | (np.arange(len(bad))[:, None] == last)))


def nonnegative(normal: Normal, *, start: Bools | None = None) -> Solution:
    """Minimise a quadratic over non-negative unknowns, for every row.

    Equation: ``min xᵀGx − 2hᵀx`` with ``x ≥ 0``, and x = 0 where it is not usable.

    Parameters
    ----------
    normal : Normal [-]
        Scaled equations.
    start : array of bool, shape (s, n), or None [-]
        A guess of which unknowns are above zero.

    Returns
    -------
    Solution [-]
        Where several solutions fit alike, the one with the least sum of squares over the
        unknowns that are no slacks.

    Examples
    --------
    >>> from oiltrend.wear.sources_gram import scaled
    >>> gram = np.array([[2.0, 1.0], [1.0, 2.0]])[:, :, None]
    >>> normal = scaled(gram, np.array([[4.0], [-1.0]]), np.ones((2, 1), bool))
    >>> answer = nonnegative(normal)
    >>> (answer.x * normal.scale)[:, 0].round(6).tolist(), answer.passive[:, 0].tolist()
    ([2.0, 0.0], [True, False])

    References
    ----------
    Portugal, Júdice and Vicente, Math. Comput. 63 (1994) 625; Kim and Park, SIAM J. Sci.
    Comput. 33 (2011) 3261.
    """
    size, count = normal.right.shape
    left = normal
    passive = left.usable & ((left.right > 0.0) if start is None else start)
    result, settled = np.zeros((size, count)), np.zeros((size, count), dtype=bool)
    tolerance = TOLERANCE * np.abs(left.right).max(axis=0, initial=0.0)
    rows = np.arange(count)
    best, patience = np.full(count, size + 1), np.full(count, PATIENCE)
    for _ in range(ROUNDS):
        if not len(rows):
            break
        x = solve_passive(left, left.right, passive)
        slope = left.right - times(left.gram, x)
        bad = np.where(passive, x < -tolerance, left.usable & (slope > tolerance))
        done = ~bad.any(axis=0)
        result[:, rows[done]], settled[:, rows[done]] = x[:, done], passive[:, done]
        go_on = np.flatnonzero(~done)
        passive = (passive ^ _exchange(bad, best, patience)).take(go_on, axis=1)
        left = left.some(go_on)
        tolerance, best, patience = tolerance[go_on], best[go_on], patience[go_on]
        rows = rows[go_on]
    if len(rows):
        result[:, rows] = _one_by_one(left)
        settled[:, rows] = result[:, rows] > 0.0
    return Solution(np.maximum(result, 0.0), settled)


def _one_by_one(normal: Normal) -> Floats:
    """Solve the few rows that rounding keeps from settling with the textbook method."""
    from scipy.optimize import nnls

    result = np.zeros_like(normal.right)
    # A loop over rows: hardly ever more than a few in a hundred thousand come here.
    for row in range(normal.right.shape[1]):
        use = np.flatnonzero(normal.usable[:, row])
        if len(use):
            matrix = normal.gram[use[:, None], use, row] + RIDGE * np.eye(len(use))
            lower = np.linalg.cholesky(matrix)
            right = np.linalg.solve(lower, normal.right[use, row])
            result[use, row] = nnls(lower.T, right)[0]
    return result


def nnls_rows(signatures: Floats, kind: NDArray[np.integer], values: Floats,
              weights: Floats) -> tuple[Floats, Floats]:
    """Solve a weighted non-negative least-squares problem for every row.

    Equation: ``min Σ_e w_e² (Σ_s x_s F_se − y_e)²`` with ``x ≥ 0``.

    Parameters
    ----------
    signatures : array, shape (k, s, m) [-]
        F, k sets of s signatures over m elements.
    kind : array of int, shape (n,) [-]
        Which set a row uses.
    values : array, shape (n, m) [any]
        y; NaN where an element was not measured.
    weights : array, shape (n, m) [-]
        w, one over the standard uncertainty.

    Returns
    -------
    tuple of array, shapes (n, s) and (n,) [any]
        Amounts x, and the root of the sum of squared weighted residuals; both NaN for a row
        in which nothing was measured.

    Raises
    ------
    ValueRefused
        When shapes do not fit.

    Examples
    --------
    >>> F = np.array([[[0.88, 0.10, 0.02], [0.24, 0.013, 0.747]]])
    >>> amount, rest = nnls_rows(F, np.zeros(1, int), np.array([[28.8, 3.13, 8.07]]),
    ...                          np.ones((1, 3)))
    >>> np.round(amount, 6).tolist(), np.round(rest, 6).tolist()
    ([[30.0, 10.0]], [0.0])

    References
    ----------
    Lawson and Hanson, Solving Least Squares Problems, 1974, chapter 23 (the problem).
    """
    rows = len(kind)
    for name, array in (("values", values), ("weights", weights)):
        if array.shape != (rows, signatures.shape[2]):
            raise ValueRefused(
                f"{name}: must have {rows} rows and {signatures.shape[2]} elements, "
                f"found shape {array.shape}", hint="give one number per row and element")
    amount, rest = np.empty((rows, signatures.shape[1])), np.empty(rows)
    across = np.ascontiguousarray(np.moveaxis(signatures, 0, -1))
    # A loop over blocks of rows, so that no intermediate figure is as large as the fleet.
    for first in range(0, rows, BLOCK_ROWS):
        part = slice(first, first + BLOCK_ROWS)
        shares = across.take(kind[part], axis=2)
        measured = np.isfinite(values[part]).T & np.isfinite(weights[part]).T
        weight = np.where(measured, weights[part].T, 0.0) ** 2
        value = np.where(measured, values[part].T, 0.0)
        gram, right = normal_equations(shares, weight, weight * value)
        normal = scaled(gram, right, np.ones(right.shape, dtype=bool))
        x = _polished(normal, nonnegative(normal), shares, weight, value)
        residual = np.einsum("smn,sn->mn", shares, x) - value
        empty = ~measured.any(axis=0)
        amount[part] = np.where(empty, np.nan, x).T
        rest[part] = np.where(empty, np.nan, np.sqrt((weight * residual**2).sum(axis=0)))
    return amount, rest


def _polished(normal: Normal, answer: Solution, shares: Floats, weight: Floats, value: Floats
              ) -> Floats:
    """Refine from the residuals themselves: the Gram matrix squares the rounding."""
    factor = factored(normal, answer.passive)
    x = answer.x * normal.scale
    for _ in range(REFINEMENTS):
        residual = value - np.einsum("smn,sn->mn", shares, x)
        right = np.einsum("smn,mn->sn", shares, weight * residual) * normal.scale
        x += substitute(factor, right * answer.passive) * normal.scale
    return np.maximum(x, 0.0)
