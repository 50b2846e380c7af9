"""What the known sources cannot explain, as codes.

The residual of the fit to known sources is asked one question after another: would metal of
this element alone, from somewhere else, explain it? The element that explains most is taken
first, and the others are asked again about what is then left.
"""

from __future__ import annotations

from enum import IntFlag

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from oiltrend.wear.arrays import Floats
from oiltrend.wear.sources_fit import Block, Fit, freedom, misfit, refit
from oiltrend.wear.sources_profile import RISE_95

__all__ = ["GAIN_99", "SplitNote", "diagnose", "note_codes", "pair_limits", "similar_pairs"]

Bools = NDArray[np.bool_]

GAIN_99 = 6.635
"""Fall of the sum of squares that one more source must bring to be named: chi-squared, one
degree of freedom, 1 %, because several are tried."""

# A layer holds an element when at least this share of it is that element; assumed.
HOLDS = 0.05
# Cosine between weighted signatures from which one source can stand in for another; assumed.
ALIKE = 0.8


class SplitNote(IntFlag):
    """What a row's residual says. No flag: everything measured is explained.

    NOTHING_MEASURED: no element of the row can be used. NOT_CHECKED: no more elements than
    sources, so that the fit cannot contradict itself. COPPER_ALONE: copper that lead and tin
    do not bear out is not lining; a cooler or a bush. LEAD_ALONE: lead without the tin or
    indium or copper that it is alloyed with, as corrosion takes it. LEAD_FOREIGN: lead that no
    fitted layer holds. TIN_FLASH: tin alone while the shells are new. TIN_ALONE: tin alone
    later. OTHER_ALONE: another element with a free term. UNEXPLAINED: a misfit that no single
    element explains.
    """

    NOTHING_MEASURED = 1
    NOT_CHECKED = 2
    COPPER_ALONE = 4
    LEAD_ALONE = 8
    LEAD_FOREIGN = 16
    TIN_FLASH = 32
    TIN_ALONE = 64
    OTHER_ALONE = 128
    UNEXPLAINED = 256


def note_codes(note: int) -> tuple[str, ...]:
    """Name the flags of a row.

    Parameters
    ----------
    note : int [-]
        Flags as in :class:`SplitNote`.

    Returns
    -------
    tuple of str [-]
        Codes in lower case; ``nothing_unexplained`` where no flag is set.

    Examples
    --------
    >>> note_codes(4 | 256), note_codes(0)
    (('copper_alone', 'unexplained'), ('nothing_unexplained',))
    """
    names = tuple(str(flag.name).lower() for flag in SplitNote if note & flag)
    return names or ("nothing_unexplained",)


def _flag(block: Block, element: int, symbol: str, new_shells: Bools, known: int
          ) -> NDArray[np.int64]:
    """Say what it means, row by row, that this element stands alone."""
    rows = block.value.shape[1]
    if symbol == "Cu":
        return np.full(rows, int(SplitNote.COPPER_ALONE))
    if symbol == "Pb":
        held = (block.shares[:known, element] >= HOLDS).any(axis=0)
        return np.where(held, int(SplitNote.LEAD_ALONE), int(SplitNote.LEAD_FOREIGN))
    if symbol == "Sn":
        return np.where(new_shells, int(SplitNote.TIN_FLASH), int(SplitNote.TIN_ALONE))
    return np.full(rows, int(SplitNote.OTHER_ALONE))


def diagnose(block: Block, first: Fit, known: int, free: NDArray[np.int64],
             elements: tuple[str, ...], new_shells: Bools) -> NDArray[np.int64]:
    """Say what the known sources leave unexplained.

    Equation: an element is named when ``χ²(known) − χ²(known + element) ≥ 6.635``, with the
    weights of the first fit; the one with the largest fall first, then again with it included.

    Parameters
    ----------
    block : Block [-]
        The rows.
    first : Fit [-]
        The fit to known sources.
    known : int [-]
        Number of known sources.
    free : array of int, shape (f,) [-]
        Columns with a free term.
    elements : tuple of str [-]
        Symbols of the columns.
    new_shells : array of bool, shape (n,) [-]
        Rows of engines whose shells have just gone in.

    Returns
    -------
    array of int, shape (n,) [-]
        Flags as in :class:`SplitNote`.

    Examples
    --------
    >>> from oiltrend.wear.sources_fit import fit, prepare
    >>> from oiltrend.wear.sources_input import Found, Signatures
    >>> found = Found(("Pb", "Cu"), np.array([[0.0, 25.0]]), np.ones((1, 2)))
    >>> lining = Signatures(("lining",), np.array([[[0.25, 0.75]]]), np.zeros((1, 1, 2)),
    ...                     np.zeros(1, int))
    >>> block = prepare(found, lining, np.arange(1), free=np.array([1]), free_share=0.3)
    >>> only = fit(block, np.array([[True], [False]]), prior=False)
    >>> note_codes(int(diagnose(block, only, 1, np.array([1]), found.elements,
    ...                         np.array([False]))[0]))
    ('copper_alone',)
    """
    chi2, dof = misfit(block, first)[1], freedom(block, first)
    note = np.zeros(len(chi2), dtype=np.int64)
    note[dof < 1] |= int(SplitNote.NOT_CHECKED)
    note[~(block.exact | block.bounded).any(axis=0)] = int(SplitNote.NOTHING_MEASURED)
    rows = np.flatnonzero(chi2 >= GAIN_99)
    part = block.some(rows)
    allowed = np.repeat((np.arange(len(block.shares)) < known)[:, None], len(rows), axis=1)
    left, spare = chi2[rows], dof[rows]
    # Each turn names one element in the rows that still need one.
    for _ in range(len(free)):
        if not len(rows):
            break
        sums = _with_each(part, first.weight[:, rows], allowed,
                          first.solution.passive[:, rows], known)
        gain = left - sums
        best = np.argmax(gain, axis=0)
        named = np.flatnonzero(gain.max(axis=0) >= GAIN_99)
        for term in np.unique(best[named]):
            which = named[best[named] == term]
            note[rows[which]] |= _flag(part.some(which), int(free[term]),
                                       elements[free[term]], new_shells[rows[which]], known)
        done = np.setdiff1d(np.arange(len(rows)), named)
        note[rows[done]] |= _misfit_flag(left[done], spare[done])
        allowed[known + best[named], named] = True
        left = left - gain.max(axis=0)
        part, allowed = part.some(named), allowed[:, named]
        rows, left, spare = rows[named], left[named], spare[named] - 1
    note[rows] |= _misfit_flag(left, spare)
    return note


def _with_each(block: Block, weight: Floats, allowed: Bools, passive: Bools, known: int
               ) -> Floats:
    """Give the sum of squares that each free term, taken in alone, would leave."""
    sums = np.empty((len(allowed) - known, allowed.shape[1]))
    for place, term in enumerate(range(known, len(allowed))):
        wider, start = allowed.copy(), passive.copy()
        wider[term] = start[len(block.bound) + term] = True
        sums[place] = misfit(block, refit(block, weight, wider, prior=False, start=start))[1]
    return sums


def _misfit_flag(chi2: Floats, dof: NDArray[np.int64]) -> NDArray[np.int64]:
    """Flag a misfit beyond the 99 % point of chi-squared."""
    limit = chdtri(np.maximum(dof, 1), 0.01)
    return np.where((dof >= 1) & (chi2 > limit), int(SplitNote.UNEXPLAINED), 0)


def pair_limits(block: Block, weight: Floats) -> Floats:
    """Weigh every cell by how well it can part two sources: bounds by their width.

    Parameters
    ----------
    block : Block [-]
        The rows.
    weight : array, shape (m, n) [any]
        One over the effective variance.

    Returns
    -------
    array, shape (m, n) [any]
        ``1/(σ² + width²/12)``; 0 for cells not measured and open intervals.

    Examples
    --------
    >>> from oiltrend.wear.sources_fit import prepare
    >>> from oiltrend.wear.sources_input import Found, Signatures
    >>> found = Found(("Pb",), np.array([[np.nan]]), np.ones((1, 1)), np.zeros((1, 1)),
    ...               np.full((1, 1), 6.0))
    >>> known = Signatures(("overlay",), np.array([[[0.88]]]), np.zeros((1, 1, 1)),
    ...                    np.zeros(1, int))
    >>> block = prepare(found, known, np.arange(1), free=np.array([], int), free_share=0.3)
    >>> pair_limits(block, np.ones((1, 1))).tolist()
    [[0.25]]
    """
    return np.asarray(weight / (1.0 + weight * block.width**2 / 12.0))


def similar_pairs(block: Block, weight: Floats, amount: Floats) -> Bools:
    """Find pairs of sources that cannot be told apart with the elements measured.

    Equation: with ``X_j = x_j √(F_j W F_jᵀ)``, the metal of a source in standard uncertainties,
    and c the cosine between two weighted signatures, k can stand in for j when
    ``X_j² (1 − c²) < 3.841`` and ``c ≥ 0.8``. A pair is alike when one can stand in for the
    other and the metal of that other is there (``X_j² ≥ 3.841``), or when each can stand in
    for the other and their metal together is there (``(X_j + c X_k)² ≥ 3.841``). What only a
    mixture of several sources could replace shows in the ranges, not here.

    Parameters
    ----------
    block : Block [-]
        The rows.
    weight : array, shape (m, n) [any]
        Weights from :func:`pair_limits`.
    amount : array, shape (s, n) [any]
        Amount from each source.

    Returns
    -------
    array of bool, shape (n, s, s) [-]
        Symmetric; False on the diagonal and for sources not seen.

    Examples
    --------
    >>> from oiltrend.wear.sources_fit import fit, prepare
    >>> from oiltrend.wear.sources_input import Found, Signatures
    >>> found = Found(("Fe", "Pb"), np.array([[9.0, 1.0]]), np.ones((1, 2)))
    >>> two = Signatures(("journal", "bore"), np.array([[[0.97, 0.0], [0.93, 0.0]]]),
    ...                  np.zeros((1, 2, 2)), np.zeros(1, int))
    >>> block = prepare(found, two, np.arange(1), free=np.array([1]), free_share=0.3)
    >>> amount = fit(block, block.seen, prior=True).amount
    >>> similar_pairs(block, np.ones((2, 1)), amount)[0].astype(int).tolist()
    [[0, 1, 0], [1, 0, 0], [0, 0, 0]]
    """
    length = np.sqrt(np.einsum("smn,mn->sn", block.shares**2, weight))
    unit = block.shares * np.sqrt(weight) / np.where(length > 0.0, length, 1.0)[:, None]
    cosine = np.einsum("smn,tmn->nst", unit, unit)
    signal = (amount * length).T
    one, other = signal[:, :, None], signal[:, None, :]
    stands_in = (one**2 * (1.0 - cosine**2) < RISE_95) & (cosine >= ALIKE)
    replaced = stands_in & (one**2 >= RISE_95)
    either = stands_in & stands_in.transpose(0, 2, 1) & ((one + cosine * other) ** 2 >= RISE_95)
    alike = replaced | either
    pairs: Bools = (alike | alike.transpose(0, 2, 1)) & ~np.eye(len(block.shares), dtype=bool)
    return pairs
