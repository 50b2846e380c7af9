"""What the program offers is written down: commands, pages, settings, columns, variables, rooms.

A list is read from the code that owns it. Where the module does not exist yet, its test says
so and is skipped; once the module exists, a missing list is a failure.
"""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.doc_tables import DOCUMENT, TABLES, filled
from tests.house import RANKS, ROOT

DOCS = ("README.md", "DEVELOPERS.md")
# (what, module, attribute): an iterable of names, or of objects with a NAME or name.
LISTS = (
    ("measurand", "oiltrend.nomenclature", "PANEL"),
    ("quantity", "oiltrend.nomenclature", "QUANTITIES"),
    ("setting", "oiltrend.assessment.settings", "ASSUMPTIONS"),
    ("command", "oiltrend.cli", "COMMANDS"),
    ("page", "oiltrend.dashboard.pages", "PAGES"),
    ("export column", "oiltrend.service.export", "EXPORT_COLUMNS"),
)


def module_exists(name: str) -> bool:
    path = ROOT.joinpath(*name.split("."))
    return path.with_suffix(".py").exists() or (path / "__init__.py").exists()


def names_of(things: Iterable[object]) -> list[str]:
    """Give the names in a list of words, pages or commands."""
    return [thing if isinstance(thing, str) else
            str(getattr(thing, "NAME", None) or getattr(thing, "name", thing))
            for thing in things]


def words(documents: Iterable[Path]) -> set[str]:
    """Collect what the documents write as code, in whole and word by word, and bold headings."""
    found: set[str] = set()
    for document in documents:
        text = document.read_text(encoding="utf-8")
        fences = re.findall(r"^```.*?\n(.*?)^```", text, flags=re.DOTALL | re.MULTILINE)
        rest = re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE)
        for piece in [*fences, *re.findall(r"`([^`\n]+)`", rest)]:
            found |= {piece.strip(), *re.split(r"[\s,;·|]+", piece)}
        found |= set(re.findall(r"\*\*([^*\n]+)\*\*", rest))
    return found


def documented() -> set[str]:
    return words(ROOT / name for name in DOCS if (ROOT / name).exists())


@pytest.mark.parametrize(("what", "module", "attribute"), LISTS, ids=[row[0] for row in LISTS])
def test_everything_offered_is_in_the_docs(what: str, module: str, attribute: str) -> None:
    if not module_exists(module):
        pytest.skip(f"{module} does not exist yet")
    things = getattr(importlib.import_module(module), attribute, None)
    assert things is not None, f"{module} must list its {what}s in {attribute}"
    names = names_of(things)
    assert names
    assert sorted(set(names) - documented()) == []


def test_environment_variables_are_in_the_docs() -> None:
    files = [*(ROOT / "oiltrend").rglob("*.py"), *(ROOT / "tests").rglob("*.py"),
             ROOT / "quickstart.py", ROOT / ".ci" / "run"]
    used = {name for file in files for name in re.findall(
        r"\b(?:OILTREND|HYPOTHESIS)_[A-Z][A-Z_]*[A-Z]\b", file.read_text(encoding="utf-8"))}
    assert "OILTREND_SHARED" in used
    assert sorted(used - documented()) == []


def test_the_rank_table_in_the_docs_is_the_one_that_is_tested() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) \| ([^|]+) \|", text, flags=re.MULTILINE)
    assert [(int(number), tuple(re.findall(r"`([a-z_]+)`", rooms))) for number, rooms in rows] == [
        (rank, rooms) for rank, rooms in enumerate(RANKS)]


def test_the_tables_in_the_docs_are_up_to_date() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    assert set(re.findall(r"<!-- table (\w+) -->", text)) == set(TABLES)
    assert filled(text) == text, "run: python -m tests.doc_tables"


def test_the_two_commands_are_in_the_docs() -> None:
    assert {"python3 quickstart.py", "python3 quickstart.py test"} <= documented()


def test_files_named_in_the_docs_exist() -> None:
    paths = {word.rstrip("/") for word in documented()
             if re.fullmatch(r"(?:oiltrend|tests|requirements|assets|sample_reports)/[\w./-]+",
                             word)}
    assert paths
    assert sorted(path for path in paths if not (ROOT / path).exists()) == []


def test_words_are_read_from_code_and_bold_only(tmp_path: Path) -> None:
    page = tmp_path / "README.md"
    page.write_text("Plain assess. `oiltrend import FILE` and **Watch**.\n"
                    "```\npython3 quickstart.py\n```\n", encoding="utf-8")
    found = words([page])
    assert {"import", "Watch", "python3 quickstart.py", "oiltrend import FILE"} <= found
    assert "assess" not in found
