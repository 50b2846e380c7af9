"""Uses about teardowns: record one, and keep the shells in the engine up to date."""

from __future__ import annotations

from oiltrend.records import Caller, ShellFinding, Slot, Teardown
from oiltrend.service.access import require
from oiltrend.service.fleet import refresh_verdicts
from oiltrend.store import Store, Transaction

__all__ = ["fit_new_shells", "record_teardown"]


def _new_slot(finding: ShellFinding, teardown: Teardown) -> Slot:
    return Slot(finding.kind, finding.number, finding.half,
                material=finding.new_material or finding.material,
                fitted_meter=teardown.meter, fitted_date=teardown.teardown_date,
                condition="new", clearance_mm=finding.new_clearance_mm)


def fit_new_shells(tx: Transaction, teardown: Teardown, *, import_id: int | None = None) -> None:
    """Record the shells that went in at a teardown. A refitted shell keeps its account.

    Parameters
    ----------
    tx : Transaction [-]
        Inside a write.
    teardown : Teardown [-]
        The opening.
    import_id : int or None [-]
        The import it came from.
    """
    slots = [_new_slot(finding, teardown) for finding in teardown.findings
             if finding.action == "replaced"]
    if slots:
        tx.fit_shells(teardown.engine, slots, import_id=import_id)


def record_teardown(store: Store, caller: Caller, teardown: Teardown) -> None:
    """Store one opening, the shells that went in, and the new verdict.

    Parameters
    ----------
    store : Store [-]
        The store.
    caller : Caller [-]
        Who records it.
    teardown : Teardown [-]
        The opening.
    """
    require(caller, "record a teardown")
    with store.write(caller, f"teardown of {teardown.engine}") as tx:
        tx.add(teardown)
        fit_new_shells(tx, teardown)
    refresh_verdicts(store, caller, engines=[teardown.engine])
