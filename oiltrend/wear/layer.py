"""From metal in the oil to depth off a shell: spread over all halves, or all from one.

Oil knows a sum. Spread evenly over every loaded half it gives the least depth, taken from one
half alone the most; the truth lies between and oil cannot say where, so the two always stand
together. Spectrometry sees only part of the metal that left the shells: the capture fraction,
of which little is known, and which therefore widens every range.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.wear.arrays import FloatLike, Floats, check_range

__all__ = ["DEFAULT_CAPTURE", "FILL_FACTOR", "RUN_IN_H", "RUN_IN_KM", "Capture", "Depth",
           "LayerLeft", "LayerLost", "RunIn", "depth_of_mass", "layer_left", "layer_lost",
           "running_in"]

_UM_PER_MM = 1000.0
# Directions looked along for the ends of a range; the error of the grid is below 0.1 %.
_ANGLES = np.linspace(0.0, np.pi / 2.0, 33)


@dataclass(frozen=True, slots=True)
class Capture:
    """Share of the worn metal that the laboratory sees, as a log-normal prior.

    Parameters
    ----------
    median : float [-]
        Median, above 0 and not above 1.
    factor : float [-]
        The 95 % range is median/factor to median·factor; 1 means known exactly.
    source : str [-]
        Where the numbers come from.

    Raises
    ------
    ValueRefused
        When the median does not lie above 0 and up to 1, or the factor is below 1.
    """

    median: float
    factor: float
    source: str

    def __post_init__(self) -> None:
        if not 0.0 < self.median <= 1.0:
            raise ValueRefused(f"median: must lie above 0 and up to 1, found {self.median:g}",
                               hint="give the share of the metal that is seen")
        _check_factor(self.factor)


def _check_factor(factor: float) -> None:
    if not factor >= 1.0:
        raise ValueRefused(f"factor: must be 1 or more, found {factor:g}",
                           hint="give 1 for a number that is known, 2 for half to double")


DEFAULT_CAPTURE = Capture(
    0.5, 2.0,
    "assumed, no source: a quarter to all of it; spectrometers see particles up to about 5 to "
    "10 µm, filters and settling keep the rest")

FILL_FACTOR = 2.0
"""95 % range of a wear rate that was filled in from its neighbours: half to double; assumed."""


@dataclass(frozen=True, slots=True)
class RunIn:
    """Running-in of new shells: depth, over what use, and how uncertain.

    Parameters
    ----------
    depth_um : float [µm]
        Depth that running-in takes in all.
    factor : float [-]
        95 % range of the depth: divided and multiplied by this.
    use : float [use]
        Use in which 63 % of it is done.
    source : str [-]
        Where the numbers come from.

    Raises
    ------
    ValueRefused
        When a number is out of range.
    """

    depth_um: float
    factor: float
    use: float
    source: str

    def __post_init__(self) -> None:
        for name, number in (("depth_um", self.depth_um), ("use", self.use)):
            if not number > 0.0:
                raise ValueRefused(f"{name}: must be above zero, found {number:g}",
                                   hint="leave running-in out instead")
        _check_factor(self.factor)


RUN_IN_KM = RunIn(1.0, 3.0, 3000.0, "use typically 1000 to 5000 km, from memory; depth assumed")
RUN_IN_H = RunIn(1.0, 3.0, 60.0, "3000 km at 50 km/h, assumed; depth assumed")


class Depth(NamedTuple):
    """A depth with its 95 % range.

    Parameters
    ----------
    value, low, high : array [µm]
        Depth and range.
    """

    value: Floats
    low: Floats
    high: Floats


class LayerLost(NamedTuple):
    """Depth lost by a layer, per half.

    Parameters
    ----------
    spread : Depth [-]
        Each half has worn by the same depth.
    one_half : Depth [-]
        This half alone gave all the metal that the oil carried.
    run_in_um : array [µm]
        Part of both that running-in is assumed to have taken before the first sample.
    """

    spread: Depth
    one_half: Depth
    run_in_um: Floats


class LayerLeft(NamedTuple):
    """Thickness left of a layer, per half.

    Parameters
    ----------
    left : Depth [-]
        Mean thickness left over the loaded area, never below zero.
    beyond : array of bool [-]
        The depth lost is more than the layer had: it is through, or the depth is not its own.
    """

    left: Depth
    beyond: NDArray[np.bool_]


def depth_of_mass(mass: FloatLike, density: FloatLike, area: FloatLike, *,
                  mass_share: FloatLike = 1.0) -> Floats:
    """Turn a mass of metal into the depth of layer it came from.

    Equation: ``depth = m / (w · ρ · A)``; 1 kg/L is 1 mg/mm³.

    Parameters
    ----------
    mass : array [mg]
        Mass of the layer, or of one of its elements.
    density : array, broadcast [kg/L]
        Density of the layer.
    area : array, broadcast [mm²]
        Area that it came from.
    mass_share : array, broadcast [-]
        Mass share w of the element in the layer; 1 for the mass of the layer itself.

    Returns
    -------
    array [µm]
        Depth; NaN where the area is not above zero.

    Examples
    --------
    >>> float(depth_of_mass(50.0, 10.6894, 8 * 1507.964 * 2 / 3, mass_share=0.88).round(4))
    0.6609
    """
    ground = np.asarray(area, float)
    volume = np.asarray(mass, float) / (np.asarray(mass_share, float) * np.asarray(density, float))
    return np.asarray(volume / np.where(ground > 0.0, ground, np.nan) * _UM_PER_MM)


def running_in(use: FloatLike, *, run_in: RunIn = RUN_IN_KM) -> Floats:
    """Give the depth that running-in has taken.

    Equation: ``w(x) = w_ri · (1 − exp(−x/x_ri))``.

    Parameters
    ----------
    use : array [use]
        Use x since the shell went in.
    run_in : RunIn [-]
        w_ri and x_ri.

    Returns
    -------
    array [µm]
        Depth.

    Examples
    --------
    >>> running_in(np.array([0.0, 3000.0, 1e6])).round(3).tolist()
    [0.0, 0.632, 1.0]

    References
    ----------
    Usual form of running-in wear, from memory, medium confidence.
    """
    return np.asarray(-run_in.depth_um * np.expm1(-np.asarray(use, float) / run_in.use))


def _over_capture(value: Floats, low: Floats, high: Floats, capture: Capture) -> Depth:
    """Divide a range by the capture fraction.

    Equation: the ends of ``M/c`` on the line ``z_M² + z_c² = 1.96²`` of equal likelihood, M
    normal to either side of its value and c log-normal.
    """
    open_end = np.isinf(high)
    up, down = np.where(open_end, 0.0, high - value), value - low
    most, least = np.where(open_end, np.inf, value), np.where(np.isnan(down), np.nan, np.inf)
    # A loop over directions: how much of the deviation the mass takes, how much the capture.
    for angle in _ANGLES:
        stretch = capture.factor ** float(np.cos(angle))
        part = float(np.sin(angle))
        np.maximum(most, (value + part * up) * stretch, out=most)
        np.minimum(least, np.maximum(value - part * down, 0.0) / stretch, out=least)
    return Depth(value / capture.median, least / capture.median, most / capture.median)


def layer_lost(
    mass: Floats, mass_low: Floats, mass_high: Floats, *, density: float, area: Floats,
    capture: Capture = DEFAULT_CAPTURE, filled_share: FloatLike = 0.0,
    fill_factor: float = FILL_FACTOR, run_in: RunIn | None = None,
    unsampled_start: FloatLike = 0.0,
) -> LayerLost:
    """Give the depth that a layer has lost since its shells went in, both ways.

    Equation: ``spread = M/(c ρ Σ A)``, ``one half = M/(c ρ A)``, so that for equal halves
    ``one half = spread · number of halves``. Before that the range of M takes up the filled
    part φ in quadrature, by ``φ M (f − 1)`` above and ``φ M (1 − 1/f)`` below.

    Parameters
    ----------
    mass : array, shape (e, h) [mg]
        Metal of the layer seen in the oil since the shell of each half went in.
    mass_low, mass_high : array, shape (e, h) [mg]
        Its 95 % range.
    density : float [kg/L]
        Density of the layer.
    area : array, shape (e, h) [mm²]
        Loaded area of each half that has this layer; 0 or NaN where a half has it not.
    capture : Capture [-]
        Prior of the capture fraction.
    filled_share : array, broadcast to (e, h) [-]
        Share of the mass that was filled in over stretches without a sample.
    fill_factor : float [-]
        95 % range of a rate that was filled in.
    run_in : RunIn or None [-]
        Running-in to be added for a start without samples; none by default.
    unsampled_start : array, broadcast to (e, h) [use]
        Use from the fitting of each shell to the first sampled interval.

    Returns
    -------
    LayerLost [-]
        Depths with ranges; NaN for halves without the layer and where the mass is unknown.

    Raises
    ------
    ValueRefused
        When shapes do not fit or a share lies outside 0 to 1.

    Examples
    --------
    >>> mass, area = np.full((1, 8), 200 / 0.88), np.full((1, 8), 1507.964 * 2 / 3)
    >>> lost = layer_lost(mass, mass, mass, density=10.6894, area=area,
    ...                   capture=Capture(1.0, 1.0, "known"))
    >>> float(lost.spread.value[0, 0].round(2)), float(lost.one_half.value[0, 0].round(1))
    (2.64, 21.1)
    """
    for name, array in (("mass_low", mass_low), ("mass_high", mass_high), ("area", area)):
        if array.shape != mass.shape:
            raise ValueRefused(f"{name}: must have the shape of mass {mass.shape}, "
                               f"found {array.shape}", hint="give one number per half")
    check_range("filled_share", np.asarray(filled_share, float), high=1.0)
    _check_factor(fill_factor)
    filled = np.asarray(filled_share, float) * np.abs(mass)
    seen = _over_capture(mass, mass - np.hypot(mass - mass_low, filled * (1 - 1 / fill_factor)),
                         mass + np.hypot(mass_high - mass, filled * (fill_factor - 1)), capture)
    there = area > 0.0
    alone = np.where(there, area, np.nan)
    together = np.where(there, np.where(there, area, 0.0).sum(axis=-1, keepdims=True), np.nan)
    early = np.zeros(mass.shape) if run_in is None else np.broadcast_to(
        running_in(unsampled_start, run_in=run_in), mass.shape)
    factor = 1.0 if run_in is None else run_in.factor
    spread, one_half = (
        _with_run_in(Depth(*(depth_of_mass(end, density, over) for end in seen)), early, factor)
        for over in (together, alone))
    return LayerLost(spread, one_half, np.where(there, early, np.nan))


def _with_run_in(depth: Depth, early: Floats, factor: float) -> Depth:
    """Add what running-in took before the first sample, its range in quadrature."""
    value = depth.value + early
    low = value - np.hypot(depth.value - depth.low, early * (1.0 - 1.0 / factor))
    high = value + np.hypot(depth.high - depth.value, early * (factor - 1.0))
    return Depth(value, np.maximum(low, 0.0), high)


def layer_left(lost: Depth, *, new: FloatLike, new_low: FloatLike, new_high: FloatLike
               ) -> LayerLeft:
    """Give what is left of a layer.

    Equation: ``left = new − lost``, ranges in quadrature, nothing below zero.

    Parameters
    ----------
    lost : Depth [-]
        Depth lost.
    new, new_low, new_high : array, broadcast [µm]
        Thickness when new and its 95 % range.

    Returns
    -------
    LayerLeft [-]
        Thickness left.

    Examples
    --------
    >>> lost = Depth(np.array([5.0, 21.1]), np.array([2.0, 10.0]), np.array([9.0, 40.0]))
    >>> left = layer_left(lost, new=15.0, new_low=12.0, new_high=18.0)
    >>> left.left.value.round(1).tolist(), left.left.low.round(1).tolist()
    ([10.0, 0.0], [5.0, 0.0])
    >>> left.beyond.tolist()
    [False, True]
    """
    value, low, high = (np.asarray(part, float) for part in (new, new_low, new_high))
    left = value - lost.value
    least = left - np.hypot(value - low, lost.high - lost.value)
    most = left + np.hypot(high - value, lost.value - lost.low)
    return LayerLeft(Depth(*(np.maximum(end, 0.0) for end in (left, least, most))),
                     np.asarray(left < 0.0))
