"""Limits on trial: what the page holds as plain data, made into limits and their effect here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from oiltrend.dashboard.context import current_caller, current_store, decimal_sign
from oiltrend.dashboard.inputs import short_text
from oiltrend.dashboard.typed import typed_number
from oiltrend.errors import InputError, ValueRefused
from oiltrend.records import Limit
from oiltrend.service import limits
from oiltrend.service.fleet import local_today

__all__ = ["Trial", "plain_limit", "preview", "trial_limits", "trial_of", "typed_limits",
           "without"]

# {"changes": [limit as plain data], "removed": [the same], "based_on": version or None}
Trial = dict[str, Any]
_FIELDS = ("family", "measurand", "quantity", "level", "operator", "source")


def plain_limit(limit: Limit) -> dict[str, Any]:
    """Write a limit as data that a page can hold.

    Parameters
    ----------
    limit : Limit [-]
        The limit.

    Returns
    -------
    dict [-]
        Its fields.
    """
    return {**{name: getattr(limit, name) for name in _FIELDS}, "value": limit.value,
            "valid_from": limit.valid_from.isoformat()}


def trial_of(found: object) -> Trial:
    """Take a trial as received; what is not one is an empty one.

    Parameters
    ----------
    found : object [-]
        As received.

    Returns
    -------
    dict [-]
        Changes, removed limits, and the version they are based on.
    """
    held = found if isinstance(found, dict) else {}
    based = held.get("based_on")
    return {"changes": [one for one in held.get("changes") or [] if isinstance(one, dict)],
            "removed": [one for one in held.get("removed") or [] if isinstance(one, dict)],
            "based_on": based if isinstance(based, int) else None}


def _limit(plain: Mapping[str, Any]) -> Limit:
    value = plain.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueRefused(f"value: must be a number, found '{value}'", hint="type a number")
    words = {name: short_text(plain.get(name), most=500) for name in _FIELDS}
    try:
        since = date.fromisoformat(short_text(plain.get("valid_from")))
    except ValueError as error:
        raise ValueRefused("valid_from: must be a date", hint="choose a day") from error
    return Limit(**words, value=float(value), valid_from=since)  # type: ignore[arg-type]


def trial_limits(trial: Trial) -> list[Limit]:
    """Put the trial into the set of the version it is based on.

    Parameters
    ----------
    trial : dict [-]
        Changes and removed limits.

    Returns
    -------
    list of Limit [-]
        The whole set on trial.
    """
    current = current_store().limits(trial["based_on"]) if trial["based_on"] is not None else []
    return limits.changed_limits(current, [_limit(one) for one in trial["changes"]],
                                 removed=[_limit(one) for one in trial["removed"]])


def typed_limits(family: str, measurand: str, quantity: str, operator: str, *, alert: str,
                 alarm: str, source: str) -> list[Limit]:
    """Make the limits that were typed, alert and alarm, of which one may be left out.

    Parameters
    ----------
    family, measurand, quantity, operator, source : str [-]
        As chosen and typed.
    alert, alarm : str [-]
        Values as typed.

    Returns
    -------
    list of Limit [-]
        One or two limits.

    Raises
    ------
    InputError
        When a value is no number, both are missing, or they stand the wrong way round.
    """
    decimal = decimal_sign()
    values: dict[str, float | None] = {
        "alert": typed_number(alert, where="alert", decimal=decimal),
        "alarm": typed_number(alarm, where="alarm", decimal=decimal)}
    low, high = values["alert"], values["alarm"]
    if low is None and high is None:
        raise InputError("limit: must have an alert or an alarm, found neither",
                         hint="type at least one of the two")
    upward = operator.startswith(">")
    if low is not None and high is not None and (low > high if upward else low < high):
        raise InputError(
            f"limit: the alert must speak before the alarm, found alert {alert} and alarm {alarm}",
            hint="swap the two, or turn the sign around")
    return [Limit(family, measurand, quantity, level, operator, value,  # type: ignore[arg-type]
                  source, local_today())
            for level, value in values.items() if value is not None]


def preview(trial: Trial) -> limits.LimitEffect:
    """Say what the trial would do to the fleet.

    Parameters
    ----------
    trial : dict [-]
        Changes and removed limits.

    Returns
    -------
    LimitEffect [-]
        Every engine before and after.
    """
    return limits.preview_limits(current_store(), current_caller(), trial_limits(trial))


def without(changes: Sequence[Mapping[str, Any]], limit: Mapping[str, Any]) -> list[Any]:
    """Take the entry about the same thing out of a list of changes.

    Parameters
    ----------
    changes : sequence of mapping [-]
        Plain limits.
    limit : mapping [-]
        A plain limit.

    Returns
    -------
    list of mapping [-]
        The rest.
    """
    same = _FIELDS[:5]
    return [one for one in changes if any(one.get(name) != limit.get(name) for name in same)]
