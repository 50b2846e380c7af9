"""Commands as a shop types them: output, JSON, exit status, known errors as sentences."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from oiltrend.cli import COMMANDS, main
from tests.assessment.fleets import PUBLISHED_FILLS

FAMILY = "family,rods,oil_fill_l\nmining,8,150\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A data folder that has the family, and the published fills as a file beside it."""
    (tmp_path / "families.csv").write_text(FAMILY)
    lines = ["engine,sample_id,hours,oil_hours,oil_changed,Fe,Cu"]
    for engine, fills in PUBLISHED_FILLS.items():
        for name, offset, points in fills:
            for place, (hours, iron, copper) in enumerate(points):
                changed = "yes" if place == len(points) - 1 else "no"
                lines.append(f"{engine},{name}-{hours},{offset + hours},{hours},{changed},{iron},"
                             f"{'' if copper is None else copper}")
    (tmp_path / "fills.csv").write_text("\n".join(lines) + "\n")
    run(tmp_path, "import", "--kind", "families", str(tmp_path / "families.csv"))
    return tmp_path


def run(folder: Path, command: str, *words: str) -> int:
    return main(words=[command, "--data", str(folder / "data"), *words])


def document(capsys: pytest.CaptureFixture[str], folder: Path, command: str, *words: str
             ) -> tuple[int, Any]:
    capsys.readouterr()
    status = run(folder, command, "--json", *words)
    return status, json.loads(capsys.readouterr().out)


def test_published_fills_are_imported_and_judged(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, report = document(capsys, folder, "import", str(folder / "fills.csv"),
                              "--create-engines", "mining")
    assert status == 0
    assert (report["records"], report["header"], report["accepted"], report["stored"]) == (
        25, 1, 24, 24)
    assert report["records"] == sum(report[name] for name in (
        "header", "accepted", "held", "rejected", "duplicates", "blank"))
    status, verdicts = document(capsys, folder, "assess")
    by_engine = {verdict["engine"]: verdict for verdict in verdicts}
    assert status == 0
    (doubt,) = by_engine["A"]["doubts"]
    assert doubt["code"] == "metals_fell_together"
    assert by_engine["B"]["level"] == "alert"
    assert by_engine["B"]["reasons"][0]["measurand"] == "Fe"
    assert by_engine["B"]["doubts"] == []
    assert by_engine["B"]["chance"] is None
    assert "Pb" in by_engine["B"]["not_measured"]


def test_as_of_hides_nothing_dated_and_fail_on_sets_the_exit_status(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(folder, "import", str(folder / "fills.csv"), "--create-engines", "mining")
    assert run(folder, "assess", "--fail-on", "alarm") == 0
    assert run(folder, "assess", "--fail-on", "alert") == 1
    assert run(folder, "assess", "A", "--fail-on", "alert") == 1
    text = capsys.readouterr().out
    assert "A decision aid" in text
    assert "stop it as soon as traffic allows" in text


def test_unknown_engines_are_held_and_told(folder: Path,
                                           capsys: pytest.CaptureFixture[str]) -> None:
    status, report = document(capsys, folder, "import", str(folder / "fills.csv"))
    assert (status, report["held"], report["stored"]) == (1, 24, 0)
    assert run(folder, "import", str(folder / "fills.csv")) == 1
    assert "engine 'A' is not known: 13 rows held (from line 2)" in capsys.readouterr().out


def test_rejected_rows_store_nothing_and_exit_two_unless_asked(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = folder / "bad.csv"
    bad.write_text("engine,hours,Fe\nA,61,8\nA,62,lots\n")
    assert run(folder, "import", str(bad), "--create-engines", "mining") == 2
    told = capsys.readouterr()
    assert "line 3, Fe" in told.out
    assert "Nothing was stored because rows were rejected" in told.err
    status, report = document(capsys, folder, "import", str(bad), "--good-rows-only",
                              "--create-engines", "mining")
    assert (status, report["stored"], report["rejected"]) == (1, 1, 1)
    assert (report["rejects"][0]["line"], report["rejects"][0]["raw"]) == (3, "lots")


def test_several_files_give_a_list_and_the_worst_status(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "scan.csv").write_bytes(b"%PDF-1.7\n")
    status, reports = document(capsys, folder, "import", str(folder / "fills.csv"),
                               str(folder / "scan.csv"), "--create-engines", "mining")
    assert status == 1
    assert [report["stored"] for report in reports] == [24, 0]
    assert "PDF" in reports[1]["error"]


def test_question_is_told_with_its_answers_and_the_option_answers_it(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = folder / "asked.csv"
    asked.write_text("engine,sample_date,hours,Fe\nA,03/04/2020,61,8\n")
    status, report = document(capsys, folder, "import", str(asked), "--create-engines", "mining")
    assert (status, report["stored"]) == (2, 0)
    assert report["questions"][0]["code"] == "date_order"
    status, report = document(capsys, folder, "import", str(asked), "--date-order", "dmy",
                              "--create-engines", "mining")
    assert (status, report["stored"]) == (0, 1)


def test_dry_run_and_match(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    odd = folder / "odd.csv"
    odd.write_text("Motor Kennung,hours,Fe\nA,61,8\n")
    status, report = document(capsys, folder, "import", str(odd), "--match",
                              "Motor Kennung=engine", "--dry-run")
    assert (status, report["held"], report["stored"]) == (1, 1, 0)
    assert run(folder, "import", str(odd), "--match", "nonsense") == 2
    assert "--match: must read COLUMN=NAME, found 'nonsense'" in capsys.readouterr().err


def test_unit_numbers_are_matched_and_answers_remembered(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(folder, "import", str(folder / "fills.csv"), "--create-engines", "mining")
    odd = folder / "odd.csv"
    odd.write_text("Rig,Pulled,hours,Fe\nU-1,03/04/2021,2000,8\n")
    status, report = document(
        capsys, folder, "import", str(odd), "--match", "Rig=engine", "--match",
        "Pulled=sample_date", "--unit", "U-1=A", "--lab", "Lab B", "--date-order", "dmy",
        "--remember", "Lab B sheets")
    assert (status, report["stored"]) == (0, 1)
    following = folder / "following.csv"
    following.write_text("Rig,Pulled,hours,Fe\nU-1,05/06/2021,2100,9\n")
    status, report = document(capsys, folder, "import", str(following), "--map", "Lab B sheets")
    assert (status, report["stored"]) == (0, 1)


def test_missing_file_and_bad_date_are_sentences(folder: Path,
                                                 capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder, "import", str(folder / "none.csv")) == 2
    assert "cannot be read" in capsys.readouterr().err
    assert run(folder, "assess", "--as-of", "soon") == 2
    assert "--as-of: must be a date, found 'soon'" in capsys.readouterr().err


def test_template_columns_and_their_description(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words=["template", "events"]) == 0
    columns = capsys.readouterr().out.strip().split(",")
    assert columns[:3] == ["engine", "event", "date"]
    assert main(words=["template", "events", "--describe"]) == 0
    told = capsys.readouterr().out
    assert all(column in told for column in columns)
    assert main(words=["template", "samples", "--json"]) == 0
    described = json.loads(capsys.readouterr().out)
    assert {"column": "Fe", "unit": "mg/kg", "meaning": "iron", "allowed": [],
            "required": False} in described


def test_export_reads_back_as_it_was(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(folder, "import", str(folder / "fills.csv"), "--create-engines", "mining")
    out = folder / "out"
    assert run(folder, "export", "--out", str(out)) == 0
    assert run(folder, "export", "--out", str(out)) == 2
    assert "must be new or empty" in capsys.readouterr().err
    fresh = folder / "fresh"
    fresh.mkdir()
    for kind in ("families", "engines"):
        assert run(fresh, "import", "--kind", kind, str(out / f"{kind}.csv")) == 0
    assert run(fresh, "import", str(out / "samples.csv")) == 0
    first = document(capsys, folder, "assess")[1]
    second = document(capsys, fresh, "assess")[1]
    assert [(v["engine"], v["level"], v["wear_rate"]) for v in first] == [
        (v["engine"], v["level"], v["wear_rate"]) for v in second]
    with (out / "columns.csv").open(newline="") as file:
        assert {"kind": "samples", "column": "Fe", "unit": "mg/kg", "meaning": "iron"} in list(
            csv.DictReader(file))


def test_json_export_keeps_the_text_as_received(folder: Path,
                                                capsys: pytest.CaptureFixture[str]) -> None:
    file = folder / "low.csv"
    file.write_text("engine,hours,Fe,Cu\nA,61,8.0,<1\n")
    run(folder, "import", str(file), "--create-engines", "mining")
    assert run(folder, "export", "--format", "json", "--out", str(folder / "all.json")) == 0
    (sample,) = json.loads((folder / "all.json").read_text())["samples"]
    assert sample["readings"] == {"Fe": {"value": 8.0, "qualifier": "EXACT", "raw": "8.0"},
                                  "Cu": {"value": 1.0, "qualifier": "BELOW", "raw": "<1"}}


def test_check_tells_the_state_of_the_store(folder: Path,
                                            capsys: pytest.CaptureFixture[str]) -> None:
    status, health = document(capsys, folder, "check")
    assert status == 0
    assert health["integrity"] == "ok"
    assert health["journal"] in ("wal", "delete")


def test_demo_loads_once_and_watch_has_an_order(folder: Path,
                                                capsys: pytest.CaptureFixture[str]) -> None:
    fresh = folder / "demo"
    status, first = document(capsys, fresh, "demo")
    again = document(capsys, fresh, "demo")[1]
    assert status == 0
    assert (first["loaded"], again["loaded"]) == (True, False)
    assert first["engines"] >= 40
    levels = [verdict["level"] for verdict in document(capsys, fresh, "assess")[1]]
    ranks = [{"alarm": 0, "alert": 1, "no_alarm": 2, None: 3}[level] for level in levels]
    assert ranks == sorted(ranks)
    assert len(set(levels)) >= 3


def test_every_command_has_help(capsys: pytest.CaptureFixture[str]) -> None:
    for name, command in COMMANDS.items():
        with pytest.raises(SystemExit) as stop:
            main(words=[name, "--help"])
        assert stop.value.code == 0
        assert command.meaning in capsys.readouterr().out


def test_serve_beyond_this_machine_is_refused(folder: Path,
                                              capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder, "serve", "--host", "0.0.0.0") == 2
    assert "may only be opened on this computer, found '0.0.0.0'" in capsys.readouterr().err
