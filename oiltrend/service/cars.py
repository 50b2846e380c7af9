"""Cars and owners that an engine's record names are entered in the books with it."""

from __future__ import annotations

from oiltrend.records import Car, Engine, EngineStay, Ownership
from oiltrend.store import Transaction

__all__ = ["enter_car"]


def enter_car(tx: Transaction, engine: Engine) -> None:
    """Enter the car that an engine sits in, and its owner, where they are not known yet.

    Parameters
    ----------
    tx : Transaction [-]
        Inside a write.
    engine : Engine [-]
        The engine, with the car and owner that its record names.
    """
    if not engine.car:
        return
    if not tx.find(Car, {"car": engine.car}):
        tx.add(Car(engine.car))
    stays = [stay for stay in tx.find(EngineStay, {"engine": engine.engine})
             if stay.record.to_date is None and stay.record.car == engine.car]
    if not stays:
        tx.add(EngineStay(engine.engine, engine.car))
    present = [entry for entry in tx.find(Ownership, {"car": engine.car})
               if entry.record.to_date is None]
    if engine.owner and not present:
        tx.add(Ownership(engine.car, engine.owner))
