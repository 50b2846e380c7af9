"""What an assessment says, as records: verdict, reasons, doubts, and the history behind them.

Codes only carry meaning to the program; their sentences are made in ``wording.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["AppliedLimit", "Chance", "Doubt", "EngineHistory", "Figures", "IntervalFigures",
           "LayerRange", "LayerReading", "LimitKind", "Marker", "Rate", "Reason", "SourceRange",
           "SourceReading", "Trend", "Verdict"]

Level = Literal["no_alarm", "alert", "alarm"]
DataState = Literal["enough", "little", "out_of_date"]
LimitKind = Literal["fixed", "population", "own", "finding"]


@dataclass(frozen=True, slots=True)
class Reason:
    """One piece of evidence for the level, strongest first in a verdict.

    ``size`` says how far beyond its limit the value is (value / limit; 0 for a finding), and
    orders reasons; ``sample`` is the id of the sample it rests on; ``quantity`` is level,
    per_1000, wear_rate or finding; ``alone`` marks a figure beyond an alarm limit that waits
    for a second piece of evidence and counts as an alert until then; ``text`` is the sentence.
    """

    code: str
    text: str
    level: Level
    measurand: str | None
    quantity: str
    value: float | None
    unit: str | None
    operator: str
    limit: float | None
    limit_kind: LimitKind
    limit_source: str
    n: int | None
    size: float
    sample: int
    alone: bool


@dataclass(frozen=True, slots=True)
class Doubt:
    """A sample may not be what it says. ``answered``: "" open, "confirmed" or "set_aside"."""

    sample: int
    code: str
    text: str
    answered: str = ""


class Rate(NamedTuple):
    """A value with its 95 % interval; value is None where it hides below a reporting limit.

    A fleet has hundreds of thousands of these, which is why they are plain tuples.
    """

    value: float | None
    low: float | None
    high: float | None
    unit: str


class SourceRange(NamedTuple):
    """Metal from one source with its 95 % range."""

    value: float
    low: float | None
    high: float | None
    unit: str


class SourceReading(NamedTuple):
    """Where the metal of the latest interval came from.

    ``notes`` say what the known sources leave over; ``alike`` are pairs of sources that cannot
    be told apart with the elements measured; ``blind`` names layers that they do not show, as
    ``code:layer``.
    """

    ranges: dict[str, SourceRange]
    notes: tuple[str, ...]
    alike: tuple[tuple[str, str], ...]
    blind: tuple[str, ...]


class LayerRange(NamedTuple):
    """Depth in µm with its 95 % range."""

    value: float | None
    low: float | None
    high: float | None


class LayerReading(NamedTuple):
    """What is left of one layer, for the half that has lost most by each view.

    ``lost_spread`` and ``lost_one_half``: depth lost if all loaded halves wore alike, and if
    one half gave all the metal; ``left_spread`` and ``left_one_half``: what then is left of
    the thickness when new, None where that is not known. ``since`` is the use since the oldest
    of these shells went in, ``filled_share`` the share of the metal filled in over stretches
    without a sample, ``halves`` and ``area_mm2`` the halves that carry the layer and the loaded
    area of each.
    """

    layer: str
    lost_spread: LayerRange
    lost_one_half: LayerRange
    left_spread: LayerRange
    left_one_half: LayerRange
    new_um: float | None
    halves: int
    area_mm2: float
    since: float | None
    filled_share: float | None


class IntervalFigures(NamedTuple):
    """The plain figures of a sample, redone by anyone on paper: see the contract."""

    ppm: float | None
    ppm_per_1000: float | None
    below_limit: bool
    start_ppm: float | None
    mid_fill_per_1000: float | None


@dataclass(frozen=True, slots=True)
class Chance:
    """Chance that a wear stage is reached; not computed yet, always None in this release."""

    stage: int
    value: float
    low: float
    high: float
    basis: Literal["prior", "evidence"]
    teardowns: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the tool says about one engine on one day.

    ``size`` is the size of the main reason and ``trend_word`` the trend of its measurand, ""
    where there is none. ``figures`` are worked out only when asked for. ``meter`` and distances
    count in ``meter_unit``.
    """

    engine: str
    family: str
    as_of: date
    meter: float | None
    meter_unit: str
    level: Level | None
    data: DataState
    awaiting_result: bool
    awaited_since: date | None
    chance: Chance | None
    reasons: tuple[Reason, ...]
    trend_word: str
    figures: Figures | None
    next_by_meter: float | None
    next_by_date: date | None
    last_sample_date: date | None
    last_sample_meter: float | None
    samples: int
    doubts: tuple[Doubt, ...]
    not_measured: tuple[str, ...]
    not_judged: tuple[str, ...]
    size: float


class Trend(NamedTuple):
    """Robust slope over the use axis, with the rank test beside it.

    ``of`` says what it is the slope of: the wear_rate (mg per 1000 use per 1000 use) of what
    wears or is carried in, the level (unit per 1000 use) of additives and conditions.
    ``p_value`` is two-sided; n counts the samples used; ``word`` is rising, falling, level ("no
    trend shown"), too_few or below_limit.
    """

    slope: float | None
    p_value: float | None
    n: int
    word: Literal["rising", "falling", "level", "too_few", "below_limit"]
    of: Literal["wear_rate", "level"]


class Figures(NamedTuple):
    """The figures behind a verdict, by measurand; ``layers`` are those of the rod shells."""

    wear_rate: dict[str, Rate]
    interval: dict[str, IntervalFigures]
    trend: dict[str, Trend]
    sources: SourceReading | None
    layers: tuple[LayerReading, ...]


@dataclass(frozen=True, slots=True)
class AppliedLimit:
    """A limit as it stood for this engine in the assessment; value None when it cannot be given.

    ``n`` counts engines behind a population limit; ``note`` says why there is none.
    """

    measurand: str
    quantity: str
    level: Level
    operator: str
    value: float | None
    kind: LimitKind
    source: str
    n: int | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Marker:
    """Something on the use axis that is not a sample: oil change, top-up, shells fitted, ….

    ``axis`` is None when only the date is known and no meter could be inferred.
    """

    kind: str
    axis: float | None
    on: date | None
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class EngineHistory:
    """Everything a figure or a table about one engine needs. Rows are samples, oldest first.

    Two histories are the same only if they are one object: what was drawn from one can be
    kept until another is worked out.

    Arrays are [n] or [n, n_measurands] with the columns of ``measurands``; concentrations in
    the measurand's unit, rates in mg per 1000 use, ``axis`` in the engine's use unit (km or
    h), NaN where unknown. ``qualifier`` as in records. ``fill`` numbers the oil fills.
    """

    engine: str
    family: str
    meter_unit: str
    measurands: tuple[str, ...]
    sample: NDArray[np.int64]
    sample_date: NDArray[np.datetime64]
    meter: NDArray[np.float64]
    axis: NDArray[np.float64]
    oil_distance: NDArray[np.float64]
    fill: NDArray[np.int64]
    series: NDArray[np.int64]
    doubted: NDArray[np.bool_]
    awaited: NDArray[np.bool_]
    lab: NDArray[np.object_]
    value: NDArray[np.float64]
    qualifier: NDArray[np.int8]
    start_ppm: NDArray[np.float64]
    ppm_per_1000: NDArray[np.float64]
    mid_fill_per_1000: NDArray[np.float64]
    rate: NDArray[np.float64]
    rate_low: NDArray[np.float64]
    rate_high: NDArray[np.float64]
    limits: tuple[AppliedLimit, ...]
    markers: tuple[Marker, ...]
    doubts: tuple[Doubt, ...]
