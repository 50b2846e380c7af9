"""Signs to stop driving: the same words everywhere, whatever the last oil result says."""

from __future__ import annotations

from typing import Any

from dash import Dash

from oiltrend.dashboard.parts import note, page_frame, sheet
from oiltrend.wording import CAUTIONS, LIMITS_OF_USE, STOP_SIGNS

__all__ = ["BELOW", "ICON", "NAME", "PATH", "layout", "register"]

PATH = "/stop-signs"
BELOW: tuple[str, ...] = ()
NAME = "Signs to stop driving"
ICON = ""

_CAUTION_TITLES = {"sampling": "When you draw a sample", "supported_vehicle": "Under a car",
                   "fasteners": "Bolts"}


def layout(**_: Any) -> Any:
    """Lay out the page.

    Parameters
    ----------
    _ : object [-]
        Query of the address; it has no say.

    Returns
    -------
    component [-]
        The page.
    """
    return page_frame(
        NAME, "They count whatever the oil says.",
        note(STOP_SIGNS, kind="fault", shape="stop-sign"),
        sheet("What this program is", LIMITS_OF_USE),
        *(sheet(_CAUTION_TITLES[key], text) for key, text in CAUTIONS.items()))


def register(app: Dash) -> None:
    """Connect the page; there is nothing to connect.

    Parameters
    ----------
    app : Dash [-]
        The app.
    """
