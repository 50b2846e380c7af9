"""Errors: one tree, drawn in the docstring as it is, and texts that say what to do."""

from __future__ import annotations

import re

import pytest

from oiltrend import errors


def test_the_drawn_tree_is_the_real_one() -> None:
    drawn: dict[str, str] = {}
    above: list[str] = []
    for line in (errors.__doc__ or "").splitlines():
        found = re.match(r"    ([│├└─ ]*)([A-Z]\w+)\s{2,}", line)
        if found:
            above = [*above[:len(found[1]) // 4], found[2]]
            drawn[found[2]] = above[-2] if len(above) > 1 else ""
    real = {name: getattr(errors, name).__base__.__name__ for name in errors.__all__}
    assert drawn == {name: "" if base in ("Exception", "UserWarning") else base
                     for name, base in real.items()}


@pytest.mark.parametrize("name", [n for n in errors.__all__ if n != "OiltrendWarning"])
def test_a_message_and_what_to_do(name: str) -> None:
    error = getattr(errors, name)("line 3: must be a date, found x", hint="correct it")
    assert isinstance(error, errors.OiltrendError)
    assert str(error) == "line 3: must be a date, found x; correct it"
    assert (error.message, error.hint) == ("line 3: must be a date, found x", "correct it")
    assert str(getattr(errors, name)("line 3: must be a date, found x")) == (
        "line 3: must be a date, found x")
