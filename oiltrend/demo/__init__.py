"""The invented workshop: a simulator whose truth is known, and small files made by it.

The flow: who there is (``families``, ``garage``), what they are made of (``materials``), how
shells and oil change over distance (``shells``, ``wearing``, ``oil``), what misleads
(``confounders``), what the laboratory makes of it (``laboratory``), why engines are opened
(``bench``), the years leg by leg (``history``), what is written down (``meters``,
``paperwork``, ``people``), what is true (``truth``, ``reveal``), all of it in one
(``workshop``), and where it goes (``load``, ``files``).
"""

from __future__ import annotations

from oiltrend.demo.load import DemoLoaded, load, load_demo
from oiltrend.demo.workshop import Workshop, simulate

__all__ = ["DemoLoaded", "Workshop", "load", "load_demo", "simulate"]
