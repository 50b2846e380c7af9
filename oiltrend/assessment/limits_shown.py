"""The limits as they stand for one engine, for its page: fixed, population, own."""

from __future__ import annotations

from oiltrend.assessment.fixed import FixedLimits, limits_in_force
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.own_history import own_limits_of
from oiltrend.assessment.population import FleetContext, population_group
from oiltrend.assessment.results import AppliedLimit
from oiltrend.assessment.settings import JUDGED_METALS
from oiltrend.assessment.work import Worked
from oiltrend.nomenclature import PANEL_INDEX

__all__ = ["applied_limits"]


def applied_limits(fleet: FleetInput, worked: Worked, fixed: FixedLimits, context: FleetContext,
                   engine: int) -> tuple[AppliedLimit, ...]:
    """List every limit that an engine was judged by, and those that could not be given.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    fixed : FixedLimits [-]
        Fixed limits.
    context : FleetContext [-]
        Population limits.
    engine : int [-]
        Row in the engine table.

    Returns
    -------
    tuple of AppliedLimit [-]
        Fixed, then population, then own.
    """
    family = fleet.engines.family[engine]
    shown = [AppliedLimit(limit.measurand, limit.quantity, limit.level, limit.operator,
                          limit.value, "fixed", limit.source, None)
             for limit in limits_in_force(fixed.limits, family, fleet.as_of)]
    row = int(worked.latest[engine])
    if row < 0:
        return tuple(shown)
    measured = {symbol for symbol in JUDGED_METALS
                if worked.readings.measured[row, PANEL_INDEX[symbol]]}
    group = population_group(family, fleet.samples.method[row], fleet.engines.meter_unit[engine])
    for symbol, levels in context.groups.get(group, {}).items():
        if symbol in measured:
            shown += [AppliedLimit(symbol, "wear_rate", level, ">", known.value,  # type: ignore[arg-type]
                                   "population", group, known.n, known.note)
                      for level, known in levels.items()]
    shown += own_limits_of(fleet, worked, engine)
    return tuple(shown)
