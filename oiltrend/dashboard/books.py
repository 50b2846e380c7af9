"""Names from the workshop's books, to choose from in a form."""

from __future__ import annotations

from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.records import Family, Lab, Mapping, OilProduct
from oiltrend.service import fleet
from oiltrend.service.access import require

__all__ = ["engine_choices", "family_names", "lab_names", "mapping_names", "oil_names"]

_MOST = 40


def family_names() -> list[str]:
    """List the engine families.

    Returns
    -------
    list of str [-]
        In alphabetical order.
    """
    require(current_caller(), "see the fleet")
    return sorted(entry.record.family for entry in current_store().all(Family))


def lab_names() -> list[str]:
    """List the laboratories.

    Returns
    -------
    list of str [-]
        In alphabetical order.
    """
    require(current_caller(), "see the fleet")
    return sorted(entry.record.lab for entry in current_store().all(Lab))


def oil_names() -> list[str]:
    """List the oil products.

    Returns
    -------
    list of str [-]
        In alphabetical order.
    """
    require(current_caller(), "see the fleet")
    return sorted(entry.record.oil_product for entry in current_store().all(OilProduct))


def mapping_names() -> list[str]:
    """List the remembered ways to read a laboratory's files.

    Returns
    -------
    list of str [-]
        In alphabetical order.
    """
    require(current_caller(), "see the fleet")
    return sorted(entry.record.name for entry in current_store().all(Mapping))


def engine_choices(search: str, *, keep: str = "") -> list[str]:
    """Find engines by part of a name; a fleet may be too long to send in whole.

    Parameters
    ----------
    search : str [-]
        Part of an engine's, car's or owner's name.
    keep : str [-]
        An engine that stays in the list, because it is chosen.

    Returns
    -------
    list of str [-]
        A few dozen engines, by name.
    """
    found = fleet.watch(current_store(), current_caller(), search=search, sort="engine",
                        limit=_MOST)
    names = [row.engine for row in found.rows]
    return names if not keep or keep in names else [keep, *names]
