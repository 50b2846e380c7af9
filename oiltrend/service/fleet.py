"""Uses about the fleet: assess it, watch it, look at one engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

import orjson

from oiltrend.assessment.assess import Assessment, assess
from oiltrend.assessment.history import engine_history
from oiltrend.assessment.inputs import EngineTable, FleetInput
from oiltrend.assessment.limits_shown import applied_limits
from oiltrend.assessment.oil_state import OilState, oil_states
from oiltrend.assessment.population import FleetContext
from oiltrend.assessment.results import EngineHistory, Verdict
from oiltrend.assessment.verdicts import order_verdicts
from oiltrend.errors import NotThere
from oiltrend.records import Action, Caller, Engine, Ownership
from oiltrend.service.access import require
from oiltrend.service.documents import verdict_document, with_sentences
from oiltrend.service.fleet_input import read_fleet_input
from oiltrend.service.remember import remembered
from oiltrend.store import LoggedVerdict, Store, Stored, WatchRow

__all__ = ["EngineView", "WatchPage", "assess_engines", "assess_fleet", "engine_view",
           "local_today", "refresh_verdicts", "watch"]

_CONTEXT = "population"


@dataclass(frozen=True, slots=True)
class WatchPage:
    """Some rows of the watch list, and how many there are in all."""

    rows: list[WatchRow]
    total: int


@dataclass(frozen=True, slots=True)
class EngineView:
    """Everything that the page of one engine shows; ``oil`` is that of the latest sample."""

    verdict: Verdict
    history: EngineHistory
    oil: OilState | None
    record: Stored[Engine]
    actions: list[Stored[Action]]
    log: list[LoggedVerdict]


def local_today() -> date:
    """Give today's date where the program runs.

    Returns
    -------
    date [-]
        Local date.
    """
    return datetime.now(UTC).astimezone().date()


def assess_fleet(store: Store, caller: Caller, *, as_of: date | None = None,
                 engines: Sequence[str] | None = None, with_figures: bool = False
                 ) -> list[Verdict]:
    """Assess the whole fleet, most pressing first.

    Without ``as_of`` the verdicts are kept as issued today.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.
    as_of : date or None [-]
        What would have been said on that day; nothing is kept then.
    engines : sequence of str or None [-]
        Show only these; the fleet behind the population limits is always whole.
    with_figures : bool [-]
        Also work out the figures behind each verdict.

    Returns
    -------
    list of Verdict [-]
        In order, with sentences.

    Raises
    ------
    NotThere
        When an engine is not known.
    """
    require(caller, "see the fleet")
    day = as_of or local_today()
    fleet = read_fleet_input(store, as_of=day)
    result = assess(fleet, with_figures=with_figures)
    verdicts = [with_sentences(verdict) for verdict in result.verdicts]
    if as_of is None:
        _keep(store, caller, verdicts, fleet.engines, result.context)
    ordered = order_verdicts(verdicts)
    if engines is None:
        return ordered
    missing = sorted(set(engines) - {verdict.engine for verdict in ordered})
    if missing:
        raise NotThere(f"engine: must be one that the store has, found '{missing[0]}'",
                       hint="see oiltrend assess for the list")
    return [verdict for verdict in ordered if verdict.engine in set(engines)]


def assess_engines(store: Store, caller: Caller, engines: Sequence[str]) -> list[Verdict]:
    """Assess some engines again after something about them changed, and keep the verdicts.

    They are judged by the population limits last learned, so that the work does not grow with
    the fleet; the next assessment of the fleet learns the limits anew.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who changed something.
    engines : sequence of str [-]
        Engines.

    Returns
    -------
    list of Verdict [-]
        In order, with sentences.
    """
    known = store.context(_CONTEXT)
    if known is None:
        chosen = set(engines)
        return [v for v in assess_fleet(store, caller) if v.engine in chosen]
    fleet = read_fleet_input(store, as_of=local_today(), engines=list(engines))
    result = assess(fleet, context=FleetContext.from_document(known.document))
    verdicts = [with_sentences(verdict) for verdict in result.verdicts]
    _keep(store, caller, verdicts, fleet.engines, None)
    return order_verdicts(verdicts)


def refresh_verdicts(store: Store, caller: Caller, *, engines: Sequence[str] | None = None
                     ) -> None:
    """Bring the kept verdicts up to date after something changed.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who changed it.
    engines : sequence of str or None [-]
        The engines concerned; None for the whole fleet.
    """
    if engines is None:
        assess_fleet(store, caller)
    else:
        assess_engines(store, caller, engines)


def _keep(store: Store, caller: Caller, verdicts: list[Verdict], engines: EngineTable,
          context: FleetContext | None) -> None:
    """Put the verdicts on the watch list and, where they changed, into the log."""
    whole = context is not None
    cars = dict(zip(engines.engine.tolist(), engines.car.tolist(), strict=True))
    owners = _owners(store, {} if whole else {"car": sorted(set(cars.values()))})
    version = next((entry.id for entry in store.limit_versions() if entry.state == "current"),
                   None)
    known = store.context(_CONTEXT)
    document = context.as_document() if context is not None else None
    with store.write(caller, "verdicts issued") as tx:
        context_id = known.id if known else None
        if document is not None and (known is None or known.document != document):
            context_id = tx.put_context(_CONTEXT, document)
        told = {verdict.engine: verdict for verdict in verdicts}
        tx.put_verdicts(
            [_watch_row(verdict, cars.get(verdict.engine, ""), owners, context_id, version)
             for verdict in verdicts],
            lambda engine: orjson.dumps(verdict_document(told[engine])).decode())


def _owners(store: Store, where: dict[str, list[str]]) -> dict[str, str]:
    today = local_today()
    return {entry.record.car: entry.record.owner for entry in store.find(Ownership, where)
            if (entry.record.from_date or date.min) <= today <= (entry.record.to_date or date.max)}


def _watch_row(verdict: Verdict, car: str, owners: dict[str, str], context_id: int | None,
               limits_version: int | None) -> WatchRow:
    main = verdict.reasons[0] if verdict.reasons else None
    shown = (main.measurand if main else None) or ""
    return WatchRow(
        engine=verdict.engine, family=verdict.family, level=verdict.level or "",
        data=verdict.data, as_of=verdict.as_of, car=car, owner=owners.get(car, ""),
        chance=verdict.chance.value if verdict.chance else None, size=verdict.size,
        reason_codes=tuple(reason.code for reason in verdict.reasons),
        reason_text=main.text if main else "", measurand=shown,
        trend_word=verdict.trend_word, last_sample_date=verdict.last_sample_date,
        last_meter=verdict.last_sample_meter, meter_unit=verdict.meter_unit,
        awaiting=verdict.awaiting_result, awaited_since=verdict.awaited_since,
        next_by_meter=verdict.next_by_meter, next_by_date=verdict.next_by_date,
        samples=verdict.samples, context_id=context_id, limits_version=limits_version)


def watch(store: Store, caller: Caller, *, search: str = "", family: str = "", level: str = "",
          sort: str = "", descending: bool = False, offset: int = 0, limit: int = 50
          ) -> WatchPage:
    """Give some rows of the watch list, most pressing first unless sorted otherwise.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.
    search : str [-]
        Part of an engine's, car's or owner's name.
    family : str [-]
        Only this family.
    level : str [-]
        Only this level.
    sort : str [-]
        Column to sort by; "" is most pressing first.
    descending : bool [-]
        Turn the sort around.
    offset : int [-]
        Rows to skip.
    limit : int [-]
        Rows to give.

    Returns
    -------
    WatchPage [-]
        Rows and their total.
    """
    require(caller, "see the fleet")
    rows, total = store.watch_rows(search=search, family=family, level=level, sort=sort,
                                   descending=descending, offset=offset, limit=limit)
    return WatchPage(rows, total)


def engine_view(store: Store, caller: Caller, engine: str) -> EngineView:
    """Give everything that the page of one engine shows.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who asks.
    engine : str [-]
        Engine.

    Returns
    -------
    EngineView [-]
        Verdict, history, record, actions and the log of verdicts.

    Raises
    ------
    NotThere
        When the engine is not known.
    """
    require(caller, "see the fleet")
    today = local_today()
    return remembered(store, ("engine", engine, today), lambda: _look_at(store, engine, today))


def _look_at(store: Store, engine: str, today: date) -> EngineView:
    record = store.get(Engine, engine)
    fleet = read_fleet_input(store, as_of=today, engines=[engine])
    known = store.context(_CONTEXT)
    context = FleetContext.from_document(known.document) if known else FleetContext({})
    result = assess(fleet, context=context, with_figures=True)
    history = _history(fleet, result)
    latest = result.worked.latest[result.worked.latest >= 0]
    oil = oil_states(latest, fleet, result.worked.readings) if len(latest) else [None]
    return EngineView(with_sentences(result.verdicts[0]), history, oil[0], record,
                      store.find(Action, {"engine": engine}), store.verdict_log(engine))


def _history(fleet: FleetInput, result: Assessment) -> EngineHistory:
    limits = applied_limits(fleet, result.worked, result.fixed, result.context, 0)
    return engine_history(fleet, result.worked, 0, limits)
