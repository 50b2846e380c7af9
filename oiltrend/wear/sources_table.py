"""What wears or comes in beside the shells: journals, bores, pistons, dirt, coolant.

Mass shares of what each sheds. None of them is the composition of any one engine; each stands
with where it comes from and how far it may be off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from oiltrend.wear.arrays import Floats

__all__ = ["OTHER_SOURCES", "OtherSource", "signature_rows"]


@dataclass(frozen=True, slots=True)
class OtherSource:
    """A source of metal that is no shell.

    Parameters
    ----------
    code : str [-]
        Name in results.
    words : str [-]
        For people.
    shares : dict of str to float [-]
        Element to mass share of what it sheds; what is not listed is not measured.
    spread : float [-]
        Relative standard uncertainty of a minor share.
    source : str [-]
        Where the shares come from.
    """

    code: str
    words: str
    shares: Mapping[str, float]
    spread: float
    source: str


# Element share of an oxide, from atomic weights: Si in SiO2 0.467, Al in Al2O3 0.529, Fe in
# Fe2O3 0.699, Na in Na2O 0.742, K in K2O 0.830.
OTHER_SOURCES: tuple[OtherSource, ...] = (
    OtherSource("journal", "crankshaft journals and other steel",
                {"Fe": 0.97, "Cr": 0.010, "Mn": 0.008, "Ni": 0.002}, 0.4,
                "low-alloy crankshaft steel, from memory, medium confidence"),
    OtherSource("bore_ring", "bores and piston rings",
                {"Fe": 0.93, "Cr": 0.030, "Si": 0.018, "Mn": 0.007}, 0.5,
                "grey cast iron with chromium from the rings; share of chromium assumed"),
    OtherSource("piston", "pistons",
                {"Al": 0.84, "Si": 0.12, "Cu": 0.010, "Ni": 0.010}, 0.25,
                "eutectic aluminium-silicon piston alloy, from memory, high confidence"),
    OtherSource("dirt", "dirt from outside",
                {"Si": 0.337, "Al": 0.066, "Fe": 0.025, "Na": 0.022, "K": 0.029}, 0.4,
                "middle of the ranges of ISO 12103-1 test dust (SiO2 68 to 76 %, Al2O3 10 to "
                "15 %, Fe2O3 2 to 5 %, Na2O 2 to 4 %, K2O 2 to 5 %), from memory, medium "
                "confidence"),
    OtherSource("coolant", "inhibitors left behind by coolant",
                {"Na": 0.45, "K": 0.45, "Si": 0.05}, 1.0,
                "assumed, no source: sodium and potassium differ between products by more than "
                "they agree"),
)


def signature_rows(shares: Sequence[Mapping[str, float]], elements: Sequence[str]) -> Floats:
    """Lay compositions out as rows over the elements measured.

    Parameters
    ----------
    shares : sequence of dict of str to float [-]
        One composition per source; an empty one stands for a source that is not there.
    elements : sequence of str [-]
        Symbols of the columns.

    Returns
    -------
    array, shape (s, m) [-]
        Mass shares; 0 where a composition has none of an element.

    Examples
    --------
    >>> signature_rows([OTHER_SOURCES[2].shares, {}], ("Fe", "Al")).tolist()
    [[0.0, 0.84], [0.0, 0.0]]
    """
    return np.array([[row.get(symbol, 0.0) for symbol in elements] for row in shares],
                    dtype=float).reshape(len(shares), len(elements))
