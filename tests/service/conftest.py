"""A fresh store with one small workshop in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from oiltrend.records import Caller, Engine, Family
from oiltrend.service.workshop import begin_store
from oiltrend.store import Store, open_store

SHOP = Caller("Alder Quay office", "shop")
TECHNICIAN = Caller("Alder Quay bench", "technician")
OWNER = Caller("Ines", "owner")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store with two families and three engines."""
    with open_store(folder=tmp_path / "data") as opened:
        begin_store(opened, SHOP)
        with opened.write(SHOP, "workshop") as tx:
            tx.add_all([Family("AQ-V8-40", rods=8, crankpins="1+5;2+6;3+7;4+8", oil_fill_l=8.8),
                        Family("AQ-I6-32", rods=6, oil_fill_l=5.5)])
            tx.add_all([Engine("E1", "AQ-V8-40"), Engine("E2", "AQ-V8-40"),
                        Engine("E3", "AQ-I6-32", meter_unit="mi")])
        yield opened
