"""Limits on the page: those in force, what a trial would change, and all sets that ever held."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html

from oiltrend.dashboard.context import address, decimal_sign
from oiltrend.dashboard.parts import day, icon, ledger, level_mark
from oiltrend.figures.table import show
from oiltrend.records import Limit
from oiltrend.service.limits import EffectRow, LimitEffect
from oiltrend.store import LimitVersion
from oiltrend.wording import measurand_name, quantity_unit

__all__ = ["REMOVE", "effect_view", "force_table", "history_table", "trial_list"]

REMOVE = "limit-remove"
_QUANTITIES = {"level": "level", "per_1000": "per 1000 since the change", "wear_rate": "wear rate"}
_MOST_SHOWN = 40


def _value(limit: Limit | Mapping[str, Any]) -> str:
    get = limit.get if isinstance(limit, Mapping) else lambda name: getattr(limit, name)
    unit = quantity_unit(str(get("measurand")), str(get("quantity")), "km").replace(
        "1000 km", "1000 km (or h)")
    return f"{get('operator')} {show(get('value'), decimal=decimal_sign())} {unit}"


def force_table(limits: Sequence[Limit]) -> Any:
    """List the limits that hold for a family today.

    Parameters
    ----------
    limits : sequence of Limit [-]
        In panel order.

    Returns
    -------
    component [-]
        The table; each can be taken out on trial.
    """
    rows = [[measurand_name(one.measurand), _QUANTITIES[one.quantity], level_mark(one.level),
             html.Span(_value(one), className="num"),
             "every family" if one.family == "*" else one.family, one.source,
             html.Span(day(one.valid_from), className="num"),
             html.Button("Try without", className="button quiet", id={
                 "type": REMOVE, "family": one.family, "measurand": one.measurand,
                 "quantity": one.quantity, "level": one.level, "operator": one.operator})]
            for one in limits]
    return ledger(f"{len(limits)} limits in force",
                  ("measurand", "on", "level", "limit", "for", "source", "since", ""), rows,
                  cards=True)


def trial_list(changes: Sequence[Mapping[str, Any]], removed: Sequence[Mapping[str, Any]]) -> Any:
    """List what is on trial.

    Parameters
    ----------
    changes, removed : sequence of mapping [-]
        Plain limits.

    Returns
    -------
    component [-]
        The list.
    """
    def line(word: str, one: Mapping[str, Any]) -> Any:
        whose = "every family" if one.get("family") == "*" else one.get("family")
        return html.Li(f"{word} {whose}, {measurand_name(str(one.get('measurand')))}, "
                       f"{_QUANTITIES.get(str(one.get('quantity')), '')}: {one.get('level')} "
                       f"{_value(one)}")
    return html.Ul([*(line("set", one) for one in changes),
                    *(line("take out", one) for one in removed)])


def effect_view(effect: LimitEffect) -> Any:
    """Show what a trial would do: counts, and the engines in their new order.

    Parameters
    ----------
    effect : LimitEffect [-]
        Every engine before and after.

    Returns
    -------
    component [-]
        The view.
    """
    tallies = html.Div([html.Div([
        level_mark(None if level == "none" else level),
        html.Span(f"{effect.before[level]} → {effect.after[level]}", className="tally-number")])
        for level in ("alarm", "alert", "no_alarm", "none")], className="tallies")
    # Those that only make room for others are counted in the places and not listed.
    moved = [row for row in effect.rows if row.before != row.after or (
        row.after in ("alert", "alarm") and row.place_before != row.place_after)]
    said = (f"{effect.changed} of {len(effect.rows)} engines change their level." if
            effect.changed else "No engine changes its level.")
    first = moved[:_MOST_SHOWN]
    heads = ("place", "engine", "level now", "on trial", "main reason on trial")
    table = [ledger("Engines that change, in their new order", heads,
                    [_effect_row(row) for row in first], cards=True)] if first else []
    more = [html.P(f"and {len(moved) - len(first)} more", className="soft")] if len(moved) > len(
        first) else []
    return html.Div([tallies, html.P(said), *table, *more])


def _effect_row(row: EffectRow) -> list[Any]:
    turn = "" if row.place_before == row.place_after else (
        "rising" if row.place_after < row.place_before else "falling")
    place = html.Span([*([icon(turn)] if turn else []),
                       f" {row.place_before} → {row.place_after}"], className="tag strong num")
    return [place, dcc.Link(row.engine, href=address("/engine", row.engine), className="id"),
            level_mark(row.before), level_mark(row.after), row.reason_after]


def history_table(versions: Sequence[LimitVersion]) -> Any:
    """List all sets that ever held.

    Parameters
    ----------
    versions : sequence of LimitVersion [-]
        Newest first.

    Returns
    -------
    component [-]
        The table.
    """
    rows = [[str(one.id), html.Span(day(one.made_at.date()), className="num"), one.made_by,
             one.note, {"current": "in force", "trial": "on trial", "past": ""}[one.state]]
            for one in versions]
    return ledger("Sets of limits, newest first", ("set", "made on", "by", "why", "state"), rows,
                  cards=True)
