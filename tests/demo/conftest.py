"""One invented workshop of the usual size and one large fleet, shared by the tests."""

from __future__ import annotations

from datetime import date

import pytest

from oiltrend.demo.workshop import Workshop, simulate

TODAY = date(2026, 3, 14)


@pytest.fixture(scope="session")
def works() -> Workshop:
    return simulate(today=TODAY)


@pytest.fixture(scope="session")
def large_fleet() -> Workshop:
    return simulate(seed=5, engines=600, today=TODAY)
