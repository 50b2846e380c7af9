"""An engine's own history as a wear rate that nobody sees, judged one step ahead.

Each engine has a level of its own, drawn towards its family's; each interval scatters around it;
each reported rate adds its error, its rounding or its reporting limit. A next result is judged by
what the earlier ones of the same engine, and the family, let one expect. The level of an engine
does not drift in this model, on purpose: a drift is what is to be found, and a level that followed
it would call slow wear normal. It starts anew with new shells.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from oiltrend.errors import ValueRefused
from oiltrend.limits.latent_filter import Engines, engine_blocks, step_through, upper_limit
from oiltrend.limits.latent_grid import LogGrid
from oiltrend.limits.latent_learning import FamilyLevel, Priors, learn_family
from oiltrend.limits.latent_readings import RateReadings, rate_readings

__all__ = ["FamilyLevel", "OneStepAhead", "Priors", "RateReadings", "follow_rates",
           "learn_levels", "levels_from_plain", "levels_to_plain", "rate_readings"]

Floats = NDArray[np.float64]

_KEPT = ("level", "spread", "scatter", "scatters", "start")


@dataclass(frozen=True, slots=True)
class OneStepAhead:
    """What was to be expected of every interval before it was seen, and how it compares.

    Parameters
    ----------
    exceedance : array, shape (n, m) [-]
        Chance of a result at or above this one; a reading beyond a reporting limit counts by the
        middle of what it may be. NaN where nothing was reported.
    residual : array, shape (n, m) [-]
        The same as a normal score: independent and standard normal for an unchanged engine.
    centre, spread : array, shape (n, m) [-]
        Mean and standard deviation of the logarithm of the true rate that was expected.
    earlier : array of int, shape (n, m) [-]
        Earlier intervals of the engine with a reading.
    limit : array, shape (c, r, m) [any]
        Upper limits of the rows asked for, one layer per share.
    """

    exceedance: Floats
    residual: Floats
    centre: Floats
    spread: Floats
    earlier: NDArray[np.int64]
    limit: Floats


def _check(readings: RateReadings, starts: ArrayLike, family: ArrayLike
           ) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    first, code = np.asarray(starts, dtype=np.intp), np.asarray(family, dtype=np.intp)
    rows = len(readings.low)
    if first.ndim != 1 or first.shape != code.shape or (len(first) and (
            first[0] != 0 or (np.diff(first, append=rows) < 1).any())):
        raise ValueRefused(
            f"starts: must begin at 0 and rise to less than the number of rows ({rows}), one for "
            f"each of {code.size} engines, found {first.tolist()[:8]}",
            hint="give the first row of each engine that has rows, and its family")
    return first, code


def learn_levels(readings: RateReadings, starts: ArrayLike, family: ArrayLike, *,
                 priors: Priors | None = None) -> tuple[FamilyLevel, ...]:
    """Learn what the engines of each family have in common.

    Equation: as :func:`~oiltrend.limits.latent_learning.learn_family`.

    Parameters
    ----------
    readings : RateReadings [-]
        Rates of the fleet, a long table sorted by engine, then use.
    starts : array of int, shape (k,) [-]
        First row of each engine; no engine may be empty.
    family : array of int, shape (k,) [-]
        Family of each engine, from 0; engines of one family count in one unit of use.
    priors : Priors [-]
        What is taken for likely before a family has spoken.

    Returns
    -------
    tuple of FamilyLevel [-]
        One for each family.

    Raises
    ------
    ValueRefused
        When ``starts`` or ``family`` do not fit the rows.

    Examples
    --------
    >>> told = rate_readings([[3.0], [4.0], [2.0], [1.0], [0.0], [1.0]], 0.5)
    >>> [levels] = learn_levels(told, [0, 3], [0, 0])
    >>> levels.engines, levels.others.shape
    (array([2]), (2, 1, 5, 64))
    """
    first, code = _check(readings, starts, family)
    return tuple(learn_family(readings, first, np.flatnonzero(code == number), priors=priors)
                 for number in range(int(code.max(initial=-1)) + 1))


def _asked(limits_for: ArrayLike | None, rows: int) -> NDArray[np.bool_]:
    if limits_for is None:
        return np.zeros(rows, dtype=bool)
    asked = np.asarray(limits_for, dtype=bool)
    if asked.shape != (rows,):
        raise ValueRefused(f"limits_for: must have one entry for each of {rows} rows, found shape "
                           f"{asked.shape}", hint="give True for the rows that need a limit")
    return asked


class _Result:
    """Where the forecasts of all families are gathered."""

    def __init__(self, readings: RateReadings, asked: NDArray[np.bool_],
                 shares: Sequence[float]) -> None:
        rows, measurands = readings.low.shape
        self.readings, self.shares = readings, shares
        self.exceedance, self.centre, self.spread = np.full((3, rows, measurands), np.nan)
        self.earlier = np.zeros((rows, measurands), dtype=np.int64)
        self.asked, self.place = asked, np.cumsum(asked) - 1
        self.limit = np.full((len(shares), int(asked.sum()), measurands), np.nan)

    def take(self, level: FamilyLevel, block: Engines, start: NDArray[np.float32]) -> None:
        """Follow one block of engines."""
        seen = np.zeros((len(block.place), self.earlier.shape[1]), dtype=np.int64)
        for forecast in step_through(level.grid, level.scatters, start, self.readings, block):
            rows = block.rows[:forecast.engines, forecast.step]
            self.exceedance[rows] = forecast.exceedance.T
            self.centre[rows], self.spread[rows] = forecast.centre.T, forecast.spread.T
            self.earlier[rows] = seen[:forecast.engines]
            seen[:forecast.engines] += ~np.isnan(forecast.exceedance.T)
            wanted = self.asked[rows]
            if wanted.any():
                chance = forecast.chance[:, wanted]
                readings = self.readings.take(rows[wanted])
                for number, share in enumerate(self.shares):
                    self.limit[number, self.place[rows[wanted]]] = upper_limit(
                        level.grid, chance, readings.fixed().T, readings.relative.T, share).T


def follow_rates(readings: RateReadings, starts: ArrayLike, family: ArrayLike,
                 levels: Sequence[FamilyLevel], *, learned_here: bool = False,
                 limits_for: ArrayLike | None = None, shares: Sequence[float] = ()
                 ) -> OneStepAhead:
    """Judge every interval by the earlier ones of its engine, and by its family.

    Equation: as :func:`~oiltrend.limits.latent_filter.step_through`; the limit for a share p is
    the rate that the next reading of an unchanged engine stays below with chance p.

    Parameters
    ----------
    readings : RateReadings [-]
        Rates of the fleet, or of a single engine. A row without a rate but with an uncertainty
        stands for a result that is still to come; it can have a limit.
    starts : array of int, shape (k,) [-]
        First row of each engine; no engine may be empty.
    family : array of int, shape (k,) [-]
        Place of each engine's family in ``levels``.
    levels : sequence of FamilyLevel [-]
        From :func:`learn_levels`.
    learned_here : bool [-]
        True when the levels were learned from these very engines: in a family of few, each is
        then judged by the others only.
    limits_for : array of bool, shape (n,), or None [-]
        Rows for which limits are wanted.
    shares : sequence of float [-]
        Chances of staying below, one limit each.

    Returns
    -------
    OneStepAhead [-]
        One entry per row and measurand.

    Raises
    ------
    ValueRefused
        When ``starts``, ``family`` or ``limits_for`` do not fit the rows, a share is not between 0
        and 1, or levels said to be learned here come from another number of engines.

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> rate = np.exp(rng.normal(1.0, 0.4, 100).repeat(8) + rng.normal(0.0, 0.2, 800))
    >>> rate[-1] *= 3.0
    >>> told, first, family = rate_readings(rate[:, None], 0.3), np.arange(0, 800, 8), [0] * 100
    >>> seen = follow_rates(told, first, family, learn_levels(told, first, family))
    >>> seen.residual[-3:, 0].round(1)
    array([-0.4, -0. ,  6. ])
    """
    first, code = _check(readings, starts, family)
    if not all(0.0 < share < 1.0 for share in shares):
        raise ValueRefused(f"shares: must be between 0 and 1, found {list(shares)}",
                           hint="give shares such as 0.995")
    if len(code) and not 0 <= code.min() <= code.max() < len(levels):
        raise ValueRefused(
            f"family: must be places in the {len(levels)} levels given, found {code.min()} to "
            f"{code.max()}", hint="learn the levels of every family first")
    counts = np.diff(first, append=len(readings.low))
    result = _Result(readings, _asked(limits_for, len(readings.low)), shares)
    for number, level in enumerate(levels):
        engines = np.flatnonzero(code == number)
        if not len(engines):
            continue
        own = level.others if learned_here else None
        if own is not None and len(own) != len(engines):
            raise ValueRefused(
                f"levels: family {number} was learned from {len(own)} engines, found "
                f"{len(engines)}", hint="leave learned_here out, or learn from these engines")
        for block in engine_blocks(first, counts, engines, level.start.size):
            start = level.start if own is None else own[np.searchsorted(engines, block.place)]
            result.take(level, block, start)
    return OneStepAhead(result.exceedance, -ndtri(result.exceedance), result.centre,
                        result.spread, result.earlier, result.limit)


def levels_to_plain(level: FamilyLevel) -> dict[str, Any]:
    """Turn what was learned of a family into plain lists, fit for JSON.

    Parameters
    ----------
    level : FamilyLevel [-]
        What was learned.

    Returns
    -------
    dict [-]
        Lists of numbers, None for what is not known; the engines' own parts are left out.

    Examples
    --------
    >>> told = rate_readings([[3.0], [4.0]], 0.5)
    >>> levels_to_plain(learn_levels(told, [0], [0])[0])["engines"]
    [1]
    """
    plain = {name: np.asarray(getattr(level, name), dtype=float).round(7).tolist()
             for name in _KEPT}
    for name in ("level", "spread", "scatter"):  # what nobody reported is null, not NaN
        plain[name] = [number if number == number else None for number in plain[name]]
    return plain | {"engines": level.engines.tolist(), "floored": level.floored.tolist(),
                    "grid_low": level.grid.low.tolist(), "grid_step": level.grid.step.tolist()}


def levels_from_plain(plain: Mapping[str, Any]) -> FamilyLevel:
    """Turn plain lists back into what was learned of a family.

    Parameters
    ----------
    plain : mapping [-]
        From :func:`levels_to_plain`.

    Returns
    -------
    FamilyLevel [-]
        Good for judging any engine of the family.

    Raises
    ------
    ValueRefused
        When a list is missing.

    Examples
    --------
    >>> told = rate_readings([[3.0], [4.0]], 0.5)
    >>> [level] = learn_levels(told, [0], [0])
    >>> levels_from_plain(levels_to_plain(level)).others is None
    True
    """
    wanted = (*_KEPT, "engines", "floored", "grid_low", "grid_step")
    missing = [name for name in wanted if name not in plain]
    if missing:
        raise ValueRefused(f"levels: must hold {', '.join(wanted)}, found none of "
                           f"{', '.join(missing)}", hint="learn the levels of the family again")
    start = np.array(plain["start"], dtype=np.float32)
    numbers = {name: np.array(plain[name], dtype=float) for name in _KEPT[:-1]}
    return FamilyLevel(
        LogGrid(np.array(plain["grid_low"], dtype=float),
                np.array(plain["grid_step"], dtype=float), start.shape[-1]),
        floored=np.array(plain["floored"], dtype=bool), start=start,
        engines=np.array(plain["engines"], dtype=np.int64), **numbers)
