"""The pages, in the order of the rail.

Each has NAME, PATH, BELOW (the path about one thing, "" where there is none), ICON ("" where
the rail does not show it), ``layout(**_)`` and ``register(app)``.
"""

from __future__ import annotations

from oiltrend.dashboard.pages import add, engine, signs, watch

__all__ = ["PAGES"]

PAGES = (watch, engine, add, signs)
