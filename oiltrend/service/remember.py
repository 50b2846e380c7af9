"""Answers kept in memory until something in the store changes.

A page asks for the same engine several times (another measurand, the other theme); the answer
is worked out once and thrown away with the next write, whoever makes it.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from oiltrend.store import Store

__all__ = ["remembered"]

T = TypeVar("T")

_MOST = 64
_shelves: WeakKeyDictionary[Store, OrderedDict[Hashable, tuple[Hashable, Any]]] = \
    WeakKeyDictionary()
_turn = threading.Lock()


def remembered(store: Store, question: Hashable, answer: Callable[[], T]) -> T:
    """Give an answer from memory if nothing was written since it was worked out.

    Parameters
    ----------
    store : Store [-]
        The store.
    question : hashable [-]
        What is asked, with everything that the answer depends on besides the store.
    answer : function [-]
        Works the answer out.

    Returns
    -------
    object [-]
        The answer; it must not be changed by who gets it.
    """
    # Read before the answer is worked out: a write in between makes it stale, never wrong.
    state = store.versions()
    with _turn:
        shelf = _shelves.setdefault(store, OrderedDict())
        held = shelf.get(question)
        if held is not None and held[0] == state:
            shelf.move_to_end(question)
            return held[1]  # type: ignore[no-any-return]
    found = answer()
    with _turn:
        shelf[question] = (state, found)
        shelf.move_to_end(question)
        while len(shelf) > _MOST:
            shelf.popitem(last=False)
    return found
