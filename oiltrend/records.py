"""The things the program knows, as frozen typed records, and the table the maths takes.

Records hold and validate, nothing else: no SQL, no printing, no drawing. Few of anything
travels as a record; samples, of which there are many, travel as a :class:`SampleTable`,
one array per column. Text that is not known is ``""``, a number that is not known is None
(NaN in an array), a yes/no that is not known is None (-1 in an array).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import PANEL

__all__ = [
    "DAMAGE_FLAGS", "EVENT_KINDS", "FILTER_FINDINGS", "LEVELS_AT_SAMPLING", "LIMIT_QUANTITIES",
    "OPENING_REASONS", "Action", "BearingSet", "Caller", "Car", "Engine",
    "EngineStay", "Event", "Family", "Lab", "Limit", "Mapping", "NewOil", "OilProduct",
    "Ownership", "Qualifier", "Reading", "SampleTable", "ShellFinding", "Slot", "Teardown",
    "empty_samples",
]

MeterUnit = Literal["km", "mi", "h"]
LEVELS_AT_SAMPLING = ("", "max", "min", "unknown")
FILTER_FINDINGS = ("", "none", "fine", "flakes", "not looked")
EVENT_KINDS = ("oil_change", "top_up", "filter_change", "meter_replaced", "engine_fitted",
               "engine_removed")
OPENING_REASONS = ("planned", "alarm", "symptom", "failure", "other")
DAMAGE_FLAGS = ("none", "wiped", "turned", "fatigued")
LIMIT_QUANTITIES = ("level", "per_1000", "wear_rate")


def _one_of(where: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        words = ", ".join(f"'{word}'" for word in allowed if word)
        raise ValueRefused(f"{where}: must be one of {words}, found '{value}'",
                           hint="correct the value or leave it blank")


@dataclass(frozen=True, slots=True)
class Caller:
    """Who asks. Every use of the program takes one.

    Parameters
    ----------
    name : str [-]
        Shown in the audit.
    role : str [-]
        owner, technician or shop.
    """

    name: str
    role: Literal["owner", "technician", "shop"]


class Qualifier(IntEnum):
    """How a reading's number is to be read."""

    MISSING = 0
    EXACT = 1
    BELOW = 2
    ABOVE = 3


@dataclass(frozen=True, slots=True)
class Reading:
    """One reported result: ``<1`` is (1.0, BELOW, "<1"); "ND" is (None, BELOW, "ND").

    Parameters
    ----------
    value : float or None [-]
        The number in the measurand's unit; for BELOW and ABOVE the bound; None with BELOW
        when the laboratory gave no bound.
    qualifier : Qualifier [-]
        EXACT, BELOW, ABOVE or MISSING.
    raw : str [-]
        The text as received.
    """

    value: float | None
    qualifier: Qualifier
    raw: str


@dataclass(frozen=True, slots=True)
class Family:
    """An engine family: geometry and oil system. Unknown numbers stay None."""

    family: str
    rods: int | None = None
    crankpins: str = ""
    pin_mm: float | None = None
    shell_width_mm: float | None = None
    mains: int | None = None
    main_pin_mm: float | None = None
    main_width_mm: float | None = None
    main_overlay: str = ""
    main_lining: str = ""
    oil_fill_l: float | None = None
    residue_fraction: float | None = None
    density_kg_l: float | None = None
    overlay: str = ""
    overlay_um: float | None = None
    lining: str = ""
    layer_structure: str = ""
    clearance_min_mm: float | None = None
    clearance_max_mm: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _one_of("layer_structure", self.layer_structure,
                ("", "trimetal", "bimetal", "polymer"))


@dataclass(frozen=True, slots=True)
class Car:
    """A customer's car, by job number."""

    car: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Ownership:
    """A car belongs to an owner from one date to another."""

    car: str
    owner: str
    from_date: date | None = None
    to_date: date | None = None


@dataclass(frozen=True, slots=True)
class Engine:
    """An engine; it outlives its stay in a car. ``meter_unit`` is how its use is counted."""

    engine: str
    family: str
    meter_unit: MeterUnit = "km"
    built: str = ""
    oil_fill_l: float | None = None
    shell_material: str = ""
    set_fitted_meter: float | None = None
    car: str = ""
    owner: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        _one_of("meter_unit", self.meter_unit, ("km", "mi", "h"))


@dataclass(frozen=True, slots=True)
class EngineStay:
    """An engine sits in a car from one meter reading (and date) to another."""

    engine: str
    car: str
    from_date: date | None = None
    from_meter: float | None = None
    to_date: date | None = None
    to_meter: float | None = None


@dataclass(frozen=True, slots=True)
class Lab:
    """A laboratory and what it does to files: remembered answers, reporting limits."""

    lab: str
    date_order: str = ""
    decimal: str = ""
    method: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        _one_of("date_order", self.date_order, ("", "ymd", "dmy", "mdy"))
        _one_of("decimal", self.decimal, ("", "point", "comma"))


@dataclass(frozen=True, slots=True)
class OilProduct:
    """An oil as it is sold."""

    oil_product: str
    grade: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Mapping:
    """A confirmed way to read one laboratory's files.

    ``columns`` maps a heading as it stands in the file to a house column, or to ``ignore``;
    ``engines`` maps the laboratory's unit number to our engine; ``units`` maps a heading to
    the unit that was confirmed for it.
    """

    name: str
    columns: dict[str, str]
    engines: dict[str, str]
    units: dict[str, str]
    lab: str = ""
    date_order: str = ""
    decimal: str = ""
    meter: str = ""
    engine: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to an engine between samples. The meter is as read, km or h.

    For ``meter_replaced`` the ``new_meter`` is what the new instrument shows; for
    ``engine_fitted`` it is the engine's own distance at that moment, if known.
    """

    engine: str
    event: str
    date: date | None = None
    meter: float | None = None
    litres: float | None = None
    oil_product: str = ""
    car: str = ""
    new_meter: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _one_of("event", self.event, EVENT_KINDS)
        if self.date is None and self.meter is None:
            raise ValueRefused("event: needs a date or a meter reading, found neither",
                               hint="add one of the two")


@dataclass(frozen=True, slots=True)
class NewOil:
    """A stored sample of fresh oil: the baseline of a product (and batch)."""

    oil_product: str
    readings: dict[str, Reading]
    batch: str = ""
    lab: str = ""
    method: str = ""
    sample_date: date | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """A fixed limit of a family (``*`` for every family), with its operator and its reason.

    Units: level mg/kg or the measurand's own; per_1000 mg/kg per 1000 km (or h); wear_rate
    mg per 1000 km (or h).
    """

    family: str
    measurand: str
    quantity: str
    level: Literal["alert", "alarm"]
    operator: Literal[">", ">=", "<", "<="]
    value: float
    source: str
    valid_from: date

    def __post_init__(self) -> None:
        _one_of("quantity", self.quantity, LIMIT_QUANTITIES)
        _one_of("level", self.level, ("alert", "alarm"))
        _one_of("operator", self.operator, (">", ">=", "<", "<="))
        if self.measurand not in PANEL:
            raise ValueRefused(f"measurand: must be a known measurand, found '{self.measurand}'",
                               hint="use one of " + ", ".join(PANEL))
        if not self.source.strip():
            raise ValueRefused("source: a limit must carry its reason, found none",
                               hint="say where the number comes from")


@dataclass(frozen=True, slots=True)
class Slot:
    """One place for a shell: rod (or main) number and half, and the shell in it."""

    kind: Literal["rod", "main"]
    number: int
    half: Literal["rod", "cap"]
    material: str = ""
    fitted_meter: float | None = None
    fitted_date: date | None = None
    condition: Literal["new", "refitted"] = "new"
    clearance_mm: float | None = None


@dataclass(frozen=True, slots=True)
class BearingSet:
    """The shells in an engine at one time, slot by slot."""

    engine: str
    slots: tuple[Slot, ...]


@dataclass(frozen=True, slots=True)
class ShellFinding:
    """What one half looked like on the bench."""

    kind: Literal["rod", "main"]
    number: int
    half: Literal["rod", "cap"]
    wear_stage: int | None = None
    not_scorable: bool = False
    failed: str = ""
    layer_pct: float | None = None
    back_pct: float | None = None
    wall_crown_mm: float | None = None
    wall_end_mm: float | None = None
    wall_new_mm: float | None = None
    clearance_mm: float | None = None
    journal_mm: float | None = None
    journal_surface: str = ""
    damage: tuple[str, ...] = ()
    material: str = ""
    action: str = ""
    new_material: str = ""
    new_clearance_mm: float | None = None
    note: str = ""
    line: int = 0

    def __post_init__(self) -> None:
        if self.wear_stage is not None and not 0 <= self.wear_stage <= 5:
            raise ValueRefused(f"wear_stage: must be 0 to 5, found {self.wear_stage}",
                               hint="use 0 to 5, or not_scorable")
        _one_of("failed", self.failed, ("", *DAMAGE_FLAGS))
        _one_of("journal_surface", self.journal_surface, ("", "polished", "marked", "scored"))
        _one_of("action", self.action, ("", "refitted", "replaced"))


@dataclass(frozen=True, slots=True)
class Teardown:
    """One opening of an engine: why, what was known, and every half that was looked at."""

    engine: str
    teardown_date: date
    meter: float | None
    findings: tuple[ShellFinding, ...]
    reason: str = ""
    oil_verdict_seen: bool | None = None
    oil_changed: bool | None = None
    refill_l: float | None = None
    refill_product: str = ""
    filter_finding: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        _one_of("reason", self.reason, ("", *OPENING_REASONS))
        _one_of("filter_finding", self.filter_finding, FILTER_FINDINGS)


@dataclass(frozen=True, slots=True)
class Action:
    """What the shop did about a verdict."""

    engine: str
    action: Literal["told", "resample_asked", "booked", "opened", "declined"]
    on: date
    note: str = ""


@dataclass(frozen=True, slots=True)
class SampleTable:
    """Samples as columns: row i of every array is one sample. Inside units (km or h, L, mg/kg).

    ``meter_unit`` says per row how the meter counts: 0 km, 1 h (miles are converted).
    ``oil_changed``, ``noise``, ``glitter`` are 1, 0 or -1 (not recorded);
    ``level_at_sampling`` and ``filter_finding`` index :data:`LEVELS_AT_SAMPLING` and
    :data:`FILTER_FINDINGS`. ``value`` and ``qualifier`` have the columns of
    :data:`oiltrend.nomenclature.PANEL`; ``raw`` and ``methods`` hold per row one JSON object,
    symbol to text as received and symbol to method, ``""`` when empty. ``awaited`` is true for
    a sample that was drawn and whose result is not back. ``line`` is the file line it came from.
    """

    engine: NDArray[np.object_]
    sample_date: NDArray[np.datetime64]
    meter: NDArray[np.float64]
    meter_unit: NDArray[np.int8]
    oil_distance: NDArray[np.float64]
    oil_changed: NDArray[np.int8]
    top_up_l: NDArray[np.float64]
    level_at_sampling: NDArray[np.int8]
    refill_l: NDArray[np.float64]
    oil_product: NDArray[np.object_]
    refill_product: NDArray[np.object_]
    lab: NDArray[np.object_]
    method: NDArray[np.object_]
    sample_id: NDArray[np.object_]
    note: NDArray[np.object_]
    filter_finding: NDArray[np.int8]
    hot_oil_pressure_bar: NDArray[np.float64]
    noise: NDArray[np.int8]
    glitter: NDArray[np.int8]
    awaited: NDArray[np.bool_]
    value: NDArray[np.float64]
    qualifier: NDArray[np.int8]
    raw: NDArray[np.object_]
    methods: NDArray[np.object_]
    line: NDArray[np.int64]

    def __post_init__(self) -> None:
        rows = len(self.engine)
        for column in fields(self):
            if len(getattr(self, column.name)) != rows:
                raise ValueRefused(
                    f"{column.name}: must have one entry per sample ({rows}), "
                    f"found {len(getattr(self, column.name))}")
        if self.value.shape != (rows, len(PANEL)) or self.qualifier.shape != self.value.shape:
            raise ValueRefused(
                f"value: must have shape ({rows}, {len(PANEL)}), found {self.value.shape} "
                f"and qualifier {self.qualifier.shape}")

    def __len__(self) -> int:
        return len(self.engine)

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> SampleTable:
        """Pick rows, in the order given.

        Parameters
        ----------
        rows : array of int or bool [-]
            Row numbers, or a mask.

        Returns
        -------
        SampleTable [-]
            The chosen rows.
        """
        return SampleTable(**{c.name: getattr(self, c.name)[rows] for c in fields(self)})


def empty_samples(rows: int) -> SampleTable:
    """Make a table of the given length in which nothing is known.

    Parameters
    ----------
    rows : int [-]
        Number of samples.

    Returns
    -------
    SampleTable [-]
        Text ``""``, numbers NaN, dates NaT, yes/no -1, every reading MISSING.

    Examples
    --------
    >>> table = empty_samples(2)
    >>> len(table), table.value.shape[1] == len(PANEL), bool(table.awaited.any())
    (2, True, False)
    """
    def text() -> NDArray[np.object_]:
        return np.full(rows, "", dtype=object)

    def number() -> NDArray[np.float64]:
        return np.full(rows, np.nan)

    def code(value: int) -> NDArray[np.int8]:
        return np.full(rows, value, dtype=np.int8)

    return SampleTable(
        engine=text(), sample_date=np.full(rows, "NaT", dtype="datetime64[D]"), meter=number(),
        meter_unit=code(0), oil_distance=number(), oil_changed=code(-1), top_up_l=number(),
        level_at_sampling=code(0), refill_l=number(), oil_product=text(), refill_product=text(),
        lab=text(), method=text(), sample_id=text(), note=text(), filter_finding=code(0),
        hot_oil_pressure_bar=number(), noise=code(-1), glitter=code(-1),
        awaited=np.zeros(rows, dtype=bool), value=np.full((rows, len(PANEL)), np.nan),
        qualifier=np.zeros((rows, len(PANEL)), dtype=np.int8), raw=text(), methods=text(),
        line=np.zeros(rows, dtype=np.int64))
