"""What the invented shells are made of, layer by layer, and what every source of metal sheds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from oiltrend.nomenclature import PANEL, PANEL_INDEX

__all__ = ["LAYERS", "MATERIALS", "SOURCES", "Layer", "Material", "layer_table", "signatures"]


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a shell.

    Parameters
    ----------
    designation : str [-]
        ISO 4383 designation.
    density : float [kg/L]
        Mass per volume; the same number in mg/mm³.
    shares : dict of str to float [-]
        Element to mass share.
    source : str [-]
        Where shares and density come from.
    """

    designation: str
    density: float
    shares: dict[str, float]
    source: str


@dataclass(frozen=True, slots=True)
class Material:
    """A kind of shell: overlay on lining, or lining only.

    Parameters
    ----------
    name : str [-]
        As written in records: overlay/lining, or the lining alone.
    words : str [-]
        For people.
    overlay, lining : int [-]
        Rows of :data:`LAYERS`; overlay -1 when there is none.
    overlay_um : float [µm]
        Mean overlay thickness when new.
    structure : str [-]
        trimetal or bimetal.
    source : str [-]
        Where the thickness comes from.
    """

    name: str
    words: str
    overlay: int
    lining: int
    overlay_um: float
    structure: str
    source: str


_MEMORY = "ISO 4383 nominal composition, from memory; density by rule of mixtures"

LAYERS: tuple[Layer, ...] = (
    Layer("PbSn10Cu2", 10.69, {"Pb": 0.88, "Sn": 0.10, "Cu": 0.02}, _MEMORY),
    Layer("PbIn7", 10.92, {"Pb": 0.93, "In": 0.07}, _MEMORY),
    Layer("CuPb24Sn", 9.41, {"Cu": 0.747, "Pb": 0.24, "Sn": 0.013}, _MEMORY),
    Layer("AlSn20Cu", 3.11, {"Al": 0.79, "Sn": 0.20, "Cu": 0.01}, _MEMORY),
)

MATERIALS: tuple[Material, ...] = (
    Material("PbSn10Cu2/CuPb24Sn", "lead-tin overlay on copper-lead", 0, 2, 15.0, "trimetal",
             "12 to 25 µm usual for plated overlays, from memory; 15 µm assumed"),
    Material("AlSn20Cu", "aluminium-tin", -1, 3, 0.0, "bimetal", "no overlay by kind"),
    Material("PbIn7/CuPb24Sn", "lead-indium overlay on copper-lead", 1, 2, 16.0, "trimetal",
             "12 to 25 µm usual for plated overlays, from memory; 16 µm assumed"),
)

# Mass shares of what the rest of the engine, dirt and coolant bring in: plausible alloys,
# assumed. The dust is ISO 12103-1 (SiO2 68-76 %, Al2O3 10-15 %, from memory): silicon to
# aluminium about 5. Of leaked coolant only salts stay; most of its water boils off.
_OTHERS: tuple[tuple[str, dict[str, float]], ...] = (
    ("journal", {"Fe": 0.98, "Mn": 0.008, "Cr": 0.010}),
    ("bore and ring", {"Fe": 0.93, "Cr": 0.055, "Mn": 0.006, "Mo": 0.005}),
    ("piston", {"Al": 0.86, "Si": 0.12, "Cu": 0.010, "Ni": 0.010}),
    ("valve gear and pump", {"Fe": 0.93, "Ni": 0.020, "Mn": 0.010, "Al": 0.030}),
    ("bush", {"Cu": 0.88, "Sn": 0.08, "Zn": 0.03}),
    ("cooler", {"Cu": 1.0}),
    ("dirt", {"Si": 0.337, "Al": 0.066, "Fe": 0.020, "Ca": 0.020, "Na": 0.015, "K": 0.015}),
    ("coolant", {"Na": 0.003, "K": 0.005, "B": 0.0006, "water_pct": 1.5e-5, "glycol_pct": 6e-6}),
)

# A shell layer counts twice, as rod shell and as main shell, because oil cannot tell them
# apart and the truth must.
SOURCES: tuple[str, ...] = (
    *(f"rod {layer.designation}" for layer in LAYERS),
    *(f"main {layer.designation}" for layer in LAYERS),
    *(name for name, _ in _OTHERS),
)


@cache
def signatures() -> NDArray[np.float64]:
    """Give the mass share of every panel column in what a source sheds.

    Water and glycol, reported in %, are in kg of oil times % per mg.

    Returns
    -------
    array, shape (n_sources, n_measurands) [-]
        Rows as in :data:`SOURCES`, columns as in the panel.

    Examples
    --------
    >>> float(signatures()[SOURCES.index("rod PbSn10Cu2"), PANEL_INDEX["Pb"]])
    0.88
    """
    rows = [layer.shares for layer in LAYERS] * 2 + [shares for _, shares in _OTHERS]
    table = np.zeros((len(rows), len(PANEL)))
    for number, shares in enumerate(rows):
        for symbol, share in shares.items():
            table[number, PANEL_INDEX[symbol]] = share
    table.setflags(write=False)
    return table


@cache
def layer_table() -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Give overlay row and lining row per material, and density per layer.

    Returns
    -------
    tuple of array [-]
        Overlay rows (-1 none) and lining rows, shape (n_materials,); densities in mg/mm³,
        shape (n_layers,).

    Examples
    --------
    >>> overlay, lining, density = layer_table()
    >>> overlay.tolist(), lining.tolist()
    ([0, -1, 1], [2, 3, 2])
    """
    return (np.array([m.overlay for m in MATERIALS]), np.array([m.lining for m in MATERIALS]),
            np.array([layer.density for layer in LAYERS]))
