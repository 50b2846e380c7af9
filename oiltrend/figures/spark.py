"""A trend mark for a list: the last wear rates of one engine as a line of a few pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

import numpy as np

from oiltrend.wording import TREND_WORDS

__all__ = ["SparkInfo", "draw_spark", "spark_info"]

_WIDTH, _HEIGHT, _EDGE = 84, 24, 4


@dataclass(frozen=True, slots=True)
class SparkInfo:
    """What a trend mark shows.

    Parameters
    ----------
    values : tuple of float [-]
        The last rates, oldest first, scaled to 0 … 1; empty when there are fewer than two.
    word : str [-]
        The trend in words; it stands beside the mark, which is decoration for it.
    """

    values: tuple[float, ...]
    word: str


def spark_info(values: Sequence[float | None], word: str, *, most: int = 8) -> SparkInfo:
    """Collect what a trend mark shows.

    Parameters
    ----------
    values : sequence of float or None [-]
        Rates of one measurand in any unit, oldest first; None and NaN are passed over.
    word : str [-]
        Trend code: rising, falling, level, too_few or below_limit.
    most : int [-]
        How many of the last rates are shown.

    Returns
    -------
    SparkInfo [-]
        Scaled values and the word.

    Examples
    --------
    >>> spark_info([1.0, None, 3.0], "rising")
    SparkInfo(values=(0.0, 1.0), word='rising')
    >>> spark_info([2.0], "too_few").values
    ()
    """
    known = np.array([v for v in values if v is not None and np.isfinite(v)][-most:])
    if known.size < 2:
        return SparkInfo((), TREND_WORDS[word])
    low, span = float(known.min()), float(np.ptp(known))
    scaled = (known - low) / span if span else np.full(known.size, 0.5)
    return SparkInfo(tuple(scaled.tolist()), TREND_WORDS[word])


def draw_spark(info: SparkInfo) -> str:
    """Draw the mark as an SVG data address, in black, to be used as a mask of any colour.

    Parameters
    ----------
    info : SparkInfo [-]
        Scaled values.

    Returns
    -------
    str [-]
        ``data:image/svg+xml,…``; "" when there is nothing to draw.

    Examples
    --------
    >>> draw_spark(SparkInfo((0.0, 1.0), "rising")).startswith("data:image/svg+xml,")
    True
    >>> draw_spark(SparkInfo((), "too few to tell"))
    ''
    """
    if not info.values:
        return ""
    step = (_WIDTH - 2 * _EDGE) / (len(info.values) - 1)
    points = [(round(_EDGE + k * step, 1), round(_HEIGHT - _EDGE - v * (_HEIGHT - 2 * _EDGE), 1))
              for k, v in enumerate(info.values)]
    line = " ".join(f"{x},{y}" for x, y in points)
    last = points[-1]
    return "data:image/svg+xml," + quote(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}">'
        f'<polyline points="{line}" fill="none" stroke="#000" stroke-width="1.8"/>'
        f'<circle cx="{last[0]}" cy="{last[1]}" r="3"/></svg>', safe="")
