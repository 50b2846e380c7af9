"""What is left of each bearing layer: the metal since each shell went in, as depth."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.metal_sources import EngineShells, measured_columns, signatures_of
from oiltrend.assessment.results import LayerRange, LayerReading
from oiltrend.assessment.values import number_or_none
from oiltrend.assessment.work import Worked
from oiltrend.bearing.materials import LAYERS
from oiltrend.nomenclature import PANEL
from oiltrend.wear.layer import (
    RUN_IN_H,
    RUN_IN_KM,
    Capture,
    Depth,
    LayerLost,
    layer_left,
    layer_lost,
)
from oiltrend.wear.layer_sum import Intervals, MassSince, mass_since
from oiltrend.wear.sources import SourceSplit, split_sources
from oiltrend.wear.sources_input import Found
from oiltrend.wear.sources_shares import share_rods_mains_other

__all__ = ["layers_left"]

Floats = NDArray[np.float64]

# How far the thickness of a family's overlay may be from its figure; assumed.
_THICKNESS_SHARE = 0.2


class _Places(NamedTuple):
    """Halves as a rectangle, engine by place: which fitting, which area, how thick when new."""

    fitted: Floats
    fitting: NDArray[np.int64]
    area: Floats
    overlay: Floats
    column: NDArray[np.int64]


def _intervals(fleet: FleetInput, worked: Worked, columns: NDArray[np.int64]) -> Intervals:
    use = worked.ledger.use
    rows = np.flatnonzero(worked.kept & worked.current & np.isfinite(use + worked.axis))
    rows = rows[np.lexsort((worked.axis[rows], fleet.engine_of[rows]))]
    cells, wear = np.ix_(rows, columns), worked.ledger.wear
    bounded = np.isnan(wear.rate[cells]) & np.isfinite(wear.high[cells])
    return Intervals(fleet.engine_of[rows], worked.axis[rows] - use[rows], worked.axis[rows],
                     wear.rate[cells],
                     np.where(bounded, 0.1 * np.abs(wear.high[cells]),
                              wear.standard_uncertainty[cells]),
                     np.where(bounded, np.maximum(wear.low[cells], 0.0), np.nan),
                     np.where(bounded, wear.high[cells], np.nan))


def _places(fleet: FleetInput, worked: Worked, intervals: Intervals) -> _Places:
    shells, engines = fleet.shells, len(fleet.engines.engine)
    first = np.full(engines, np.nan)
    np.fmin.at(first, intervals.engine, intervals.start)
    known = shells.fitting >= 0
    went_in = np.where(known, worked.event_axis[shells.fitting], np.nan) if len(
        worked.event_axis) else np.full(len(shells.engine), np.nan)
    # Nobody knows when they went in: the account begins with the first interval.
    went_in = np.where(np.isfinite(went_in), went_in, first[shells.engine])
    pairs = np.stack((shells.engine.astype(float), np.round(went_in)), axis=1)
    each, code = np.unique(pairs, axis=0, return_inverse=True)
    owner = each[:, 0].astype(np.int64)
    begin = np.searchsorted(owner, np.arange(engines))
    number = np.arange(len(each)) - begin[owner]
    fitted = np.full((engines, int(number.max(initial=0)) + 1), np.nan)
    fitted[owner, number] = each[:, 1]
    column = np.arange(len(shells.engine)) - np.searchsorted(shells.engine, shells.engine)
    shape = (engines, int(column.max(initial=-1)) + 1)
    area, overlay = np.full((2, *shape), np.nan)
    fitting = np.zeros(shape, dtype=np.int64)
    place = (shells.engine, column)
    area[place], overlay[place] = shells.area_mm2, shells.overlay_um
    fitting[place] = number[code.ravel()]
    return _Places(fitted, fitting, area, overlay, column)


def _split(masses: MassSince, shells: EngineShells, elements: tuple[str, ...]) -> SourceSplit:
    engines, fittings, width = masses.value.shape

    def flat(array: Floats) -> Floats:
        return array.reshape(engines * fittings, width)

    value = flat(masses.value)
    bounded = np.isnan(value) & np.isfinite(flat(masses.high))
    spread = np.where(bounded, 0.1 * np.abs(flat(masses.high)), flat(masses.uncertainty))
    found = Found(elements, value, np.where(spread > 0, spread, np.nan),
                  np.where(bounded, flat(masses.low), np.nan),
                  np.where(bounded, flat(masses.high), np.nan))
    return split_sources(found, signatures_of(shells, elements, np.repeat(shells.kind, fittings)))


def layers_left(fleet: FleetInput, worked: Worked, shells: EngineShells
                ) -> dict[int, tuple[LayerReading, ...]]:
    """Say for every engine what is left of each metallic layer of its rod shells.

    The metal of all elements is summed since each shell went in and then split between the
    sources; the share of the rods is taken from the stated prior; the loaded area and the
    capture fraction turn it into depth, spread over all loaded halves and on one half alone.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.
    worked : Worked [-]
        Its rates.
    shells : EngineShells [-]
        Its shells.

    Returns
    -------
    dict [-]
        Engine to its layers; engines without shells, geometry or intervals are left out.
    """
    columns = measured_columns(worked)
    if not len(columns) or not len(fleet.shells.engine) or not (worked.latest >= 0).any():
        return {}
    elements = tuple(PANEL[column] for column in columns)
    intervals = _intervals(fleet, worked, columns)
    places = _places(fleet, worked, intervals)
    until = np.where(worked.latest >= 0, worked.axis[worked.latest], np.nan)
    masses = mass_since(intervals, places.fitted, until)
    split = _split(masses, shells, elements)
    found: dict[int, list[LayerReading]] = {}
    for name in shells.names:
        _read_layer(found, name, fleet, shells, places, masses, split, until, elements)
    return {engine: tuple(layers) for engine, layers in found.items()}


def _has_layer(name: str, shells: EngineShells, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    carries = np.zeros(shape, dtype=bool)
    for kind, layers in enumerate(shells.layers):
        for layer in layers:
            if f"{layer.role} {layer.designation}" == name:
                # All engines of a kind carry the same layers, though not in the same places.
                for engine in np.flatnonzero(shells.kind == kind):
                    for place, shell in enumerate(shells.materials[engine]):
                        carries[engine, place] = shell is not None and getattr(
                            shell, layer.role) == layer.designation
    return carries


def _read_layer(found: dict[int, list[LayerReading]], name: str, fleet: FleetInput,
                shells: EngineShells, places: _Places, masses: MassSince, split: SourceSplit,
                until: Floats, elements: tuple[str, ...]) -> None:
    role, designation = name.split(" ", 1)
    layer = LAYERS[designation]
    area = np.where(_has_layer(name, shells, places.area.shape), places.area, np.nan)
    engines, fittings = places.fitted.shape
    source = split.sources.index(name)
    rods = [part.reshape(engines, fittings) for part in _rod_share(split, source)]
    row = np.arange(engines)[:, None]
    at_place = [part[row, places.fitting] for part in rods]
    main = max(elements, key=lambda symbol: layer.shares.get(symbol, 0.0))
    filled = masses.filled_share[:, :, elements.index(main)][row, places.fitting]
    started = masses.unsampled_start[row, places.fitting]
    settings = fleet.settings
    capture = Capture(settings.capture_median, settings.capture_factor, "as set")
    hours = fleet.engines.meter_unit == "h"
    for chosen, run_in in ((~hours, RUN_IN_KM), (hours, RUN_IN_H)):
        some = np.flatnonzero(chosen & np.isfinite(area).any(axis=1))
        if not len(some):
            continue
        lost = layer_lost(
            *(part[some] for part in at_place), density=layer.density, area=area[some],
            capture=capture, filled_share=np.nan_to_num(np.clip(filled[some], 0.0, 1.0)),
            run_in=run_in if role == "overlay" else None,
            unsampled_start=np.nan_to_num(np.maximum(started[some], 0.0)))
        new = _when_new(role, designation, places.overlay[some])
        for place, engine in enumerate(some.tolist()):
            reading = _reading(name, lost, new, area[some], filled[some], place,
                               until[engine] - places.fitted[engine])
            if reading is not None:
                found.setdefault(engine, []).append(reading)


def _rod_share(split: SourceSplit, source: int) -> tuple[Floats, Floats, Floats]:
    shared = share_rods_mains_other(split.value[:, source], split.low[:, source],
                                    split.high[:, source])
    return shared.value[:, 0], shared.low[:, 0], shared.high[:, 0]


def _when_new(role: str, designation: str, overlay: Floats) -> tuple[Floats, Floats, Floats]:
    least, usual, most = LAYERS[designation].thickness_um
    if role != "overlay":
        return tuple(np.full(overlay.shape, part) for part in (usual, least, most))  # type: ignore[return-value]
    known = np.isfinite(overlay)
    return (np.where(known, overlay, usual),
            np.where(known, overlay * (1 - _THICKNESS_SHARE), least),
            np.where(known, overlay * (1 + _THICKNESS_SHARE), most))


def _range(depth: Depth, engine: int, place: int) -> LayerRange:
    return LayerRange(*(number_or_none(part[engine, place]) for part in depth))


def _reading(name: str, lost: LayerLost, new: tuple[Floats, Floats, Floats], area: Floats,
             filled: Floats, engine: int, since: Floats) -> LayerReading | None:
    """Read the half that has lost most; None where nothing can be said."""
    spread, alone = lost.spread.value[engine], lost.one_half.value[engine]
    if not np.isfinite(spread).any():
        return None
    most, worst = int(np.nanargmax(spread)), int(np.nanargmax(alone))
    left = layer_left(lost.spread, new=new[0], new_low=new[1], new_high=new[2]).left
    left_alone = layer_left(lost.one_half, new=new[0], new_low=new[1], new_high=new[2]).left
    carried = np.isfinite(area[engine])
    return LayerReading(
        name, _range(lost.spread, engine, most), _range(lost.one_half, engine, worst),
        _range(left, engine, most), _range(left_alone, engine, worst),
        number_or_none(new[0][engine, most]), int(carried.sum()),
        float(np.nanmean(area[engine])), number_or_none(np.nanmax(since)),
        number_or_none(filled[engine, most]))
