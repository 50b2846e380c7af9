from datetime import date

import pytest

from oiltrend.records import ShellFinding
from tests.ingest.reading import counts, read

HEAD = "engine,teardown_date,odometer_km,rod,half,wear_stage,clearance_mm,reason\n"


def test_rows_of_one_opening_make_one_teardown():
    found = read(HEAD + "E1,2024-03-05,81000,1,upper,2,0.05,planned\n"
                 "E1,2024-03-05,81000,1,lower,not_scorable,,\nE2,2024-03-05,81000,1,cap,0,,alarm\n"
                 "E1,2024-03-06,81000,1,cap,3,,\n", kind="teardowns")
    assert counts(found) == [5, 1, 4, 0, 0, 0, 0]
    first = found.items[0]
    assert (first.engine, first.teardown_date, first.meter, first.reason) == (
        "E1", date(2024, 3, 5), 81000.0, "planned")
    assert first.findings == (
        ShellFinding("rod", 1, "rod", wear_stage=2, clearance_mm=0.05, line=2),
        ShellFinding("rod", 1, "cap", not_scorable=True, line=3))
    assert [item.reason for item in found.items[1:]] == ["alarm", ""]


def test_every_column_reaches_the_record():
    found = read(
        "engine,teardown_date,odometer_km,rod,half,reason,oil_verdict_seen,wear_stage,failed,"
        "layer_pct,back_pct,wall_crown_mm,wall_end_mm,wall_new_mm,clearance_mm,journal_mm,"
        "journal_surface,damage,material,action,new_material,new_clearance_mm,oil_changed,refill_l,"
        "refill_product,filter_finding,note\n"
        "E1,2024-03-05,81000,1,rod,symptom,no,4,fatigued,35,1,1.8,1.79,1.82,0.06,52,marked,"
        "fatigue cracks; scoring,Cu-Pb,replaced,Al-Sn,0.045,yes,8.5,Oil X,flakes,seen\n",
        kind="teardowns")
    teardown, = found.items
    shell, = teardown.findings
    assert (teardown.oil_verdict_seen, teardown.oil_changed) == (False, True)
    assert (teardown.refill_l, teardown.refill_product) == (8.5, "Oil X")
    assert teardown.filter_finding == "flakes"
    assert shell == ShellFinding(
        "rod", 1, "rod", 4, False, "fatigued", 35.0, 1.0, 1.8, 1.79, 1.82, 0.06, 52.0, "marked",
        ("fatigue cracks", "scoring"), "Cu-Pb", "replaced", "Al-Sn", 0.045, "seen", 2)


@pytest.mark.parametrize(("rod", "kind", "number"), [
    ("3", "rod", 3), ("main 3", "main", 3), ("Main3", "main", 3), ("Hauptlager 3", "main", 3),
    ("rod 3", "rod", 3), ("#3", "rod", 3)])
def test_rods_and_mains(rod, kind, number):
    found = read(HEAD + f"E1,2024-03-05,81000,{rod},rod,2,,\n", kind="teardowns")
    shell, = found.items[0].findings
    assert (shell.kind, shell.number) == (kind, number)


def test_mains_may_have_a_column_of_their_own():
    found = read("engine,teardown_date,rod,main,half\nE1,2024-03-05,,3,rod\nE1,2024-03-05,1,,cap\n"
                 "E1,2024-03-05,2,2,cap\n", kind="teardowns")
    assert [(s.kind, s.number) for s in found.items[0].findings] == [("main", 3), ("rod", 1)]
    assert found.rejects[0].reason == "a row must be about a rod or a main bearing, not both"
    only = read("engine,teardown_date,main,half\nE1,2024-03-05,3,rod\n", kind="teardowns")
    assert only.accepted == 1


@pytest.mark.parametrize("rod", ["0", "x", "1+5", "-1", "1.5"])
def test_what_is_no_rod(rod):
    found = read(HEAD + f"E1,2024-03-05,81000,{rod},rod,2,,\n", kind="teardowns")
    assert found.rejects[0].reason == "must be a rod number, or main with a number"


def test_an_engine_without_known_rods_is_not_checked_for_them():
    assert read(HEAD + "E2,2024-03-05,81000,12,rod,2,,\n", kind="teardowns").accepted == 1


def test_one_clearance_may_stand_with_one_half_or_with_both():
    found = read(HEAD + "E1,2024-03-05,81000,1,rod,2,0.05,\nE1,2024-03-05,81000,1,cap,2,0.05,\n"
                 "E1,2024-03-05,81000,2,rod,2,0.06,\nE1,2024-03-05,81000,2,cap,2,,\n",
                 kind="teardowns")
    assert found.accepted == 4


def test_a_bad_half_leaves_the_rest_of_the_opening():
    found = read(HEAD + "E1,2024-03-05,81000,1,rod,2,,\nE1,2024-03-05,81000,2,rod,7,,\n",
                 kind="teardowns")
    assert counts(found) == [3, 1, 1, 0, 1, 0, 0]
    assert len(found.items[0].findings) == 1


def test_an_opening_of_an_unknown_engine_is_held():
    found = read(HEAD + "E9,2024-03-05,81000,1,rod,2,,\n", kind="teardowns")
    assert counts(found) == [2, 1, 0, 1, 0, 0, 0]
    assert found.items == ()
