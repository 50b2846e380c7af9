"""Viscosity index by ASTM D2270 (ISO 2909), procedures A and B.

The reference oils L and H are taken from the coefficients of the standard's appendix, which
give its table back to within the rounding of the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "REFERENCE_ROWS",
    "REFERENCE_SOURCE",
    "ReferenceOils",
    "ReferenceRow",
    "VIProcedure",
    "ViscosityIndex",
    "reference_oils",
    "viscosity_index",
]

REFERENCE_SOURCE = (
    "ASTM D2270 / ISO 2909, coefficients of the appendix, from memory; held in a test against "
    "all 311 rows of the standard's table as the library chemicals 1.5.2 carries it")


@dataclass(frozen=True, slots=True)
class ReferenceRow:
    """Reference oils in one range of KV100: ``L = aY² + bY + c``, ``H = dY² + eY + f``.

    Parameters
    ----------
    least, most : float [mm²/s]
        Range of Y, the viscosity at 100 °C; ``least`` belongs to the row, but for the last,
        which begins above 70.
    a, b, c, d, e, f : float [-]
        Coefficients for L and H in mm²/s.
    """

    least: float
    most: float
    a: float
    b: float
    c: float
    d: float
    e: float
    f: float


REFERENCE_ROWS: tuple[ReferenceRow, ...] = (
    ReferenceRow(2.0, 3.8, 1.14673, 1.7576, -0.109, 0.84155, 1.5521, -0.077),
    ReferenceRow(3.8, 4.4, 3.38095, -15.4952, 33.196, 0.78571, 1.7929, -0.183),
    ReferenceRow(4.4, 5.0, 2.5000, -7.2143, 13.812, 0.82143, 1.5679, 0.119),
    ReferenceRow(5.0, 6.4, 0.10100, 16.6350, -45.469, 0.04985, 9.1613, -18.557),
    ReferenceRow(6.4, 7.0, 3.35714, -23.5643, 78.466, 0.22619, 7.7369, -16.656),
    ReferenceRow(7.0, 7.7, 0.01191, 21.4750, -72.870, 0.79762, -0.7321, 14.610),
    ReferenceRow(7.7, 9.0, 0.41858, 16.1558, -56.040, 0.05794, 10.5156, -28.240),
    ReferenceRow(9.0, 12.0, 0.88779, 7.5527, -16.600, 0.26665, 6.7015, -10.810),
    ReferenceRow(12.0, 15.0, 0.76720, 10.7972, -38.180, 0.20073, 8.4658, -22.490),
    ReferenceRow(15.0, 18.0, 0.97305, 5.3135, -2.200, 0.28889, 5.9741, -4.930),
    ReferenceRow(18.0, 22.0, 0.97256, 5.2500, -0.980, 0.24504, 7.4160, -16.730),
    ReferenceRow(22.0, 28.0, 0.91413, 7.4759, -21.820, 0.20323, 9.1267, -34.230),
    ReferenceRow(28.0, 40.0, 0.87031, 9.7157, -50.770, 0.18411, 10.1015, -46.750),
    ReferenceRow(40.0, 55.0, 0.84703, 12.6752, -133.310, 0.17029, 11.4866, -80.620),
    ReferenceRow(55.0, 70.0, 0.85921, 11.1009, -83.190, 0.17130, 11.3680, -76.940),
    # Above the table: ASTM D2270 section 5, looked up.
    ReferenceRow(70.0, np.inf, 0.8353, 14.67, -216.0, 0.1684, 11.85, -97.0),
)

_COEFFICIENTS = np.array([[row.a, row.b, row.c, row.d, row.e, row.f] for row in REFERENCE_ROWS])
_STARTS = np.array([row.least for row in REFERENCE_ROWS[1:]])
_STARTS[-1] = np.nextafter(_STARTS[-1], np.inf)  # 70 itself is still in the table
_LEAST = REFERENCE_ROWS[0].least
# (10^N − 1) / 0.00715 + 100: ASTM D2270 section 6, looked up.
_STEP = 0.00715


class VIProcedure(IntEnum):
    """Which procedure gave the index, or why there is none."""

    UNDEFINED = -1
    NOT_KNOWN = 0
    A = 1
    B = 2


@dataclass(frozen=True, slots=True)
class ReferenceOils:
    """Viscosity at 40 °C of the two reference oils with the sample's viscosity at 100 °C.

    Parameters
    ----------
    zero : array, any shape [mm²/s]
        L, of the oil whose index is 0.
    hundred : array, same shape [mm²/s]
        H, of the oil whose index is 100.
    """

    zero: NDArray[np.float64]
    hundred: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ViscosityIndex:
    """Viscosity index.

    Parameters
    ----------
    value : array, any shape [-]
        Index with its decimals; NaN where there is none.
    reported : array, same shape [-]
        Whole number, exact halves to the even one, as the standard reports it.
    procedure : array of VIProcedure codes, same shape [-]
        A up to 100, B above; UNDEFINED where KV100 is below 2.0 or not below KV40; NOT_KNOWN
        where one was not measured.
    """

    value: NDArray[np.float64]
    reported: NDArray[np.float64]
    procedure: NDArray[np.int8]


def reference_oils(kv100: ArrayLike) -> ReferenceOils:
    """Give L and H for a viscosity at 100 °C.

    Equation: ``L = aY² + bY + c`` and ``H = dY² + eY + f``, rows of :data:`REFERENCE_ROWS`.

    Parameters
    ----------
    kv100 : array, any shape [mm²/s]
        Y, kinematic viscosity at 100 °C.

    Returns
    -------
    ReferenceOils [-]
        L and H; NaN below 2.0, where the standard defines none.

    Examples
    --------
    >>> oils = reference_oils([8.0, 1.9])
    >>> oils.zero.round(1), oils.hundred.round(1)
    (array([100.,  nan]), array([59.6,  nan]))

    References
    ----------
    ASTM D2270, sections 5 and 6 and appendix; ISO 2909.
    """
    y = np.asarray(kv100, dtype=float)
    y = np.where((y >= _LEAST) & np.isfinite(y), y, np.nan)
    # NaN sorts behind every start; its row does not matter.
    rows = np.searchsorted(_STARTS, y, side="right")
    a, b, c, d, e, f = np.moveaxis(_COEFFICIENTS[rows], -1, 0)
    return ReferenceOils(np.asarray((a * y + b) * y + c), np.asarray((d * y + e) * y + f))


def viscosity_index(kv40: ArrayLike, kv100: ArrayLike) -> ViscosityIndex:
    """Give the viscosity index.

    Equation, with U = KV40 and Y = KV100: procedure A, U ≥ H: ``VI = 100 (L − U)/(L − H)``;
    procedure B, U < H: ``N = (log H − log U)/log Y``, ``VI = (10^N − 1)/0.00715 + 100``.

    Parameters
    ----------
    kv40, kv100 : array, broadcastable [mm²/s]
        Kinematic viscosity at 40 °C and at 100 °C.

    Returns
    -------
    ViscosityIndex [-]
        Value, whole number and procedure.

    Examples
    --------
    >>> found = viscosity_index([73.30, 22.83, 5.0], [8.86, 5.05, 1.9])
    >>> found.reported
    array([ 92., 156.,  nan])
    >>> [VIProcedure(code).name for code in found.procedure]
    ['A', 'B', 'UNDEFINED']

    References
    ----------
    ASTM D2270, sections 5 and 6; ISO 2909.
    """
    u, y = np.broadcast_arrays(np.asarray(kv40, dtype=float), np.asarray(kv100, dtype=float))
    defined = (y >= _LEAST) & (u > y) & np.isfinite(u)
    u, y_used = np.where(defined, u, np.nan), np.where(defined, y, np.nan)
    oils = reference_oils(y_used)
    low = 100.0 * (oils.zero - u) / (oils.zero - oils.hundred)
    power = np.log(oils.hundred / u) / np.log(y_used)
    thin = u < oils.hundred
    # Thicker oils keep procedure A; their power is not raised, which could overflow.
    high = (10.0 ** np.where(thin, power, 0.0) - 1.0) / _STEP + 100.0
    value = np.where(thin, high, low)
    missing = np.isnan(np.asarray(kv40, dtype=float)) | np.isnan(y)
    procedure = np.select([missing, ~defined, thin],
                          [VIProcedure.NOT_KNOWN, VIProcedure.UNDEFINED, VIProcedure.B],
                          VIProcedure.A)
    return ViscosityIndex(value, np.rint(value), procedure.astype(np.int8))
