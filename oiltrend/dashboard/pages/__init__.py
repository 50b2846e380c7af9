"""The pages, in the order of the rail.

Each has NAME, PATH, BELOW (paths about one thing), ICON ("" where
the rail does not show it), ``layout(**_)`` and ``register(app)``.
"""

from __future__ import annotations

from oiltrend.dashboard.pages import add, engine, limits, signs, watch, workshop

__all__ = ["PAGES"]

PAGES = (watch, engine, add, limits, workshop, signs)
