"""One bad file per fault, named after its fault; and the invented corpus with its manifest."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from oiltrend.errors import FileRefused
from oiltrend.ingest import ParsedFile, ReadOptions, read_file
from oiltrend.nomenclature import PANEL_INDEX
from tests.ingest.reading import counts, known, read

FOLDER = Path(__file__).resolve().parent.parent / "bad_files"
CASES: list[dict[str, Any]] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
MADE_HERE = FOLDER / "made_here"
MANIFEST = {entry["file"]: entry["expect"] for entry in json.loads(
    (MADE_HERE / "manifest.json").read_text(encoding="utf-8"))}


def test_every_bad_file_has_an_expectation() -> None:
    files = {path.name for path in FOLDER.iterdir() if path.is_file()}
    files -= {"expected.json", ".gitattributes"}
    assert files == {case["file"] for case in CASES}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["file"])
def test_bad_file(case: dict[str, Any]) -> None:
    data = (FOLDER / case["file"]).read_bytes()
    arguments = {"kind": case.get("kind", "samples"), "filename": case["file"],
                 **case.get("options", {})}
    if "refused" in case:
        with pytest.raises(FileRefused) as refused:
            read(data, **arguments)
        assert str(refused.value) == case["refused"]
        return
    found = read(data, **arguments)
    assert counts(found) == case["counts"]
    assert [[r.line, r.column, r.reason] for r in found.rejects] == case.get("rejects", [])
    assert [[q.code, q.column] for q in found.questions] == case.get("questions", [])
    assert [[h.line, h.engine_text] for h in found.held_rows] == case.get("held", [])
    for text in case.get("notes", []):
        assert any(text in note.text for note in found.notes)
    if found.samples is not None and found.layout == "wide":
        assert len(found.samples) == found.accepted


# The units of the corpus exist as engines, as its read-me says.
UNITS = ("A1", "A2", "A3", "A1\nfront", "007", "1.00E+12", "5-Mar", "<img src=x onerror=alert(1)>",
         "[x](javascript:alert(1))", "%{customdata}", "A\u202e1", "A\u200b1", "BÿþŸ2")


def made_here(name: str, **options: Any) -> ParsedFile:
    return read_file((MADE_HERE / name).read_bytes(), filename=name,
                     options=ReadOptions(matches={"Sample": "engine"}, **options),
                     known=known(engines=dict.fromkeys(UNITS, "km")))


def test_the_corpus_is_complete() -> None:
    files = {path.name for path in MADE_HERE.iterdir()} - {"manifest.json"}
    assert files == set(MANIFEST)
    assert len(files) == 36


# From the manifest's words: accepted, held, rejected, duplicates, blank.
READ = {
    "ok-utf8.csv": (2, 0, 0, 0, 0), "utf16le-bom.csv": (2, 0, 0, 0, 0),
    "nul-padding.csv": (2, 0, 0, 0, 0), "crlf-mixed.csv": (2, 0, 0, 0, 0),
    "quoted-newline.csv": (1, 0, 0, 0, 0), "comma-delim-decimal-comma.csv": (0, 0, 1, 0, 0),
    "excel-serial-date.csv": (0, 0, 1, 0, 0), "empty-vs-zero.csv": (1, 0, 0, 0, 0),
    "scientific.csv": (0, 0, 1, 0, 0), "unicode-minus-digits.csv": (0, 0, 1, 0, 0),
    "units-in-header.csv": (1, 0, 0, 0, 0), "ragged-short.csv": (0, 0, 1, 0, 0),
    "trailing-delims.csv": (2, 0, 0, 0, 0), "footer-total.csv": (2, 0, 2, 0, 0),
    "header-only.csv": (0, 0, 0, 0, 0), "blank-lines.csv": (1, 0, 0, 0, 3),
    "same-id-other-value.csv": (1, 0, 2, 0, 0), "excel-eaten-ids.csv": (3, 0, 0, 0, 0),
    "html.csv": (3, 0, 0, 0, 0), "bidi-zero-width.csv": (2, 0, 0, 0, 0),
    "huge-field-200k.csv": (0, 0, 1, 0, 0), "tab-in-csv.csv": (2, 0, 0, 0, 0),
    "sep-line.csv": (2, 0, 0, 0, 0),
    # Read as cp1252 with a note; the name that came of it is no engine we have.
    "utf8-broken.csv": (1, 1, 0, 0, 0),
}
ASKED = {"thousands-dot.csv": "decimal", "ambiguous-dates.csv": "date_order",
         "two-digit-year.csv": "date_order"}
REFUSED = {
    "utf16le-nobom.csv": "must be text, found NUL bytes as in UTF-16 text without its mark",
    "unterminated-quote.csv": "line 2: a quoted cell must end with a quote",
    "case-dup-header.csv": "headings must differ by more than case",
    "pdf-as-csv.csv": "must be a CSV file, found a PDF document",
    "ratio-1000.xlsx": "must be a CSV file, found a workbook or another packed (zip) file",
    "xml-entity.xlsx": "must be a CSV file, found a workbook or another packed (zip) file",
    # Photographs are judged elsewhere; as a results file they are refused.
    "svg-as.jpg": "must be a CSV file, found a drawing (SVG)",
    "pixels-196M.png": "must be a CSV file, found a picture (PNG)",
    "polyglot.jpg": "must be a CSV file, found a picture (JPEG)",
}


def test_every_file_of_the_corpus_has_its_outcome() -> None:
    assert {*READ, *ASKED, *REFUSED} == set(MANIFEST)


@pytest.mark.parametrize("name", READ)
def test_corpus_file_is_read(name: str) -> None:
    found = made_here(name)
    assert tuple(counts(found)[2:]) == READ[name]
    assert not found.questions


@pytest.mark.parametrize("name", ASKED)
def test_corpus_file_is_asked_about(name: str) -> None:
    found = made_here(name)
    assert [question.code for question in found.questions] == [ASKED[name]]
    assert found.accepted == 0
    assert found.samples is None


@pytest.mark.parametrize("name", REFUSED)
def test_corpus_file_is_refused(name: str) -> None:
    with pytest.raises(FileRefused) as refused:
        made_here(name)
    assert REFUSED[name] in str(refused.value)


def value(found: ParsedFile, symbol: str) -> float:
    assert found.samples is not None
    return float(found.samples.value[0, PANEL_INDEX[symbol]])


def test_missing_is_not_zero() -> None:
    found = made_here("empty-vs-zero.csv")
    assert np.isnan(value(found, "Fe"))
    assert value(found, "Cu") == 0


def test_units_in_the_header_are_converted() -> None:
    found = made_here("units-in-header.csv")
    assert (value(found, "Fe"), value(found, "Cu"), value(found, "KV40")) == (22, 4, 98)
    assert np.isnan(value(found, "KV100"))


@pytest.mark.parametrize(("decimal", "km"), [("comma", 8000.0), ("point", None)])
def test_thousands_are_as_the_user_says(decimal: str, km: float | None) -> None:
    found = made_here("thousands-dot.csv", decimal=decimal)
    if km is None:  # then 22,5 is no number
        assert [r.raw for r in found.rejects] == ["22,5", "13,1"]
    else:
        assert found.samples is not None
        assert found.samples.oil_distance.tolist() == [km]
        assert value(found, "Fe") == 22.5


@pytest.mark.parametrize(("order", "days"), [("dmy", ["2024-04-03", "2024-06-05"]),
                                             ("mdy", ["2024-03-04", "2024-05-06"])])
def test_ambiguous_dates_are_as_the_user_says(order: str, days: list[str]) -> None:
    found = made_here("ambiguous-dates.csv", date_order=order)
    assert found.samples is not None
    assert np.datetime_as_string(found.samples.sample_date).tolist() == days
    assert found.date_order == order


def test_names_stay_as_they_are_and_are_flagged() -> None:
    found = made_here("excel-eaten-ids.csv")
    assert found.samples is not None
    assert found.samples.engine.tolist() == ["1.00E+12", "5-Mar", "007"]
    assert [note.raw for note in found.notes] == ["1.00E+12", "5-Mar"]


def test_names_that_look_alike_stay_two() -> None:
    found = made_here("bidi-zero-width.csv")
    assert found.samples is not None
    assert found.samples.engine.tolist() == ["A\u202e1", "A\u200b1"]
    assert len(found.notes) == 2


def test_markup_stays_plain_text() -> None:
    found = made_here("html.csv")
    assert found.samples is not None
    assert found.samples.engine.tolist() == list(UNITS[7:10])


def test_delimiter_is_shown() -> None:
    assert made_here("tab-in-csv.csv").delimiter == "\t"
    assert made_here("sep-line.csv").delimiter == ";"
    assert made_here("sep-line.csv").header == 2


THIRD_PARTY = ("csv-spectrum", "csvkit", "csv-parser", "naughty-strings")


def outcome(data: bytes, name: str, options: ReadOptions) -> ParsedFile | FileRefused:
    """Read a file that is no lab file: a clean table, questions, or a refusal."""
    start = time.monotonic()
    result: ParsedFile | FileRefused
    try:
        result = read_file(data, filename=name, options=options, known=known())
    except FileRefused as refused:
        result = refused
    assert time.monotonic() - start < 5
    return result


def check_refusal(refused: FileRefused, name: str) -> None:
    assert refused.message.startswith(f"{name}: ")
    assert refused.hint


@pytest.mark.parametrize("folder", THIRD_PARTY)
def test_third_party_files(shared: Path, folder: str) -> None:
    """Files that others collected: nothing uncaught, and every record accounted for."""
    files = sorted(path for path in (shared / "data" / "bad-inputs" / folder).iterdir()
                   if path.is_file())
    assert files
    read_with_answers = 0
    for path in files:
        data = path.read_bytes()
        first = outcome(data, path.name, ReadOptions())
        if isinstance(first, FileRefused):
            check_refusal(first, path.name)
            headings = headings_by_note(data)
        else:
            assert first.questions or not first.accepted
            headings = list(first.headings)
        matches = {heading: "note" if at == 0 else "ignore"
                   for at, heading in enumerate(headings)}
        again = outcome(data, path.name, ReadOptions(matches=matches, engine="E1"))
        if isinstance(again, FileRefused):
            check_refusal(again, path.name)
        else:
            # The engine is said, and no row has a date: every row is rejected and none is lost
            # (the identity is asserted where the result is made).
            read_with_answers += 1
            assert again.accepted == 0
            assert again.rejected == again.records - again.header - again.blank
    assert read_with_answers >= len(files) // 3


def headings_by_note(data: bytes) -> list[str]:
    """Give the first line of a file that was refused, split at commas."""
    first = data.decode("utf-8", "replace").lstrip("\ufeff").splitlines()[:1]
    return [h for h in (first[0].split(",") if first else []) if h.strip()]
