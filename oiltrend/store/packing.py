"""The readings of a sample as one packed row: values, qualifiers, texts as received.

Values are little-endian float64 and qualifiers int8, both in panel order; an older, shorter
row is filled up with "missing" when it is read. A whole fleet is decoded in one sweep.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import StoreError, ValueRefused
from oiltrend.nomenclature import PANEL, PANEL_INDEX
from oiltrend.records import Qualifier, Reading

__all__ = ["pack", "pack_readings", "unpack", "unpack_readings"]

_MISSING_VALUE = np.array([np.nan], dtype="<f8").tobytes()
_MISSING_QUALIFIER = b"\x00"


def pack(value: NDArray[np.float64], qualifier: NDArray[np.int8]) -> tuple[list[bytes],
                                                                         list[bytes]]:
    """Pack the readings of many samples.

    Parameters
    ----------
    value : array, shape (n, n_measurands) [-]
        Numbers in each measurand's unit, NaN where there is none.
    qualifier : array, shape (n, n_measurands) [-]
        How each number is to be read, see :class:`oiltrend.records.Qualifier`.

    Returns
    -------
    tuple [-]
        Per sample the packed values, and per sample the packed qualifiers.

    Examples
    --------
    >>> values, qualifiers = pack(np.full((2, 37), np.nan), np.zeros((2, 37), dtype=np.int8))
    >>> len(values), len(values[0]), len(qualifiers[0])
    (2, 296, 37)
    """
    return (_rows(np.ascontiguousarray(value, dtype="<f8").tobytes(), 8 * value.shape[1]),
            _rows(np.ascontiguousarray(qualifier, dtype=np.int8).tobytes(), value.shape[1]))


def _rows(joined: bytes, size: int) -> list[bytes]:
    return [joined[start:start + size] for start in range(0, len(joined), size)]


def unpack(values: Sequence[bytes], qualifiers: Sequence[bytes]) -> tuple[NDArray[np.float64],
                                                                          NDArray[np.int8]]:
    """Unpack the readings of many samples; the inverse of :func:`pack`.

    Parameters
    ----------
    values : sequence of bytes [-]
        Packed values.
    qualifiers : sequence of bytes [-]
        Packed qualifiers.

    Returns
    -------
    tuple [-]
        Values and qualifiers, both of shape (n, n_measurands).

    Raises
    ------
    StoreError
        A row is longer than the panel: a newer version of the program wrote it.

    Examples
    --------
    >>> value, qualifier = unpack([np.array([1.5]).tobytes()], [bytes([1])])
    >>> value[0, :2], qualifier[0, :2]
    (array([1.5, nan]), array([1, 0], dtype=int8))
    """
    width = len(PANEL)
    value = np.frombuffer(_joined(values, 8 * width, _MISSING_VALUE), dtype="<f8")
    qualifier = np.frombuffer(_joined(qualifiers, width, _MISSING_QUALIFIER), dtype=np.int8)
    # Copies: what a caller gets must be writable and free of the joined bytes.
    return (value.reshape(-1, width).astype(np.float64), qualifier.reshape(-1, width).copy())


def _joined(rows: Sequence[bytes], size: int, missing: bytes) -> bytes:
    lengths = set(map(len, rows))
    if lengths and max(lengths) > size:
        raise StoreError(
            f"readings: a row must have at most {size // len(missing)} measurands, found "
            f"{max(lengths) // len(missing)}", hint="use the version of oiltrend that wrote them")
    if lengths <= {size}:
        return b"".join(rows)
    return b"".join(row + missing * ((size - len(row)) // len(missing)) for row in rows)


def pack_readings(readings: Mapping[str, Reading]) -> tuple[bytes, bytes, str]:
    """Pack one set of readings, with its texts as received.

    Parameters
    ----------
    readings : mapping [-]
        Symbol to reading.

    Returns
    -------
    tuple [-]
        Packed values, packed qualifiers, and the texts as a JSON object.

    Raises
    ------
    ValueRefused
        A symbol is not in the panel.

    Examples
    --------
    >>> pack_readings({"Fe": Reading(1.0, Qualifier.BELOW, "<1")})[2]
    '{"Fe": "<1"}'
    """
    value = np.full((1, len(PANEL)), np.nan)
    qualifier = np.zeros((1, len(PANEL)), dtype=np.int8)
    for symbol, reading in readings.items():
        if symbol not in PANEL_INDEX:
            raise ValueRefused(f"readings: each must be a known measurand, found '{symbol}'",
                               hint="use one of " + ", ".join(PANEL))
        column = PANEL_INDEX[symbol]
        value[0, column] = np.nan if reading.value is None else reading.value
        qualifier[0, column] = reading.qualifier
    values, qualifiers = pack(value, qualifier)
    raw = {symbol: reading.raw for symbol, reading in readings.items()}
    return values[0], qualifiers[0], json.dumps(raw, ensure_ascii=False, sort_keys=True)


def unpack_readings(values: bytes, qualifiers: bytes, raw: str) -> dict[str, Reading]:
    """Unpack one set of readings; the inverse of :func:`pack_readings`.

    Parameters
    ----------
    values, qualifiers : bytes [-]
        Packed values and qualifiers.
    raw : str [-]
        The texts as received, a JSON object or ``""``.

    Returns
    -------
    dict [-]
        Symbol to reading, without those that are missing and have no text.

    Examples
    --------
    >>> unpack_readings(*pack_readings({"Fe": Reading(1.0, Qualifier.BELOW, "<1")}))["Fe"].value
    1.0
    """
    value, qualifier = unpack([values], [qualifiers])
    texts: dict[str, str] = json.loads(raw) if raw else {}
    readings = {}
    for column, symbol in enumerate(PANEL):
        kind = Qualifier(int(qualifier[0, column]))
        if kind is Qualifier.MISSING and symbol not in texts:
            continue
        number = float(value[0, column])
        readings[symbol] = Reading(None if np.isnan(number) else number, kind,
                                   texts.get(symbol, ""))
    return readings
