"""Limits learned from the shop's own engines: one wear rate per engine, its latest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.evidence_rows import Piece, ratio_to_limit
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.settings import JUDGED_METALS
from oiltrend.assessment.work import Worked
from oiltrend.limits.population import PopulationState, population_limits
from oiltrend.nomenclature import PANEL, PANEL_INDEX

__all__ = ["FleetContext", "GroupLimit", "learn_context", "population_group", "population_pieces"]

_METALS = np.array([PANEL_INDEX[symbol] for symbol in JUDGED_METALS])
_LEVELS: tuple[Literal["alert", "alarm"], ...] = ("alert", "alarm")


@dataclass(frozen=True, slots=True)
class GroupLimit:
    """Population limit of one group, metal and level; None with a note where there is none."""

    value: float | None
    lower: float | None
    upper: float | None
    n: int
    note: str


@dataclass(frozen=True, slots=True)
class FleetContext:
    """What the fleet as a whole tells about one engine. Keys: group, symbol, level."""

    groups: Mapping[str, Mapping[str, Mapping[str, GroupLimit]]]

    def as_document(self) -> dict[str, Any]:
        """Give the context as plain values, ready for JSON.

        Returns
        -------
        dict [-]
            Nested dicts.
        """
        return {group: {symbol: {level: [g.value, g.lower, g.upper, g.n, g.note]
                                 for level, g in levels.items()}
                        for symbol, levels in symbols.items()}
                for group, symbols in self.groups.items()}

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> FleetContext:
        """Read a context back.

        Parameters
        ----------
        document : mapping [-]
            As :meth:`as_document` gave it.

        Returns
        -------
        FleetContext [-]
            The context.
        """
        return cls({group: {symbol: {level: GroupLimit(*entry) for level, entry in levels.items()}
                            for symbol, levels in symbols.items()}
                    for group, symbols in document.items()})


def population_group(family: str, method: str, meter_unit: str) -> str:
    """Name the population of a sample: only one family, method and kind of meter are mixed.

    Parameters
    ----------
    family, method, meter_unit : str [-]
        Engine family, test method of the sample, and km, mi or h.

    Returns
    -------
    str [-]
        Key of the group.

    Examples
    --------
    >>> population_group("AQ-V8-40", "ASTM D5185", "mi")
    'AQ-V8-40 | ASTM D5185 | km'
    """
    return f"{family} | {method or 'method not told'} | {'h' if meter_unit == 'h' else 'km'}"


def _groups_of(fleet: FleetInput, rows: NDArray[np.int64]) -> list[str]:
    engine = fleet.engine_of[rows]
    return [population_group(family, method, unit) for family, method, unit in zip(
        fleet.engines.family[engine].tolist(), fleet.samples.method[rows].tolist(),
        fleet.engines.meter_unit[engine].tolist(), strict=True)]


def learn_context(fleet: FleetInput, worked: Worked) -> FleetContext:
    """Learn the population limits of a whole fleet.

    Parameters
    ----------
    fleet : FleetInput [-]
        The whole fleet.
    worked : Worked [-]
        Its rates.

    Returns
    -------
    FleetContext [-]
        Limits by group, metal and level.
    """
    rows = worked.latest[worked.latest >= 0]
    if not len(rows):
        return FleetContext({})
    names, code = np.unique(np.array(_groups_of(fleet, rows)), return_inverse=True)
    cells = np.ix_(rows, _METALS)
    below = worked.readings.below[cells]
    value = np.where(below, worked.ledger.wear.high[cells], worked.ledger.wear.rate[cells])
    settings = fleet.settings
    found: dict[str, dict[str, dict[str, GroupLimit]]] = {
        str(name): {symbol: {} for symbol in JUDGED_METALS} for name in names}
    shares = (settings.population_alert, settings.population_alarm)
    for level, share in zip(_LEVELS, shares, strict=True):
        result = population_limits(value, below, code, share=share,
                                   confidence=settings.population_confidence)
        for group, name in enumerate(names):
            for column, symbol in enumerate(JUDGED_METALS):
                found[str(name)][symbol][level] = _group_limit(
                    result.limit[group, column], result.lower[group, column],
                    result.upper[group, column], int(result.n_engines[group, column]),
                    int(result.state[group, column]), result.needed)
    return FleetContext(found)


def _group_limit(limit: float, lower: float, upper: float, n: int, state: int, needed: int
                 ) -> GroupLimit:
    if state == PopulationState.ENOUGH and np.isfinite(limit):
        return GroupLimit(float(limit), _known(lower), _known(upper), n, "")
    if state == PopulationState.BELOW_REPORTING_LIMIT:
        return GroupLimit(None, None, None, n, "the limit would lie below the reporting limit")
    return GroupLimit(None, None, None, n, f"not enough records yet: {n} of {needed} engines")


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def population_pieces(rows: NDArray[np.int64], fleet: FleetInput, worked: Worked,
                      context: FleetContext) -> list[Piece]:
    """List the wear rates that lie beyond the limits of their population.

    Parameters
    ----------
    rows : array, shape (j,) [-]
        Sample rows to judge.
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    context : FleetContext [-]
        Population limits.

    Returns
    -------
    list of Piece [-]
        One for each rate beyond a limit.
    """
    if not len(rows):
        return []
    names, code = np.unique(np.array(_groups_of(fleet, rows)), return_inverse=True)
    bound = np.full((len(names), len(_LEVELS), len(_METALS)), np.nan)
    for group, name in enumerate(names):
        for column, symbol in enumerate(JUDGED_METALS):
            for place, level in enumerate(_LEVELS):
                known = context.groups.get(str(name), {}).get(symbol, {}).get(level)
                if known is not None and known.value is not None:
                    bound[group, place, column] = known.value
    cells = np.ix_(rows, _METALS)
    rate, low = worked.ledger.wear.rate[cells], worked.ledger.wear.low[cells]
    pieces = []
    for place, level in enumerate(_LEVELS):
        with np.errstate(invalid="ignore"):
            # A rate that its own interval does not tell from nothing is not called high.
            beyond = (rate > bound[code, place]) & (low > 0)
        share = (fleet.settings.population_alert, fleet.settings.population_alarm)[place]
        for index, column in zip(*np.nonzero(beyond), strict=True):
            row, limit = int(rows[index]), float(bound[code[index], place, column])
            value, symbol = float(rate[index, column]), JUDGED_METALS[column]
            n = context.groups[str(names[code[index]])][symbol][level].n
            hours = fleet.samples.meter_unit[row] == 1
            pieces.append(Piece(
                row, "population", level, PANEL.index(symbol), "wear_rate", value,
                f"mg per 1000 {'h' if hours else 'km'}", ">", limit, "population",
                f"{100 * share:g} of 100 engines lie below", n,
                ratio_to_limit(value, limit, ">")))
    return pieces
