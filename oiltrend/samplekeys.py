"""When are two samples the same one, and do they say the same thing.

The key says which sample is meant: the laboratory's number where there is one, else the
engine with date and meter. The content hash covers everything a sample says, so that the
same key with the same hash is a repeat, and the same key with another hash a contradiction.
Import and store share this module, so that they can never disagree about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

from oiltrend.nomenclature import PANEL
from oiltrend.records import Qualifier, SampleTable

__all__ = ["SampleKey", "content_hashes", "keys_of", "sample_key"]

SampleKey = tuple[str, str, str] | tuple[str, str, str, float | None]

_TEXTS = ("oil_product", "refill_product", "lab", "method", "sample_id", "note", "methods")
_NUMBERS = ("meter", "oil_distance", "top_up_l", "refill_l", "hot_oil_pressure_bar")
_CODES = ("meter_unit", "oil_changed", "level_at_sampling", "filter_finding", "noise", "glitter")


def sample_key(engine: str, *, sample_id: str, sample_date: str, meter: float | None) -> SampleKey:
    """Name the sample that a row is about.

    Parameters
    ----------
    engine : str [-]
        Our engine.
    sample_id : str [-]
        The laboratory's number, ``""`` where there is none.
    sample_date : str [-]
        ISO date, ``""`` where unknown.
    meter : float or None [-]
        Meter reading, km or h.

    Returns
    -------
    tuple [-]
        ``(engine, "id", sample_id)`` or ``(engine, "at", date, meter)``.

    Examples
    --------
    >>> sample_key("E1", sample_id="", sample_date="2025-03-01", meter=81200.0)
    ('E1', 'at', '2025-03-01', 81200.0)
    >>> sample_key("E1", sample_id="L-77", sample_date="2025-03-01", meter=81200.0)
    ('E1', 'id', 'L-77')
    """
    if sample_id:
        return (engine, "id", sample_id)
    return (engine, "at", sample_date, meter)


def keys_of(table: SampleTable) -> list[SampleKey]:
    """Name every sample of a table.

    Parameters
    ----------
    table : SampleTable [-]
        Samples.

    Returns
    -------
    list of tuple [-]
        One key per row, see :func:`sample_key`.

    Examples
    --------
    >>> from oiltrend.records import empty_samples
    >>> keys_of(empty_samples(1))
    [('', 'at', '', None)]
    """
    dates = np.datetime_as_string(table.sample_date.astype("datetime64[D]")).astype(object)
    dates[np.isnat(table.sample_date)] = ""
    meters = table.meter.astype(object)
    meters[np.isnan(table.meter)] = None
    rows = zip(table.engine.tolist(), table.sample_id.tolist(), dates.tolist(), meters.tolist(),
               strict=True)
    return [sample_key(engine, sample_id=number, sample_date=day, meter=meter)
            for engine, number, day, meter in rows]


def content_hashes(table: SampleTable) -> list[bytes]:
    """Give every sample a hash of what it says.

    The engine is left out (it is in the key), as are the file line and the text as received
    (``1,0`` and ``1.0`` say the same). A measurand that comes to the panel later does not
    change the hash of samples that do not have it.

    Parameters
    ----------
    table : SampleTable [-]
        Samples.

    Returns
    -------
    list of bytes [-]
        16 bytes per row.

    Examples
    --------
    >>> from oiltrend.records import empty_samples
    >>> first, second = content_hashes(empty_samples(2))
    >>> first == second, len(first)
    (True, 16)
    """
    readings = _reading_bytes(table)
    fixed = _fixed_bytes(table)
    texts: Sequence[tuple[str, ...]] = list(
        zip(*(getattr(table, name).tolist() for name in _TEXTS), strict=True))
    return [blake2b(b"\x1e".join((head, panel, "\x1f".join(words).encode("utf-8", "replace"))),
                    digest_size=16).digest()
            for head, panel, words in zip(fixed, readings, texts, strict=True)]


def _plain(number: NDArray[np.float64]) -> NDArray[np.float64]:
    # Minus zero says the same as zero, and all the ways to write NaN in bits say "unknown".
    plain: NDArray[np.float64] = np.where(np.isnan(number), np.nan, number + 0.0)
    return plain


def _fixed_bytes(table: SampleTable) -> list[bytes]:
    days = table.sample_date.astype("datetime64[D]").astype(np.int64).astype(np.float64)
    days[np.isnat(table.sample_date)] = np.nan
    columns = [days, *(getattr(table, name) for name in (*_NUMBERS, *_CODES))]
    block = _plain(np.stack([np.asarray(c, dtype=np.float64) for c in columns], axis=1))
    return _slices(block.astype("<f8"))


def _reading_bytes(table: SampleTable) -> list[bytes]:
    known = table.qualifier != Qualifier.MISSING
    # The unknown end of a row is cut off: measurands that are added later stand there.
    width = np.where(known.any(axis=1), len(PANEL) - np.argmax(known[:, ::-1], axis=1), 0)
    values = _slices(np.where(known, _plain(table.value), np.nan).astype("<f8"))
    qualifiers = _slices(table.qualifier.astype(np.int8))
    return [value[:8 * cut] + qualifier[:cut]
            for value, qualifier, cut in zip(values, qualifiers, width.tolist(), strict=True)]


def _slices(block: NDArray[np.float64] | NDArray[np.int8]) -> list[bytes]:
    joined = block.tobytes()
    size = block.shape[1] * block.itemsize
    return [joined[start:start + size] for start in range(0, len(joined), size)]
