"""Which engine a row is about, and what its meters say in the engine's own way of counting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oiltrend.ingest.fields import Fields
from oiltrend.ingest.findings import Findings
from oiltrend.ingest.matching import Plan
from oiltrend.ingest.model import Known, ReadOptions

__all__ = ["METERS", "OIL_METERS", "RowEngines", "find_engines", "read_use"]

METERS = ("odometer_km", "odometer_mi", "hours")
OIL_METERS = ("oil_distance_km", "oil_distance_mi", "oil_hours")
_UNITS = ("km", "mi", "h")


@dataclass(frozen=True, slots=True)
class RowEngines:
    """The engine of each row.

    Parameters
    ----------
    name : array of str, shape (n,) [-]
        Our engine; for a row that is held, the name in the file.
    unit : array of int, shape (n,) [-]
        How it counts: 0 km, 1 miles, 2 hours, -1 when the engine is not known.
    """

    name: NDArray[np.object_]
    unit: NDArray[np.int8]

    @property
    def hours(self) -> NDArray[np.bool_]:
        """Rows whose engine is counted in hours."""
        counted: NDArray[np.bool_] = self.unit == _UNITS.index("h")
        return counted


def find_engines(fields: Fields, findings: Findings, *, options: ReadOptions,
                 known: Known) -> RowEngines:
    """Find the engine of each row, by its name or by the laboratory's unit number.

    A row whose engine is not known is held; it is never attached to an engine by a guess.

    Parameters
    ----------
    fields : Fields [-]
        The columns as read.
    findings : Findings [-]
        Takes the rows that are held.
    options : ReadOptions [-]
        Engine of a file that names none; remembered unit numbers.
    known : Known [-]
        Engines of the store.

    Returns
    -------
    RowEngines [-]
        Engine and its unit for each row.
    """
    mapping = options.mapping
    if "engine" in fields.values:
        texts = fields.understood["engine"].values.tolist()
        codes = fields.cells["engine"].codes
        remembered = mapping.engines if mapping else {}
        names = [remembered.get(text, text) for text in texts]
    else:
        texts = names = [options.engine or (mapping.engine if mapping else "")]
        codes = np.zeros(fields.rows, dtype=np.int32)
    units = [_UNITS.index(known.engines[name]) if name in known.engines else -1 for name in names]
    unit = np.array(units, dtype=np.int8)[codes]
    findings.unknown |= unit < 0
    findings.engine_text = _objects(texts)[codes]
    return RowEngines(_objects(names)[codes], unit)


def _objects(texts: list[str]) -> NDArray[np.object_]:
    out = np.empty(len(texts), dtype=object)
    out[:] = texts
    return out


def read_use(fields: Fields, findings: Findings, plan: Plan, engines: RowEngines, *,
             names: tuple[str, str, str] = METERS) -> NDArray[np.float64]:
    """Take the reading that agrees with how the engine counts.

    Parameters
    ----------
    fields : Fields [-]
        The columns as read.
    findings : Findings [-]
        Takes rows in which the readings do not agree with the engine.
    plan : Plan [-]
        For the headings.
    engines : RowEngines [-]
        How each row's engine counts.
    names : tuple of str [-]
        Columns in km, in miles and in hours.

    Returns
    -------
    array of float, shape (n,) [use]
        km or h; NaN where there is no reading.
    """
    in_km, in_miles, hours = (fields.numbers(name) for name in names)
    findings.rows(~np.isnan(in_km) & ~np.isnan(in_miles), plan.heading(names[1]),
                  "a reading must be given in km or in miles, not both",
                  "leave one of the two blank")
    distance = np.where(np.isnan(in_km), in_miles, in_km)
    has_distance, has_hours = ~np.isnan(distance), ~np.isnan(hours)
    known = engines.unit >= 0
    given = plan.heading(next((n for n in names[:2] if n in plan.position), names[0]))
    findings.rows(known & engines.hours & has_distance & ~has_hours, given,
                  "the reading must be in hours, as this engine is counted",
                  "give the hours, or correct the engine's meter unit")
    findings.rows(known & ~engines.hours & has_hours & ~has_distance, plan.heading(names[2]),
                  "the reading must be a distance, as this engine is counted",
                  "give the distance, or correct the engine's meter unit")
    both = int((has_distance & has_hours & known).sum())
    if both:
        findings.remark("", f"rows with a distance and {names[2]}: {both}; the one that the "
                            "engine is counted in was kept")
    return np.where(engines.hours | (~known & ~has_distance), hours, distance)
