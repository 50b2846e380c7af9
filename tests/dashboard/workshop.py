"""A small invented workshop, made through the uses of the program: each engine has one story.

AQ-101 wears its lead shells faster at every change; AQ-102 and AQ-103 are steady; AQ-104 counts
in miles; AQ-105 counts in hours; AQ-106 has no sample; AQ-107 waits for a result; the last
sample of AQ-108 repeats the one before to the digit and is doubted.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from oiltrend.records import Caller, Car, Engine, Family, Lab, Ownership
from oiltrend.service import files, fleet, samples, workshop
from oiltrend.store import Store, open_store

SHOP = Caller("shop", "shop")
STEADY = {"Fe": 18, "Cu": 9, "Pb": 5, "Sn": 2, "Al": 5, "Si": 8, "KV100": 17.1}
UNITS = {"AQ-104": "mi", "AQ-105": "h"}


def result_rows(engine: str, *, changes: int = 5, first: date = date(2024, 2, 1),
                lead_growth: float = 0.0) -> list[str]:
    """Write one engine's results as rows of our own layout, one at each oil change."""
    use = {"mi": 5000, "h": 150}.get(UNITS.get(engine, ""), 8000)
    rows = []
    for k in range(changes):
        wobble = 1 + 0.04 * ((k * 7 + len(engine) + int(engine[-1])) % 5 - 2)
        cells = [round(v * wobble * (1 + lead_growth * k if s == "Pb" else 1), 1)
                 for s, v in STEADY.items()]
        day = first + timedelta(days=170 * k)
        rows.append(",".join([engine, day.isoformat(), str(use * (k + 1)), str(use), "yes",
                              *map(str, cells)]))
    return rows


def result_file(meter: str, rows: list[str]) -> bytes:
    """Put a heading over rows."""
    names = {"km": ("odometer_km", "oil_distance_km"), "mi": ("odometer_mi", "oil_distance_mi"),
             "h": ("hours", "oil_hours")}[meter]
    head = ",".join(["engine", "sample_date", *names, "oil_changed", *STEADY])
    return ("\n".join([head, *rows]) + "\n").encode()


def build(folder: Path) -> Store:
    """Make the workshop in a folder."""
    store = open_store(folder=folder)
    workshop.begin_store(store, SHOP)
    workshop.save_record(store, SHOP, Family("AQ-V8-40", rods=8, oil_fill_l=8.8,
                                             crankpins="1+5;2+6;3+7;4+8"))
    workshop.save_record(store, SHOP, Family("AQ-I6-32", rods=6, oil_fill_l=5.5))
    workshop.save_record(store, SHOP, Lab("Lab A"))
    for number in range(101, 109):
        name, car = f"AQ-{number}", f"J-{number + 900}"
        workshop.save_record(store, SHOP, Car(car))
        workshop.save_record(store, SHOP, Engine(
            name, "AQ-I6-32" if number == 103 else "AQ-V8-40",
            UNITS.get(name, "km"), car=car))  # type: ignore[arg-type]
    with store.write(SHOP, "an owner") as tx:
        tx.add(Ownership("J-1001", "Ines", date(2020, 1, 1)))
    km = [*result_rows("AQ-101", lead_growth=1.2), *result_rows("AQ-102"),
          *result_rows("AQ-103"), *result_rows("AQ-107"), *_repeated("AQ-108")]
    for meter, rows in (("km", km), ("mi", result_rows("AQ-104")),
                        ("h", result_rows("AQ-105"))):
        report = files.import_file(store, SHOP, result_file(meter, rows), filename=f"{meter}.csv")
        if report.stored != len(rows):
            raise AssertionError(report.as_document())
    samples.mark_drawn(store, SHOP, "AQ-107", on=date(2026, 6, 1), meter=48000.0)
    with store.write(SHOP, "invented") as tx:
        tx.set_setting("demo", True)
    fleet.assess_fleet(store, SHOP)
    return store


def _repeated(engine: str) -> list[str]:
    rows = result_rows(engine)
    fields = rows[-1].split(",")
    return [*rows[:-1], ",".join([*fields[:5], *rows[-2].split(",")[5:]])]
