from datetime import date

import pytest

from oiltrend.ingest import item_hash, item_key
from oiltrend.records import Engine, Event, Family, Limit, NewOil, Qualifier
from tests.ingest.reading import TODAY, counts, known, read


def test_events():
    found = read("engine,event,date,odometer_km,litres,oil_product,car,note\n"
                 "E1,oil change,2024-03-05,81000,5.5,Oil X,J-1,ok\nE1,Top-up,,82000,0.5,,,\n",
                 kind="events", matches={})
    assert found.rejects[0].raw == "Top-up"
    assert found.items == (Event("E1", "oil_change", date(2024, 3, 5), 81000.0, 5.5, "Oil X", "J-1",
                                 None, "ok"),)


def test_a_new_meter_is_in_the_engines_own_unit():
    found = read("engine,event,date,new_meter\nM1,meter_replaced,2024-03-05,100\n"
                 "H1,meter_replaced,2024-03-05,100\n", kind="events")
    assert [item.new_meter for item in found.items] == [pytest.approx(160.9344), 100.0]
    named = read("engine,event,date,new_meter [km]\nM1,meter_replaced,2024-03-05,100\n"
                 "H1,meter_replaced,2024-03-05,100\n", kind="events")
    assert [item.new_meter for item in named.items] == [100.0]
    assert named.rejects[0].reason == ("the reading must be in the unit in which this engine is "
                                       "counted")


def test_events_of_unknown_engines_are_held():
    assert counts(read("engine,event,date\nE9,top_up,2024-03-05\n", kind="events"))[3] == 1


def test_engines():
    found = read("engine,family,car,built,owner,meter_unit,oil_fill_l,shell_material,"
                 "set_fitted_meter,note\nE7,F1,J-7,2019,Ines,mi,8.8,Al-Sn,1000,new\nE8,F1,,,,,,,,\n",
                 kind="engines")
    assert found.items[0] == Engine("E7", "F1", "mi", "2019", 8.8, "Al-Sn",
                                    pytest.approx(1609.344), "J-7", "Ines", "new")
    assert found.items[1] == Engine("E8", "F1")


def test_families():
    found = read("family;rods;crankpins;pin_mm;layer_structure;overlay_um;residue_fraction\n"
                 "V8;8;1+5 , 2+6;52,5;trimetal;20;0,1\n", kind="families")
    assert found.rejects[0].reason == "crankpins: must be like 1+5;2+6;3+7;4+8, found '1+5 , 2+6'"
    found = read("family,rods,crankpins,pin_mm,Pin [in],overlay_um\n"
                 "V8,8,1+5;2+6;3+7;4+8,52,,20\n", kind="families", matches={"Pin [in]": "ignore"})
    assert found.items == (Family("V8", rods=8, crankpins="1+5;2+6;3+7;4+8", pin_mm=52.0,
                                  overlay_um=20.0),)


def test_inches_become_mm():
    found = read("family,pin_mm [in]\nV8,2\n", kind="families")
    assert found.questions[0].code == "unit"  # pin_mm says mm itself
    found = read("family,Pin [in]\nV8,2\n", kind="families")
    assert found.items[0].pin_mm == pytest.approx(50.8)  # inch = 25.4 mm exactly


def test_limits():
    found = read("family,measurand,quantity,level,operator,value,source,valid_from\n"
                 "*,Blei,per 1000 km,Alarm,≥,4,own,2027-01-01\n", kind="limits")
    assert found.items == (Limit("*", "Pb", "per_1000", "alarm", ">=", 4.0, "own",
                                 date(2027, 1, 1)),)


def test_new_oil():
    found = read("oil_product,batch,lab,sample_date,method,Ca,Zn,Fuel vol%\n"
                 "Oil X,7,Lab A,2024-03-05,ICP,2500,<1,1\n", kind="new-oil")
    oil = found.items[0]
    assert isinstance(oil, NewOil)
    assert (oil.oil_product, oil.batch, oil.lab, oil.sample_date) == (
        "Oil X", "7", "Lab A", date(2024, 3, 5))
    assert (oil.readings["Zn"].value, oil.readings["Zn"].qualifier, oil.readings["Zn"].raw) == (
        1.0, Qualifier.BELOW, "<1")
    assert oil.method == "ICP, fuel_pct % volume"


FILES = {
    "events": "engine,event,date,litres\nE1,top_up,2024-03-05,{}\n",
    "engines": "engine,family,oil_fill_l\nE7,F1,{}\n",
    "families": "family,oil_fill_l\nV8,{}\n",
    "limits": "family,measurand,quantity,level,operator,value,source,valid_from\n"
              "F1,Pb,level,alarm,>,{},own,2024-01-01\n",
    "new-oil": "oil_product,Ca\nOil X,{}\n",
    "teardowns": "engine,teardown_date,rod,half,layer_pct\nE1,2024-03-05,1,rod,{}\n",
}


@pytest.mark.parametrize("kind", FILES)
def test_stored_records_are_duplicates_or_conflicts(kind):
    first = read(FILES[kind].format(5), kind=kind)
    assert counts(first) == [2, 1, 1, 0, 0, 0, 0]
    held = known(stored_items={item_key(i): item_hash(i) for i in first.items})
    assert counts(read(FILES[kind].format("5.0"), kind=kind, store=held))[5] == 1
    conflict = read(FILES[kind].format(6), kind=kind, store=held)
    assert counts(conflict) == [2, 1, 0, 0, 1, 0, 0]
    assert "is stored already and says something else there" in conflict.rejects[0].reason


@pytest.mark.parametrize("kind", FILES)
def test_a_row_twice_is_one_record(kind):
    text = FILES[kind].format(5)
    again = text + text.split("\n")[1] + "\n"
    found = read(again, kind=kind)
    assert counts(found) == [3, 1, 1, 0, 0, 1, 0]
    assert len(found.items) == 1


def test_the_hash_leaves_blank_fields_and_lines_out():
    text = FILES["teardowns"].format(5)
    one, = read(text, kind="teardowns").items
    other, = read(text.replace("\nE1", "\n\nE1").replace("layer_pct", "layer_pct,note")
                  .replace(",5\n", ",5,\n"), kind="teardowns").items
    assert one.findings[0].line != other.findings[0].line
    assert item_hash(one) == item_hash(other)


def test_keys_tell_kinds_apart():
    assert item_key(Event("E1", "top_up", TODAY)) != item_key(Event("E1", "oil_change", TODAY))
    assert item_key(Engine("X", "F1")) != item_key(Family("X"))
