"""Wear stages 0 to 5: what each looks like, by how the shell is layered, and how they count."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from oiltrend.errors import ValueRefused

__all__ = ["FAILURES", "FAILURE_COUNTS_AS", "LAYER_STRUCTURES", "WEAR_STAGES", "WearStage",
           "counts_as", "stage_text"]

LayerStructure = Literal["trimetal", "bimetal", "polymer"]

LAYER_STRUCTURES: dict[str, str] = {
    "trimetal": "overlay on lining on steel",
    "bimetal": "lining on steel",
    "polymer": "polymer coating on lining on steel; the coating is scored as an overlay",
}

FAILURES = ("wiped", "turned", "fatigued")
"""Findings that count as a failure whatever the share worn."""

FAILURE_COUNTS_AS = 4
"""A failed shell counts as this stage or its own, whichever is higher."""


@dataclass(frozen=True, slots=True)
class WearStage:
    """One step of the scale. Shares are of the loaded area of a half.

    Parameters
    ----------
    stage : int [-]
        0 to 5.
    trimetal : str [-]
        What is seen on a shell with an overlay, or a polymer coating.
    bimetal : str [-]
        What is seen on a shell with a lining only.
    """

    stage: int
    trimetal: str
    bimetal: str


# The scale is the project's own.
WEAR_STAGES: tuple[WearStage, ...] = (
    WearStage(0, "machining marks or even running surface",
              "machining marks or even running surface"),
    WearStage(1, "overlay polished", "polished"),
    WearStage(2, "next layer showing in spots, under 10 %",
              "wall loss under a quarter of what the maker allows, or light scoring"),
    WearStage(3, "next layer showing, 10 to 50 %",
              "wall loss a quarter to all of what is allowed, or scoring over the width"),
    WearStage(4, "next layer showing over 50 %, or lining scored or heat-darkened",
              "wall loss beyond what is allowed, or heat-darkened"),
    WearStage(5, "lining breaking away or back showing", "lining breaking away or back showing"),
)


def stage_text(stage: int, layer_structure: str) -> str:
    """Say what a wear stage looks like on a shell of this structure.

    Parameters
    ----------
    stage : int [-]
        0 to 5.
    layer_structure : str [-]
        trimetal, bimetal or polymer; a polymer coating is read as an overlay.

    Returns
    -------
    str [-]
        The description.

    Raises
    ------
    ValueRefused
        When the stage is not 0 to 5 or the structure is unknown.

    Examples
    --------
    >>> stage_text(3, "polymer")
    'next layer showing, 10 to 50 %'
    """
    if stage not in range(len(WEAR_STAGES)):
        raise ValueRefused(f"wear_stage: must be 0 to 5, found {stage}",
                           hint="use 0 to 5, or not_scorable")
    if layer_structure not in LAYER_STRUCTURES:
        raise ValueRefused(f"layer_structure: must be one of {', '.join(LAYER_STRUCTURES)}, "
                           f"found '{layer_structure}'", hint="correct the engine family")
    row = WEAR_STAGES[stage]
    return row.bimetal if layer_structure == "bimetal" else row.trimetal


def counts_as(stage: ArrayLike, failed: ArrayLike) -> NDArray[np.float64]:
    """Give the stage that a finding counts as, failures included.

    Equation: ``max(stage, 4)`` for a wiped, turned or fatigued shell, else the stage.

    Parameters
    ----------
    stage : array of float [-]
        0 to 5; NaN for a shell that was not scored or could not be.
    failed : array of str [-]
        ``wiped``, ``turned`` or ``fatigued``; ``none`` or ``""`` otherwise.

    Returns
    -------
    array of float [-]
        0 to 5. A failed shell without a stage counts as 4; NaN without either.

    Raises
    ------
    ValueRefused
        When a stage is not 0 to 5, or a word is unknown.

    Examples
    --------
    >>> counts_as([1, 5, 2, np.nan], ["wiped", "turned", "", "fatigued"])
    array([4., 5., 2., 4.])
    """
    seen = np.asarray(stage, dtype=float)
    words = np.asarray(failed, dtype=str)
    for word in np.unique(words):
        if word not in ("", "none", *FAILURES):
            raise ValueRefused(f"failed: must be one of none, {', '.join(FAILURES)}, "
                               f"found '{word}'", hint="correct the word or leave it blank")
    wrong = ~np.isnan(seen) & ~np.isin(seen, np.arange(len(WEAR_STAGES)))
    if wrong.any():
        raise ValueRefused(f"wear_stage: must be 0 to 5, found {seen[wrong].flat[0]:g}",
                           hint="use 0 to 5, or not_scorable")
    return np.where(np.isin(words, FAILURES), np.fmax(seen, FAILURE_COUNTS_AS), seen)
