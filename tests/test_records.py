"""Records: frozen, and refusing what cannot be, in full words."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest

from oiltrend import records
from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import PANEL
from oiltrend.records import (
    Engine,
    Event,
    Family,
    Lab,
    Limit,
    Qualifier,
    SampleTable,
    ShellFinding,
    Teardown,
    empty_samples,
)

LIMIT: dict[str, Any] = {
    "family": "AQ-V8-40", "measurand": "Pb", "quantity": "level", "level": "alert",
    "operator": ">", "value": 20.0, "source": "set by the shop", "valid_from": date(2026, 1, 2)}


@pytest.mark.parametrize("name", [
    name for name in records.__all__ if dataclasses.is_dataclass(getattr(records, name))])
def test_records_are_frozen_and_slotted(name: str) -> None:
    record = getattr(records, name)
    assert record.__dataclass_params__.frozen
    assert "__slots__" in vars(record)


@pytest.mark.parametrize(("make", "text"), [
    (lambda: Engine("E-1", "AQ-V8-40", meter_unit="yd"),  # type: ignore[arg-type]
     "meter_unit: must be one of 'km', 'mi', 'h', found 'yd'; "
     "correct the value or leave it blank"),
    (lambda: Family("AQ-V8-40", layer_structure="two"),
     "layer_structure: must be one of 'trimetal', 'bimetal', 'polymer', found 'two'; "
     "correct the value or leave it blank"),
    (lambda: Lab("Lab A", date_order="ydm"),
     "date_order: must be one of 'ymd', 'dmy', 'mdy', found 'ydm'; "
     "correct the value or leave it blank"),
    (lambda: Lab("Lab A", decimal="dot"),
     "decimal: must be one of 'point', 'comma', found 'dot'; "
     "correct the value or leave it blank"),
    (lambda: Event("E-1", "wash", date=date(2026, 1, 2)),
     "event: must be one of 'oil_change', 'top_up', 'filter_change', 'meter_replaced', "
     "'engine_fitted', 'engine_removed', found 'wash'; correct the value or leave it blank"),
    (lambda: Event("E-1", "oil_change"),
     "event: needs a date or a meter reading, found neither; add one of the two"),
    (lambda: Limit(**{**LIMIT, "quantity": "slope"}),
     "quantity: must be one of 'level', 'per_1000', 'wear_rate', found 'slope'; "
     "correct the value or leave it blank"),
    (lambda: Limit(**{**LIMIT, "measurand": "Au"}),
     "measurand: must be a known measurand, found 'Au'; use one of " + ", ".join(PANEL)),
    (lambda: Limit(**{**LIMIT, "source": "  "}),
     "source: a limit must carry its reason, found none; say where the number comes from"),
    (lambda: ShellFinding("rod", 1, "cap", wear_stage=6),
     "wear_stage: must be 0 to 5, found 6; use 0 to 5, or not_scorable"),
    (lambda: ShellFinding("rod", 1, "cap", failed="bent"),
     "failed: must be one of 'none', 'wiped', 'turned', 'fatigued', found 'bent'; "
     "correct the value or leave it blank"),
    (lambda: ShellFinding("rod", 1, "cap", action="kept"),
     "action: must be one of 'refitted', 'replaced', found 'kept'; "
     "correct the value or leave it blank"),
    (lambda: Teardown("E-1", date(2026, 1, 2), None, (), reason="bored"),
     "reason: must be one of 'planned', 'alarm', 'symptom', 'failure', 'other', "
     "found 'bored'; correct the value or leave it blank"),
    (lambda: dataclasses.replace(empty_samples(2), meter=np.zeros(3)),
     "meter: must have one entry per sample (2), found 3"),
    (lambda: dataclasses.replace(empty_samples(2), value=np.zeros((2, 1))),
     f"value: must have shape (2, {len(PANEL)}), found (2, 1) and qualifier (2, {len(PANEL)})"),
])
def test_what_cannot_be_is_refused(make: Callable[[], object], text: str) -> None:
    with pytest.raises(ValueRefused, match=f"^{re.escape(text)}$"):
        make()


def test_blank_is_allowed_where_it_means_not_known() -> None:
    assert Family("AQ-V8-40").layer_structure == ""
    assert Teardown("E-1", date(2026, 1, 2), None, ()).reason == ""
    assert Limit(**LIMIT).value == 20.0


def test_an_empty_table_knows_nothing() -> None:
    table = empty_samples(3)
    assert len(table) == 3
    assert table.value.shape == (3, len(PANEL))
    assert np.isnan(table.value).all()
    assert (table.qualifier == Qualifier.MISSING).all()
    assert np.isnat(table.sample_date).all()
    assert (table.oil_changed == -1).all()
    assert (table.glitter == -1).all()
    assert len(empty_samples(0)) == 0


@pytest.mark.parametrize("rows", [np.array([2, 0]), np.array([True, False, True])])
def test_taking_rows_takes_every_column(rows: np.ndarray) -> None:
    full = dataclasses.replace(
        empty_samples(3), engine=np.array(["a", "b", "c"], dtype=object),
        line=np.array([7, 8, 9]), meter=np.array([1.0, 2.0, 3.0]))
    taken = full.take(rows)
    assert isinstance(taken, SampleTable)
    for column in dataclasses.fields(SampleTable):
        np.testing.assert_array_equal(getattr(taken, column.name),
                                      getattr(full, column.name)[rows])
