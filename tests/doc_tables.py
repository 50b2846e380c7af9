"""Tables in the docs that are made from the code, so that they cannot drift.

``python -m tests.doc_tables`` rewrites them in place; ``test_docs.py`` fails when one is out
of date. A table stands between ``<!-- table NAME -->`` and ``<!-- end -->``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

from oiltrend.assessment.settings import ASSUMPTIONS, Settings
from oiltrend.cli import COMMANDS
from oiltrend.dashboard.pages import PAGES
from oiltrend.ingest import KINDS, columns_of
from oiltrend.nomenclature import MEASURANDS, QUANTITIES
from tests.house import ROOT

DOCUMENT = ROOT / "DEVELOPERS.md"


def _rows(heading: str, rows: Iterable[Iterable[object]]) -> str:
    columns = heading.count("|") + 1
    lines = [f"| {heading} |", "|" + "---|" * columns]
    lines += ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines)


def measurands() -> str:
    """Give one row per measurand, in the order in which readings are packed."""
    return _rows("symbol | name | unit | kind | usual methods", (
        (f"`{m.symbol}`", m.name, m.unit, m.kind, ", ".join(m.methods)) for m in MEASURANDS))


def quantities() -> str:
    """Give one row per quantity that is not measured in the oil."""
    return _rows("name | unit | meaning", (
        (f"`{q.name}`", q.unit, q.meaning) for q in QUANTITIES.values()))


def settings() -> str:
    """Give one row per setting, with its default and where that comes from."""
    given = Settings()
    return _rows("setting | default | unit | meaning | source", (
        (f"`{name}`", f"{getattr(given, name):g}", a.unit, a.meaning, a.source)
        for name, a in ASSUMPTIONS.items()))


def commands() -> str:
    """Give one row per command of the command line."""
    return _rows("command | what it does", (
        (f"`{name}`", command.meaning) for name, command in COMMANDS.items()))


def pages() -> str:
    """Give one row per page of the dashboard, with what its module says of it."""
    return _rows("page | address | what it is for", (
        (f"**{page.NAME}**", f"`{page.PATH}`",
         (page.__doc__ or "").splitlines()[0].partition(": ")[2]) for page in PAGES))


def columns() -> str:
    """Give one row per kind of file: the columns that are read, and written by an export."""
    def written(kind: str) -> str:
        names = [(column.name, column.required) for column in columns_of(kind)]
        return ", ".join(f"`{name}` (required)" if required else f"`{name}`"
                         for name, required in names)

    return _rows("kind | columns", ((f"**{kind}**", written(kind)) for kind in KINDS))


TABLES: dict[str, Callable[[], str]] = {
    "commands": commands, "pages": pages, "columns": columns, "measurands": measurands,
    "quantities": quantities, "settings": settings}


def filled(text: str) -> str:
    """Give the document with every table made anew."""
    def fill(found: re.Match[str]) -> str:
        return f"{found[1]}\n{TABLES[found[2]]()}\n{found[3]}"

    return re.sub(r"(<!-- table (\w+) -->)\n.*?(<!-- end -->)", fill, text, flags=re.DOTALL)


def main(document: Path = DOCUMENT) -> None:
    """Rewrite the tables of the document in place."""
    text = document.read_text(encoding="utf-8")
    document.write_text(filled(text), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
