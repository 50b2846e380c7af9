"""Every assumption of an assessment in one place, each with its source, for the user to change."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ASSUMPTIONS", "JUDGED_METALS", "Assumption", "Settings"]

# Metals of shells and pins. Only these are judged against the population and the engine's own
# past: with all fourteen wear metals a sound engine would be called every other sample. The
# others have their fixed limits.
JUDGED_METALS = ("Fe", "Cu", "Pb", "Sn", "Al", "Sb", "Bi", "In")


@dataclass(frozen=True, slots=True)
class Assumption:
    """What one setting means and where its default comes from."""

    unit: str
    meaning: str
    source: str


@dataclass(frozen=True, slots=True)
class Settings:
    """Numbers that nobody measured for the engine at hand. See :data:`ASSUMPTIONS`."""

    oil_fill_l: float = 5.0
    density_kg_l: float = 0.85
    residue_fraction: float = 0.10
    residue_half_range: float = 0.05
    fill_level_half_range: float = 0.03
    level_span_share: float = 0.15
    liquid_share: float = 0.75
    liquid_share_half_range: float = 0.25
    fresh_uncertainty: float = 0.3
    site_precision: float = 0.6
    same_lab_floor_ppm: float = 0.29
    population_alert: float = 0.95
    population_alarm: float = 0.975
    population_confidence: float = 0.95
    own_alert: float = 0.995
    own_alarm: float = 0.999
    own_minimum: float = 5
    trend_p_value: float = 0.01
    trend_minimum: float = 6
    far_beyond: float = 2.0
    short_interval_km: float = 1000.0
    short_interval_h: float = 20.0
    due_km: float = 10000.0
    due_h: float = 250.0
    due_days: float = 365.0
    overdue_factor: float = 1.5
    enough_samples: float = 3
    hot_oil_pressure_bar: float = 0.7
    coolant_rise_ppm: float = 50.0
    oil_temperature_c: float = 110.0
    loaded_arc_deg: float = 120.0
    capture_median: float = 0.5
    capture_factor: float = 2.0


ASSUMPTIONS: dict[str, Assumption] = {
    "oil_fill_l": Assumption(
        "L", "oil in circulation where neither engine nor family says",
        "assumed; enter the maker's figure"),
    "density_kg_l": Assumption(
        "kg/L", "oil density",
        "assumed"),
    "residue_fraction": Assumption(
        "-", "share of the fill that stays in the engine at a drain",
        "common practice 5 to 15 %, from memory"),
    "residue_half_range": Assumption(
        "-", "half range of that share",
        "common practice, from memory"),
    "fill_level_half_range": Assumption(
        "-", "how well a fill is known, as a share of it",
        "assumed"),
    "level_span_share": Assumption(
        "-", "dipstick span and unrecorded top-up, as a share of the fill",
        "assumed"),
    "liquid_share": Assumption(
        "-", "share of the oil loss that leaves as liquid and takes metal along",
        "assumed"),
    "liquid_share_half_range": Assumption(
        "-", "half range of that share",
        "assumed"),
    "fresh_uncertainty": Assumption(
        "mg/kg", "standard uncertainty of a wear metal in fresh oil without a stored "
        "new-oil sample (taken"
        " as 0)",
        "assumed"),
    "site_precision": Assumption(
        "-", "test precision weeks apart in one laboratory, as a share of the reproducibility R",
        "assumed; lies between r and R (ISO 4259)"),
    "same_lab_floor_ppm": Assumption(
        "mg/kg", "least standard uncertainty of a reported metal",
        "rounding to whole numbers, 1/√12"),
    "population_alert": Assumption(
        "-", "share of engines below the population alert",
        "ours"),
    "population_alarm": Assumption(
        "-", "share of engines below the population alarm",
        "ours"),
    "population_confidence": Assumption(
        "-", "confidence of the order-statistic bound",
        "ours"),
    "own_alert": Assumption(
        "-", "one-sided chance that a result of an unchanged engine stays below its own alert",
        "ours"),
    "own_alarm": Assumption(
        "-", "the same for its own alarm",
        "ours"),
    "own_minimum": Assumption(
        "-", "earlier intervals needed for an own limit",
        "ours"),
    "trend_p_value": Assumption(
        "-", "two-sided p below which the rank test calls a trend",
        "ours"),
    "trend_minimum": Assumption(
        "-", "intervals needed for a trend",
        "ours"),
    "far_beyond": Assumption(
        "-", "one value this many times its alarm limit needs no second piece of evidence",
        "ours"),
    "short_interval_km": Assumption(
        "km", "shorter than this on an oil fill, the sample before it is judged too",
        "ours"),
    "short_interval_h": Assumption(
        "h", "the same for engines counted in hours",
        "ours"),
    "due_km": Assumption(
        "km", "distance to the next sample without alert or alarm",
        "ours"),
    "due_h": Assumption(
        "h", "the same for engines counted in hours",
        "ours"),
    "due_days": Assumption(
        "d", "time to the next sample without alert or alarm",
        "ours"),
    "overdue_factor": Assumption(
        "-", "an engine is out of date this many times past its due interval",
        "ours"),
    "enough_samples": Assumption(
        "-", "undoubted samples below which data are called little",
        "ours"),
    "hot_oil_pressure_bar": Assumption(
        "bar", "idle oil pressure of the hot engine below which it is called low",
        "common practice, no source; set your own"),
    "coolant_rise_ppm": Assumption(
        "mg/kg", "sodium or potassium above fresh oil that points to coolant",
        "common practice, no source"),
    "oil_temperature_c": Assumption(
        "°C", "oil temperature at which used and new viscosity are compared",
        "assumed; set your own"),
    "loaded_arc_deg": Assumption(
        "deg", "arc of a half that carries load and wears",
        "two thirds of the surface in normal wear, service descriptions, looked up"),
    "capture_median": Assumption(
        "-", "share of the worn metal that the laboratory sees, median",
        "assumed: spectrometers see particles up to about 5 to 10 µm"),
    "capture_factor": Assumption(
        "-", "95 % range of that share: divided and multiplied by this",
        "assumed; learned from teardowns later"),
}
