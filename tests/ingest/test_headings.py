import itertools

import pytest

from oiltrend.ingest.columns import LONG_COLUMNS, columns_of
from oiltrend.ingest.elements import ELEMENT_NAMES, MEASURAND_NAMES
from oiltrend.ingest.headings import (
    fold,
    heading_unit,
    match_key,
    measurand_named,
    names_table,
    read_heading,
    units_for,
)
from oiltrend.ingest.model import KINDS
from oiltrend.ingest.terms import TERMS
from oiltrend.nomenclature import PANEL

COLUMNS = {c.name: c for c in (*columns_of("samples"), *LONG_COLUMNS)}


@pytest.mark.parametrize(("heading", "column", "unit"), [
    # What the trade writes, without being asked.
    ("Fe ppm", "Fe", "mg/kg"), ("FE PPM", "Fe", "mg/kg"), ("Fe [mg/kg]", "Fe", "mg/kg"),
    ("Fe (mg/kg)", "Fe", "mg/kg"), ("Fe", "Fe", "mg/kg"), ("Iron (Fe)", "Fe", "mg/kg"),
    ("Eisen", "Fe", "mg/kg"), ("Blei mg/kg", "Pb", "mg/kg"), ("Cu [%]", "Cu", "%"),
    ("Cuivre (ppm)", "Cu", "mg/kg"), ("Rame mg/kg", "Cu", "mg/kg"), ("Plomo", "Pb", "mg/kg"),
    ("Estanho", "Sn", "mg/kg"), ("IJzer", "Fe", "mg/kg"), ("Ołów", "Pb", "mg/kg"),
    ("Järn ppm", "Fe", "mg/kg"), ("Měď", "Cu", "mg/kg"), ("Silicio", "Si", "mg/kg"),
    ("Visc 100C cSt", "KV100", "mm²/s"), ("Visc @40C (mm2/s)", "KV40", "mm²/s"),
    ("KV 40 °C", "KV40", "mm²/s"), ("KV100", "KV100", "mm²/s"), ("V100", "", ""),
    ("Kin. Viskosität 40°C [mm²/s]", "KV40", "mm²/s"), ("Viskositaet 100 °C", "KV100", "mm²/s"),
    ("Viscosité à 100°C", "KV100", "mm²/s"), ("Lepkość 40", "KV40", "mm²/s"),
    ("Visc 212F", "KV100", "mm²/s"), ("Visc 104 °F", "KV40", "mm²/s"),
    ("HTHS 150 °C mPas", "HTHS", "mPa·s"),
    ("TBN", "base_number", "mg KOH/g"), ("TBN mg KOH/g", "base_number", "mg KOH/g"),
    ("TAN", "acid_number", "mg KOH/g"), ("Säurezahl", "acid_number", "mg KOH/g"),
    ("Fuel %", "fuel_pct", "%"), ("Fuel dilution vol%", "fuel_pct", "% (V/V)"),
    ("Water ppm", "water_pct", "mg/kg"), ("Soot % wt", "soot_pct", "%"),
    ("Glykol", "glycol_pct", "%"), ("fuel_pct", "fuel_pct", "%"),
    ("fuel_pct [% (V/V)]", "fuel_pct", "% (V/V)"), ("Fuel (% vol)", "fuel_pct", "% (V/V)"),
    ("fuel_pct [ppm]", "fuel_pct", ""),
    ("Oxidation A/cm", "oxidation", "Abs/cm"), ("Nitration [Abs/0.1 mm]", "nitration",
                                                  "Abs/0.1 mm"), ("oxidation", "oxidation",
                                                                  "Abs/cm"),
    ("Oil km", "oil_distance_km", "km"), ("oil_km", "oil_distance_km", "km"),
    ("Miles on oil", "oil_distance_mi", "mi"), ("Ölkilometer", "oil_distance_km", "km"),
    ("Oelkilometer", "oil_distance_km", "km"), ("Oil hours", "oil_hours", "h"),
    ("km huile", "oil_distance_km", "km"), ("Oil mi", "oil_distance_mi", "mi"),
    ("Kilometerstand", "odometer_km", "km"), ("Odometer [mi]", "odometer_mi", "mi"),
    ("Odometer km", "odometer_km", "km"), ("Betriebsstunden", "hours", "h"),
    ("Engine hours", "hours", "h"), ("kilométrage", "odometer_km", "km"),
    ("Date", "sample_date", "-"), ("Probenahme", "sample_date", "-"),
    ("Fecha de muestreo", "sample_date", "-"), ("Data prelievo", "sample_date", "-"),
    ("Motor-Nr.", "engine", "-"), ("Unit number", "engine", "-"), ("Lab no", "sample_id", "-"),
    ("Bemerkung", "note", "-"), ("Ölwechsel", "oil_changed", "-"),
    ("Top-up", "top_up_l", "L"), ("Top up [qt]", "top_up_l", "qt"),
    ("Hot oil pressure [psi]", "hot_oil_pressure_bar", "psi"),
    ("Fe method", "Fe method", "-"), ("Iron method", "Fe method", "-"),
    ("fuel_pct method", "fuel_pct method", "-"), ("Blei Methode", "Pb method", "-"),
    # What must be asked.
    ("Sample", "", ""), ("Viscosity", "", ""), ("Visc 40/100", "", ""), ("Iron (Cu)", "", ""),
    ("Date in", "", ""), ("Viscosity index", "", ""), ("Oil", "", ""), ("Fe 100 ppm", "", ""),
    ("Fe [mg/L]", "Fe", ""), ("Fe mg/l", "Fe", ""), ("Fe ppm [%]", "Fe", ""),
    ("Fe [km]", "Fe", ""), ("Oxidation", "oxidation", ""), ("hours [km]", "hours", ""),
    ("odometer_km [mi]", "odometer_km", ""), ("Odometer", "", ""), ("Oil age", "", ""),
])
def test_heading(heading, column, unit):
    found = read_heading(heading, columns=COLUMNS)
    assert (found.column, found.unit) == (column, unit)
    assert bool(found.question) == (not column or not unit)


def test_a_viscosity_is_never_filed_under_another_temperature():
    names = ["KV", "Visc", "Viskosität", "Viscosité", "lepkość", "viscosity"]
    marks = ["{} 40", "{}40C", "{} 40 °C", "{} @40C", "{} at 40 °C cSt", "{} (40°C) mm2/s",
             "{} [cSt] 40C", "{}_40", "{} 40.0"]
    for name, mark in itertools.product(names, marks):
        heading = mark.format(name)
        cold = read_heading(heading, columns=COLUMNS).column
        hot = read_heading(heading.replace("40", "100"), columns=COLUMNS).column
        assert cold in ("KV40", ""), heading
        assert hot in ("KV100", ""), heading
        assert (cold, hot) == ("KV40", "KV100") or "." in heading, heading


@pytest.mark.parametrize(("heading", "meter", "column"), [
    ("Odometer", "km", "odometer_km"), ("Odometer", "mi", "odometer_mi"),
    ("Meter", "h", "hours"), ("Oil age", "h", "oil_hours"), ("Oil age", "mi", "oil_distance_mi"),
    ("Odometer [km]", "mi", "odometer_km"),  # the heading's own unit wins
])
def test_a_bare_meter_takes_the_unit_that_was_said(heading, meter, column):
    assert read_heading(heading, columns=COLUMNS, meter=meter).column == column


@pytest.mark.parametrize("kind", KINDS)
def test_every_house_name_reads_as_itself(kind):
    columns = {column.name: column for column in columns_of(kind)}
    for column in columns.values():
        for heading in (column.name, column.name.upper(), column.name.replace("_", " ")):
            found = read_heading(heading, columns=columns)
            absorbance = column.unit == "Abs/cm" and heading != column.name
            assert found.column == column.name, heading
            assert found.question == ("unit" if absorbance else ""), heading


@pytest.mark.parametrize("kind", KINDS)
def test_every_house_name_takes_every_unit_it_may_have(kind):
    columns = {column.name: column for column in columns_of(kind)}
    for column in columns.values():
        if column.name in ("odometer_km", "odometer_mi", "oil_distance_km", "oil_distance_mi"):
            continue  # their unit is part of the name; another one would contradict it
        if column.type not in ("number", "reading") or column.unit == "-":
            continue
        for unit in units_for(column):
            found = read_heading(f"{column.name} [{unit}]", columns=columns)
            own = column.name.rpartition("_")[2] in ("mm", "um", "l", "bar", "pct")
            if own and unit not in (column.unit, "% (V/V)"):
                assert found.question == "unit"
            else:
                assert (found.column, found.unit) == (column.name, unit)


def test_every_known_name_reads_as_what_it_stands_for():
    for symbol, names in ELEMENT_NAMES.items():
        for name in names:
            assert read_heading(f"{name} [ppm]", columns=COLUMNS).column == symbol, name
            assert measurand_named(name)[0] == symbol, name


def test_no_name_stands_for_two_things():
    seen: dict[str, str] = {}
    for target, names in (*ELEMENT_NAMES.items(), *MEASURAND_NAMES.items(), *TERMS.items()):
        for name in names:
            assert seen.setdefault(fold(name), target) == target, name
    assert len(names_table()) > 600


def test_names_are_written_once_each():
    for names in (*ELEMENT_NAMES.values(), *MEASURAND_NAMES.values(), *TERMS.values()):
        assert len(set(names)) == len(names)


def test_all_elements_of_the_panel_have_names():
    assert [symbol for symbol in PANEL if len(symbol) <= 2] == list(ELEMENT_NAMES)


@pytest.mark.parametrize(("one", "other"), [
    ("  Fe   PPM ", "fe ppm"), ("A\u0308", "Ä"), ("Straße", "STRASSE")])
def test_headings_are_compared_composed_trimmed_and_without_case(one, other):
    assert match_key(one) == match_key(other)


def test_a_heading_matched_by_hand_may_still_say_its_unit():
    fe = COLUMNS["Fe"]
    assert heading_unit("Eisengehalt [%]", fe).unit == "%"
    assert heading_unit("Eisengehalt", fe).unit == "mg/kg"
    assert heading_unit("Eisengehalt mg/l", fe).question == "unit"
    assert heading_unit("Ox", COLUMNS["oxidation"]).question == "unit"
    assert heading_unit("Text [km]", COLUMNS["note"]).unit == "-"
