"""A figure written as a dict, compared with what plotly's own objects make of it."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go


def same_after_round_trip(figure: dict[str, Any]) -> bool:
    """Say whether every key of the dict is still there at the same path afterwards.

    The browser ignores in silence what it does not know; plotly.py refuses a wrong name, and
    rewrites its own underscore shortcuts to other paths, which this finds.
    """
    return _kept(figure, go.Figure(figure).to_plotly_json())


def _kept(before: Any, after: Any) -> bool:
    if isinstance(before, dict):
        return isinstance(after, dict) and all(
            value == [] or (key in after and _kept(value, after[key]))
            for key, value in before.items())
    if isinstance(before, list) and before and isinstance(before[0], dict):
        return len(before) == len(after) and all(map(_kept, before, after))
    return True
