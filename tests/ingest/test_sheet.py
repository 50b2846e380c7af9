import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import FileRefused
from oiltrend.ingest.model import SizeCaps
from oiltrend.ingest.sheet import FIELD_LIMIT, Sheet, heading_line, read_sheet


def known_headings(headings):
    return len({"engine", "Fe", "Cu", "note"} & set(headings))


def sheet_of(text, caps=None) -> Sheet:
    return read_sheet(text, filename="a.csv", recognised=known_headings, caps=caps)


def rows(sheet):
    return [tuple(cells.text(row) for cells in sheet.cells) for row in range(len(sheet.lines))]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiters_are_told_by_the_headings(delimiter):
    text = "engine,Fe,note\nE1,5,a b\n".replace(",", delimiter)
    found = sheet_of(text)
    assert found.delimiter == delimiter
    assert rows(found) == [("E1", "5", "a b")]


def test_a_comma_inside_a_heading_does_not_mislead():
    assert sheet_of("engine;Fe;rest, of it, all\nE1;5;1,2,3\n").delimiter == ";"


def test_unknown_headings_go_by_the_shape_of_the_rows():
    assert sheet_of("a;b\n1;2\n3;4\n").delimiter == ";"


@pytest.mark.parametrize("line", ["sep=;\n", "SEP=;\r\n", "\ufeffsep=;\n"])
def test_a_sep_line_is_heading_matter(line):
    found = sheet_of(line + "engine;Fe\nE1;5\n")
    assert (found.delimiter, found.header, found.records) == (";", 2, 3)
    assert rows(found) == [("E1", "5")]
    assert found.lines.tolist() == [3]


def test_any_mark_may_follow_sep():
    assert sheet_of("sep=^\nengine^Fe\nE1^5\n").delimiter == "^"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end):
    found = sheet_of(f"engine,Fe{end}E1,5{end}E2,6{end}")
    assert rows(found) == [("E1", "5"), ("E2", "6")]
    assert found.lines.tolist() == [2, 3]


def test_lines_are_counted_through_cells_with_line_breaks():
    found = sheet_of('engine,note\nE1,"one\ntwo"\nE2,x\n')
    assert found.lines.tolist() == [2, 4]
    note, = found.notes
    assert (note.line, note.text) == (
        2, "this row runs over lines 2 to 3: a cell has a line break in it")


def test_rows_are_never_shifted_or_filled():
    found = sheet_of("engine,Fe\nE1\nE1,5,6\nE1,5,,\n,\n\nE2,7\n")
    assert rows(found) == [("E1", "5"), ("E2", "7")]
    assert [(r.line, r.reason) for r in found.rejects] == [
        (2, "a row must have 2 cells, found 1"), (3, "a row must have 2 cells, found 3")]
    assert (found.records, found.blank) == (7, 2)


def test_blank_headings_at_the_end_count_only_when_nothing_stands_below():
    found = sheet_of("engine,Fe,,\nE1,5,,\nE1,5,6,\n")
    assert found.headings == ("engine", "Fe")
    assert [r.line for r in found.rejects] == [3]


def test_a_text_is_kept_once_for_all_its_rows():
    found = sheet_of("engine,Fe\nE1,5\nE2,5\nE1,6\n")
    assert found.cells[0].texts == ["E1", "E2"]
    assert found.cells[0].codes.tolist() == [0, 1, 0]


def test_many_rows_keep_their_order():
    text = "engine,Fe\n" + "".join(f"E{n % 7},{n}\n" for n in range(10_000))
    found = sheet_of(text)
    assert rows(found) == [(f"E{n % 7}", str(n)) for n in range(10_000)]
    assert found.lines.tolist() == list(range(2, 10_002))


def test_a_cell_over_the_limit_rejects_its_row_only():
    text = f"engine,Fe\n{'x' * (FIELD_LIMIT + 1)},5\n{'y' * FIELD_LIMIT},6\n"
    found = sheet_of(text)
    assert [r.line for r in found.rejects] == [2]
    assert len(found.rejects[0].raw) == 301
    assert len(rows(found)) == 1


CAPS = SizeCaps(file_bytes=1000, rows=2, columns=3, field_characters=4)


def test_caps_on_rows_and_columns_refuse_the_file():
    with pytest.raises(FileRefused) as refused:
        sheet_of("engine,Fe\n1,2\n1,2\n1,2\n", CAPS)
    assert str(refused.value) == ("a.csv: must have at most 2 rows, found more; split the file, "
                                  "or import it on the command line")
    with pytest.raises(FileRefused) as refused:
        sheet_of("engine,Fe,Cu,note\n", CAPS)
    assert str(refused.value) == ("a.csv: must have at most 3 columns, found 4; "
                                  "delete columns that are not needed")
    assert len(sheet_of("engine,Fe\n1,2\n1,2\n", CAPS).lines) == 2


def test_the_cap_on_a_cell_rejects_its_row():
    found = sheet_of("engine,Fe\n12345,2\n1234,2\n", CAPS)
    assert [r.reason for r in found.rejects] == ["a cell may have at most 4 characters, found 5"]


def test_the_preview_shows_the_first_rows_as_read():
    found = sheet_of("engine,note\n" + f"E1,{'x' * 500}\n" * 30)
    assert len(found.preview) == 10
    assert found.preview[0] == ("E1", "x" * 200 + "…")


def test_headings_further_down_are_found():
    assert heading_line("Report\n\nof today\nengine;Fe\nE1;5\n", known_headings) == 4
    assert heading_line("Report\n", known_headings) == 0


cell_text = st.text(alphabet=st.characters(exclude_characters="\x00\r", exclude_categories=["Cs"]),
                    max_size=8)


@given(st.lists(st.tuples(cell_text.filter(str.strip), cell_text), max_size=6),
       st.sampled_from([",", ";", "\t", "|"]))
def test_what_a_csv_writer_writes_is_read_back(table, delimiter):
    """Every cell comes back as it was, whatever is in it, and every record is counted."""
    import io
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerows([("engine", "Fe"), *table])
    found = sheet_of(out.getvalue())
    assert rows(found) == table
    assert found.records == 1 + len(table)
