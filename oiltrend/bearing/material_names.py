"""What people write for a shell material, read into layers; unknown text is never guessed."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace

from oiltrend.bearing.materials import LAYERS, ShellMaterial

__all__ = ["ASSUMED_ALLOYS", "parse_material"]

ASSUMED_ALLOYS: dict[str, str] = {
    "PbSn10Cu2": "lead-tin: the usual plated overlay, assumed",
    "PbIn7": "lead-indium: the usual plated overlay, assumed",
    "SnCu6": "tin-copper: the usual plated overlay, assumed",
    "CuPb24Sn": "copper-lead: the usual lining under a plated overlay, assumed",
    "AlSn20Cu": "aluminium-tin, AlSn20: the usual lining of two-layer shells, assumed",
    "AlSn20": "sputtered: the usual sputtered overlay, assumed",
}
"""What a class of alloys is read as where the text names no alloy, and why."""

# Words of one layer: text to designation. The second table of each names classes, so that the
# alloy is an assumption.
_OVERLAY_WORDS = {"bismuth": "Bi", "silver": "Ag", "pbsncu": "PbSn10Cu2", "resin": "polymer"}
_OVERLAY_CLASSES = {"leadtin": "PbSn10Cu2", "leadtincopper": "PbSn10Cu2", "pbsn": "PbSn10Cu2",
                    "leadindium": "PbIn7", "pbin": "PbIn7", "tincopper": "SnCu6",
                    "sncu": "SnCu6", "sputter": "AlSn20", "sputtered": "AlSn20",
                    "pvd": "AlSn20"}
_LINING_WORDS = {"alsn20cu1": "AlSn20Cu", "alsn6": "AlSn6Cu", "alsn6cuni": "AlSn6Cu",
                 "alsn12sicu": "AlSn12Si", "alsi11cumgni": "AlSi11Cu",
                 "alzn5": "AlZn5Si1.5Cu1Pb1Mg"}
_LINING_CLASSES = {"aluminiumtin": "AlSn20Cu", "aluminumtin": "AlSn20Cu", "alsn": "AlSn20Cu",
                   "alsn20": "AlSn20Cu", "tinaluminium": "AlSn20Cu",
                   "tinaluminum": "AlSn20Cu", "copperlead": "CuPb24Sn", "cupb": "CuPb24Sn"}
# Words that say nothing about the alloy.
_FILLER = re.compile(r"\b(overlay|lining|shells?|bearings?|alloy|electroplated|plated)\b")
_STATED = re.compile(r"\b(?:(bi|two)|(?:tri|three))[- ]?(?:metal|layer)(?:lic|s)?\b")
_JOINS = re.compile(r"\s*(?:/|\+|\bon\b|\bover\b|\bcoated\b)\s*")


def _key(text: str) -> str:
    return re.sub(r"[^a-z0-9.]", "", _FILLER.sub(" ", text))


def _names(role: str, words: dict[str, str]) -> dict[str, str]:
    """Add the designations of a role and their equivalents to the words for it."""
    known = {_key(name.casefold()): layer.designation for layer in LAYERS.values()
             if layer.role == role for name in (layer.designation, *layer.equivalents)}
    return words | known


_OVERLAYS, _LININGS = _names("overlay", _OVERLAY_WORDS), _names("lining", _LINING_WORDS)


def _find(text: str, names: dict[str, str], classes: dict[str, str]) -> tuple[str, bool] | None:
    """Look one layer up; say whether the alloy is an assumption."""
    key = _key(text)
    if key in names:
        return names[key], False
    return (classes[key], True) if key in classes else None


def _layers(parts: list[str]) -> ShellMaterial | None:
    """Read overlay and lining, or one layer alone."""
    if len(parts) == 2:
        overlay = _find(parts[0], _OVERLAYS, _OVERLAY_CLASSES)
        lining = _find(parts[1], _LININGS, _LINING_CLASSES)
        if overlay is None or lining is None:
            return None
    elif len(parts) == 1:
        lining = _find(parts[0], _LININGS, _LINING_CLASSES)
        overlay = None if lining else _find(parts[0], _OVERLAYS, _OVERLAY_CLASSES)
    else:
        return None
    assumed = tuple(name for name, found in (("overlay", overlay), ("lining", lining))
                    if found and found[1])
    if overlay is not None:
        return ShellMaterial(overlay[0], lining[0] if lining else None,
                             "polymer" if overlay[0] == "polymer" else "trimetal", assumed)
    if lining is None:
        return None
    alone = "Al" in LAYERS[lining[0]].shares
    return ShellMaterial(None, lining[0], "bimetal" if alone else "", assumed)


def parse_material(text: str) -> ShellMaterial | None:
    """Read a shell material as people write it.

    Parameters
    ----------
    text : str [-]
        ``PbSn10Cu2/CuPb24Sn``, ``lead-tin on copper-lead``, ``aluminium-tin``, ``SAE 783`` and
        the like: overlay before lining, joined by ``/``, ``on`` or ``over``; or one layer.

    Returns
    -------
    ShellMaterial or None [-]
        The layers; None where any part of the text is not known or the text contradicts
        itself. A lone overlay leaves the lining unknown. A lone aluminium lining is a shell
        of two layers unless the text says three; a lone copper-lead lining leaves open
        whether there was an overlay.

    Examples
    --------
    >>> parse_material("PbSn10Cu2/CuPb24Sn").structure
    'trimetal'
    >>> parse_material("aluminium-tin")
    ShellMaterial(overlay=None, lining='AlSn20Cu', structure='bimetal', assumed=('lining',))
    >>> parse_material("unobtainium") is None
    True
    """
    folded = unicodedata.normalize("NFKC", text).casefold()
    stated = _STATED.search(folded)
    found = _layers([part for part in _JOINS.split(_STATED.sub(" ", folded)) if _key(part)])
    if stated is None or found is None:
        return found
    if stated[1]:  # two layers, so that an overlay contradicts them
        return replace(found, structure="bimetal") if found.overlay is None else None
    return found if found.structure == "polymer" else replace(found, structure="trimetal")
