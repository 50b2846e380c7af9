"""Read the Parameters, Returns and other sections of a numpy-style docstring."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass

_UNIT = re.compile(r"\[([^\[\]]+)\]\s*$")


@dataclass(frozen=True)
class Entry:
    """One line of Parameters or Returns: the names before the colon, the unit at the end."""

    names: tuple[str, ...]
    unit: str | None


def sections(docstring: str) -> dict[str, list[str]]:
    """Split a docstring into its underlined sections; the text before them is under ``""``."""
    found: dict[str, list[str]] = {"": []}
    current = ""
    lines = inspect.cleandoc(docstring).splitlines()
    for index, line in enumerate(lines):
        below = lines[index + 1] if index + 1 < len(lines) else ""
        if line.strip() and re.fullmatch(r"-{3,}", below):
            current = line.strip()
            found[current] = []
        elif not re.fullmatch(r"-{3,}", line):
            found[current].append(line)
    return found


def entries(lines: list[str]) -> Iterator[Entry]:
    """Give the unindented lines of a section as entries; their descriptions are indented."""
    for line in lines:
        if line and not line.startswith(" "):
            names, colon, kind = line.partition(" : ")
            unit = _UNIT.search(kind if colon else line)
            yield Entry(tuple(name.strip() for name in names.split(",")) if colon else (),
                        unit[1] if unit else None)
