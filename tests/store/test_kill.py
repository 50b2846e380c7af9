"""A program that is stopped dead in the middle of an import (SIGKILL)."""

import os
import random
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from oiltrend.store import Store, open_store
from tests.store.crash import ROWS, bring_in, import_without_end, processes
from tests.store.made import KIM, furnish

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows knows no SIGKILL")
KILLS = int(os.environ.get("OILTREND_KILLS", "60"))


def kill_again_and_again(folder: Path, url: str | None, *, kills: int, halves: bool,
                         check: Callable[[Store, set[int]], int]) -> int:
    """Start, kill within the first few imports, look, again; gives how many were half there."""
    context = processes()
    with open_store(folder=folder, url=url) as store:
        bring_in(store, 999_998)
        begun = time.perf_counter()
        bring_in(store, 999_999)
        longest = 4 * (time.perf_counter() - begun)
    dice = random.Random(5)
    half, acknowledged = 0, set()
    for turn in range(kills):
        here, there = context.Pipe(duplex=False)
        child = context.Process(target=import_without_end,
                                args=(folder, url, 1000 * turn, halves, there))
        child.start()
        there.close()
        acknowledged.add(here.recv())
        time.sleep(dice.uniform(0.001, longest))
        child.kill()
        child.join()
        while here.poll():
            try:
                acknowledged.add(here.recv())
            except EOFError:
                break
        here.close()
        with open_store(folder=folder, url=url) as store:
            half += check(store, acknowledged)
    return half


def look(store: Store, acknowledged: set[int]) -> int:
    """Nothing acknowledged is lost, no row without its file, no damage; gives half imports."""
    imports = {int(i.file.removesuffix(".csv")): i for i in store.imports()}
    assert acknowledged <= imports.keys()
    origin, counts = np.unique(store.fleet(texts=False).import_id, return_counts=True)
    rows = dict(zip(origin.tolist(), counts.tolist(), strict=True))
    newest = max(imports.values(), key=lambda i: i.id, default=None)
    if newest is not None:
        assert store.file(newest.sha256)
    health = store.health()
    assert (health["integrity"], health["foreign_keys"] or 0) == ("ok", 0)
    done = [i for i in imports.values() if i.state == "done"]
    half = [i for i in done if rows.get(i.id) != ROWS]
    # Told once: what is half would stay so for the rounds that follow.
    with store.write(KIM, "clean up") as tx:
        for one in half:
            tx.undo_import(one.id)
    return len(half)


def test_an_import_is_there_or_not(tmp_path: Path):
    with open_store(folder=tmp_path) as store:
        furnish(store)
    assert kill_again_and_again(tmp_path, None, kills=KILLS, halves=False, check=look) == 0
    with open_store(folder=tmp_path) as store:
        assert len(store.imports()) > KILLS


def test_an_import_is_there_or_not_on_postgresql(wiped_postgres: str, tmp_path: Path):
    with open_store(folder=tmp_path, url=wiped_postgres) as store:
        furnish(store)
    assert kill_again_and_again(tmp_path, wiped_postgres, kills=KILLS // 4, halves=False,
                                check=look) == 0


def test_control_row_by_row_leaves_halves(tmp_path: Path):
    kills = max(KILLS // 6, 5)
    with open_store(folder=tmp_path) as store:
        furnish(store)
    assert kill_again_and_again(tmp_path, None, kills=kills, halves=True,
                                check=look) >= kills / 2
