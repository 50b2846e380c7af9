"""Files into the store: all or nothing, held rows, awaited results, undo, remembered readings."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from oiltrend.errors import NotAllowed, NotThere, StoreError
from oiltrend.ingest import ReadOptions
from oiltrend.records import Engine, Lab, Mapping
from oiltrend.service.files import import_file, undo_import
from oiltrend.service.fleet import watch
from oiltrend.service.held import answer_held, held_rows
from oiltrend.service.mappings import named_mapping, remember_mapping
from oiltrend.service.reading import preview_file
from oiltrend.service.samples import mark_drawn
from oiltrend.store import Store
from tests.service.conftest import OWNER, SHOP

GOOD = (b"engine,sample_date,odometer_km,oil_distance_km,Fe,Pb\n"
        b"E1,2025-03-01,81000,8000,20,5\nE2,2025-04-01,60000,7000,18,<1\n")
ONE_BAD = GOOD + b"E1,2025-02-30,82000,9000,21,6\n"


def test_good_file_is_stored_and_judged_at_once(store: Store) -> None:
    report = import_file(store, SHOP, GOOD, filename="a.csv")
    assert (report.stored, report.parsed.accepted) == (2, 2)
    table = store.fleet().table
    assert table.value[1, 2] == 1.0
    assert table.qualifier[1, 2] == 2
    assert '"<1"' in table.raw[1]
    assert store.file(report.parsed.sha256) == GOOD


def test_one_bad_row_stores_nothing_by_default(store: Store) -> None:
    report = import_file(store, SHOP, ONE_BAD, filename="a.csv")
    assert (report.stored, report.import_id, len(store.fleet())) == (0, None, 0)
    assert [reject.line for reject in report.parsed.rejects] == [4]


def test_good_rows_only_is_an_explicit_choice_and_rejects_are_kept(store: Store) -> None:
    report = import_file(store, SHOP, ONE_BAD, filename="a.csv", good_rows_only=True)
    assert report.stored == 2
    assert report.import_id is not None
    (reject,) = store.rejects(report.import_id)
    assert (reject.line, reject.raw) == (4, "2025-02-30")


def test_dry_run_stores_nothing(store: Store) -> None:
    report = import_file(store, SHOP, GOOD, filename="a.csv", dry_run=True)
    assert (report.parsed.accepted, report.stored, len(store.fleet())) == (2, 0, 0)


def test_same_file_again_is_all_duplicates_and_stores_nothing(store: Store) -> None:
    import_file(store, SHOP, GOOD, filename="a.csv")
    again = import_file(store, SHOP, GOOD, filename="b.csv")
    assert (again.parsed.duplicates, again.stored, len(store.fleet())) == (2, 0, 2)
    assert len(store.imports()) == 1


def test_unknown_engine_is_held_then_matched(store: Store) -> None:
    data = GOOD + b"UNIT-9,2025-05-01,61000,1000,3,1\n"
    report = import_file(store, SHOP, data, filename="a.csv")
    assert (report.stored, report.parsed.held) == (2, 1)
    (entry,) = held_rows(store, SHOP)
    assert (entry.engine_text, entry.line) == ("UNIT-9", 4)
    assert answer_held(store, SHOP, entry.import_id, "UNIT-9", "E2") == 1
    assert held_rows(store, SHOP) == []
    assert store.fleet(engines=["E2"]).table.value[:, 0].tolist() == [18.0, 3.0]


def test_file_with_unknown_engines_can_be_imported_again_with_a_family(store: Store) -> None:
    data = b"engine,sample_date,odometer_km,Fe\nNEW-1,2025-05-01,61000,3\n"
    first = import_file(store, SHOP, data, filename="a.csv")
    again = import_file(store, SHOP, data, filename="a.csv", create_family="AQ-I6-32")
    assert (first.stored, again.stored, again.import_id) == (0, 1, first.import_id)
    assert store.get(Engine, "NEW-1").record.family == "AQ-I6-32"
    assert held_rows(store, SHOP) == []


def test_answering_for_rows_that_are_not_there(store: Store) -> None:
    with pytest.raises(NotThere, match="import 7 must hold rows of 'X', found none"):
        answer_held(store, SHOP, 7, "X", "E1")


def test_question_blocks_until_answered_and_is_remembered_for_the_laboratory(store: Store) -> None:
    data = b"engine,sample_date,odometer_km,Fe\nE1,03/04/2025,81000,20\n"
    asked = import_file(store, SHOP, data, filename="a.csv")
    assert [question.code for question in asked.parsed.questions] == ["date_order"]
    assert (asked.stored, len(store.fleet())) == (0, 0)
    mapping = Mapping("Lab B sheets", {}, {}, {}, lab="Lab B", date_order="dmy")
    remember_mapping(store, SHOP, mapping)
    told = import_file(store, SHOP, data, filename="a.csv",
                       options=ReadOptions(mapping=named_mapping(store, "Lab B sheets")))
    assert told.stored == 1
    assert store.fleet().table.sample_date[0] == np.datetime64("2025-04-03")
    assert store.get(Lab, "Lab B").record.date_order == "dmy"
    by_lab = preview_file(store, SHOP, data.replace(b"81000", b"82000"), filename="b.csv",
                          options=ReadOptions(lab="Lab B"))
    assert by_lab.questions == ()


def test_unknown_mapping_lists_those_there_are(store: Store) -> None:
    with pytest.raises(NotThere, match="found 'x'; known are: none yet"):
        named_mapping(store, "x")


def test_result_of_a_drawn_sample_fills_it(store: Store) -> None:
    mark_drawn(store, SHOP, "E1", on=date(2025, 3, 1), meter=81000.0)
    assert watch(store, SHOP).rows[0].awaiting
    import_file(store, SHOP, GOOD, filename="a.csv")
    fleet = store.fleet(engines=["E1"])
    assert len(fleet) == 1
    assert not fleet.table.awaited[0]
    assert fleet.table.value[0, 0] == 20.0


def test_undo_takes_everything_back_and_the_file_may_come_again(store: Store) -> None:
    report = import_file(store, SHOP, GOOD, filename="a.csv")
    assert report.import_id is not None
    undone = undo_import(store, SHOP, report.import_id, why="wrong laboratory")
    assert (undone.voided, len(store.fleet())) == (2, 0)
    assert import_file(store, SHOP, GOOD, filename="a.csv").stored == 2
    with pytest.raises(StoreError):
        undo_import(store, SHOP, report.import_id, why="again")


def test_teardown_file_fits_the_new_shells(store: Store) -> None:
    data = (b"engine,teardown_date,odometer_km,rod,half,wear_stage,action,new_material\n"
            b"E1,2025-06-01,82000,1,rod,3,replaced,aluminium-tin\n"
            b"E1,2025-06-01,82000,1,cap,2,refitted,\n")
    assert import_file(store, SHOP, data, filename="t.csv", kind="teardowns").stored == 2
    shells = store.shells(engines=["E1"])
    assert [(s.slot.half, s.slot.material, s.current) for s in shells] == [
        ("rod", "aluminium-tin", True)]


def test_limits_file_makes_a_new_version(store: Store) -> None:
    data = (b"family,measurand,quantity,level,operator,value,source,valid_from\n"
            b"AQ-V8-40,Pb,per_1000,alarm,>,1.5,our openings,2025-01-01\n")
    assert import_file(store, SHOP, data, filename="l.csv", kind="limits").stored == 1
    assert [v.state for v in store.limit_versions()] == ["current", "past"]
    assert {(x.family, x.quantity) for x in store.limits() if x.measurand == "Pb"} == {
        ("*", "level"), ("AQ-V8-40", "per_1000")}


def test_owner_cannot_import(store: Store) -> None:
    with pytest.raises(NotAllowed, match="to add results you must be shop or technician, "
                                         "found owner"):
        import_file(store, OWNER, GOOD, filename="a.csv")
