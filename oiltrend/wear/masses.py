"""The oil-mass side of an interval: what is known of use, masses, top-ups and losses.

Every figure of a workshop comes with a half range: a dipstick that nobody read, a top-up
that nobody wrote down, a loss of which nobody knows how much was burnt and how much went up
as vapour. This module turns such rows into the linear solution for the generation rate and
into how far that solution moves when one of the figures is wrong. It knows no measurand.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import FloatLike, Floats, check_range, check_rows
from oiltrend.wear.transfer import Transfer, compose, lump, segment

__all__ = ["IntervalMasses", "RowNote", "RowSolution", "solve_rows"]

# Assumed, no source: an engine cannot be run on less than this share of its oil; masses that
# say otherwise contradict themselves.
LEAST_MASS_SHARE = 0.1
# Assumed, no source: undated oil went in at once at most up to this share of the start mass;
# an engine half empty has lost its oil pressure.
MOST_AT_ONCE_SHARE = 0.5
# The loss is a difference of masses, so rounding alone may make it this negative.
ROUNDING = 1e-9


class RowNote(IntEnum):
    """What is to be said about the masses of a row.

    CLEAR: nothing. MASS_GAINED: more oil at the end than was there and went in, even at the
    ends of the ranges; solved with no loss and the gain as fresh oil, and to be doubted. No
    solution: RAN_DRY, the masses leave less than a tenth of the oil on the way; NO_USE, the
    use is not above zero; UNKNOWN, one of the figures is not known.
    """

    CLEAR = 0
    MASS_GAINED = 1
    RAN_DRY = 2
    NO_USE = 3
    UNKNOWN = 4


@dataclass(frozen=True, slots=True)
class IntervalMasses:
    """Use and oil masses of n intervals; one number stands for all rows.

    Parameters
    ----------
    use : array, shape (n,) [use]
        Use on the interval, above zero.
    start_mass : array, shape (n,) [kg]
        Oil in circulation at the start, just after filling or sampling.
    start_mass_half : array, shape (n,) [kg]
        Half range of the start mass.
    end_mass : array, shape (n,) [kg]
        Oil in circulation at the end, just before sampling or draining.
    end_mass_half : array, shape (n,) [kg]
        Half range of the end mass, for instance of a dipstick level that is not known.
    added_mass : array, shape (n,) [kg]
        Fresh oil added on the interval without a date, on top of the dated top-ups.
    added_mass_half : array, shape (n,) [kg]
        Half range of the undated oil; a top-up not recorded is a range, never zero.
    liquid_share : array, shape (n,) [-]
        Share of the loss that left as liquid, 0 to 1; the rest went as vapour.
    liquid_share_half : array, shape (n,) [-]
        Half range of the liquid share; what lies outside 0 to 1 is cut off.
    filter_rate : array, shape (n,) [kg/use]
        Equivalent clean-oil rate of the filter.
    fresh_in_start : array, shape (n,) [-]
        Share of the start concentration that is the same fresh oil: 1 − residue share after
        a change, 0 when the interval starts at a sample. Makes the two uncertainties one.
    top_up_mass : array, shape (n, k), or None [kg]
        Dated top-ups; NaN where a row has fewer than k.
    top_up_position : array, shape (n, k), or None [-]
        Where in the interval each dated top-up was made, 0 start to 1 end.

    Raises
    ------
    ValueRefused
        When shapes do not fit, or a half range, share or position lies outside its range.
    """

    use: FloatLike
    start_mass: FloatLike
    start_mass_half: FloatLike
    end_mass: FloatLike
    end_mass_half: FloatLike
    added_mass: FloatLike
    added_mass_half: FloatLike
    liquid_share: FloatLike
    liquid_share_half: FloatLike
    filter_rate: FloatLike = 0.0
    fresh_in_start: FloatLike = 0.0
    top_up_mass: Floats | None = None
    top_up_position: Floats | None = None

    def __post_init__(self) -> None:
        rows = np.shape(self.use)
        if len(rows) != 1:
            raise ValueRefused(f"use: must have one number per row, found shape {rows}",
                               hint="give an array of shape (n,)")
        for field in fields(self)[1:-2]:
            check_rows(field.name, getattr(self, field.name), rows[0])
        for name in ("liquid_share", "fresh_in_start"):
            check_range(name, getattr(self, name), high=1.0)
        for name in ("start_mass_half", "end_mass_half", "added_mass", "added_mass_half",
                     "liquid_share_half", "filter_rate"):
            check_range(name, getattr(self, name))
        _check_top_ups(self.top_up_mass, self.top_up_position, rows[0])


def _check_top_ups(mass: Floats | None, position: Floats | None, rows: int) -> None:
    if mass is None and position is None:
        return
    if mass is None or position is None or mass.ndim != 2 or mass.shape[0] != rows \
            or mass.shape != position.shape:
        found = [None if given is None else given.shape for given in (mass, position)]
        raise ValueRefused(
            "top_up_mass and top_up_position: must both have one line per row, "
            f"{rows} rows, found shapes {found[0]} and {found[1]}",
            hint="give two arrays of shape (n, k), NaN where there is no top-up")
    if not np.array_equal(np.isnan(mass), np.isnan(position)):
        raise ValueRefused("top_up_mass and top_up_position: a top-up must have both or neither, "
                           "found one without the other",
                           hint="count a top-up without a date in added_mass")
    check_range("top_up_mass", mass)
    check_range("top_up_position", position, high=1.0)


class RowSolution(NamedTuple):
    """The generation rate as a linear form, ``1000·(C_end − p·C_start − r·C_fresh)/q``.

    Parameters
    ----------
    form : array, shape (3, n) [kg/(1000 use)]
        Factors of C_end, −C_start and −C_fresh.
    moves : array, shape (5, 2, 3, n) [kg/(1000 use)]
        Change of the form when start mass, end mass, undated oil, liquid share or the time
        of the undated oil goes to the lower and to the upper end of its range.
    note : array of RowNote, shape (n,) [-]
        What is to be said about the masses.
    """

    form: Floats
    moves: Floats
    note: NDArray[np.int8]


class _Point(NamedTuple):
    """One set of masses that may have been the true one."""

    start: Floats
    end: Floats
    added: Floats
    share: Floats
    early: FloatLike = 0.0
    late: FloatLike = 0.0


class _DatedTopUps(NamedTuple):
    """Dated top-ups column by column in order of position, padded with nothing at the end."""

    mass: list[Floats]
    position: list[Floats]
    total: FloatLike


def _dated(rows: IntervalMasses) -> _DatedTopUps:
    if rows.top_up_mass is None or rows.top_up_position is None:
        return _DatedTopUps([], [], 0.0)
    order = np.argsort(rows.top_up_position, axis=1)
    position = np.take_along_axis(rows.top_up_position, order, axis=1)
    mass = np.nan_to_num(np.take_along_axis(rows.top_up_mass, order, axis=1))
    position = np.where(np.isnan(position), 1.0, position)
    return _DatedTopUps(list(mass.T), list(position.T), mass.sum(axis=1))


def _balance(
    point: _Point, dated: _DatedTopUps, use: Floats, filter_rate: FloatLike
) -> tuple[Transfer, NDArray[np.bool_]]:
    """Follow one set of masses through the interval; also say where the oil ran out."""
    floor = LEAST_MASS_SHARE * point.start
    spread = point.added - point.early - point.late
    # Change per whole interval outside the top-ups, loss included.
    drift = point.end - point.start - dated.total - point.early - point.late
    before_late = np.maximum(point.end - point.late, floor)
    dry = point.end - point.late < floor
    mass, done = point.start + point.early, np.zeros_like(use)
    total = lump(point.start, np.broadcast_to(point.early, use.shape))
    # A loop over the few columns of dated top-ups, whole fleet in each step: a stretch starts
    # from the mass that the one before has left.
    for added, position in zip(dated.mass, dated.position, strict=True):
        step = position - done
        left = mass + drift * step
        dry |= left < floor
        left = np.maximum(left, floor)
        total = compose(total, segment(mass, left, spread * step, use=use * step,
                                       liquid_share=point.share, filter_rate=filter_rate))
        total = compose(total, lump(left, added))
        mass, done = left + added, position
    step = 1.0 - done
    total = compose(total, segment(mass, before_late, spread * step, use=use * step,
                                   liquid_share=point.share, filter_rate=filter_rate))
    return compose(total, lump(before_late, np.broadcast_to(point.late, use.shape))), dry


class _Range(NamedTuple):
    """The two ends of the range of one input, and the point that it is moved from."""

    origin: _Point
    low: _Point
    high: _Point


def _ranges(rows: IntervalMasses, nominal: _Point) -> list[_Range]:
    """Give the range of each input, in the order of :attr:`RowSolution.moves`.

    How the loss left, and when the undated oil went in, matter the more the more was lost.
    These two are therefore moved at the greatest loss that the other ranges make likely;
    at the nominal loss, a small share would hide how far the two can go together.
    """
    def ends(value: Floats, half: FloatLike, least: FloatLike) -> tuple[Floats, Floats]:
        return np.maximum(value - half, least), value + half

    floor = LEAST_MASS_SHARE * nominal.start
    start = ends(nominal.start, rows.start_mass_half, floor)
    end = ends(nominal.end, rows.end_mass_half, floor)
    added = ends(nominal.added, rows.added_mass_half, 0.0)
    share = ends(nominal.share, rows.liquid_share_half, 0.0)
    loss_half = np.sqrt(np.square(rows.start_mass_half) + np.square(rows.end_mass_half)
                        + np.square(rows.added_mass_half))
    lossy = nominal._replace(added=nominal.added + loss_half)
    early = np.minimum(added[1], MOST_AT_ONCE_SHARE * nominal.start)
    late = np.minimum(early, np.maximum(nominal.end - floor, 0.0))
    return [
        _Range(nominal, *(nominal._replace(start=mass) for mass in start)),
        _Range(nominal, *(nominal._replace(end=mass) for mass in end)),
        _Range(nominal, *(nominal._replace(added=mass) for mass in added)),
        _Range(lossy, *(lossy._replace(share=np.minimum(part, 1.0)) for part in share)),
        _Range(lossy, lossy._replace(early=early), lossy._replace(late=late)),
    ]


def _form(transfer: Transfer) -> Floats:
    length = np.where(np.asarray(transfer.q) > 0.0, transfer.q, np.nan)
    return np.stack([1e3 / length, 1e3 * transfer.p / length, 1e3 * transfer.r / length])


def _notes(rows: IntervalMasses, nominal: _Point, dated: _DatedTopUps, use: Floats,
           dry: NDArray[np.bool_]) -> NDArray[np.int8]:
    halves = (rows.start_mass_half, rows.end_mass_half, rows.added_mass_half,
              rows.liquid_share_half, rows.filter_rate, rows.fresh_in_start)
    unknown = np.isnan(use + nominal.start + nominal.end + nominal.added + nominal.share
                       + sum(np.asarray(half, float) for half in halves))
    # Only a gain that the half ranges cannot explain contradicts what was written down.
    slack = (np.asarray(rows.start_mass_half) + rows.end_mass_half + rows.added_mass_half
             + ROUNDING * nominal.start)
    gained = nominal.end - nominal.start - nominal.added - dated.total > slack
    dry = dry | (nominal.start <= 0.0) | (nominal.end <= 0.0)
    note = np.select([unknown, use <= 0.0, dry, gained],
                     [RowNote.UNKNOWN, RowNote.NO_USE, RowNote.RAN_DRY, RowNote.MASS_GAINED],
                     RowNote.CLEAR)
    return note.astype(np.int8)


def solve_rows(rows: IntervalMasses) -> RowSolution:
    """Solve each row for the generation rate, nominally and at the ends of each range.

    Parameters
    ----------
    rows : IntervalMasses [-]
        Use and masses of n intervals.

    Returns
    -------
    RowSolution [-]
        The linear form, how it moves, and a note on each row; NaN where a row has no
        solution.

    Notes
    -----
    Undated oil is taken as added evenly; its time is an input of its own, with "all at the
    start" and "all at the end" as its extremes, each limited to half the start mass (assumed).

    Examples
    --------
    >>> rows = IntervalMasses(np.array([10e3]), 5.0, 0.0, 5.0, 0.0, 2.5, 0.0, 1.0, 0.0)
    >>> solve_rows(rows).form[0].round(4).tolist()
    [0.6354]
    """
    use = np.asarray(rows.use, float)
    nominal = _Point(*(np.broadcast_to(np.asarray(value, float), use.shape) for value in
                       (rows.start_mass, rows.end_mass, rows.added_mass, rows.liquid_share)))
    dated = _dated(rows)

    def form_at(point: _Point) -> Floats:
        return _form(_balance(point, dated, use, rows.filter_rate)[0])

    with np.errstate(invalid="ignore"):
        transfer, dry = _balance(nominal, dated, use, rows.filter_rate)
        form, ranges = _form(transfer), _ranges(rows, nominal)
        lossy = form_at(ranges[-1].origin)
        moves = np.empty((len(ranges), 2, *form.shape))
        # A loop over the five inputs, whole fleet in each step.
        for move, (origin, low, high) in zip(moves, ranges, strict=True):
            at_origin = form if origin is nominal else lossy
            move[:] = form_at(low) - at_origin, form_at(high) - at_origin
        note = _notes(rows, nominal, dated, use, dry)
    form[:, (note != RowNote.CLEAR) & (note != RowNote.MASS_GAINED)] = np.nan
    return RowSolution(form, moves, note)
