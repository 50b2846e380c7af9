"""The whole chain: a fleet in, one verdict per engine out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.evidence_rows import (
    Piece,
    findings,
    fixed_pieces,
    untold_measurands,
)
from oiltrend.assessment.figures_behind import figures_behind
from oiltrend.assessment.fixed import FixedLimits, fixed_limits
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.oil_findings import oil_findings
from oiltrend.assessment.own_history import own_pieces, read_trends, trend_pieces
from oiltrend.assessment.population import FleetContext, learn_context, population_pieces
from oiltrend.assessment.results import Verdict
from oiltrend.assessment.verdicts import Evidence, write_verdicts
from oiltrend.assessment.work import Worked, work_out
from oiltrend.nomenclature import PANEL

__all__ = ["Assessment", "assess"]


@dataclass(frozen=True, slots=True)
class Assessment:
    """Verdicts in the order of the engine table, and what they rest on."""

    verdicts: list[Verdict]
    context: FleetContext
    worked: Worked
    fixed: FixedLimits


def assess(fleet: FleetInput, *, context: FleetContext | None = None,
           with_figures: bool = False) -> Assessment:
    """Judge every engine of a fleet.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet, or a part of it.
    context : FleetContext or None [-]
        Population limits learned before; None learns them from this fleet, which then must
        be the whole one.
    with_figures : bool [-]
        Also work out the figures behind each verdict: rates, intervals, trends, sources, layers.

    Returns
    -------
    Assessment [-]
        Verdicts and what they rest on.
    """
    worked = work_out(fleet)
    learned = learn_context(fleet, worked) if context is None else context
    names, family = np.unique(fleet.engines.family.astype(str), return_inverse=True)
    fixed = fixed_limits(fleet.limits, names.tolist(), fleet.as_of)
    judged = _judged_rows(fleet, worked)
    support = worked.earlier[worked.earlier >= 0]
    support = np.setdiff1d(support, judged)
    rows = np.union1d(judged, support)
    trends = read_trends(fleet, worked)
    pieces = _pieces(rows, fleet, worked, family, fixed, learned)
    pieces += own_pieces(fleet, worked) + trend_pieces(fleet, worked, trends)
    in_judged = np.zeros(len(worked.axis), dtype=bool)
    in_judged[judged] = True
    evidence = Evidence(
        judged=_by_engine([p for p in pieces if in_judged[p.row]], fleet),
        earlier=_by_engine([p for p in pieces if not in_judged[p.row]], fleet),
        untold=_untold(worked.latest, fleet, worked, family, fixed), trends=trends)
    verdicts = write_verdicts(fleet, worked, evidence)
    if with_figures:
        behind = figures_behind(fleet, worked, trends)
        verdicts = [replace(verdict, figures=figures)
                    for verdict, figures in zip(verdicts, behind, strict=True)]
    return Assessment(verdicts, learned, worked, fixed)


def _judged_rows(fleet: FleetInput, worked: Worked) -> NDArray[np.int64]:
    """Pick the last undoubted sample, the one before it after a short run, an open doubt."""
    latest, earlier = worked.latest, worked.earlier
    settings = fleet.settings
    hours = fleet.engines.meter_unit == "h"
    short = np.where(hours, settings.short_interval_h, settings.short_interval_km)
    use = np.full(len(latest), np.nan)
    known = latest >= 0
    use[known] = worked.fills.use[latest[known]]
    also = (use < short) & (earlier >= 0)
    doubtful = worked.doubtful[worked.doubtful >= 0]
    return np.unique(np.concatenate((latest[known], earlier[also], doubtful)))


def _pieces(rows: NDArray[np.int64], fleet: FleetInput, worked: Worked,
            family: NDArray[np.int64], fixed: FixedLimits, context: FleetContext) -> list[Piece]:
    of_row = family[fleet.engine_of[rows]]
    return [*fixed_pieces(rows, of_row, fixed, worked.readings, fleet, worked.ledger),
            *population_pieces(rows, fleet, worked, context), *findings(rows, fleet),
            *oil_findings(rows, fleet, worked.readings)]


def _by_engine(pieces: Sequence[Piece], fleet: FleetInput) -> dict[int, list[Piece]]:
    grouped: dict[int, list[Piece]] = {}
    for piece in pieces:
        grouped.setdefault(int(fleet.engine_of[piece.row]), []).append(piece)
    return grouped


def _untold(latest: NDArray[np.int64], fleet: FleetInput, worked: Worked,
            family: NDArray[np.int64], fixed: FixedLimits) -> dict[int, list[str]]:
    rows = latest[latest >= 0]
    untold = untold_measurands(rows, family[fleet.engine_of[rows]], fixed, worked.readings,
                               fleet, worked.ledger)
    found: dict[int, list[str]] = {}
    for place, measurand in zip(*np.nonzero(untold), strict=True):
        found.setdefault(int(fleet.engine_of[rows[place]]), []).append(PANEL[measurand])
    return found
