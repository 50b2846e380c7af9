"""Small pieces: no module above 500 lines, no function above 60, pages thinner still."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.house import PACKAGE, modules, parse

MODULE, FUNCTION, PAGE = 500, 60, 250


def function_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count the lines of a function from its name to its end; its docstring does not count."""
    lines = (node.end_lineno or node.lineno) - node.lineno + 1
    first = node.body[0]
    if ast.get_docstring(node) is not None:
        lines -= (first.end_lineno or first.lineno) - first.lineno + 1
    return lines


def too_long(package: Path) -> Iterator[str]:
    """List modules and functions above their limit."""
    for file in modules(package):
        lines = len(file.read_text(encoding="utf-8").splitlines())
        page = file.relative_to(package).parts[:2] == ("dashboard", "pages")
        limit = PAGE if page else MODULE
        if lines > limit:
            yield f"{file}: {lines} lines, at most {limit}"
        for node in ast.walk(parse(file)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                size = function_lines(node)
                if size > FUNCTION:
                    yield f"{file}:{node.lineno}: {node.name} has {size} lines, at most {FUNCTION}"


def test_pieces_are_small() -> None:
    faults = list(too_long(PACKAGE))
    assert not faults, "\n".join(faults)


def test_long_pieces_are_caught(tmp_path: Path) -> None:
    package = tmp_path / "oiltrend"
    (package / "dashboard" / "pages").mkdir(parents=True)
    (package / "long.py").write_text("a = 1\n" * 501, encoding="utf-8")
    (package / "dashboard" / "pages" / "watch.py").write_text("a = 1\n" * 251, encoding="utf-8")
    (package / "f.py").write_text(
        'def f():\n    """Say.\n\n' + "    more\n" * 60 + '    """\n' + "    a = 1\n" * 60,
        encoding="utf-8")
    (package / "fits.py").write_text(
        'def f():\n    """Say."""\n' + "    a = 1\n" * 59, encoding="utf-8")
    assert [fault.rpartition("/")[2] for fault in too_long(package)] == [
        "watch.py: 251 lines, at most 250", "f.py:1: f has 61 lines, at most 60",
        "long.py: 501 lines, at most 500"]
