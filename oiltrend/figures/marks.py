"""How a result is drawn: filled when measured, hollow when doubted, an arrow when hidden."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oiltrend.figures.theme import Theme, numbers
from oiltrend.records import Qualifier

__all__ = ["MARK_WORDS", "mark_traces", "marks"]

# Order of the codes that ``marks`` returns.
MARK_WORDS = ("measured", "doubted", "below the reporting limit", "above the upper limit")
_SYMBOLS = ("circle", "circle-open", "arrow-down", "arrow-up")


def marks(qualifier: NDArray[np.int8], doubted: NDArray[np.bool_]) -> NDArray[np.int8]:
    """Say for each result how it is drawn; an arrow stays an arrow when doubted.

    Parameters
    ----------
    qualifier : array, shape (n,) [-]
        As in the records.
    doubted : array, shape (n,) [-]
        True where the sample may not be what it says.

    Returns
    -------
    array, shape (n,) [-]
        Index into :data:`MARK_WORDS`.

    Examples
    --------
    >>> import numpy as np
    >>> marks(np.array([1, 1, 2], dtype=np.int8), np.array([False, True, False])).tolist()
    [0, 1, 2]
    """
    code = np.where(doubted, 1, 0)
    code = np.where(qualifier == Qualifier.BELOW, 2, code)
    return np.where(qualifier == Qualifier.ABOVE, 3, code).astype(np.int8)


def mark_traces(x: NDArray[np.float64], y: NDArray[np.float64], mark: NDArray[np.int8],
                doubted: NDArray[np.bool_], *, hover: Sequence[str], strip_axis: str,
                theme: Theme, whiskers: tuple[NDArray[np.float64], NDArray[np.float64]] | None,
                ) -> list[dict[str, Any]]:
    """Draw results, one trace per kind of mark that occurs.

    Parameters
    ----------
    x, y : array, shape (n,) [-]
        Place, in the reader's units.
    mark : array, shape (n,) [-]
        Index into :data:`MARK_WORDS`.
    doubted : array, shape (n,) [-]
        Doubted arrows are drawn hollow too.
    hover : sequence of str [-]
        Text per result, already plain.
    strip_axis : str [-]
        Value axis of the strip, for instance ``y2``.
    theme : Theme [-]
        Colours.
    whiskers : tuple of array or None [-]
        Low and high end of the 95 % interval, in the reader's unit.

    Returns
    -------
    list of dict [-]
        Plotly traces.
    """
    traces = []
    for code, word in enumerate(MARK_WORDS):
        rows = np.flatnonzero((mark == code) & np.isfinite(x) & np.isfinite(y))
        if not rows.size:
            continue
        plain_symbol = _SYMBOLS[code]
        symbols = [plain_symbol if code < 2 or not doubted[row] else plain_symbol + "-open"
                   for row in rows.tolist()]
        trace: dict[str, Any] = {
            "type": "scatter", "mode": "markers", "name": word, "x": numbers(x[rows]),
            "y": numbers(y[rows]), "yaxis": strip_axis, "hoverinfo": "text",
            "hovertext": [hover[row] for row in rows.tolist()],
            "marker": {"symbol": symbols, "size": 9 if code < 2 else 11, "color": theme.line,
                       "line": {"color": theme.line, "width": 1.8 if code == 1 else 1}}}
        if whiskers is not None and code < 2:
            trace["error_y"] = _whisker(y[rows], whiskers[0][rows], whiskers[1][rows], theme)
        traces.append(trace)
    return traces


def _whisker(y: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64],
             theme: Theme) -> dict[str, Any]:
    return {"type": "data", "symmetric": False, "array": numbers(high - y),
            "arrayminus": numbers(y - low), "color": theme.line, "thickness": 1.2, "width": 3}
