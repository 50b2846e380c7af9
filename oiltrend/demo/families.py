"""The invented engine families, laboratories, oils and people of Alder Quay Engine Works.

Everything here is made up. Geometry is plausible for road engines; rates are chosen so that
an ordinary oil fill shows what ordinary road engines show.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from oiltrend.demo.materials import MATERIALS
from oiltrend.records import Family, Lab, OilProduct

__all__ = ["AS_OF", "FAMILIES", "FIRST_JOB", "LABS", "OILS", "OWNERS", "WORKSHOP", "FamilySpec",
           "Oil", "unit_number"]

WORKSHOP = "Alder Quay Engine Works"
AS_OF = 2026
FIRST_JOB = 1001
_INVENTED = "invented family; geometry and oil fill plausible for a road engine, no maker's data"


@dataclass(frozen=True, slots=True)
class FamilySpec:
    """A family and how its engines wear, all of it assumed.

    Parameters
    ----------
    record : Family [-]
        What the program is told.
    prefix : str [-]
        Start of the engines' names.
    share : float [-]
        Share of the workshop's engines.
    materials : tuple of (int, float, int, int) [-]
        Row of the material, share of the engines, first and last year built, as seen in
        :data:`AS_OF`; the years move along with the calendar.
    steady_um : tuple of float [µm]
        Mean depth an average rod shell loses per 1000 km, per entry of ``materials``.
    onset_km : tuple of float [km]
        Weibull scale of the distance at which distress begins, per entry of ``materials``.
    others_mg : dict of str to float [mg/(1000 km)]
        Metal of the other sources that enters the oil in a form the laboratory sees.
    loss_l : float [L]
        Mean oil loss per 1000 km.
    fuel_pct : float [%]
        Usual fuel content.
    oils : tuple of int [-]
        Oils in use, rows of :data:`OILS`.
    """

    record: Family
    prefix: str
    share: float
    materials: tuple[tuple[int, float, int, int], ...]
    steady_um: tuple[float, ...]
    onset_km: tuple[float, ...]
    others_mg: dict[str, float]
    loss_l: float
    fuel_pct: float
    oils: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Oil:
    """An invented oil and its values when new (plausible, assumed).

    Parameters
    ----------
    record : OilProduct [-]
        Name and grade.
    values : dict of str to float [-]
        Measurand to value in the measurand's unit.
    shear : float [-]
        Share of the viscosity that shearing takes within a few thousand km.
    """

    record: OilProduct
    values: dict[str, float]
    shear: float


def _with_shells(family: Family, material: int) -> Family:
    made = MATERIALS[material]
    overlay, _, lining = made.name.rpartition("/")
    return replace(family, overlay=overlay, overlay_um=made.overlay_um or None, lining=lining,
                   main_overlay=overlay, main_lining=lining, layer_structure=made.structure,
                   residue_fraction=0.10, density_kg_l=0.85, clearance_min_mm=0.025,
                   clearance_max_mm=0.076,
                   note=f"{_INVENTED}; clearance band common practice, no source")


FAMILIES: tuple[FamilySpec, ...] = (
    FamilySpec(
        _with_shells(Family("AQ-V8-40", rods=8, crankpins="1+5;2+6;3+7;4+8", pin_mm=52.0,
                shell_width_mm=19.5, mains=5, main_pin_mm=62.0, main_width_mm=21.0,
                oil_fill_l=8.8), 0),
        "V8", 30 / 46, ((0, 0.67, 2007, 2011), (1, 0.33, 2012, 2016)),
        (0.022, 0.018), (115_000, 165_000),
        {"journal": 0.5, "bore and ring": 6.5, "piston": 2.4, "valve gear and pump": 2.6,
         "bush": 1.2}, 0.20, 0.7, (0, 1)),
    FamilySpec(
        _with_shells(Family("AQ-I6-32", rods=6, crankpins="1;2;3;4;5;6", pin_mm=49.0,
                shell_width_mm=21.0, mains=7, main_pin_mm=60.0, main_width_mm=22.0,
                oil_fill_l=5.5), 2),
        "I6", 9 / 46, ((2, 1.0, 2001, 2006),), (0.015,), (190_000,),
        {"journal": 0.35, "bore and ring": 4.2, "piston": 1.3, "valve gear and pump": 1.7,
         "bush": 0.6}, 0.12, 0.6, (1, 2)),
    FamilySpec(
        _with_shells(Family("AQ-F4-25", rods=4, crankpins="1;2;3;4", pin_mm=52.0,
                shell_width_mm=18.0, mains=5, main_pin_mm=60.0, main_width_mm=20.0,
                oil_fill_l=4.3), 1),
        "F4", 7 / 46, ((1, 1.0, 2004, 2014),), (0.018,), (185_000,),
        {"journal": 0.25, "bore and ring": 3.3, "piston": 1.9, "valve gear and pump": 1.2,
         "bush": 0.35}, 0.10, 1.6, (2, 3)),
)

LABS: tuple[Lab, ...] = (
    Lab("Lab A", date_order="dmy", decimal="comma",
        note="invented; reports with semicolons, decimal commas and German headings; changed "
             "its element method half way"),
    Lab("Lab B", date_order="mdy", decimal="point",
        note="invented; reports miles, unit numbers and headings of its own"),
)

OILS: tuple[Oil, ...] = (
    Oil(OilProduct("Quay 5W-40 A", "5W-40", "invented"),
        {"Ca": 2550, "Mg": 15, "Zn": 1080, "P": 960, "Mo": 62, "B": 180, "Ba": 0, "S": 2900,
         "Si": 5, "Na": 3, "K": 1, "Fe": 0.6, "Al": 0.5, "KV40": 84.0, "KV100": 14.0,
         "base_number": 10.2, "acid_number": 2.0, "oxidation": 4.0, "nitration": 3.0,
         "sulfation": 12.0}, 0.07),
    Oil(OilProduct("Quay 10W-60 B", "10W-60", "invented"),
        {"Ca": 1980, "Mg": 760, "Zn": 1250, "P": 1090, "Mo": 4, "B": 4, "Ba": 0, "S": 3600,
         "Si": 6, "Na": 4, "K": 1, "Fe": 0.6, "Al": 0.5, "KV40": 160.0, "KV100": 23.8,
         "base_number": 10.8, "acid_number": 2.3, "oxidation": 9.0, "nitration": 4.0,
         "sulfation": 15.0}, 0.06),
    Oil(OilProduct("Harbour 5W-50 C", "5W-50", "invented"),
        {"Ca": 2300, "Mg": 25, "Zn": 990, "P": 880, "Mo": 95, "B": 240, "Ba": 0, "S": 2600,
         "Si": 4, "Na": 2, "K": 1, "Fe": 0.6, "Al": 0.5, "KV40": 108.0, "KV100": 17.8,
         "base_number": 9.6, "acid_number": 2.1, "oxidation": 6.0, "nitration": 3.0,
         "sulfation": 13.0}, 0.08),
    Oil(OilProduct("Harbour 5W-40 D", "5W-40", "invented"),
        {"Ca": 1250, "Mg": 950, "Zn": 920, "P": 820, "Mo": 260, "B": 60, "Ba": 0, "S": 2300,
         "Si": 4, "Na": 3, "K": 1, "Fe": 0.6, "Al": 0.5, "KV40": 83.0, "KV100": 13.9,
         "base_number": 9.1, "acid_number": 1.9, "oxidation": 5.0, "nitration": 3.0,
         "sulfation": 11.0}, 0.04),
)

# Plain first names; nobody in particular.
OWNERS: tuple[str, ...] = (
    "Ines", "Tomas", "Mira", "Jonas", "Petra", "Emil", "Sofia", "Marek", "Lena", "Viktor",
    "Anja", "Rafael", "Ida", "Bruno", "Clara", "Stefan", "Nora", "Luka", "Elsa", "Anton",
    "Maja", "Oskar", "Tilda", "Felix", "Irena", "Hugo", "Carla", "Matteo", "Selma", "Aron",
    "Livia", "Edgar", "Runa", "Samir", "Greta", "Pavel", "Noemi", "Arthur", "Zora", "Ivo",
)


def unit_number(engine: str) -> str:
    """Give the number under which Lab B files an engine: it does not know our names.

    Parameters
    ----------
    engine : str [-]
        Our engine name, such as ``V8-007``.

    Returns
    -------
    str [-]
        The laboratory's unit number.

    Examples
    --------
    >>> unit_number("V8-007"), unit_number("F4-002")
    ('U80007', 'U40002')
    """
    family, _, number = engine.partition("-")
    return f"U{family[-1]}{int(number):04d}"
