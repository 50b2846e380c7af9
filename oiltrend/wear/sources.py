"""Where the metal came from: a source split of the whole fleet at once.

Two steps. First the metal found is fitted with known sources only, none below zero; what that
leaves over is the diagnosis (:mod:`oiltrend.wear.sources_diagnosis`). Then free terms such as
"copper, other" join in. Each pays for what it takes, by an exponential prior on the share of
its element, so that they take up what the first step cannot explain and little else. The
result is a range per source. Oil cannot tell rod shells from main shells of one material; that
is :func:`oiltrend.wear.sources_shares.share_rods_mains_other`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import Floats, check_range
from oiltrend.wear.sources_diagnosis import diagnose, pair_limits, similar_pairs
from oiltrend.wear.sources_fit import (
    Block,
    Fit,
    bounds_per_row,
    fit,
    free_columns,
    freedom,
    misfit,
    prepare,
)
from oiltrend.wear.sources_input import Found, Signatures
from oiltrend.wear.sources_nnls import Solution
from oiltrend.wear.sources_profile import profile_ends

__all__ = ["FREE_ELEMENTS", "FREE_SHARE", "SourceSplit", "SourceState", "split_sources"]

Bools = NDArray[np.bool_]

FREE_ELEMENTS = ("Cu", "Pb", "Sn")
"""Elements with a term of their own: copper of coolers and bushes, lead and tin that
corrosion or flash set free."""

FREE_SHARE = 0.3
"""Mean share of an element from sources that are not listed, before looking at the oil.
Assumed, no source: a listed source is believed first, at a cost of 2/0.3 = 6.7 in the sum of
squares for an element that has no listed source at all."""

# Rows worked on at once; the figures of a block then stay near the processor.
BLOCK_ROWS = 2048


class SourceState(IntEnum):
    """Whether a source can be spoken of.

    SEEN: yes. NOT_THERE: the engine has none. NOT_SEEN: none of its elements was measured in
    this row.
    """

    SEEN = 0
    NOT_THERE = 1
    NOT_SEEN = 2


@dataclass(frozen=True, slots=True)
class SourceSplit:
    """Metal of n rows by source. Units are those of the metal found.

    Parameters
    ----------
    sources : tuple of str [-]
        The s known sources and then the free terms, named "Cu, other".
    value : array, shape (n, s) [mg/(1000 use) or mg]
        Metal from each source, all elements together; NaN where it cannot be spoken of.
    low, high : array, shape (n, s) [mg/(1000 use) or mg]
        95 % range. At zero the high end is an upper limit. NaN in rows without a range.
    state : array of SourceState, shape (n, s) [-]
        Whether a source can be spoken of.
    known : array, shape (n, k) [mg/(1000 use) or mg]
        The first step: known sources alone.
    residual : array, shape (n, m) [-]
        What the first step leaves over, in standard uncertainties; NaN where not measured.
    known_chi2, known_dof : array, shape (n,) [-]
        Sum of squares and degrees of freedom of the first step.
    chi2, dof : array, shape (n,) [-]
        The same with the free terms.
    note : array of int, shape (n,) [-]
        Flags of :class:`~oiltrend.wear.sources_diagnosis.SplitNote`.
    alike : array of bool, shape (n, s, s) [-]
        Pairs that cannot be told apart with the elements measured; False in rows without a
        range.
    """

    sources: tuple[str, ...]
    value: Floats
    low: Floats
    high: Floats
    state: NDArray[np.int8]
    known: Floats
    residual: Floats
    known_chi2: Floats
    known_dof: NDArray[np.int64]
    chi2: Floats
    dof: NDArray[np.int64]
    note: NDArray[np.int64]
    alike: Bools

    def pairs(self, row: int) -> tuple[tuple[str, str], ...]:
        """Name the pairs of one row that cannot be told apart.

        Parameters
        ----------
        row : int [-]
            Row.

        Returns
        -------
        tuple of pairs of str [-]
            Names of sources, each pair once.
        """
        found = np.argwhere(np.triu(self.alike[row]))
        return tuple((self.sources[j], self.sources[k]) for j, k in found)


def split_sources(
    found: Found, signatures: Signatures, *, free: tuple[str, ...] = FREE_ELEMENTS,
    free_share: float = FREE_SHARE, new_shells: Bools | None = None,
    with_ranges: Bools | None = None,
) -> SourceSplit:
    """Split the metal of every row between its sources.

    Equation: ``min Σ_e (Σ_s x_s F_se − y_e)²/σ_e² + 2 Σ_f x_f/μ_f`` over ``x ≥ 0``, first
    without the free terms f, then with them; ``σ_e² = u_e² + Σ_s x_s² u_se²``; μ the prior
    mean of a free term. Ends of ranges where the least sum has risen by 3.841.

    Parameters
    ----------
    found : Found [-]
        Metal found in n rows, m elements.
    signatures : Signatures [-]
        Known sources.
    free : tuple of str [-]
        Elements with a free term.
    free_share : float [-]
        Prior mean of a free term as a share of the metal found of its element.
    new_shells : array of bool, shape (n,), or None [-]
        Rows of engines whose shells have just gone in; none by default.
    with_ranges : array of bool, shape (n,), or None [-]
        Rows whose ranges and pairs are wanted; all by default. Ranges take most of the time.

    Returns
    -------
    SourceSplit [-]
        Ranges, residuals and codes; a row without a usable element is NaN throughout.

    Raises
    ------
    ValueRefused
        When shapes do not fit or the prior share is not above zero.

    Examples
    --------
    >>> found = Found(("Pb", "Sn", "Cu"), np.array([[28.8, 3.13, 8.07], [0.0, 0.0, 25.0]]),
    ...               np.full((2, 3), 0.5))
    >>> shares = np.array([[[0.88, 0.10, 0.02], [0.24, 0.013, 0.747]]])
    >>> split = split_sources(found, Signatures(("overlay", "lining"), shares, 0 * shares,
    ...                                         np.zeros(2, int)))
    >>> split.sources
    ('overlay', 'lining', 'Cu, other', 'Pb, other', 'Sn, other')
    >>> split.value.round(1).tolist()
    [[30.0, 10.0, 0.0, 0.0, 0.0], [0.0, 0.4, 24.7, 0.0, 0.0]]
    >>> from oiltrend.wear.sources_diagnosis import note_codes
    >>> [note_codes(note) for note in split.note.tolist()]
    [('nothing_unexplained',), ('copper_alone',)]

    References
    ----------
    Watson, Cooper and Huntzicker, Atmos. Environ. 18 (1984) 1347 (effective variance).
    """
    rows, elements = found.value.shape
    _check(found, signatures, free_share)
    columns = free_columns(found.elements, free)
    known, size = len(signatures.sources), len(signatures.sources) + len(columns)
    value, low, high = np.full((3, rows, size), np.nan)
    known_chi2, chi2 = np.full((2, rows), np.nan)
    known_dof, dof, note = np.zeros((3, rows), dtype=np.int64)
    result = SourceSplit(
        (*signatures.sources, *(f"{found.elements[c]}, other" for c in columns)),
        value, low, high, np.zeros((rows, size), dtype=np.int8), np.full((rows, known), np.nan),
        np.full((rows, elements), np.nan), known_chi2, known_dof, chi2, dof, note,
        np.zeros((rows, size, size), dtype=bool))
    new = np.zeros(rows, dtype=bool) if new_shells is None else new_shells
    wanted = np.ones(rows, dtype=bool) if with_ranges is None else with_ranges
    # A loop over blocks of rows, so that no intermediate figure is as large as the fleet; rows
    # with as many bounds go together, because every bound is an unknown more for all of them.
    order = np.argsort(bounds_per_row(found), kind="stable")
    for first in range(0, rows, BLOCK_ROWS):
        part = order[first:first + BLOCK_ROWS]
        block = prepare(found, signatures, part, free=columns, free_share=free_share)
        both = _fill(result, part, block, known, columns, found.elements, new[part])
        _fill_ranges(result, part, block, both, wanted[part])
    return result


def _check(found: Found, signatures: Signatures, free_share: float) -> None:
    rows, elements = found.value.shape
    if signatures.shares.shape[2] != elements:
        raise ValueRefused(f"shares: must have the {elements} elements of the metal found, "
                           f"found {signatures.shares.shape[2]}",
                           hint="lay the signatures out over the same elements")
    if signatures.kind.shape != (rows,):
        raise ValueRefused(f"kind: must have one number per row, {rows} rows, found shape "
                           f"{signatures.kind.shape}", hint="give an array of shape (n,)")
    check_range("free_share", free_share)
    if free_share == 0.0:
        raise ValueRefused("free_share: must be above zero, found 0",
                           hint="give no free terms instead")


def _fill(result: SourceSplit, part: NDArray[np.int64], block: Block, known: int,
          columns: NDArray[np.int64], elements: tuple[str, ...], new: Bools) -> Fit:
    """Work out both steps of one block; give the second."""
    every = np.ones(block.penalty.shape, dtype=bool)
    first = fit(block, every & (np.arange(len(every)) < known)[:, None], prior=False)
    residual, chi2 = misfit(block, first)
    blank = ~(block.exact | block.bounded).any(axis=0)
    result.residual[part] = residual.T
    result.known[part] = np.where(block.seen[:known], first.amount[:known], np.nan).T
    result.known_chi2[part] = np.where(blank, np.nan, chi2)
    result.known_dof[part] = freedom(block, first)
    result.note[part] = diagnose(block, first, known, columns, elements, new)
    both = fit(block, every, prior=True, amount=first.amount)
    chi2 = misfit(block, both)[1]
    result.chi2[part], result.dof[part] = np.where(blank, np.nan, chi2), freedom(block, both)
    result.value[part] = np.where(block.seen, both.amount, np.nan).T
    result.state[part] = np.where(block.seen, int(SourceState.SEEN), np.where(
        block.there, int(SourceState.NOT_SEEN), int(SourceState.NOT_THERE))).T
    return both


def _fill_ranges(result: SourceSplit, part: NDArray[np.int64], block: Block, both: Fit,
                 wanted: Bools) -> None:
    """Work out ranges and pairs of the rows that want them."""
    rows = np.flatnonzero(wanted & block.seen.any(axis=0))
    if not len(rows):
        return
    normal, solution = both.normal, both.solution
    some = normal.some(rows)
    at = Solution(solution.x.take(rows, axis=1), solution.passive.take(rows, axis=1))
    slacks = len(block.bound)
    low, high = profile_ends(some, at, np.arange(slacks, len(normal.right)))
    scale = some.scale[slacks:]
    where = part[rows]
    result.low[where], result.high[where] = (low * scale).T, (high * scale).T
    part_of_block = block.some(rows)
    weight = pair_limits(part_of_block, both.weight[:, rows])
    result.alike[where] = similar_pairs(part_of_block, weight, both.amount[:, rows])
