"""From pieces of evidence to a level: an alarm rests on two pieces, else it is an alert."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from oiltrend.assessment.evidence_rows import Piece

__all__ = ["is_confirmed", "settle_level"]

Level = Literal["no_alarm", "alert", "alarm"]


def is_confirmed(piece: Piece, judged: Sequence[Piece], earlier: Sequence[Piece],
                 far_beyond: float) -> bool:
    """Say whether a figure beyond an alarm limit carries an alarm.

    It does when it is a finding that suffices, or far beyond its limit, or when a second
    measurand of the same sample or the same measurand of the sample before is beyond an alarm
    limit as well. Two figures of one measurand in one sample are one piece of evidence.

    Parameters
    ----------
    piece : Piece [-]
        The figure.
    judged : sequence of Piece [-]
        All pieces of the judged samples of this engine.
    earlier : sequence of Piece [-]
        Pieces of the sample before them.
    far_beyond : float [-]
        Ratio to the limit from which one value suffices.

    Returns
    -------
    bool [-]
        True when it carries an alarm by itself or with others.

    Examples
    --------
    >>> lead = Piece(4, "fixed", "alarm", 2, "level", 30.0, "mg/kg", ">", 25.0, "fixed", "own",
    ...              None, 1.2)
    >>> copper = lead._replace(measurand=1)
    >>> is_confirmed(lead, [lead], [], 2.0), is_confirmed(lead, [lead, copper], [], 2.0)
    (False, True)
    >>> is_confirmed(lead, [lead], [lead._replace(row=3)], 2.0)
    True
    """
    if piece.level != "alarm":
        return False
    if piece.quantity == "finding" or piece.size >= far_beyond:
        return True
    beside = any(other.level == "alarm" and other.row == piece.row
                 and other.measurand not in (piece.measurand, -1) for other in judged)
    before = any(other.level == "alarm" and other.row != piece.row
                 and other.measurand == piece.measurand for other in (*earlier, *judged))
    return beside or before


def settle_level(judged: Sequence[Piece], earlier: Sequence[Piece], far_beyond: float) -> Level:
    """Settle the level of one engine.

    Parameters
    ----------
    judged : sequence of Piece [-]
        All pieces of the judged samples of this engine.
    earlier : sequence of Piece [-]
        Pieces of the sample before them.
    far_beyond : float [-]
        Ratio to the limit from which one value suffices.

    Returns
    -------
    str [-]
        no_alarm, alert or alarm.

    Examples
    --------
    >>> settle_level([], [], 2.0)
    'no_alarm'
    """
    if any(is_confirmed(piece, judged, earlier, far_beyond) for piece in judged):
        return "alarm"
    return "alert" if judged else "no_alarm"
