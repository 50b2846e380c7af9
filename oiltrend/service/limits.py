"""Uses about limits: see, try, set, look back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oiltrend.assessment.assess import assess
from oiltrend.assessment.fixed import limits_in_force
from oiltrend.assessment.results import Level, Verdict
from oiltrend.assessment.verdicts import order_verdicts
from oiltrend.errors import ValueRefused
from oiltrend.ingest import item_key
from oiltrend.limits.fixed import HANDBOOK
from oiltrend.nomenclature import MEASURANDS, PANEL_INDEX
from oiltrend.records import Caller, Limit
from oiltrend.service.access import require
from oiltrend.service.documents import with_sentences
from oiltrend.service.fleet import local_today, refresh_verdicts
from oiltrend.service.fleet_input import read_fleet_input
from oiltrend.store import LimitVersion, Store

__all__ = ["EffectRow", "LimitEffect", "changed_limits", "limit_history", "limits_of_family",
           "preview_limits", "set_limits", "starting_limits"]


@dataclass(frozen=True, slots=True)
class EffectRow:
    """One engine before and under the limits on trial; places count from 1, most pressing first."""

    engine: str
    family: str
    before: Level | None
    after: Level | None
    place_before: int
    place_after: int
    reason_before: str
    reason_after: str


@dataclass(frozen=True, slots=True)
class LimitEffect:
    """What limits on trial would do: engines in their new order, and counts by level."""

    rows: tuple[EffectRow, ...]
    before: dict[str, int]
    after: dict[str, int]
    changed: int


def starting_limits() -> list[Limit]:
    """Give the set to start with: warning levels of a published handbook, as alerts.

    Boron is left out: the handbook means coolant, but today's oils carry boron as an additive.

    Returns
    -------
    list of Limit [-]
        For every family, on level, with operator and source.
    """
    day = local_today()
    return [Limit("*", row.measurand, "level", "alert", row.operator, row.value, row.source, day)
            for row in HANDBOOK if row.quantity == "level" and not row.applies_to
            and MEASURANDS[PANEL_INDEX[row.measurand]].kind != "additive"]


def limits_of_family(store: Store, caller: Caller, family: str) -> list[Limit]:
    """List the fixed limits that hold for a family today.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.
    family : str [-]
        Family, or ``*`` for the set for every family.

    Returns
    -------
    list of Limit [-]
        In panel order.
    """
    require(caller, "see the fleet")
    return limits_in_force(store.limits(), family, local_today())


def changed_limits(current: Sequence[Limit], changes: Sequence[Limit], *,
                   removed: Sequence[Limit] = ()) -> list[Limit]:
    """Put changes into a set of limits.

    Parameters
    ----------
    current : sequence of Limit [-]
        The set as it is.
    changes : sequence of Limit [-]
        Limits to add, or to put in place of those for the same thing.
    removed : sequence of Limit [-]
        Limits to take out.

    Returns
    -------
    list of Limit [-]
        The new set.
    """
    placed = {item_key(limit): limit for limit in current}
    for limit in removed:
        placed.pop(item_key(limit), None)
    placed.update({item_key(limit): limit for limit in changes})
    return list(placed.values())


def preview_limits(store: Store, caller: Caller, limits: Sequence[Limit]) -> LimitEffect:
    """Say what a set of limits would do to the fleet, without setting it.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who tries.
    limits : sequence of Limit [-]
        The whole set on trial.

    Returns
    -------
    LimitEffect [-]
        Every engine before and after.
    """
    require(caller, "propose limits")
    today = local_today()
    fleet = read_fleet_input(store, as_of=today)
    now = assess(fleet)
    trial = assess(read_fleet_input(store, as_of=today, limits=limits), context=now.context)
    before, after = order_verdicts(now.verdicts), order_verdicts(trial.verdicts)
    places = {verdict.engine: place for place, verdict in enumerate(before, start=1)}
    known = {verdict.engine: verdict for verdict in before}
    rows = tuple(_effect(known[verdict.engine], verdict, places[verdict.engine], place)
                 for place, verdict in enumerate(after, start=1))
    return LimitEffect(rows, _counts(before), _counts(after),
                       sum(row.before != row.after for row in rows))


def _effect(before: Verdict, after: Verdict, place_before: int, place_after: int) -> EffectRow:
    return EffectRow(after.engine, after.family, before.level, after.level, place_before,
                     place_after, _main_reason(before), _main_reason(after))


def _main_reason(verdict: Verdict) -> str:
    told = with_sentences(verdict)
    return told.reasons[0].text if told.reasons else ""


def _counts(verdicts: Sequence[Verdict]) -> dict[str, int]:
    counts = {"alarm": 0, "alert": 0, "no_alarm": 0, "none": 0}
    for verdict in verdicts:
        counts[verdict.level or "none"] += 1
    return counts


def set_limits(store: Store, caller: Caller, limits: Sequence[Limit], *, note: str,
               based_on: int | None) -> int:
    """Put a set of limits in force; the one before stays to be read.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who sets.
    limits : sequence of Limit [-]
        The whole set.
    note : str [-]
        What changed and why.
    based_on : int or None [-]
        The version that the caller had before him.

    Returns
    -------
    int [-]
        Number of the new version.

    Raises
    ------
    ValueRefused
        When no reason is given.
    ChangedMeanwhile
        When someone else set limits since.
    """
    require(caller, "set limits")
    if not note.strip():
        raise ValueRefused("note: new limits must carry a reason, found none",
                           hint="say in a few words what changed and why")
    with store.write(caller, note) as tx:
        version = tx.set_limits(list(limits), note, based_on=based_on)
    refresh_verdicts(store, caller)
    return version


def limit_history(store: Store, caller: Caller) -> list[LimitVersion]:
    """List all sets of limits that were ever in force, newest first.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.

    Returns
    -------
    list of LimitVersion [-]
        When, by whom, why.
    """
    require(caller, "see the fleet")
    return store.limit_versions()
