"""Run the pure rooms' examples in an interpreter that holds nothing but numpy and scipy.

Started by ``test_purity.py`` in a fresh interpreter, without site packages; the arguments are
the folder where numpy and scipy lie, the repository, and the rooms. Whatever is neither the
standard library, numpy, scipy, a pure room nor the test runner itself cannot be imported here.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

RUNNER = {"pytest", "_pytest", "py", "pluggy", "iniconfig", "packaging", "pygments", "colorama"}


class OnlyThese:
    """A finder that comes first and refuses every name that is not on the list."""

    def __init__(self, rooms: Sequence[str]) -> None:
        self.tops = {*sys.stdlib_module_names, *RUNNER, "numpy", "scipy", "oiltrend"}
        self.rooms = set(rooms)

    def find_spec(self, name: str, path: Sequence[str] | None = None,
                  target: ModuleType | None = None) -> ModuleSpec | None:
        """Raise for a name that is not allowed; leave the others to the usual finders."""
        top, _, rest = name.partition(".")
        room = rest.partition(".")[0]
        if top.startswith("_sysconfigdata_"):  # the standard library, named after the platform
            return None
        if top not in self.tops or (top == "oiltrend" and room and room not in self.rooms):
            raise ModuleNotFoundError(f"{name} is not there for the pure rooms", name=name)
        return None


def main(site: str, repository: str, rooms: list[str]) -> int:
    """Import every module of the rooms and run their examples; the status is pytest's."""
    sys.path[:0] = [repository, site]
    sys.meta_path.insert(0, OnlyThese(rooms))  # type: ignore[arg-type]
    import pytest

    package = Path(repository, "oiltrend")
    paths = [str(path) for room in rooms
             for path in (package / room, package / f"{room}.py") if path.exists()]
    return int(pytest.main([
        "-q", "--noconftest", "-c", str(Path(repository, "pyproject.toml")),
        "-o", "addopts=", "-o", "pythonpath=", "-p", "no:cacheprovider",
        "--import-mode=importlib", "--doctest-modules", *paths]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2], sys.argv[3:]))
