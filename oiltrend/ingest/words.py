"""Words that cells may use: yes and no, and the choices, with their common spellings."""

from __future__ import annotations

from oiltrend.ingest.columns import Column
from oiltrend.ingest.headings import match_key

__all__ = ["choice_of", "yes_no_of"]

_YES = frozenset("yes y true 1 ja j oui o si sí sì s sim tak t ano a".split())
_NO = frozenset("no n false 0 nein non não nao nee nie nej ne".split())
_UNKNOWN = frozenset(("", "unknown", "?", "unbekannt", "inconnu"))

_SPELLINGS: dict[str, dict[str, str]] = {
    "half": {"upper": "rod", "lower": "cap", "top": "rod", "bottom": "cap", "oben": "rod",
             "unten": "cap", "pleuel": "rod", "deckel": "cap", "supérieur": "rod",
             "inférieur": "cap", "superiore": "rod", "inferiore": "cap", "superior": "rod",
             "inferior": "cap"},
    "level_at_sampling": {"maximum": "max", "full": "max", "minimum": "min", "low": "min",
                          "?": "unknown", "unbekannt": "unknown", "inconnu": "unknown"},
    "filter_finding": {"clean": "none", "nothing": "none", "no": "none", "nichts": "none",
                       "keine": "none", "fine particles": "fine", "fein": "fine", "dust": "fine",
                       "flake": "flakes", "chips": "flakes", "späne": "flakes",
                       "paillettes": "flakes", "not inspected": "not looked",
                       "not opened": "not looked", "nicht geöffnet": "not looked"},
    "event": {"oil changed": "oil_change", "change": "oil_change", "ölwechsel": "oil_change",
              "vidange": "oil_change", "topup": "top_up", "oil added": "top_up",
              "nachgefüllt": "top_up", "filter changed": "filter_change",
              "filterwechsel": "filter_change", "meter changed": "meter_replaced",
              "fitted": "engine_fitted", "removed": "engine_removed"},
    "reason": {"plan": "planned", "geplant": "planned"},
    "failed": {"no": "none"},
    "wear_stage": {"not scored": "not_scorable", "n/a": "not_scorable"},
    "action": {"reused": "refitted", "new": "replaced", "renewed": "replaced"},
    "layer_structure": {"three layers": "trimetal", "two layers": "bimetal",
                        "coated": "polymer", "tri metal": "trimetal", "bi metal": "bimetal"},
    "operator": {"≥": ">=", "≤": "<=", "=>": ">=", "=<": "<="},
    "quantity": {"per 1000 km": "per_1000", "per 1000 h": "per_1000", "ppm": "level"},
    "meter_unit": {"miles": "mi", "hours": "h", "kilometres": "km", "kilometers": "km"},
}


def choice_of(column: Column, text: str) -> str | None:
    """Find the choice that a cell means.

    Parameters
    ----------
    column : Column [-]
        A column of type choice.
    text : str [-]
        A cell.

    Returns
    -------
    str or None [-]
        The word as kept inside, ``""`` for a blank cell, None when it is none of the choices.

    Examples
    --------
    >>> from oiltrend.ingest.columns import columns_of
    >>> half = next(c for c in columns_of("teardowns") if c.name == "half")
    >>> choice_of(half, "Upper"), choice_of(half, ""), choice_of(half, "left")
    ('rod', '', None)
    """
    word = match_key(text.replace("_", " "))
    if not word:
        return ""
    for allowed in column.allowed:
        if match_key(allowed.replace("_", " ")) == word:
            return allowed
    return _SPELLINGS.get(column.name, {}).get(word)


def yes_no_of(text: str) -> int | None:
    """Read a yes or a no.

    Parameters
    ----------
    text : str [-]
        A cell.

    Returns
    -------
    int or None [-]
        1 for yes, 0 for no, -1 for blank or unknown, None for anything else.

    Examples
    --------
    >>> yes_no_of("Ja"), yes_no_of("no"), yes_no_of(""), yes_no_of("maybe")
    (1, 0, -1, None)
    """
    word = match_key(text)
    if word in _UNKNOWN:
        return -1
    return 1 if word in _YES else 0 if word in _NO else None
