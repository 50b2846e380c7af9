"""The invented workshop in a store: all of it, marked, and the truth beside it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from oiltrend.demo.load import TRUTH_NAME, load, load_demo
from oiltrend.demo.workshop import Workshop
from oiltrend.errors import StoreRefused
from oiltrend.records import (
    Action,
    Caller,
    Car,
    Engine,
    EngineStay,
    Event,
    Family,
    Lab,
    Mapping,
    NewOil,
    OilProduct,
    Ownership,
    Teardown,
)
from oiltrend.service.fleet import watch
from oiltrend.store import Store, open_store

SHOP = Caller("Ines", "shop")


@pytest.fixture(scope="module")
def loaded(works: Workshop, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(folder=tmp_path_factory.mktemp("demo")) as store:
        assert load(store, works, SHOP) == store.folder / TRUTH_NAME
        yield store


@pytest.mark.parametrize(("kind", "name"), [
    (Family, "families"), (Car, "cars"), (Ownership, "ownerships"), (Engine, "engines"),
    (EngineStay, "stays"), (Lab, "labs"), (OilProduct, "oil_products"), (NewOil, "new_oils"),
    (Event, "events"), (Teardown, "teardowns"), (Action, "actions")])
def test_every_record_is_there(loaded: Store, works: Workshop, kind: type, name: str) -> None:
    stored = [entry.record for entry in loaded.all(kind)]
    expected = list(getattr(works, name))
    assert sorted(map(repr, stored)) == sorted(map(repr, expected))


def test_samples_come_back_with_their_texts(loaded: Store, works: Workshop) -> None:
    table = loaded.fleet().table
    assert len(table) == len(works.samples)
    order = np.lexsort((works.samples.sample_date, works.samples.engine.astype(str)))
    ours = works.samples.take(order)
    assert np.array_equal(table.value, ours.value, equal_nan=True)
    assert np.array_equal(table.qualifier, ours.qualifier)
    assert np.array_equal(table.awaited, ours.awaited)
    first = loaded.sample(int(loaded.fleet().sample[0]))
    text = json.loads(first.row.raw[0])
    assert text["Fe"]


def test_the_shells_in_each_engine_are_the_last_ones_fitted(loaded: Store,
                                                            works: Workshop) -> None:
    for engine in works.truth.situations["set_replaced"]:
        last = [s for s in works.bearing_sets if s.engine == engine][-1]
        current = {(s.number, s.half): s for s in loaded.bearing_set(engine).slots}
        for slot in last.slots:
            assert current[slot.number, slot.half] == slot
    partly = works.truth.situations["set_partly_replaced"][0]
    dates = {s.fitted_date for s in loaded.bearing_set(partly).slots}
    assert len(dates) >= 2 or partly in works.truth.situations["set_replaced"]


def test_the_store_is_marked(loaded: Store) -> None:
    assert loaded.setting("demo", False) is True


def test_the_truth_lies_beside_the_data(loaded: Store, works: Workshop) -> None:
    truth = json.loads((loaded.folder / TRUTH_NAME).read_text(encoding="utf-8"))
    assert truth["situations"] == {k: list(v) for k, v in works.truth.situations.items()}
    assert truth["samples"]["sample_id"] == works.samples.sample_id.tolist()


def test_every_engine_has_a_verdict(loaded: Store) -> None:
    rows = watch(loaded, SHOP, limit=100).rows
    assert len(rows) == 46
    levels = Counter(row.level for row in rows)
    assert levels["alarm"] >= 1
    assert levels["no_alarm"] >= 10
    assert sum(bool(row.awaiting) for row in rows) == 2


def test_both_laboratories_are_remembered(loaded: Store) -> None:
    names = {entry.record.name for entry in loaded.all(Mapping)}
    assert names == {"Lab A", "Lab B"}


def test_loading_twice_changes_nothing(tmp_path: Path) -> None:
    with open_store(folder=tmp_path) as store:
        first = load_demo(store, SHOP)
        assert (first.loaded, first.engines) == (True, 46)
        version = store.data_version()
        again = load_demo(store, SHOP)
        assert (again.loaded, again.engines, again.samples) == (False, 46, first.samples)
        assert store.data_version() == version


def test_the_demo_ends_today(tmp_path: Path) -> None:
    with open_store(folder=tmp_path) as store:
        load_demo(store, SHOP)
        last = store.fleet().table.sample_date.max().astype(date)
    assert 0 <= (date.today() - last).days <= 7  # noqa: DTZ011 - the demo counts local days


def test_a_store_with_other_engines_is_left_alone(tmp_path: Path) -> None:
    with open_store(folder=tmp_path) as store:
        with store.write(SHOP, "an engine of our own") as tx:
            tx.add(Family("OWN"))
            tx.add(Engine("E1", "OWN"))
        with pytest.raises(StoreRefused, match=(
                r"^demo: must be loaded into an empty store, found one with engines; "
                r"name another folder with --data$")):
            load_demo(store, SHOP)
        assert [entry.record.engine for entry in store.all(Engine)] == ["E1"]
