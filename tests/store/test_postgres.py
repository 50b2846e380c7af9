from collections.abc import Iterator
from pathlib import Path

import pytest

from oiltrend.store import Store, open_store
from tests.store.contract import StoreContract


class TestPostgres(StoreContract):
    @pytest.fixture
    def store(self, wiped_postgres: str, tmp_path: Path) -> Iterator[Store]:
        with open_store(folder=tmp_path, url=wiped_postgres) as opened:
            yield opened

    @pytest.fixture
    def second(self, store: Store, wiped_postgres: str) -> Iterator[Store]:
        with open_store(folder=store.folder, url=wiped_postgres) as opened:
            yield opened
