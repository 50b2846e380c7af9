"""The shells in an engine: which went in where and when, and which are in it now.

Every shell ever fitted is one row. Which is the present one, and when a former one came out,
follows from the order in which they went in; so a set may be recorded late, or taken back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cmp_to_key
from itertools import groupby

from sqlalchemy import select

from oiltrend.records import BearingSet, Slot
from oiltrend.store.base import Reads, Writes, chunks
from oiltrend.store.codec import from_row, to_row
from oiltrend.store.schema import TABLES

__all__ = ["FittedShell", "ShellReads", "ShellWrites"]


@dataclass(frozen=True, slots=True)
class FittedShell:
    """A shell in its place. ``current``: no other has been fitted there since.

    ``out_meter`` and ``out_date`` are those of the shell that followed, None when current or
    not known. ``id`` and ``rev`` serve to correct or remove the entry as a ``Slot`` record.
    """

    id: int
    rev: int
    engine: str
    slot: Slot
    current: bool
    out_meter: float | None
    out_date: date | None


def _earlier(a: FittedShell, b: FittedShell) -> int:
    # Dates first, because a meter can be exchanged; entries that share neither, as entered.
    for one, other in ((a.slot.fitted_date, b.slot.fitted_date),
                       (a.slot.fitted_meter, b.slot.fitted_meter), (a.id, b.id)):
        if one is not None and other is not None and one != other:
            return -1 if one < other else 1  # type: ignore[operator]
    return 0


class ShellReads(Reads):
    """Questions about shells."""

    def shells(self, *, engines: Sequence[str] | None = None) -> list[FittedShell]:
        """Fetch every shell that is or was in some engines.

        Parameters
        ----------
        engines : sequence of str or None [-]
            Engines; None for all.

        Returns
        -------
        list of FittedShell [-]
            By engine, then rod or main, number, half, and the order in which they went in.
        """
        table = TABLES["slot"]
        question = select(table).where(table.c.removed_at.is_(None))
        parts = [question] if engines is None else [
            question.where(table.c.engine.in_(part)) for part in chunks(list(engines))]
        with self._reading() as connection:
            rows = [row for part in parts for row in connection.execute(part).mappings()]
        shells = [FittedShell(row["id"], row["rev"], row["engine"], from_row(Slot, row),
                              current=True, out_meter=None, out_date=None) for row in rows]
        return [shell for place in _by_place(shells) for shell in _in_turn(place)]

    def bearing_set(self, engine: str) -> BearingSet:
        """Fetch the shells that are in an engine now.

        Parameters
        ----------
        engine : str [-]
            Engine.

        Returns
        -------
        BearingSet [-]
            Without slots when nothing was ever recorded.
        """
        return BearingSet(engine, tuple(shell.slot for shell in self.shells(engines=[engine])
                                        if shell.current))


def _by_place(shells: list[FittedShell]) -> list[list[FittedShell]]:
    def place(shell: FittedShell) -> tuple[str, str, int, str]:
        # "rod" before "cap", as on the bench.
        return (shell.engine, {"rod": "0", "main": "1"}[shell.slot.kind], shell.slot.number,
                {"rod": "0", "cap": "1"}[shell.slot.half])

    return [list(group) for _, group in groupby(sorted(shells, key=place), key=place)]


def _in_turn(place: list[FittedShell]) -> list[FittedShell]:
    turn = sorted(place, key=cmp_to_key(_earlier))
    former = [FittedShell(shell.id, shell.rev, shell.engine, shell.slot, False,
                          after.slot.fitted_meter, after.slot.fitted_date)
              for shell, after in zip(turn[:-1], turn[1:], strict=True)]
    return [*former, turn[-1]]


class ShellWrites(ShellReads, Writes):
    """Changes of shells."""

    def fit_shells(self, engine: str, slots: Sequence[Slot], *,
                   import_id: int | None = None) -> list[int]:
        """Record that shells went in; whatever was in those places came out.

        Parameters
        ----------
        engine : str [-]
            Engine.
        slots : sequence of Slot [-]
            One per place, with the meter and date at which it went in.
        import_id : int or None [-]
            The import they came from.

        Returns
        -------
        list of int [-]
            Their numbers.

        Raises
        ------
        NotThere
            No such engine.
        """
        self._require("engine", [engine])
        marks = {"engine": engine, "rev": 1, "import_id": import_id, "changed_at": self._at,
                 "changed_by": self._caller.name, "removed_at": None}
        numbers = self._insert("slot", [{**to_row(slot), **marks} for slot in slots])
        for number, slot in zip(numbers, slots, strict=True):
            self._note("slot", number, new={"engine": engine, **to_row(slot)})
        return numbers
