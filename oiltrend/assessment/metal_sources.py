"""Where the metal came from: each engine's own shells and the other sources, as signatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.assessment.inputs import FleetInput
from oiltrend.assessment.rates import WORN
from oiltrend.assessment.results import SourceRange, SourceReading
from oiltrend.assessment.values import number_or_none
from oiltrend.assessment.work import Worked
from oiltrend.bearing.blind_spots import blind_spots
from oiltrend.bearing.material_names import parse_material
from oiltrend.bearing.materials import LAYERS, DistinctLayer, ShellMaterial, distinct_layers
from oiltrend.nomenclature import PANEL
from oiltrend.wear.sources import SourceSplit, SourceState, split_sources
from oiltrend.wear.sources_diagnosis import note_codes
from oiltrend.wear.sources_input import Found, Signatures, share_spread
from oiltrend.wear.sources_table import OTHER_SOURCES, signature_rows

__all__ = ["EngineShells", "engine_shells", "found_in", "latest_sources", "measured_columns",
           "read_split", "signatures_of", "source_name"]


@dataclass(frozen=True, slots=True)
class EngineShells:
    """Shells of each engine as layers. ``kind`` numbers the different sets of layers.

    ``layers[kind]`` lists the layers of that set; ``names`` are the sources that the fleet has
    between them, layers first, each once.
    """

    materials: list[tuple[ShellMaterial | None, ...]]
    kind: NDArray[np.int64]
    layers: tuple[tuple[DistinctLayer, ...], ...]
    names: tuple[str, ...]


def source_name(layer: DistinctLayer) -> str:
    """Name a layer as a source of metal.

    Parameters
    ----------
    layer : DistinctLayer [-]
        Layer.

    Returns
    -------
    str [-]
        Role and designation.
    """
    return f"{layer.role} {layer.designation}"


def engine_shells(fleet: FleetInput) -> EngineShells:
    """Read what the shells of every engine are made of.

    Parameters
    ----------
    fleet : FleetInput [-]
        The fleet.

    Returns
    -------
    EngineShells [-]
        Layers by engine; text that is not understood counts as not known.
    """
    parsed = {text: parse_material(text) for text in set(fleet.shells.material.tolist())}
    halves: list[list[ShellMaterial | None]] = [[] for _ in fleet.engines.engine]
    for engine, text in zip(fleet.shells.engine.tolist(), fleet.shells.material.tolist(),
                            strict=True):
        halves[engine].append(parsed[text])
    kinds: dict[tuple[tuple[str, str], ...], int] = {}
    layers: list[tuple[DistinctLayer, ...]] = []
    kind = np.zeros(len(halves), dtype=np.int64)
    for engine, own in enumerate(halves):
        found = distinct_layers(own)
        key = tuple((layer.role, layer.designation) for layer in found)
        if key not in kinds:
            kinds[key] = len(layers)
            layers.append(found)
        kind[engine] = kinds[key]
    names = dict.fromkeys(source_name(layer) for own in layers for layer in own
                          if LAYERS[layer.designation].shares)
    return EngineShells([tuple(own) for own in halves], kind, tuple(layers), tuple(names))


def measured_columns(worked: Worked) -> NDArray[np.int64]:
    """List the panel columns that wear or are carried in and were ever measured.

    Parameters
    ----------
    worked : Worked [-]
        Rates of the fleet.

    Returns
    -------
    array of int [-]
        Columns.
    """
    worn = np.array(WORN)
    return worn[worked.readings.measured[:, worn].any(axis=0)]


def signatures_of(shells: EngineShells, elements: Sequence[str], kind: NDArray[np.int64]
                  ) -> Signatures:
    """Lay the sources of every kind of engine out over the elements measured.

    Parameters
    ----------
    shells : EngineShells [-]
        Layers of the fleet.
    elements : sequence of str [-]
        Elements.
    kind : array of int, shape (n,) [-]
        Kind of each row.

    Returns
    -------
    Signatures [-]
        Layers that a kind does not have are empty rows.
    """
    others = [other.shares for other in OTHER_SOURCES]
    width = len(shells.names)
    spread_of = [1.0] * width + [other.spread for other in OTHER_SOURCES]
    tables = []
    for own in shells.layers:
        present = {source_name(layer): LAYERS[layer.designation].shares for layer in own}
        tables.append(signature_rows([present.get(name, {}) for name in shells.names] + others,
                                     elements))
    shares = np.array(tables)
    relative = np.array([0.25] * width + spread_of[width:])[None, :, None]
    return Signatures((*shells.names, *(other.code for other in OTHER_SOURCES)), shares,
                      share_spread(shares, relative=relative), kind)


def found_in(worked: Worked, rows: NDArray[np.int64], columns: NDArray[np.int64]) -> Found:
    """Put the wear rates of some samples together for a split.

    A rate below its reporting limit enters by its interval.

    Parameters
    ----------
    worked : Worked [-]
        Rates.
    rows : array of int [-]
        Samples.
    columns : array of int [-]
        Panel columns.

    Returns
    -------
    Found [-]
        One row per sample.
    """
    cells = np.ix_(rows, columns)
    wear = worked.ledger.wear
    value, low, high = wear.rate[cells], wear.low[cells], wear.high[cells]
    bounded = np.isnan(value) & np.isfinite(high)
    # The ends of a bounded rate carry the test's uncertainty already; a tenth keeps it soft.
    spread = np.where(bounded, 0.1 * np.abs(high), wear.standard_uncertainty[cells])
    spread = np.where(spread > 0, spread, np.nan)
    return Found(tuple(PANEL[c] for c in columns), value, spread,
                 np.where(bounded, np.maximum(low, 0.0), np.nan),
                 np.where(bounded, high, np.nan))


def latest_sources(fleet: FleetInput, worked: Worked, shells: EngineShells
                   ) -> dict[int, SourceReading]:
    """Split the latest wear rates of every engine between their sources.

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
        Engine to its sources.
    """
    engines = np.flatnonzero(worked.latest >= 0)
    columns = measured_columns(worked)
    if not len(engines) or not len(columns):
        return {}
    found = found_in(worked, worked.latest[engines], columns)
    split = split_sources(found, signatures_of(shells, found.elements, shells.kind[engines]))
    hours = fleet.engines.meter_unit[engines] == "h"
    return {int(engine): read_split(split, place, "mg per 1000 h" if hours[place]
                                    else "mg per 1000 km",
                                    _blind(shells.materials[engine], found.elements))
            for place, engine in enumerate(engines)}


def read_split(split: SourceSplit, row: int, unit: str, blind: tuple[str, ...]) -> SourceReading:
    """Read one row of a split as plain values.

    Parameters
    ----------
    split : SourceSplit [-]
        The split.
    row : int [-]
        Its row.
    unit : str [-]
        Unit of the ranges.
    blind : tuple of str [-]
        Layers that the elements do not show.

    Returns
    -------
    SourceReading [-]
        Sources that can be spoken of, what the residual says, what cannot be told apart.
    """
    ranges = {}
    for place, name in enumerate(split.sources):
        if split.state[row, place] == SourceState.SEEN:
            value = number_or_none(split.value[row, place])
            if value is not None:
                ranges[name] = SourceRange(value, number_or_none(split.low[row, place]),
                                           number_or_none(split.high[row, place]), unit)
    return SourceReading(ranges, note_codes(int(split.note[row])), split.pairs(row), blind)


def _blind(shells: Sequence[Any], elements: Sequence[str]) -> tuple[str, ...]:
    found = dict.fromkeys(f"{spot.code}:{spot.role} {spot.designation}"
                          for shell in dict.fromkeys(shells) if shell is not None
                          for spot in blind_spots(shell, elements))
    return tuple(found)
