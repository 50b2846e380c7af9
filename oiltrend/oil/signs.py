"""What every sign of contamination comes with: a code, its strength, support and confounders.

A sign is a pattern in the elements. Each pattern has innocent causes; those that the same
sample cannot exclude travel with it as codes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CONFOUNDERS", "Signs", "signs"]

CONFOUNDERS: dict[str, str] = {
    "additive": "the new oil is not known; the element may belong to its additives",
    "other_oil": "several additive elements moved: another oil, or oil thickened by evaporation",
    "road_salt": "sodium without potassium: road salt or sea air",
    "silicon_source": "silicon from sealant, antifoam or dirt is the only element in support",
    "condensation": "water alone: short trips in the cold",
    "glycol_test": "glycol without sodium and potassium: the test may have answered to something "
                   "else, or the coolant carries neither",
    "sealant": "silicon may come from sealant, gasket or antifoam",
    "dust": "the ratio of silicon to aluminium may be that of dust within the test's precision",
    "aluminium_part": "the ratio may be that of an aluminium part within the test's precision",
    "aluminium_not_measured": "aluminium was not measured or lies below its reporting limit",
    "coolant": "sodium or potassium rose too: coolant carries silicates and wets copper",
    "lead_free_lining": "a lead-free lining wears as copper without lead",
    "bush": "a bronze bush or a brass fitting wears as copper with little tin",
    "company_not_measured": "lead, tin or aluminium was not measured",
    "lining": "within the test's precision lead, tin or aluminium may have come with the copper",
}
"""What else the pattern may be."""


@dataclass(frozen=True, slots=True)
class Signs:
    """One sign looked for in every sample.

    Parameters
    ----------
    code : array, shape (n,) [-]
        Code of the sign's own list; above 0 where something shows.
    strength : array, shape (n,) [-]
        Rise of the leading element over the rise that the sign asks for; NaN where unknown.
    supports : tuple of str, length k [-]
        Measurands that can speak for the sign.
    support : array of bool, shape (n, k) [-]
        Which of them do.
    confounders : tuple of str, length c [-]
        Codes of :data:`CONFOUNDERS` that can stand behind it.
    confounder : array of bool, shape (n, c) [-]
        Which of them are possible in this sample; none where nothing shows.
    """

    code: NDArray[np.int8]
    strength: NDArray[np.float64]
    supports: tuple[str, ...]
    support: NDArray[np.bool_]
    confounders: tuple[str, ...]
    confounder: NDArray[np.bool_]

    def support_of(self, row: int) -> tuple[str, ...]:
        """List what speaks for the sign in one sample.

        Parameters
        ----------
        row : int [-]
            Sample.

        Returns
        -------
        tuple of str [-]
            Measurands.
        """
        return tuple(name for name, yes in zip(self.supports, self.support[row], strict=True)
                     if yes)

    def confounders_of(self, row: int) -> tuple[str, ...]:
        """List what else the pattern of one sample may be.

        Parameters
        ----------
        row : int [-]
            Sample.

        Returns
        -------
        tuple of str [-]
            Codes of :data:`CONFOUNDERS`.
        """
        return tuple(name for name, yes in zip(self.confounders, self.confounder[row],
                                               strict=True) if yes)


def signs(code: NDArray[np.int64], strength: NDArray[np.float64],
          support: Mapping[str, NDArray[np.bool_]], confounder: Mapping[str, NDArray[np.bool_]],
          *, asked: NDArray[np.bool_]) -> Signs:
    """Put one sign together.

    Parameters
    ----------
    code : array of int, shape (n,) [-]
        Code per sample.
    strength : array, shape (n,) [-]
        Strength per sample.
    support : mapping of str to array of bool, shape (n,) [-]
        Measurand to where it speaks for the sign.
    confounder : mapping of str to array of bool, shape (n,) [-]
        Code of :data:`CONFOUNDERS` to where it is possible.
    asked : array of bool, shape (n,) [-]
        Where something shows or cannot be told: only there are confounders named.

    Returns
    -------
    Signs [-]
        The sign.

    Examples
    --------
    >>> yes = np.array([True])
    >>> found = signs(np.array([1]), np.array([1.4]), {"Na": yes}, {"road_salt": yes}, asked=yes)
    >>> found.support_of(0), found.confounders_of(0)
    (('Na',), ('road_salt',))
    """
    return Signs(code.astype(np.int8), strength, tuple(support),
                 np.stack(list(support.values()), axis=1), tuple(confounder),
                 np.stack(list(confounder.values()), axis=1) & asked[:, None])
