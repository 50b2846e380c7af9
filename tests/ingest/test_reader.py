"""The whole path: sizes, questions, locales, and files that have been tampered with."""

import csv
import io
import itertools
import random
from datetime import date, timedelta
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.errors import FileRefused
from oiltrend.ingest import WEB_CAPS, ParsedFile, ReadOptions, SizeCaps, read_file
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import Qualifier
from tests.ingest.reading import TODAY, counts, known, read
from tests.ingest.test_registers import FILES

GOOD = ("engine,sample_id,sample_date,odometer_km,oil_distance_km,oil_changed,Fe,Pb,KV100,note\n"
        + "".join(f"E{1 + n % 2},S{n},2024-{1 + n % 12:02d}-15,{81000 + n},{5000 + n},"
                  f"{'yes' if n % 3 else 'no'},{10 + n}.5,<{1 + n},13.{n % 10},\"a, b {n}\"\n"
                  for n in range(12)))


def test_the_file_is_told_by_its_content():
    found = read(b"engine,hours\n")
    assert found.sha256 == sha256(b"engine,hours\n").hexdigest()


def test_size_of_the_file_is_capped_for_the_browser_only():
    caps = SizeCaps(file_bytes=10, rows=10, columns=10, field_characters=10)
    with pytest.raises(FileRefused) as refused:
        read_file(GOOD.encode(), filename="a.csv", options=ReadOptions(), known=known(),
                  size_caps=caps)
    assert str(refused.value) == (f"a.csv: must have at most 10 bytes, found {len(GOOD)}; "
                                  "split the file, or import it on the command line")
    capped = read_file(GOOD.encode(), filename="a.csv", options=ReadOptions(), known=known(),
                       size_caps=WEB_CAPS)
    assert counts(capped) == counts(read(GOOD)) == [13, 1, 12, 0, 0, 0, 0]


def test_an_open_question_holds_every_row_that_has_the_right_shape():
    found = read("engine,Date,Fe\nE1,03/04/2025,x\nE1,03/04/2025\n\nE9,03/04/2025,2\n")
    assert counts(found) == [5, 1, 0, 2, 1, 0, 1]
    assert found.samples is None
    assert found.held_rows == ()


def test_rejects_stand_in_the_order_of_the_file():
    found = read("engine,hours,Fe,Pb\nH1,5,x,1\nH1,6\nH1,7,1,y\nH1,z,x,1\n")
    assert [r.line for r in found.rejects] == [2, 3, 4, 5, 5]
    assert found.rejected == 4


def write(day, value, sign, *, locale):
    """Write a day, a number and a censored number as a locale does."""
    decimal, order, _ = locale
    number = f"{value:.2f}".replace(".", "," if decimal == "comma" else ".")
    form = {"dmy": "%d.%m.%Y", "mdy": "%m/%d/%Y", "ymd": "%Y-%m-%d"}[order]
    return [day.strftime(form), number, sign + number]


LOCALES = [("point", "mdy", ","), ("comma", "dmy", ";"), ("point", "ymd", ","),
           ("comma", "ymd", "\t"), ("point", "dmy", "|"), ("comma", "dmy", ",")]


@given(st.lists(st.tuples(st.integers(0, 5000), st.floats(0.01, 5000), st.sampled_from("<>")),
                min_size=1, max_size=8, unique_by=lambda row: row[0]), st.sampled_from(LOCALES))
def test_a_table_comes_back_as_it_was_written_or_is_asked_about(rows, locale):
    decimal, order, delimiter = locale
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerow(["engine", "Datum", "Fe", "Pb"])
    expected = []
    for ago, value, sign in rows:
        day = TODAY - timedelta(days=ago)
        writer.writerow(["E1", *write(day, value, sign, locale=locale)])
        expected.append((day, round(value, 2), sign))
    found = read(out.getvalue())
    if found.questions:
        assert {q.code for q in found.questions} <= {"date_order", "decimal"}
        found = read(out.getvalue(), decimal=decimal, date_order=order)
    assert found.accepted == len(rows)
    assert found.samples is not None
    got = [(day.astype(date), value[PANEL_INDEX["Fe"]], value[PANEL_INDEX["Pb"]],
            Qualifier(qualifier[PANEL_INDEX["Pb"]]))
           for day, value, qualifier in zip(found.samples.sample_date, found.samples.value,
                                            found.samples.qualifier, strict=True)]
    assert got == [(day, value, value, Qualifier.BELOW if sign == "<" else Qualifier.ABOVE)
                   for day, value, sign in expected]


INSERTS = ['"', ",", ";", "\n", "\r", "\t", "\x00", "\ufeff", "é", "\u202e", "'", "=", "<", "-",
           "nan", "1e999", "99/99/9999", " ", "0", "sep=;\n", "\u2028", "x" * 300]


def mutated(rng: random.Random, text: str = GOOD) -> bytes:
    """Spoil a good file in one to four places: add, cut, double, swap, break the encoding."""
    for _ in range(rng.randint(1, 4)):
        at, to = sorted((rng.randrange(len(text) + 1), rng.randrange(len(text) + 1)))
        step = rng.randrange(5)
        if step == 0:
            text = text[:at] + rng.choice(INSERTS) + text[at:]
        elif step == 1:
            text = text[:at] + text[min(to, at + rng.randint(1, 5)):]
        elif step == 2:
            text = text[:to] + text[at:to] + text[to:]
        elif step == 3:
            lines = text.split("\n")
            rng.shuffle(lines)
            text = "\n".join(lines)
        else:
            text = text.replace(rng.choice(",.;-"), rng.choice(",.;\t"), rng.randint(1, 30))
        text = text[:20_000]
    data = text.encode(rng.choice(["utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16"]))
    if rng.random() < 0.1:
        data = data[:rng.randrange(len(data) + 1)]
    if rng.random() < 0.1:
        at = rng.randrange(len(data) + 1)
        data = data[:at] + bytes(rng.randrange(256) for _ in range(3)) + data[at:]
    return data


def strict_records(data: bytes, found: ParsedFile) -> int:
    """Count the records with the standard reader, as an independent witness."""
    body = data if found.encoding == "utf-16" else data.rstrip(b"\x00")
    text = body.decode(found.encoding)
    lines = io.StringIO(text.lstrip("\ufeff"), newline="")
    return sum(1 for _ in csv.reader(lines, delimiter=found.delimiter, strict=True))


def test_spoilt_files_are_refused_or_accounted_for():
    """Nothing uncaught, no record lost, no value shifted into another column."""
    rng = random.Random(20260101)
    outcomes = {"read": 0, "asked": 0, "refused": 0}
    for _ in range(3000):
        data = mutated(rng)
        try:
            found = read_file(data, filename="m.csv", options=ReadOptions(), known=known())
        except FileRefused:
            outcomes["refused"] += 1
            continue
        assert found.records == strict_records(data, found)
        outcomes["asked" if found.questions else "read"] += 1
        if found.samples is not None and len(found.samples):
            assert found.accepted == len(found.samples)
            assert not (found.samples.oil_distance > 200_000).any()
    # Each way out must be well trodden, or the test proves little.
    assert min(outcomes.values()) > 200, outcomes


LONG = "engine,sample_date,sample_id,measurand,value,unit,method\n" + "".join(
    f"E{1 + n % 2},2024-03-0{1 + n},S{n % 3},{name},{n}.5,{unit},ICP\n" for n, (name, unit) in
    enumerate([("Fe", ""), ("Pb", "ppm"), ("KV 100", "cSt"), ("fuel", "vol%"), ("Fe", "%")]))
HALVES = ("engine,teardown_date,odometer_km,rod,half,wear_stage,clearance_mm,reason,damage\n"
          + "".join(f"E1,2024-03-05,81000,{1 + n // 2},{'rod' if n % 2 else 'cap'},{n % 6},0.05,"
                    "planned,scored; wiped\n" for n in range(8)))


@pytest.mark.parametrize(("kind", "text"), [
    ("samples", LONG), ("teardowns", HALVES), *((k, t.format(5) * 2) for k, t in FILES.items())],
    ids=["long", "halves", *FILES])
def test_spoilt_files_of_the_other_kinds(kind, text):
    rng = random.Random(7)
    read_through = 0
    for _ in range(200):
        data = mutated(rng, text)
        try:
            found = read_file(data, filename="m.csv", kind=kind, options=ReadOptions(),
                              known=known())
        except FileRefused:
            continue
        assert found.records == strict_records(data, found)
        read_through += 1
    assert read_through > 40


def spoilt_cells():
    """Put a quote, a comma or a semicolon into each cell of three rows in turn."""
    rows = [line.split(",") for line in GOOD.split("\n")[:4]]
    for at, place, spoil in itertools.product((1, 2, 3), range(9), '",;'):
        spoilt = [list(row) for row in rows]
        spoilt[at][place] = rows[at][place][:1] + spoil + rows[at][place][1:]
        yield at + 1, "\n".join(",".join(row) for row in spoilt) + "\n"


@pytest.mark.parametrize(("line", "text"), list(spoilt_cells()))
def test_a_spoilt_cell_gives_the_same_table_or_less(line, text):
    whole = read(GOOD).samples
    found = read(text)
    assert whole is not None
    assert found.records == 4
    assert found.accepted + found.rejected + found.held == 3
    assert {r.line for r in found.rejects} <= {line}
    if found.samples is not None:
        for row, at in enumerate(found.samples.line.tolist()):
            same = found.samples.value[row] == whole.value[at - 2]
            if at != line:
                assert (same | (whole.qualifier[at - 2] == Qualifier.MISSING)).all()


@pytest.mark.parametrize("line", [2, 3, 4])
def test_a_quote_too_many_at_the_start_of_a_cell_names_its_line(line):
    lines = GOOD.split("\n")[:4]
    lines[line - 1] = '"' + lines[line - 1]
    with pytest.raises(FileRefused, match=f"line {line}: a "):
        read("\n".join(lines) + "\n")
