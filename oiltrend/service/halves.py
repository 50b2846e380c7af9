"""Which halves sit on the rods of each engine: as recorded, else as the engine's record says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from oiltrend.bearing.layout import rod_halves
from oiltrend.records import Engine, Family
from oiltrend.store import FittedShell, Store

__all__ = ["Fitting", "Halves", "fittings", "halves_in_engines", "oldest_shells"]

Fitting = tuple[str, date | None, float | None]


class Halves(NamedTuple):
    """Halves of one engine that are alike and went in at one time, None where nobody knows.

    A large fleet has few records of shells, so that a whole set is mostly one such entry.
    """

    engine: str
    places: tuple[tuple[int, str], ...]
    material: str
    fitted_date: date | None
    fitted_meter: float | None

    @property
    def fitting(self) -> Fitting | None:
        """Name the time at which they went in.

        Returns
        -------
        tuple or None [-]
            Engine, date, meter; None where nothing is known of it.
        """
        if self.fitted_date is None and self.fitted_meter is None:
            return None
        return (self.engine, self.fitted_date, self.fitted_meter)


def halves_in_engines(store: Store, engines: Sequence[Engine], families: Mapping[str, Family], *,
                      as_of: date, chosen: Sequence[str] | None = None) -> list[Halves]:
    """List the rod halves that were in the engines on a day.

    Parameters
    ----------
    store : Store [-]
        The store.
    engines : sequence of Engine [-]
        Engines.
    families : mapping [-]
        Families by code.
    as_of : date [-]
        The day.
    chosen : sequence of str or None [-]
        Ask the store only about these engines; None for all.

    Returns
    -------
    list of Halves [-]
        In the order of the engines. Recorded halves; places of the family that have no record
        hold the material that the engine's own record or its family names.
    """
    recorded: dict[str, list[Halves]] = {}
    for shell in store.shells(engines=chosen):
        if shell.slot.kind == "rod" and _in_place(shell, as_of):
            slot = shell.slot
            recorded.setdefault(shell.engine, []).append(Halves(
                shell.engine, ((slot.number, slot.half),), slot.material, slot.fitted_date,
                slot.fitted_meter))
    whole = {code: rod_halves(family.rods)
             for code, family in families.items() if family.rods}
    found: list[Halves] = []
    for engine in engines:
        known = recorded.get(engine.engine, [])
        places = whole.get(engine.family, ())
        if known:
            taken = {entry.places[0] for entry in known}
            places = tuple(place for place in places if place not in taken)
        found += known
        if places:
            # Of a set that was renewed in part, the other places still hold what came before.
            found.append(Halves(engine.engine, places, _material(engine, families), None,
                                engine.set_fitted_meter))
    return found


def _in_place(shell: FittedShell, as_of: date) -> bool:
    went_in, came_out = shell.slot.fitted_date, shell.out_date
    if went_in is not None and went_in > as_of:
        return False
    return shell.current if came_out is None else came_out > as_of


def _material(engine: Engine, families: Mapping[str, Family]) -> str:
    family = families[engine.family]
    return engine.shell_material or "/".join(filter(None, (family.overlay, family.lining)))


def fittings(halves: Sequence[Halves]) -> dict[Fitting, int]:
    """Count the halves that went in at each known time, in the order met.

    Parameters
    ----------
    halves : sequence of Halves [-]
        Halves.

    Returns
    -------
    dict [-]
        Engine, date and meter of each fitting, to the number of halves.
    """
    counted: dict[Fitting, int] = {}
    for entry in halves:
        time = entry.fitting
        if time is not None:
            counted[time] = counted.get(time, 0) + len(entry.places)
    return counted


def oldest_shells(engines: Sequence[Engine], halves: Sequence[Halves]
                  ) -> dict[str, tuple[date | None, float | None]]:
    """Find when the oldest rod half that is still in each engine went in.

    What the oil said before that speaks of other shells altogether.

    Parameters
    ----------
    engines : sequence of Engine [-]
        Engines.
    halves : sequence of Halves [-]
        Their halves.

    Returns
    -------
    dict [-]
        Engine to date and meter; both None where one of its halves has neither.
    """
    found: dict[str, tuple[date | None, float | None]] = {
        engine.engine: (None, engine.set_fitted_meter) for engine in engines}
    by_engine: dict[str, list[Halves]] = {}
    for entry in halves:
        by_engine.setdefault(entry.engine, []).append(entry)
    for engine, own in by_engine.items():
        if any(entry.fitting is None for entry in own):
            found[engine] = (None, None)
        else:
            oldest = min(own, key=lambda entry: (entry.fitted_date or date.min,
                                                 entry.fitted_meter or 0.0))
            found[engine] = (oldest.fitted_date, oldest.fitted_meter)
    return found
