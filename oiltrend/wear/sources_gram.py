"""Linear algebra of many small systems at once, rows last.

Arrays are laid out as ``gram[s, s, n]`` with one system per row of the fleet, so that each step
of an elimination is one sweep over neighbouring numbers instead of n calls.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.wear.arrays import Floats

__all__ = ["Factor", "Normal", "factored", "normal_equations", "passive_inverse", "ridge",
           "scaled", "solve_passive", "substitute", "times"]

Bools = NDArray[np.bool_]

# Added to the diagonal, relative to the diagonal, so that unknowns which the data cannot tell
# apart share alike instead of at random; a step of refinement takes its effect out again
# wherever the data do tell.
RIDGE = 1e-9


class Normal(NamedTuple):
    """Normal equations of n rows, scaled so that the diagonal is one.

    Parameters
    ----------
    gram : array, shape (s, s, n) [-]
        Scaled Gram matrices.
    right : array, shape (s, n) [-]
        Scaled right-hand sides.
    scale : array, shape (s, n) [-]
        Unknowns are the scaled unknowns times this; 0 for unknowns without data.
    usable : array of bool, shape (s, n) [-]
        Unknowns that may be above zero and have data.
    slacks : int [-]
        Number of leading unknowns that are uncoupled from each other. They are preferred where
        several answers fit alike: the ridge is on the others only.
    """

    gram: Floats
    right: Floats
    scale: Floats
    usable: Bools
    slacks: int

    def some(self, rows: NDArray[np.int64]) -> Normal:
        """Take some rows of the equations.

        Parameters
        ----------
        rows : array of int [-]
            Rows to take.

        Returns
        -------
        Normal [-]
            The equations of those rows.
        """
        return Normal(self.gram.take(rows, axis=2), self.right.take(rows, axis=1),
                      self.scale.take(rows, axis=1), self.usable.take(rows, axis=1), self.slacks)


class Factor(NamedTuple):
    """Cholesky factors of the passive part of every matrix.

    Parameters
    ----------
    lower : array, shape (s, s, n) [-]
        Factors in the lower triangle.
    inverse : array, shape (s, n) [-]
        One over the diagonal.
    slacks : int [-]
        Number of leading unknowns that are uncoupled from each other.
    """

    lower: Floats
    inverse: Floats
    slacks: int


def normal_equations(shares: Floats, weight: Floats, weighted: Floats) -> tuple[Floats, Floats]:
    """Form the normal equations of every row.

    Equation: ``G = F W Fᵀ`` and ``h = F (W y)``.

    Parameters
    ----------
    shares : array, shape (s, m, n) [-]
        F.
    weight : array, shape (m, n) [-]
        Diagonal of W.
    weighted : array, shape (m, n) [any]
        W y.

    Returns
    -------
    tuple of array, shapes (s, s, n) and (s, n) [any]
        G and h.

    Examples
    --------
    >>> shares = np.array([[1.0, 1.0], [0.0, 2.0]])[:, :, None]
    >>> gram, right = normal_equations(shares, np.ones((2, 1)), np.array([[3.0], [4.0]]))
    >>> gram[:, :, 0].tolist(), right[:, 0].tolist()
    ([[2.0, 2.0], [2.0, 4.0]], [7.0, 8.0])
    """
    size = len(shares)
    gram = np.empty((size, size, weight.shape[1]))
    for i in range(size):
        part = shares[i] * weight
        for j in range(i, size):
            np.einsum("mn,mn->n", part, shares[j], out=gram[i, j])
            gram[j, i] = gram[i, j]
    return gram, np.einsum("smn,mn->sn", shares, weighted)


def scaled(gram: Floats, right: Floats, allowed: Bools, *, slacks: int = 0) -> Normal:
    """Scale normal equations so that the diagonal is one.

    Parameters
    ----------
    gram : array, shape (s, s, n) [any]
        Symmetric, positive semi-definite.
    right : array, shape (s, n) [any]
        Right-hand sides.
    allowed : array of bool, shape (s, n) [-]
        Unknowns that may be above zero.
    slacks : int [-]
        Number of leading unknowns that are uncoupled from each other.

    Returns
    -------
    Normal [-]
        Scaled equations.

    Examples
    --------
    >>> gram = np.array([[4.0, 2.0], [2.0, 0.0]])[:, :, None]
    >>> normal = scaled(gram, np.array([[6.0], [1.0]]), np.ones((2, 1), bool))
    >>> normal.right[:, 0].tolist(), normal.usable[:, 0].tolist()
    ([3.0, 0.0], [True, False])
    """
    diagonal = np.arange(len(gram))
    size = gram[diagonal, diagonal]
    usable = allowed & (size > 0.0)
    scale = np.where(usable, 1.0 / np.sqrt(np.where(usable, size, 1.0)), 0.0)
    equal = gram * scale[:, None]
    equal *= scale
    return Normal(equal, right * scale, scale, usable, slacks)


def ridge(normal: Normal) -> Floats:
    """Give what is added to the diagonal when solving.

    Parameters
    ----------
    normal : Normal [-]
        Scaled equations.

    Returns
    -------
    array, shape (s,) [-]
        Zero for slacks.

    Examples
    --------
    >>> ridge(scaled(np.ones((1, 1, 1)), np.ones((1, 1)), np.ones((1, 1), bool))).tolist()
    [1e-09]
    """
    return np.where(np.arange(len(normal.gram)) < normal.slacks, 0.0, RIDGE)


def times(gram: Floats, x: Floats) -> Floats:
    """Multiply every matrix by its vector.

    Parameters
    ----------
    gram : array, shape (s, t, n) [-]
        Matrices.
    x : array, shape (t, n) [-]
        Vectors.

    Returns
    -------
    array, shape (s, n) [-]
        Products.

    Examples
    --------
    >>> times(np.array([[[1.0], [2.0]]]), np.array([[3.0], [4.0]])).tolist()
    [[11.0]]
    """
    product: Floats = np.einsum("ijn,jn->in", gram, x)
    return product


def factored(normal: Normal, passive: Bools) -> Factor:
    """Factor the passive part of every matrix; elsewhere stands the unit matrix.

    Equation: ``L Lᵀ = G + diag(ridge)`` on the passive set.

    Parameters
    ----------
    normal : Normal [-]
        Scaled equations.
    passive : array of bool, shape (s, n) [-]
        Unknowns that are solved for.

    Returns
    -------
    Factor [-]
        Factors.

    Examples
    --------
    >>> normal = scaled(np.full((1, 1, 1), 4.0), np.ones((1, 1)), np.ones((1, 1), bool))
    >>> factored(normal, np.ones((1, 1), bool)).inverse.round(6).tolist()
    [[1.0]]
    """
    matrix = normal.gram * (passive[:, None] & passive[None, :])
    size, diagonal = len(matrix), np.arange(len(matrix))
    matrix[diagonal, diagonal] += np.where(passive, ridge(normal)[:, None], 1.0)
    inverse = np.empty(passive.shape)
    for k in range(size):
        np.divide(1.0, np.sqrt(matrix[k, k]), out=inverse[k])
        below = max(k + 1, normal.slacks)
        matrix[below:, k] *= inverse[k]
        for j in range(below, size):
            matrix[j:, j] -= matrix[j:, k] * matrix[j, k]
    return Factor(matrix, inverse, normal.slacks)


def substitute(factor: Factor, right: Floats) -> Floats:
    """Solve with the factors, in place of the right-hand side.

    Parameters
    ----------
    factor : Factor [-]
        Factors.
    right : array, shape (s, n) [-]
        Right-hand sides, zero outside the passive part; overwritten.

    Returns
    -------
    array, shape (s, n) [-]
        Solutions.

    Examples
    --------
    >>> normal = scaled(np.full((1, 1, 1), 4.0), np.ones((1, 1)), np.ones((1, 1), bool))
    >>> substitute(factored(normal, np.ones((1, 1), bool)), np.full((1, 1), 3.0)).round(6).tolist()
    [[3.0]]
    """
    lower, inverse, slacks = factor
    size = len(lower)
    for k in range(size):
        right[k] *= inverse[k]
        below = max(k + 1, slacks)
        if below < size:
            right[below:] -= lower[below:, k] * right[k]
    for k in range(size - 1, -1, -1):
        below = max(k + 1, slacks)
        if below < size:
            right[k] -= np.einsum("jn,jn->n", lower[below:, k], right[below:])
        right[k] *= inverse[k]
    return right


def solve_passive(normal: Normal, right: Floats, passive: Bools) -> Floats:
    """Solve for the passive unknowns of every row; the others are zero.

    Equation: ``(G + diag(ridge)) x = h`` on the passive set.

    Parameters
    ----------
    normal : Normal [-]
        Scaled equations.
    right : array, shape (s, n) [-]
        Right-hand sides h, which need not be those of the equations.
    passive : array of bool, shape (s, n) [-]
        Unknowns that are solved for.

    Returns
    -------
    array, shape (s, n) [-]
        Scaled solutions.

    Examples
    --------
    >>> gram = np.array([[1.0, 0.5], [0.5, 1.0]])[:, :, None]
    >>> right = np.array([[2.0], [1.0]])
    >>> normal = scaled(gram, right, np.ones((2, 1), bool))
    >>> solve_passive(normal, right, np.array([[True], [False]]))[:, 0].round(6).tolist()
    [2.0, 0.0]
    """
    return substitute(factored(normal, passive), right * passive)


def passive_inverse(normal: Normal, passive: Bools) -> Floats:
    """Give the inverse of the passive part of every matrix.

    Parameters
    ----------
    normal : Normal [-]
        Scaled equations.
    passive : array of bool, shape (s, n) [-]
        Rows and columns to invert.

    Returns
    -------
    array, shape (s, s, n) [-]
        Inverses; zero outside the passive part.

    Examples
    --------
    >>> gram = np.array([[1.0, 0.6], [0.6, 1.0]])[:, :, None]
    >>> normal = scaled(gram, np.ones((2, 1)), np.ones((2, 1), bool))
    >>> passive_inverse(normal, np.ones((2, 1), bool))[:, :, 0].round(4).tolist()
    [[1.5625, -0.9375], [-0.9375, 1.5625]]
    """
    size, count = passive.shape
    factor = factored(normal, passive)
    result = np.zeros((size, size, count))
    for j in range(size):
        result[j, j] = passive[j]
        substitute(factor, result[j])
    return result
