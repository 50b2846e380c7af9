"""Engines whose sources of metal are known, made without anything of the split itself.

Every row has its own true signatures: the table's shares, moved in their log-odds. Free metal
(cooler copper, corroded lead, flash) comes on top in some rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.wear.sources_table import OTHER_SOURCES, signature_rows

ELEMENTS = ("Pb", "Sn", "Cu", "Fe", "Al", "Si", "Cr", "Na", "K")
OVERLAY = {"Pb": 0.88, "Sn": 0.10, "Cu": 0.02}
LINING = {"Cu": 0.747, "Pb": 0.24, "Sn": 0.013}
NAMES = ("overlay", "lining", *(source.code for source in OTHER_SOURCES))
FREE = ("Cu", "Pb", "Sn")
# Usual metal of each source in mg per 1000 km, and its relative error of a reading; invented.
USUAL = np.array([2.0, 2.0, 15.0, 15.0, 5.0, 10.0, 3.0])


@dataclass(frozen=True)
class Engines:
    """Truth and readings of n rows: amounts (n, s), free metal (n, 3), readings (n, m)."""

    shares: NDArray[np.float64]
    amount: NDArray[np.float64]
    free: NDArray[np.float64]
    true: NDArray[np.float64]


def nominal() -> NDArray[np.float64]:
    return signature_rows([OVERLAY, LINING, *(source.shares for source in OTHER_SOURCES)],
                          ELEMENTS)


def draw(rng, rows, *, spread=0.25, absent=0.25, free=0.3, amount=None):
    """Draw rows: some sources absent, some with free metal of an exponential share."""
    shares = nominal()
    there = shares > 0.0
    odds = np.log(np.where(there, shares, 0.5) / (1.0 - np.where(there, shares, 0.5)))
    own = 1.0 / (1.0 + np.exp(-(odds + spread * rng.normal(size=(rows, *shares.shape)))))
    own[:, ~there] = 0.0
    if amount is None:
        amount = rng.lognormal(np.log(USUAL), 0.8, (rows, len(shares)))
        amount *= rng.random(amount.shape) >= absent
    true = np.einsum("ns,nsm->nm", amount, own)
    extra = np.zeros((rows, len(FREE)))
    for place, symbol in enumerate(FREE):
        column = ELEMENTS.index(symbol)
        extra[:, place] = (rng.random(rows) < free) * rng.exponential(0.5, rows) * true[:, column]
        true[:, column] += extra[:, place]
    return Engines(shares, amount, extra, true)


def read(rng, true, *, floor=0.2, relative=0.05):
    """Read with an error of each reading; give readings and standard uncertainties."""
    unit = np.hypot(floor, relative * true)
    return true + unit * rng.normal(size=true.shape), unit
