"""Limits on trial: what the page holds as plain data, made into limits and their effect here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from oiltrend.dashboard.context import current_caller, current_store, decimal_sign
from oiltrend.dashboard.inputs import short_text
from oiltrend.dashboard.typed import typed_number
from oiltrend.errors import InputError, ValueRefused
from oiltrend.records import Limit
from oiltrend.service import limits
from oiltrend.service.fleet import local_today

__all__ = ["Trial", "TypedLimit", "plain_limit", "preview", "trial_limits", "trial_of",
           "with_removed", "with_typed"]

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
    base = trial["based_on"]
    current = current_store().limits(version=base) if base is not None else []
    return limits.changed_limits(current, [_limit(one) for one in trial["changes"]],
                                 removed=[_limit(one) for one in trial["removed"]])


@dataclass(frozen=True, slots=True)
class TypedLimit:
    """A limit as it was chosen and typed; alert or alarm may be left out.

    Parameters
    ----------
    family, measurand, quantity, operator, alert, alarm, source : str [-]
        As received, already known to be text.
    """

    family: str
    measurand: str
    quantity: str
    operator: str
    alert: str
    alarm: str
    source: str

    def limits(self) -> list[Limit]:
        """Make the limits of it.

        Returns
        -------
        list of Limit [-]
            One or two.

        Raises
        ------
        InputError
            When a value is no number, both are missing, or they stand the wrong way round.
        """
        decimal = decimal_sign()
        values: dict[str, float | None] = {
            "alert": typed_number(self.alert, where="alert", decimal=decimal),
            "alarm": typed_number(self.alarm, where="alarm", decimal=decimal)}
        low, high = values["alert"], values["alarm"]
        if low is None and high is None:
            raise InputError("limit: must have an alert or an alarm, found neither",
                             hint="type at least one of the two")
        upward = self.operator.startswith(">")
        if low is not None and high is not None and (low > high if upward else low < high):
            raise InputError("limit: the alert must speak before the alarm, found alert "
                             f"{self.alert} and alarm {self.alarm}",
                             hint="swap the two, or turn the sign around")
        return [Limit(self.family, self.measurand, self.quantity, level,  # type: ignore[arg-type]
                      self.operator, value, self.source, local_today())  # type: ignore[arg-type]
                for level, value in values.items() if value is not None]


def with_typed(trial: Trial, typed: TypedLimit) -> Trial:
    """Add what was typed to a trial.

    Parameters
    ----------
    trial : dict [-]
        The trial so far.
    typed : TypedLimit [-]
        What was typed.

    Returns
    -------
    dict [-]
        The new trial.

    Raises
    ------
    InputError
        When what was typed is no limit.
    """
    new = [plain_limit(one) for one in typed.limits()]
    changes, removed = trial["changes"], trial["removed"]
    for one in new:
        changes, removed = _without(changes, one), _without(removed, one)
    return {"changes": [*changes, *new], "removed": removed, "based_on": _base(trial)}


def with_removed(trial: Trial, which: Mapping[str, Any]) -> Trial:
    """Take a limit of the set out, on trial.

    Parameters
    ----------
    trial : dict [-]
        The trial so far.
    which : mapping [-]
        Family, measurand, quantity, level and operator.

    Returns
    -------
    dict [-]
        The new trial.
    """
    base = _base(trial)
    current = current_store().limits(version=base) if base is not None else []
    same = [one for one in map(plain_limit, current) if _same(one, which)]
    return {"changes": _without(trial["changes"], which), "based_on": base,
            "removed": [*_without(trial["removed"], which), *same]}


def _base(trial: Trial) -> int | None:
    """Say which version a trial starts from: the one that was in force when it began."""
    if trial["based_on"] is not None:
        return int(trial["based_on"])
    versions = limits.limit_history(current_store(), current_caller())
    return next((one.id for one in versions if one.state == "current"), None)


def _same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    return all(one.get(name) == other.get(name) for name in _FIELDS[:5])


def _without(entries: Sequence[Mapping[str, Any]], which: Mapping[str, Any]) -> list[Any]:
    return [one for one in entries if not _same(one, which)]


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

