"""What the meters show: the engine's own distance, shifted by swaps and counted in its unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.garage import KM_PER_HOUR, Fleet
from oiltrend.demo.history import Legs

__all__ = ["Meters", "as_read", "draw_meters", "in_unit", "removal_km"]

Floats = NDArray[np.float64]
# The new meter does not start at nothing: it was tried out in another car (invented).
_NEW_METER_KM = 12.0


@dataclass(frozen=True, slots=True)
class Meters:
    """How readings follow from the engine's own distance; arrays of shape (n,).

    Parameters
    ----------
    offset_km : array [km]
        Reading less own distance.
    replaced_day, replaced_km : array [d]
        When a meter was replaced and the own distance then [km]; infinite and NaN for never.
    later_offset_km : array [km]
        Offset from that day on.
    per_unit : array [km]
        1, or the km of one running hour.
    """

    offset_km: Floats
    replaced_day: Floats
    replaced_km: Floats
    later_offset_km: Floats
    per_unit: Floats


def draw_meters(fleet: Fleet, legs: Legs) -> Meters:
    """Find out what the meters show once the history is known.

    A swapped-in engine takes over the car's meter. A replaced meter begins five days after
    a visit in the middle of the history.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs.

    Returns
    -------
    Meters [-]
        One entry per engine.
    """
    n = len(fleet.engine)
    offset, later = np.zeros(n), np.zeros(n)
    replaced_day, replaced_km = np.full(n, np.inf), np.full(n, np.nan)
    pairs = zip(fleet.parts["engine_swapped_out"], fleet.parts["engine_swapped_in"], strict=True)
    # Loops over the few engines that play these parts.
    for out, into in pairs:
        offset[into] = removal_km(fleet, legs, int(out)) - fleet.start_km[into]
    for engine in fleet.parts["meter_replaced"]:
        visits = np.flatnonzero(legs.active[:, engine])
        visit = visits[len(visits) // 2]
        replaced_day[engine] = legs.day[visit, engine] + 5
        replaced_km[engine] = legs.km[visit, engine] + 5 * fleet.km_per_day[engine]
        later[engine] = _NEW_METER_KM - replaced_km[engine]
    return Meters(offset, replaced_day, replaced_km, later,
                  np.where(fleet.hours, KM_PER_HOUR, 1.0))


def removal_km(fleet: Fleet, legs: Legs, engine: int) -> float:
    """Give the own distance at which an engine was taken out: on the last day of its history.

    Parameters
    ----------
    fleet : Fleet [-]
        The engines.
    legs : Legs [-]
        Their legs.
    engine : int [-]
        Row of the engine.

    Returns
    -------
    float [km]
        Own distance.
    """
    last = np.flatnonzero(legs.active[:, engine])[-1]
    days = fleet.end_day[engine] - legs.day[last, engine]
    return float(legs.km[last, engine] + days * fleet.km_per_day[engine])


def in_unit(meters: Meters, engine: NDArray[np.int64], km: Floats) -> Floats:
    """Give a distance as the engine counts it, to the digit that people write.

    Parameters
    ----------
    meters : Meters [-]
        The meters.
    engine : array of int, shape (n,) [-]
        Row of the engine.
    km : array, shape (n,) [km]
        Distances.

    Returns
    -------
    array, shape (n,) [use]
        Whole km, or hours to a tenth.
    """
    unit = meters.per_unit[engine]
    return np.where(unit == 1.0, np.round(km), np.round(km / unit, 1))


def as_read(meters: Meters, engine: NDArray[np.int64], km: Floats, day: Floats) -> Floats:
    """Give the reading that belongs to an own distance on a day.

    Parameters
    ----------
    meters : Meters [-]
        The meters.
    engine : array of int, shape (n,) [-]
        Row of the engine.
    km : array, shape (n,) [km]
        Own distances.
    day : array, shape (n,) [d]
        Days.

    Returns
    -------
    array, shape (n,) [use]
        Readings.
    """
    later = day >= meters.replaced_day[engine]
    shift = np.where(later, meters.later_offset_km[engine], meters.offset_km[engine])
    return in_unit(meters, engine, km + shift)
