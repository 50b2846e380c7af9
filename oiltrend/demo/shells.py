"""Shells: how deep each one is worn, which layer that uncovers, and the stage it looks like.

The depth that a shell has lost is a mean over its loaded area. Locally the loss falls in a
straight line from twice the mean at the crown to nothing at the edge of the loaded area
(assumed), so the overlay goes first at the crown and the lining shows over a growing share.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["ALLOWED_UM", "LOADED_SHARE", "Floats", "layer_state", "loaded_area",
           "wear_stage"]

Floats = NDArray[np.float64]

# Share of a shell's surface that carries load and wears: "about 2/3", as service
# descriptions of normal wear have it.
LOADED_SHARE = 2 / 3
# What a two-layer shell may lose at the crown. Army technical manuals allow 38 to 56 µm for
# diesel rod shells; 40 µm assumed for the invented families.
ALLOWED_UM = 40.0
# The rest is assumed: when polish shows, when a loss can be measured with a ball
# micrometer, when the lining looks scored, when it breaks away.
_POLISHED_UM = 0.3
_MEASURABLE_UM = 5.0
_SCORED_UM = 30.0
_BREAKS_UM = 60.0
_BREAKS_BIMETAL_UM = 120.0


def loaded_area(pin_mm: Floats, width_mm: Floats) -> Floats:
    """Give the loaded area of one half.

    Equation: ``A = 2/3 · (π D / 2) · B``.

    Parameters
    ----------
    pin_mm : array [mm]
        Journal diameter D.
    width_mm : array [mm]
        Shell width B.

    Returns
    -------
    array [mm²]
        Loaded area of one half.

    Examples
    --------
    >>> round(float(loaded_area(np.float64(48.0), np.float64(20.0))), 2)
    1005.31
    """
    return np.asarray(LOADED_SHARE * np.pi * pin_mm / 2 * width_mm, dtype=np.float64)


def layer_state(depth_um: Floats, overlay_um: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Tell which layers a worn shell has lost.

    Equation: with local depth ``2 D (1 − u)`` over the loaded area, u from 0 to 1, and
    overlay thickness T: share uncovered ``s = max(0, 1 − T / 2D)``, lining lost
    ``D s²``, overlay lost ``D − lining lost``, depth at the crown ``2 D``.

    Parameters
    ----------
    depth_um : array [µm]
        Mean depth D lost over the loaded area.
    overlay_um : array [µm]
        Overlay thickness T when new, 0 for a shell without overlay.

    Returns
    -------
    tuple of array [-]
        Mean overlay lost [µm], mean lining lost [µm], share of the loaded area where the
        lining shows [-], lining lost at the crown [µm].

    Examples
    --------
    >>> overlay, lining, share, crown = layer_state(np.array([5.0, 15.0]), np.array([15.0, 15.0]))
    >>> overlay.tolist(), lining.tolist(), share.tolist(), crown.tolist()
    ([5.0, 11.25], [0.0, 3.75], [0.0, 0.5], [0.0, 15.0])
    """
    crown = 2 * depth_um
    lining_crown = np.maximum(crown - overlay_um, 0.0)
    share = np.divide(lining_crown, crown, out=np.zeros_like(crown), where=crown > 0)
    lining = lining_crown * share / 2
    return depth_um - lining, lining, share, lining_crown


def wear_stage(depth_um: Floats, overlay_um: Floats) -> NDArray[np.int8]:
    """Score the wear stage that a shell shows, 0 to 5.

    With overlay: 0 even, 1 polished, 2 lining under 10 % of the loaded area, 3 up to 50 %,
    4 above or lining scored, 5 lining breaking away. Without: 1 polished, 2 a loss that
    can be measured, 3 from a quarter of what is allowed, 4 beyond it, 5 breaking away.

    Parameters
    ----------
    depth_um : array [µm]
        Mean depth lost over the loaded area.
    overlay_um : array [µm]
        Overlay thickness when new, 0 for a shell without overlay.

    Returns
    -------
    array of int [-]
        Stage.

    Examples
    --------
    >>> wear_stage(np.array([0.1, 5.0, 8.0, 12.0, 20.0, 40.0]), np.full(6, 15.0)).tolist()
    [0, 1, 2, 3, 4, 5]
    >>> wear_stage(np.array([0.1, 1.0, 4.0, 8.0, 25.0, 70.0]), np.zeros(6)).tolist()
    [0, 1, 2, 3, 4, 5]
    """
    _, _, share, lining_crown = layer_state(depth_um, overlay_um)
    polished = (depth_um >= _POLISHED_UM).astype(np.int8)
    covered = (polished + (share > 0) + (share >= 0.10)
               + ((share > 0.50) | (lining_crown > _SCORED_UM)) + (lining_crown > _BREAKS_UM))
    crown = 2 * depth_um
    bare = (polished + (crown >= _MEASURABLE_UM) + (crown >= ALLOWED_UM / 4)
            + (crown > ALLOWED_UM) + (crown > _BREAKS_BIMETAL_UM))
    return np.where(overlay_um > 0, covered, bare).astype(np.int8)
