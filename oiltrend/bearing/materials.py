"""What shells are made of: overlays, linings and the thin layers between, with their sources.

Designations are those of ISO 4383. The standard's tables could not be opened: compositions are
from memory unless a row says otherwise, each with its confidence. Densities follow the rule of
mixtures from the nominal composition; :func:`density_deviation` holds the table against it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from oiltrend.errors import ValueRefused

__all__ = ["ELEMENT_DENSITY", "LAYERS", "DistinctLayer", "Layer", "ShellMaterial",
           "density_deviation", "distinct_layers", "mixture_density"]

Role = Literal["overlay", "lining", "flash", "barrier"]
Confidence = Literal["high", "medium", "low"]

ELEMENT_DENSITY: dict[str, float] = {
    "Ag": 10.49, "Al": 2.70, "Bi": 9.78, "Cu": 8.96, "Fe": 7.87, "In": 7.31, "Ni": 8.91,
    "Pb": 11.34, "Sb": 6.69, "Si": 2.33, "Sn": 7.29, "Zn": 7.14}
"""Densities of the elements in kg/L at room temperature, from memory, high confidence."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a shell.

    Parameters
    ----------
    designation : str [-]
        ISO 4383 designation, or a plain name where there is none.
    role : str [-]
        overlay, lining, flash or barrier.
    shares : dict of str to float [-]
        Element to nominal mass share, summing to one; empty for a layer without metal.
    ranges : dict of str to pair of float [-]
        Element to least and greatest mass share; the balance element is not listed.
    density : float [kg/L]
        Density; the same number in mg/mm³.
    thickness_um : tuple of float [µm]
        Least, usual and greatest thickness when new.
    equivalents : tuple of str [-]
        Designations of other standards for about the same alloy.
    confidence : str [-]
        high, medium or low: how sure the composition is.
    source : str [-]
        Where it comes from.
    """

    designation: str
    role: Role
    shares: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]]
    density: float
    thickness_um: tuple[float, float, float]
    equivalents: tuple[str, ...]
    confidence: Confidence
    source: str


@dataclass(frozen=True, slots=True)
class ShellMaterial:
    """What a shell is made of, as far as is known.

    Parameters
    ----------
    overlay : str or None [-]
        Designation of the overlay; None where there is none or it is not known.
    lining : str or None [-]
        Designation of the lining; None where it is not known.
    structure : str [-]
        trimetal, bimetal, polymer, or "" where it is not known.
    assumed : tuple of str [-]
        overlay and lining where the text named a class of alloys, not one of them.
    """

    overlay: str | None
    lining: str | None
    structure: Literal["trimetal", "bimetal", "polymer", ""]
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DistinctLayer:
    """One layer material of an engine and the places that carry it.

    Parameters
    ----------
    designation : str [-]
        Layer, a key of :data:`LAYERS`.
    role : str [-]
        overlay or lining: as which it is fitted there.
    places : tuple of int [-]
        Positions in the list of shells.
    """

    designation: str
    role: Literal["overlay", "lining"]
    places: tuple[int, ...]


# Thickness when new: least, usual, greatest. From memory, high confidence; "usual" is assumed.
_PLATED = (12.0, 16.0, 25.0)
_SPUTTERED = (8.0, 12.0, 16.0)
_COATED = (5.0, 9.0, 15.0)
_COPPER_LINING = (200.0, 300.0, 400.0)
_ALUMINIUM_LINING = (200.0, 300.0, 500.0)
_ISO = "ISO 4383, composition from memory"
_PRACTICE = "makers' practice, from memory; not a row of ISO 4383 that is sure"


def _overlay(designation: str, shares: dict[str, float], ranges: dict[str, tuple[float, float]],
             density: float, thickness: tuple[float, float, float], confidence: Confidence,
             source: str) -> Layer:
    return Layer(designation, "overlay", shares, ranges, density, thickness, (), confidence,
                 source)


def _lining(designation: str, shares: dict[str, float], ranges: dict[str, tuple[float, float]],
            density: float, equivalents: tuple[str, ...], confidence: Confidence, source: str
            ) -> Layer:
    thickness = _ALUMINIUM_LINING if "Al" in shares else _COPPER_LINING
    return Layer(designation, "lining", shares, ranges, density, thickness, equivalents,
                 confidence, source)


_TABLE: tuple[Layer, ...] = (
    _overlay("PbSn10", {"Pb": 0.90, "Sn": 0.10}, {"Sn": (0.08, 0.12)}, 10.74, _PLATED, "high",
             _ISO + "; impurities up to 0.5 % looked up"),
    _overlay("PbSn10Cu2", {"Pb": 0.88, "Sn": 0.10, "Cu": 0.02},
             {"Sn": (0.08, 0.12), "Cu": (0.01, 0.03)}, 10.69, _PLATED, "high", _ISO),
    _overlay("PbIn7", {"Pb": 0.93, "In": 0.07}, {"In": (0.05, 0.10)}, 10.92, _PLATED, "high",
             _ISO),
    _overlay("PbIn9", {"Pb": 0.91, "In": 0.09}, {"In": (0.08, 0.11)}, 10.80, _PLATED, "medium",
             _PRACTICE),
    _overlay("SnCu6", {"Sn": 0.94, "Cu": 0.06}, {"Cu": (0.03, 0.08)}, 7.37, _PLATED, "medium",
             _PRACTICE + "; tin with 3 to 6 % copper looked up"),
    _overlay("SnSb7", {"Sn": 0.905, "Sb": 0.075, "Cu": 0.02},
             {"Sb": (0.07, 0.08), "Cu": (0.0, 0.04)}, 7.29, _PLATED, "medium", _PRACTICE),
    _overlay("AlSn20", {"Al": 0.7925, "Sn": 0.20, "Cu": 0.0075},
             {"Sn": (0.18, 0.22), "Cu": (0.0, 0.015)}, 3.11, _SPUTTERED, "medium",
             "sputtered overlay; looked up in a materials encyclopedia, ranges assumed"),
    _overlay("Bi", {"Bi": 1.0}, {}, 9.78, _PLATED, "medium",
             "electroplated bismuth, from memory"),
    _overlay("Ag", {"Ag": 1.0}, {}, 10.49, _PLATED, "medium",
             "electroplated silver under a lead-free flash, from memory"),
    _overlay("polymer", {}, {}, 1.9, _COATED, "medium",
             "resin with solid lubricant and hard filler, 1.6 to 2.2 kg/L; middle assumed"),
    _lining("CuPb10Sn10", {"Cu": 0.80, "Pb": 0.10, "Sn": 0.10},
            {"Pb": (0.09, 0.11), "Sn": (0.09, 0.11)}, 8.94, ("SAE 792", "SAE 797"), "high",
            _ISO + "; confirmed by two suppliers' tables"),
    _lining("CuPb17Sn5", {"Cu": 0.78, "Pb": 0.17, "Sn": 0.05},
            {"Pb": (0.14, 0.20), "Sn": (0.04, 0.06)}, 9.18, (), "high", _ISO),
    _lining("CuPb24Sn", {"Cu": 0.747, "Pb": 0.24, "Sn": 0.013},
            {"Pb": (0.19, 0.27), "Sn": (0.006, 0.02)}, 9.41, ("SAE 49",), "high",
            _ISO + "; a supplier's SAE 49 has more tin, 1.75 to 2.75 %"),
    _lining("CuPb24Sn4", {"Cu": 0.7225, "Pb": 0.24, "Sn": 0.0375},
            {"Pb": (0.19, 0.27), "Sn": (0.03, 0.045)}, 9.35, ("SAE 794", "SAE 799"), "high",
            _ISO + "; a supplier's table has lead 21 to 27 %, tin 3.0 to 4.5 %"),
    _lining("CuPb22Sn", {"Cu": 0.765, "Pb": 0.22, "Sn": 0.015},
            {"Pb": (0.19, 0.25), "Sn": (0.01, 0.02)}, 9.36, (), "medium", _PRACTICE),
    _lining("CuPb30", {"Cu": 0.6975, "Pb": 0.30, "Sn": 0.0025},
            {"Pb": (0.26, 0.33), "Sn": (0.0, 0.005)}, 9.56, ("SAE 48",), "high", _ISO),
    _lining("SnSb8Cu4", {"Sn": 0.89, "Sb": 0.075, "Cu": 0.035},
            {"Sb": (0.07, 0.08), "Cu": (0.03, 0.04)}, 7.29, ("SAE 12",), "high",
            "SAE J460 of October 1991, table 1, looked up"),
    _lining("AlSn20Cu", {"Al": 0.79, "Sn": 0.20, "Cu": 0.01},
            {"Sn": (0.175, 0.225), "Cu": (0.007, 0.013)}, 3.11, ("SAE 783",), "high",
            _ISO + "; tin and copper confirmed by two suppliers' tables"),
    _lining("AlSn6Cu", {"Al": 0.92, "Sn": 0.06, "Cu": 0.01, "Ni": 0.01},
            {"Sn": (0.055, 0.07), "Cu": (0.007, 0.013), "Ni": (0.007, 0.013)}, 2.85, (), "high",
            _ISO),
    _lining("AlSn12Si", {"Al": 0.845, "Sn": 0.12, "Si": 0.025, "Cu": 0.01},
            {"Sn": (0.10, 0.14), "Si": (0.015, 0.04), "Cu": (0.005, 0.02)}, 2.93, (), "medium",
            _PRACTICE),
    _lining("AlSi11Cu", {"Al": 0.88, "Si": 0.11, "Cu": 0.01},
            {"Si": (0.10, 0.12), "Cu": (0.007, 0.013)}, 2.67, (), "high", _ISO),
    _lining("AlZn5Si1.5Cu1Pb1Mg", {"Al": 0.915, "Zn": 0.05, "Si": 0.015, "Cu": 0.01, "Pb": 0.01},
            {"Zn": (0.044, 0.055), "Si": (0.01, 0.02), "Cu": (0.007, 0.013),
             "Pb": (0.007, 0.013)}, 2.82, (), "high", _ISO),
    _lining("CuSn8Ni", {"Cu": 0.91, "Sn": 0.08, "Ni": 0.01}, {"Sn": (0.07, 0.09)}, 8.80, (),
            "medium", _PRACTICE),
    _lining("CuSn5Zn", {"Cu": 0.94, "Sn": 0.05, "Zn": 0.01}, {"Sn": (0.04, 0.06)}, 8.84, (),
            "medium", _PRACTICE),
    _lining("CuNi2Si", {"Cu": 0.974, "Ni": 0.02, "Si": 0.006}, {"Ni": (0.016, 0.025)}, 8.81, (),
            "medium", _PRACTICE),
    _lining("CuSn10Bi3", {"Cu": 0.87, "Sn": 0.10, "Bi": 0.03},
            {"Sn": (0.09, 0.11), "Bi": (0.02, 0.08)}, 8.78, (), "medium", _PRACTICE),
    Layer("Sn flash", "flash", {"Sn": 1.0}, {}, 7.29, (0.2, 0.5, 1.0), (), "medium",
          "tin of up to 1 µm all over the shell, looked up; gives tin at first running"),
    Layer("Ni barrier", "barrier", {"Ni": 1.0}, {}, 8.91, (1.0, 1.5, 2.0), (), "high",
          "nickel between overlay and lining, from memory; 1 to 1.5 µm looked up"),
)

LAYERS: dict[str, Layer] = {layer.designation: layer for layer in _TABLE}
"""Every layer by its designation."""


def mixture_density(shares: Mapping[str, float]) -> float:
    """Give the density of an alloy by the rule of mixtures.

    Equation: ``ρ = 1 / Σ (w_i / ρ_i)``: the volumes of the elements add up.

    Parameters
    ----------
    shares : dict of str to float [-]
        Element to mass share, summing to one.

    Returns
    -------
    float [kg/L]
        Density.

    Raises
    ------
    ValueRefused
        When the shares do not sum to one or an element has no density in the table.

    Examples
    --------
    >>> round(mixture_density({"Pb": 0.88, "Sn": 0.10, "Cu": 0.02}), 4)
    10.6894

    References
    ----------
    Additive volumes; alloys depart from it by a per cent or so.
    """
    total = sum(shares.values())
    if abs(total - 1.0) > 1e-9:
        raise ValueRefused(f"shares: must sum to 1, found {total:g}",
                           hint="give mass shares of all elements")
    for symbol in shares:
        if symbol not in ELEMENT_DENSITY:
            raise ValueRefused(f"shares: must be of elements with a density, found '{symbol}'",
                               hint="use one of " + ", ".join(sorted(ELEMENT_DENSITY)))
    return 1.0 / sum(share / ELEMENT_DENSITY[symbol] for symbol, share in shares.items())


def density_deviation(layer: Layer) -> float:
    """Say how far the tabulated density of a layer lies from the rule of mixtures.

    Equation: ``ρ_table/ρ_mixture − 1``.

    Parameters
    ----------
    layer : Layer [-]
        A layer with metal in it.

    Returns
    -------
    float [-]
        Relative deviation.

    Raises
    ------
    ValueRefused
        When the layer holds no metal.

    Examples
    --------
    >>> abs(density_deviation(LAYERS["CuPb24Sn"])) < 0.001
    True
    """
    if not layer.shares:
        raise ValueRefused(f"{layer.designation}: must hold metal to have a density by the rule "
                           "of mixtures, found none", hint="use the tabulated density")
    return layer.density / mixture_density(layer.shares) - 1.0


def distinct_layers(shells: Sequence[ShellMaterial | None]) -> tuple[DistinctLayer, ...]:
    """List the layer materials of an engine, each once, with the places that carry it.

    Shells of one material give one and the same metal, whatever half they sit in, so that a
    source split has one source for all of them.

    Parameters
    ----------
    shells : sequence of ShellMaterial or None [-]
        Shell of each place; None where it is not known.

    Returns
    -------
    tuple of DistinctLayer [-]
        Overlays first, then linings, each in the order in which they are met.

    Examples
    --------
    >>> rod = ShellMaterial("AlSn20", "CuPb24Sn4", "trimetal")
    >>> cap = ShellMaterial("PbSn10Cu2", "CuPb24Sn4", "trimetal")
    >>> [(found.designation, found.places) for found in distinct_layers([rod, cap, rod, cap])]
    [('AlSn20', (0, 2)), ('PbSn10Cu2', (1, 3)), ('CuPb24Sn4', (0, 1, 2, 3))]
    """
    places: dict[tuple[Literal["overlay", "lining"], str], list[int]] = {}
    roles: tuple[Literal["overlay", "lining"], ...] = ("overlay", "lining")
    for role in roles:
        for place, shell in enumerate(shells):
            designation = getattr(shell, role, None)
            if designation is not None:
                places.setdefault((role, designation), []).append(place)
    return tuple(DistinctLayer(designation, role, tuple(where))
                 for (role, designation), where in places.items())
