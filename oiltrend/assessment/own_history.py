"""An engine against its own past: trend of the wear rate, and the limit for its next result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.axis import first_of_engine
from oiltrend.assessment.evidence_rows import Piece, ratio_to_limit
from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.rates import WORN, over_panel
from oiltrend.assessment.results import AppliedLimit, Trend
from oiltrend.assessment.settings import JUDGED_METALS
from oiltrend.assessment.values import known_numbers, number_or_none
from oiltrend.assessment.work import Worked
from oiltrend.limits.own import own_limits
from oiltrend.limits.series import to_padded
from oiltrend.limits.trend import RankTrend, TrendState, rank_trend_long
from oiltrend.nomenclature import PANEL, PANEL_INDEX

__all__ = ["Trends", "own_limits_of", "own_pieces", "read_trends", "trend_pieces",
           "trends_by_engine"]

_METALS = np.array([PANEL_INDEX[symbol] for symbol in JUDGED_METALS])
_LEVELS: tuple[Literal["alert", "alarm"], ...] = ("alert", "alarm")


def _rate_rows(worked: Worked) -> NDArray[np.int64]:
    """Rows whose interval speaks of the present shells."""
    return np.flatnonzero(worked.kept & worked.current)


@dataclass(frozen=True, slots=True)
class Trends:
    """Slope and rank test of every measurand of every engine.

    Arrays are [series, column]; ``series[engine]`` is the row of an engine or -1, ``columns`` the
    places in the panel, ``rated`` whether the wear rate was followed or the level.
    """

    series: NDArray[np.int64]
    engine: NDArray[np.int64]
    columns: NDArray[np.int64]
    rated: NDArray[np.bool_]
    result: RankTrend
    word: NDArray[np.object_]

    def word_of(self, engine: int, symbol: str) -> str:
        """Tell the trend of one measurand in a word.

        Parameters
        ----------
        engine : int [-]
            Row in the engine table.
        symbol : str [-]
            Measurand.

        Returns
        -------
        str [-]
            rising, falling, level, too_few or below_limit; "" where it was never measured.
        """
        place = np.flatnonzero(self.columns == PANEL_INDEX[symbol])
        series = int(self.series[engine])
        return str(self.word[series, place[0]]) if series >= 0 and len(place) else ""


def read_trends(fleet: FleetInput, worked: Worked) -> Trends | None:
    """Find slope and rank test of every measurand of every engine.

    What wears or is carried in is followed by its wear rate, because the level saws with every
    oil change; additives and conditions by their level.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.

    Returns
    -------
    Trends or None [-]
        None when no engine has an undoubted sample.
    """
    rows = _rate_rows(worked)
    if not len(rows):
        return None
    columns = np.flatnonzero(worked.readings.measured[rows].any(axis=0))
    cells = np.ix_(rows, columns)
    below = worked.readings.below[cells]
    rated = np.isin(columns, WORN)
    wear = worked.ledger.wear
    number = np.where(rated, over_panel(wear.rate, rows, columns), worked.readings.value[cells])
    bound = np.where(rated, over_panel(wear.high, rows, columns), worked.readings.high[cells])
    owner = fleet.engine_of[rows]
    starts = np.flatnonzero(first_of_engine(owner))
    result = rank_trend_long(worked.axis[rows], np.where(below, bound, number), starts,
                             below=below)
    engine = owner[starts]
    series = np.full(len(fleet.engines.engine), -1, dtype=np.int64)
    series[engine] = np.arange(len(engine))
    word = _words(result, fleet.settings.trend_p_value, fleet.settings.trend_minimum)
    return Trends(series, engine, columns, rated, result, word)


def trends_by_engine(trends: Trends, worked: Worked) -> dict[int, dict[str, Trend]]:
    """Give the trends as plain values, for the measurands of each engine's latest sample.

    Parameters
    ----------
    trends : Trends [-]
        As :func:`read_trends` gave them.
    worked : Worked [-]
        Rates of the fleet.

    Returns
    -------
    dict [-]
        By engine and symbol.
    """
    # The slope counts per 1000 of use, like the rate itself.
    slope = known_numbers(1000.0 * trends.result.slope)
    p_value, n = known_numbers(trends.result.p_value), trends.result.n.tolist()
    words = trends.word.tolist()
    measured = worked.readings.measured[
        np.ix_(worked.latest[trends.engine], trends.columns)].tolist()
    named: list[tuple[int, str, Literal["wear_rate", "level"]]] = [
        (place, PANEL[column], "wear_rate" if rate else "level")
        for place, (column, rate) in enumerate(zip(trends.columns, trends.rated, strict=True))]
    return {engine: {symbol: Trend(slope[series][place], p_value[series][place],
                                   n[series][place], words[series][place], of)
                     for place, symbol, of in named if measured[series][place]}
            for series, engine in enumerate(trends.engine.tolist())}


def _words(result: RankTrend, most: float, least: float) -> NDArray[np.object_]:
    given = result.state == TrendState.GIVEN
    shown = given & (result.n >= least) & (result.p_value < most)
    choices: list[NDArray[np.bool_]] = [
        result.state == TrendState.TOO_MUCH_BELOW, ~given | (result.n < least),
        shown & (result.slope > 0), shown & (result.slope < 0)]
    words = np.array(["below_limit", "too_few", "rising", "falling", "level"], dtype=object)
    chosen: NDArray[np.object_] = words[
        np.select(choices, list(range(len(choices))), default=len(choices))]
    return chosen


def trend_pieces(fleet: FleetInput, worked: Worked, trends: Trends | None) -> list[Piece]:
    """List rising rates of the metals of shells and pin as reasons for an alert.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    trends : Trends or None [-]
        As :func:`read_trends` gave them.

    Returns
    -------
    list of Piece [-]
        One for each rising rate of a metal that the latest sample has.
    """
    if trends is None:
        return []
    latest = worked.latest[trends.engine]
    rising = (trends.word == "rising") & np.isin(trends.columns, _METALS)
    rising &= worked.readings.measured[np.ix_(latest, trends.columns)]
    pieces = []
    for series, place in zip(*np.nonzero(rising), strict=True):
        hours = fleet.engines.meter_unit[trends.engine[series]] == "h"
        pieces.append(Piece(
            int(latest[series]), "trend_rising", "alert", int(trends.columns[place]), "wear_rate",
            float(trends.result.p_value[series, place]),
            f"mg per 1000 {'h' if hours else 'km'}", "<", fleet.settings.trend_p_value, "own",
            "rank test", int(trends.result.n[series, place]), 1.0))
    return pieces


def _own_limits(fleet: FleetInput, worked: Worked
                ) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int64]]:
    """Limits for the latest rate of each engine: engines [k], limit [2, k, m], n [k, m]."""
    rows = _rate_rows(worked)
    owner = fleet.engine_of[rows]
    earlier = rows < worked.latest[owner]
    rows, owner = rows[earlier], owner[earlier]
    if not len(rows):
        none = np.zeros((2, 0, len(_METALS)))
        return np.zeros(0, dtype=np.int64), none, np.zeros((0, len(_METALS)), dtype=np.int64)
    starts = np.flatnonzero(first_of_engine(owner))
    engines = owner[starts]
    cells, latest = np.ix_(rows, _METALS), np.ix_(worked.latest[engines], _METALS)
    lost = worked.readings.below[cells]
    rates = np.where(lost, worked.ledger.wear.high[cells], worked.ledger.wear.rate[cells])
    history, below = to_padded(rates, starts), to_padded(lost, starts) == 1
    counts = (~np.isnan(history)).sum(axis=-1)
    # Only a result with a number can lie beyond its limit; fits are costly, so only those.
    asked = np.isfinite(worked.ledger.wear.rate[latest])
    floor = worked.ledger.wear.standard_uncertainty[latest][asked]
    settings = fleet.settings
    limits = np.full((len(_LEVELS), *asked.shape), np.nan)
    for place, confidence in enumerate((settings.own_alert, settings.own_alarm)):
        limits[place][asked] = own_limits(
            history[asked], confidence=confidence, scale="plain", test_uncertainty=floor,
            below=below[asked], minimum=int(settings.own_minimum)).limit
    return engines, limits, counts


def own_pieces(fleet: FleetInput, worked: Worked) -> list[Piece]:
    """List latest wear rates that lie beyond what the engine's own past predicts.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.

    Returns
    -------
    list of Piece [-]
        One for each rate beyond its own limit.
    """
    engines, limits, counts = _own_limits(fleet, worked)
    latest = worked.latest[engines]
    rate = worked.ledger.wear.rate[np.ix_(latest, _METALS)]
    share = (fleet.settings.own_alert, fleet.settings.own_alarm)
    pieces = []
    for place, level in enumerate(_LEVELS):
        with np.errstate(invalid="ignore"):
            beyond = rate > limits[place]
        for index, column in zip(*np.nonzero(beyond), strict=True):
            value, limit = float(rate[index, column]), float(limits[place, index, column])
            hours = fleet.engines.meter_unit[engines[index]] == "h"
            pieces.append(Piece(
                int(latest[index]), "own", level, int(_METALS[column]), "wear_rate", value,
                f"mg per 1000 {'h' if hours else 'km'}", ">", limit, "own",
                f"{1000 * share[place]:g} of 1000 results of an unchanged engine lie below",
                int(counts[index, column]), ratio_to_limit(value, limit, ">")))
    return pieces


def own_limits_of(fleet: FleetInput, worked: Worked, engine: int) -> list[AppliedLimit]:
    """List the own limits of one engine, for its page.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    engine : int [-]
        Row in the engine table.

    Returns
    -------
    list of AppliedLimit [-]
        Two levels for each wear metal measured at the latest sample.
    """
    engines, limits, counts = _own_limits(fleet, worked)
    place = np.flatnonzero(engines == engine)
    row = int(worked.latest[engine])
    shown: list[AppliedLimit] = []
    for column, symbol in enumerate(JUDGED_METALS):
        if row < 0 or not worked.readings.measured[row, PANEL_INDEX[symbol]]:
            continue
        n = int(counts[place[0], column]) if len(place) else 0
        for number, level in enumerate(_LEVELS):
            value = number_or_none(limits[number, place[0], column]) if len(place) else None
            note = "" if value is not None else _why_not(
                n, int(fleet.settings.own_minimum),
                bool(np.isfinite(worked.ledger.wear.rate[row, PANEL_INDEX[symbol]])))
            shown.append(AppliedLimit(symbol, "wear_rate", level, ">", value, "own",
                                      "one step ahead of its own past", n, note))
    return shown


def _why_not(n: int, minimum: int, rated: bool) -> str:
    if n < minimum:
        return f"needs {minimum} earlier intervals, has {n}"
    if not rated:
        return "the latest result gives no rate, so that there is nothing to compare"
    return "too many earlier results lie below the reporting limit to tell level and spread"
