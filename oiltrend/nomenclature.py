"""Every measurand and every quantity, once: symbol, name, unit, kind, range, method, precision.

One name serves in code, in the database, as a column heading and on an axis. The order of
:data:`MEASURANDS` is the order in which a sample's readings are packed in the store: add new
measurands at the end and never reorder.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["MEASURANDS", "PANEL", "PANEL_INDEX", "QUANTITIES", "WEAR_METALS", "Kind", "Measurand",
           "Precision", "Quantity", "measurands_of"]

Kind = Literal["wear", "additive", "contaminant", "condition"]


@dataclass(frozen=True, slots=True)
class Precision:
    """Test precision as the standards state it: ``r = a·X^b`` and ``R = c·X^d``, 95 %.

    Parameters
    ----------
    repeatability_factor, repeatability_power : float [-]
        a and b of the repeatability r (one operator, one day).
    reproducibility_factor, reproducibility_power : float [-]
        c and d of the reproducibility R (two laboratories).
    low, high : float [-]
        Range in which the statement was validated, in the measurand's unit.
    source : str [-]
        Where the four numbers come from.
    """

    repeatability_factor: float
    repeatability_power: float
    reproducibility_factor: float
    reproducibility_power: float
    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Measurand:
    """Something a laboratory measures in the oil.

    Parameters
    ----------
    symbol : str [-]
        Column name and key everywhere.
    name : str [-]
        Full English name.
    unit : str [-]
        The one unit inside.
    kind : str [-]
        wear, additive, contaminant or condition: what it usually tells of.
    high : float [-]
        Above this a value is not plausible in used engine oil and is rejected (assumed).
    methods : tuple of str [-]
        Usual test methods.
    precision : Precision or None [-]
        Published or remembered precision of the first method, if any.
    low : float [-]
        Below this a value is not plausible.
    """

    symbol: str
    name: str
    unit: str
    kind: Kind
    high: float
    methods: tuple[str, ...] = ()
    precision: Precision | None = None
    low: float = 0.0


_ELEMENT_METHODS = ("ASTM D5185", "ASTM D6595")
_D5185 = "ASTM D5185 tables 2 and 3, from memory, not checked against a copy"


def _element(symbol: str, name: str, kind: Kind, high: float,
             numbers: tuple[float, float, float, float, float, float] | None) -> Measurand:
    precision = Precision(*numbers, source=_D5185) if numbers else None
    return Measurand(symbol, name, "mg/kg", kind, high, _ELEMENT_METHODS, precision)


# Columns of the tuples: a, b of r; c, d of R; validated range. Sb, Bi and In are not covered
# by D5185 and carry no statement.
MEASURANDS: tuple[Measurand, ...] = (
    _element("Fe", "iron", "wear", 20000, (0.13, 0.80, 0.52, 0.80, 2, 140)),
    _element("Cu", "copper", "wear", 20000, (0.12, 0.91, 0.24, 1.0, 2, 160)),
    _element("Pb", "lead", "wear", 20000, (1.6, 0.32, 3.0, 0.36, 10, 160)),
    _element("Sn", "tin", "wear", 20000, (2.4, 0.17, 2.1, 0.62, 10, 40)),
    _element("Al", "aluminium", "wear", 20000, (0.71, 0.41, 3.8, 0.26, 6, 40)),
    _element("Cr", "chromium", "wear", 20000, (0.17, 0.75, 0.81, 0.61, 1, 40)),
    _element("Ni", "nickel", "wear", 20000, (0.52, 0.49, 1.5, 0.50, 5, 40)),
    _element("Ag", "silver", "wear", 20000, (0.15, 0.83, 0.35, 1.0, 0.5, 50)),
    _element("Ti", "titanium", "wear", 20000, (0.54, 0.37, 2.5, 0.47, 5, 40)),
    _element("V", "vanadium", "wear", 20000, (0.061, 1.0, 0.28, 1.1, 1, 50)),
    _element("Mn", "manganese", "wear", 20000, (0.010, 1.3, 0.13, 1.2, 5, 700)),
    _element("Sb", "antimony", "wear", 20000, None),
    _element("Bi", "bismuth", "wear", 20000, None),
    _element("In", "indium", "wear", 20000, None),
    _element("Si", "silicon", "contaminant", 20000, (1.3, 0.26, 2.9, 0.39, 8, 50)),
    _element("Na", "sodium", "contaminant", 20000, (0.49, 0.66, 1.1, 0.71, 7, 70)),
    _element("K", "potassium", "contaminant", 20000, (3.8, 0.33, 6.6, 0.29, 40, 1200)),
    _element("B", "boron", "additive", 20000, (0.26, 1.0, 13.0, -0.01, 4, 30)),
    _element("Mg", "magnesium", "additive", 20000, (0.16, 0.86, 0.72, 0.77, 5, 1700)),
    _element("Ca", "calcium", "additive", 50000, (0.0020, 1.4, 0.015, 1.3, 40, 9000)),
    _element("Ba", "barium", "additive", 20000, (0.24, 0.66, 0.59, 0.92, 0.5, 4)),
    _element("P", "phosphorus", "additive", 20000, (1.3, 0.58, 4.3, 0.50, 10, 1000)),
    _element("Zn", "zinc", "additive", 20000, (0.15, 0.88, 0.083, 1.1, 60, 1600)),
    _element("Mo", "molybdenum", "additive", 20000, (0.29, 0.70, 0.64, 0.71, 5, 200)),
    _element("S", "sulfur", "additive", 50000, (0.49, 0.81, 1.2, 0.75, 900, 6000)),
    Measurand("KV40", "kinematic viscosity at 40 °C", "mm²/s", "condition", 2000,
              ("ASTM D445", "ASTM D7279", "ASTM D7042"),
              Precision(0.000233, 1.722, 0.000594, 1.722, 20, 200,
                        "ASTM D445 in-service oils at 40 °C, from memory"), low=1.0),
    Measurand("KV100", "kinematic viscosity at 100 °C", "mm²/s", "condition", 200,
              ("ASTM D445", "ASTM D7279", "ASTM D7042"),
              Precision(0.001005, 1.4633, 0.003361, 1.4633, 5, 30,
                        "ASTM D445 in-service oils at 100 °C, from memory"), low=0.5),
    Measurand("HTHS", "high-temperature high-shear viscosity at 150 °C", "mPa·s", "condition",
              20, ("ASTM D4683", "ASTM D5481"), low=0.5),
    Measurand("base_number", "base number", "mg KOH/g", "condition", 100,
              ("ASTM D2896", "ASTM D4739")),
    Measurand("acid_number", "acid number", "mg KOH/g", "condition", 50, ("ASTM D664",),
              Precision(0.117, 1.0, 0.44, 1.0, 0.5, 25,
                        "ASTM D664 section 15, used oil, buffer end point, looked up")),
    # Shares of mass. A header that says volume is kept as its own method, because the density
    # of the fuel, and so the conversion, is not known.
    Measurand("fuel_pct", "fuel", "%", "contaminant", 60,
              ("ASTM D3525", "ASTM D7593", "ASTM D322 (volume)")),
    Measurand("water_pct", "water", "%", "contaminant", 50, ("ASTM D6304",)),
    Measurand("soot_pct", "soot", "%", "contaminant", 20, ("ASTM D7844",)),
    Measurand("glycol_pct", "glycol", "%", "contaminant", 50, ("ASTM D2982", "ASTM D4291")),
    Measurand("oxidation", "oxidation", "Abs/cm", "condition", 500,
              ("ASTM D7414", "DIN 51453"), low=-100.0),
    Measurand("nitration", "nitration", "Abs/cm", "condition", 500,
              ("ASTM D7624", "DIN 51453"), low=-100.0),
    Measurand("sulfation", "sulfation", "Abs/cm", "condition", 500, ("ASTM D7415",), low=-100.0),
)

PANEL: tuple[str, ...] = tuple(m.symbol for m in MEASURANDS)
PANEL_INDEX: dict[str, int] = {symbol: index for index, symbol in enumerate(PANEL)}
WEAR_METALS: tuple[str, ...] = tuple(m.symbol for m in MEASURANDS if m.kind == "wear")


def measurands_of(kind: Kind) -> tuple[str, ...]:
    """List the symbols of one kind, in panel order.

    Parameters
    ----------
    kind : str [-]
        wear, additive, contaminant or condition.

    Returns
    -------
    tuple of str [-]
        Symbols.

    Examples
    --------
    >>> measurands_of("wear")[:3]
    ('Fe', 'Cu', 'Pb')
    """
    return tuple(m.symbol for m in MEASURANDS if m.kind == kind)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity that is not measured in the oil: distances, amounts, lengths.

    Parameters
    ----------
    name : str [-]
        House name: code, column, heading.
    unit : str [-]
        The one unit inside.
    meaning : str [-]
        One line for people.
    low, high : float [-]
        Plausible range; outside it the value is rejected (assumed).
    """

    name: str
    unit: str
    meaning: str
    low: float
    high: float


QUANTITIES: dict[str, Quantity] = {q.name: q for q in (
    Quantity("odometer_km", "km", "meter reading of the car or engine", 0, 3_000_000),
    Quantity("hours", "h", "running-hour meter of the engine", 0, 200_000),
    Quantity("oil_distance_km", "km", "distance driven on this oil fill", 0, 200_000),
    Quantity("oil_hours", "h", "hours run on this oil fill", 0, 20_000),
    Quantity("top_up_l", "L", "fresh oil added since the last change, up to this sample", 0, 500),
    Quantity("refill_l", "L", "oil filled in at the change", 0, 2000),
    Quantity("oil_fill_l", "L", "total oil in circulation", 0.2, 2000),
    Quantity("hot_oil_pressure_bar", "bar", "oil pressure at idle, hot engine", 0, 20),
    Quantity("residue_fraction", "-", "share of the total fill that stays at a drain", 0, 0.6),
    Quantity("density_kg_l", "kg/L", "oil density", 0.7, 1.1),
    Quantity("pin_mm", "mm", "crankpin diameter", 10, 500),
    Quantity("shell_width_mm", "mm", "effective shell width", 5, 300),
    Quantity("main_pin_mm", "mm", "main journal diameter", 10, 600),
    Quantity("main_width_mm", "mm", "main shell width", 5, 400),
    Quantity("overlay_um", "µm", "overlay thickness when new", 0, 200),
    Quantity("clearance_mm", "mm", "diametral oil clearance", 0, 2),
    Quantity("clearance_min_mm", "mm", "least clearance of the maker's band", 0, 2),
    Quantity("clearance_max_mm", "mm", "largest clearance of the maker's band", 0, 2),
    Quantity("new_clearance_mm", "mm", "clearance with the shells fitted now", 0, 2),
    Quantity("wall_crown_mm", "mm", "shell wall at the crown", 0.5, 20),
    Quantity("wall_end_mm", "mm", "shell wall near the joint face", 0.5, 20),
    Quantity("wall_new_mm", "mm", "shell wall when new", 0.5, 20),
    Quantity("journal_mm", "mm", "crankpin diameter as measured", 10, 600),
    Quantity("layer_pct", "%", "share of the loaded area where the next layer shows", 0, 100),
    Quantity("back_pct", "%", "share of the loaded area where the steel back shows", 0, 100),
    Quantity("litres", "L", "amount of oil of an event", 0, 2000),
)}
