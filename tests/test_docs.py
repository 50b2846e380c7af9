"""What the program offers is written down: commands, pages, settings, columns, variables, rooms."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable
from pathlib import Path

import pytest

from oiltrend.assessment.settings import ASSUMPTIONS, Settings
from oiltrend.cli import COMMANDS
from oiltrend.dashboard.pages import PAGES
from oiltrend.ingest import KINDS, columns_of
from oiltrend.nomenclature import PANEL, QUANTITIES
from oiltrend.units import known_unit
from tests.doc_tables import DOCUMENT, TABLES, filled
from tests.house import RANKS, ROOT

DOCS = ("README.md", "DEVELOPERS.md")
OFFERED: dict[str, list[str]] = {
    "measurands": list(PANEL),
    "quantities": list(QUANTITIES),
    "settings": [field.name for field in dataclasses.fields(Settings)],
    "commands": list(COMMANDS),
    "pages": [page.NAME for page in PAGES] + [page.PATH for page in PAGES],
    "columns": [column.name for kind in KINDS for column in columns_of(kind)],
    "kinds": list(KINDS),
}


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


@pytest.mark.parametrize("what", OFFERED)
def test_everything_offered_is_in_the_docs(what: str) -> None:
    assert len(OFFERED[what]) > 3
    assert sorted(set(OFFERED[what]) - documented()) == []


def test_every_setting_says_what_it_is_and_where_its_default_comes_from() -> None:
    assert list(ASSUMPTIONS) == OFFERED["settings"]
    assert all(a.meaning and a.source and known_unit(a.unit) for a in ASSUMPTIONS.values())


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
