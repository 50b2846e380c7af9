"""What the structural tests share: the rooms, their ranks, and how to walk through the code."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "oiltrend"

# From the ground up: a room may import lower rooms and itself, never up or across.
RANKS: tuple[tuple[str, ...], ...] = (
    ("errors",),
    ("units", "nomenclature"),
    ("wear", "oil", "bearing", "limits", "evidence"),
    ("records",),
    ("samplekeys",),
    ("ingest", "store", "assessment", "wording"),
    ("service",),
    ("figures",),
    ("report",),
    ("dashboard", "demo"),
    ("cli",),
    ("__main__",),
)
PURE = RANKS[2]


def modules(package: Path = PACKAGE) -> Iterator[Path]:
    """List every Python file of the package, in one order."""
    yield from sorted(package.rglob("*.py"))


def room_of(file: Path, package: Path = PACKAGE) -> str:
    """Name the room a file lies in: a package or a module directly under ``oiltrend``."""
    parts = file.relative_to(package).with_suffix("").parts
    return "" if parts == ("__init__",) else parts[0]


def dotted(file: Path, package: Path = PACKAGE) -> str:
    """Give the name under which a file is imported."""
    parts = ("oiltrend", *file.relative_to(package).with_suffix("").parts)
    return ".".join(part for part in parts if part != "__init__")


def is_migration(file: Path) -> bool:
    """Say whether a file is run by the migration tool and never imported."""
    return "migrations" in file.parts and file.name != "__init__.py"


def parse(file: Path) -> ast.Module:
    """Parse one file."""
    return ast.parse(file.read_text(encoding="utf-8"), filename=str(file))


def importable() -> list[str]:
    """Name every module that can be imported on its own."""
    return [dotted(file) for file in modules() if not is_migration(file)]


def load(name: str) -> ModuleType:
    """Import a module by name."""
    return importlib.import_module(name)
