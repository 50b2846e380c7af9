"""Which halves sit on the rods of each engine: as recorded, else as the engine's record says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from oiltrend.records import Engine, Family
from oiltrend.store import FittedShell, Store

__all__ = ["Half", "fittings", "halves_in_engines", "oldest_shells"]

Fitting = tuple[str, date | None, float | None]


class Half(NamedTuple):
    """One half on a rod: what it is made of and when it went in, None where nobody knows."""

    engine: str
    number: int
    half: str
    material: str
    fitted_date: date | None
    fitted_meter: float | None

    @property
    def fitting(self) -> Fitting:
        """Name the time at which it went in.

        Returns
        -------
        tuple [-]
            Engine, date, meter.
        """
        return (self.engine, self.fitted_date, self.fitted_meter)


def halves_in_engines(store: Store, engines: Sequence[Engine], families: Mapping[str, Family], *,
                      as_of: date, chosen: Sequence[str] | None = None) -> list[Half]:
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
    list of Half [-]
        Recorded halves; for an engine without records one for each place its family has, of
        the material that its own record or its family names.
    """
    recorded: dict[str, list[Half]] = {}
    for shell in store.shells(engines=chosen):
        if shell.slot.kind == "rod" and _in_place(shell, as_of):
            slot = shell.slot
            recorded.setdefault(shell.engine, []).append(Half(
                shell.engine, slot.number, slot.half, slot.material, slot.fitted_date,
                slot.fitted_meter))
    found: list[Half] = []
    for engine in engines:
        family = families.get(engine.family, Family(engine.family))
        known = recorded.get(engine.engine, [])
        places = {(half.number, half.half) for half in known}
        found += known
        # Of a set that was renewed in part, the other places still hold what came before.
        found += [Half(engine.engine, rod, half, _material(engine, family), None,
                       engine.set_fitted_meter)
                  for rod in range(1, (family.rods or 0) + 1) for half in ("rod", "cap")
                  if (rod, half) not in places]
    return found


def _in_place(shell: FittedShell, as_of: date) -> bool:
    went_in, came_out = shell.slot.fitted_date, shell.out_date
    if went_in is not None and went_in > as_of:
        return False
    return shell.current if came_out is None else came_out > as_of


def _material(engine: Engine, family: Family) -> str:
    layers = "/".join(filter(None, (family.overlay, family.lining)))
    return engine.shell_material or layers


def fittings(halves: Sequence[Half]) -> dict[Fitting, int]:
    """Count the halves that went in at each known time, in the order met.

    Parameters
    ----------
    halves : sequence of Half [-]
        Halves.

    Returns
    -------
    dict [-]
        Engine, date and meter of each fitting, to the number of halves.
    """
    counted: dict[Fitting, int] = {}
    for half in halves:
        if half.fitted_date is not None or half.fitted_meter is not None:
            counted[half.fitting] = counted.get(half.fitting, 0) + 1
    return counted


def oldest_shells(engines: Sequence[Engine], halves: Sequence[Half]
                  ) -> dict[str, tuple[date | None, float | None]]:
    """Find when the oldest rod half that is still in each engine went in.

    What the oil said before that speaks of other shells altogether.

    Parameters
    ----------
    engines : sequence of Engine [-]
        Engines.
    halves : sequence of Half [-]
        Their halves.

    Returns
    -------
    dict [-]
        Engine to date and meter; both None where one of its halves has neither.
    """
    found: dict[str, tuple[date | None, float | None]] = {
        engine.engine: (None, engine.set_fitted_meter) for engine in engines}
    by_engine: dict[str, list[Half]] = {}
    for half in halves:
        by_engine.setdefault(half.engine, []).append(half)
    for engine, own in by_engine.items():
        if any(half.fitted_date is None and half.fitted_meter is None for half in own):
            found[engine] = (None, None)
        else:
            oldest = min(own, key=lambda half: (half.fitted_date or date.min,
                                                half.fitted_meter or 0.0))
            found[engine] = (oldest.fitted_date, oldest.fitted_meter)
    return found
