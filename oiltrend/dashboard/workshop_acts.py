"""What happens to cars and engines: a new owner, a swapped engine, an event between samples."""

from __future__ import annotations

from collections.abc import Mapping

from oiltrend.dashboard.context import current_caller, current_store, decimal_sign
from oiltrend.dashboard.inputs import choice, short_text
from oiltrend.dashboard.typed import typed_day, typed_number
from oiltrend.errors import ValueRefused
from oiltrend.records import EVENT_KINDS, Event
from oiltrend.service import workshop
from oiltrend.service.fleet import local_today

__all__ = ["act_on"]


def act_on(act: str, name: str, typed: Mapping[str, object]) -> str:
    """Do what was asked for, and say so.

    Parameters
    ----------
    act : str [-]
        hand_over, swap or event.
    name : str [-]
        Car or engine, from the path.
    typed : mapping of str to object [-]
        Field to its content, as received.

    Returns
    -------
    str [-]
        What was done.

    Raises
    ------
    ValueRefused
        When there is no such act, or a field breaks its rule.
    """
    acts = {"hand_over": _hand_over, "swap": _swap, "event": _event}
    if act not in acts:
        raise ValueRefused(f"act: must be one of {', '.join(acts)}, found '{act}'",
                           hint="use one of the buttons")
    return acts[act](name, {key: short_text(value) for key, value in typed.items()})


def _number(typed: Mapping[str, str], key: str, where: str) -> float | None:
    return typed_number(typed.get(key, ""), where=where, decimal=decimal_sign())


def _hand_over(car: str, typed: Mapping[str, str]) -> str:
    owner = typed.get("owner", "")
    if not owner:
        raise ValueRefused("owner: must have a name, found none", hint="type the new owner")
    on = typed_day(typed.get("owner_on", ""), where="from") or local_today()
    workshop.hand_over_car(current_store(), current_caller(), car, owner=owner, on=on)
    return f"{car} belongs to {owner} from then on"


def _swap(car: str, typed: Mapping[str, str]) -> str:
    engine = typed.get("engine", "")
    on = typed_day(typed.get("engine_on", ""), where="fitted on") or local_today()
    workshop.swap_engine(current_store(), current_caller(), car=car, engine=engine, on=on,
                         meter=_number(typed, "car_meter", "meter of the car"),
                         engine_meter=_number(typed, "engine_meter", "the engine's own meter"))
    return f"{engine} sits in {car} now"


def _event(engine: str, typed: Mapping[str, str]) -> str:
    event = Event(
        engine, choice(typed.get("event"), EVENT_KINDS, default="oil_change"),
        date=typed_day(typed.get("event_on", ""), where="on"),
        meter=_number(typed, "event_meter", "meter"), litres=_number(typed, "litres", "oil"),
        oil_product=typed.get("product", ""),
        new_meter=_number(typed, "new_meter", "new instrument"),
        note=typed.get("event_note", ""))
    workshop.add_event(current_store(), current_caller(), event)
    return f"recorded for {engine}; its verdict is new"
