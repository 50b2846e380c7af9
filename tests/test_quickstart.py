"""quickstart.py: standard library only, readable for old Pythons, installs once and only inside."""

from __future__ import annotations

import ast
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.house import ROOT

FILE = ROOT / "quickstart.py"


@pytest.fixture
def quick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Load quickstart.py with its folders under a temporary one."""
    spec = importlib.util.spec_from_file_location("quickstart", FILE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("lock.txt", "lock-test.txt", "pyproject.toml"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "made-by-quickstart.json")
    monkeypatch.setattr(module, "DEMO", tmp_path / ".demo-data")
    monkeypatch.setattr(module, "PROJECT", tmp_path / "pyproject.toml")
    monkeypatch.setattr(module, "LOCKS", {"run": tmp_path / "lock.txt",
                                          "test": tmp_path / "lock-test.txt"})
    return module


@pytest.fixture
def commands(quick: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Record what quickstart would run, in place of running it."""
    seen: list[list[str]] = []

    def record(command: list[Any], **_: Any) -> subprocess.CompletedProcess[str]:
        words = [str(word) for word in command]
        seen.append(words)
        if words[1:3] == ["-m", "venv"]:
            python = quick.venv_python()
            python.parent.mkdir(parents=True)
            python.write_text("", encoding="utf-8")
        if "demo" in words:
            Path(words[-1]).mkdir()
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(quick.subprocess, "run", record)
    return seen


def kinds(commands: list[list[str]]) -> list[str]:
    """Name each command by what it does."""
    marks = {"venv": "venv", "--require-hashes": "lock", "--editable": "project", "demo": "demo"}
    return [next(kind for mark, kind in marks.items() if mark in words) for words in commands]


def test_only_the_standard_library_is_used() -> None:
    tree = ast.parse(FILE.read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import)
             for alias in node.names}
    names |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {"subprocess", "pathlib"} <= names
    assert {name.partition(".")[0] for name in names} <= sys.stdlib_module_names


def test_an_old_python_can_read_it() -> None:
    tree = ast.parse(FILE.read_text(encoding="utf-8"), feature_version=(3, 6))
    # The grammar check above lets newer syntax through in places; these two it would miss.
    assert not [n for n in ast.walk(tree) if isinstance(n, ast.NamedExpr | ast.AnnAssign)]
    assert "from __future__" not in FILE.read_text(encoding="utf-8")


def test_an_old_python_gets_a_sentence(quick: ModuleType) -> None:
    with pytest.raises(quick.Stop, match=(
            r"^Python 3\.11 or newer is needed, this is Python 3\.10\. Install a newer one and "
            r"start this file with it\.$")):
        quick.check_python((3, 10, 13))
    quick.check_python((3, 11, 0))


def test_a_first_run_makes_everything_and_a_second_nothing(
        quick: ModuleType, commands: list[list[str]]) -> None:
    quick.install("run")
    assert kinds(commands) == ["venv", "lock", "project"]
    assert str(quick.LOCKS["run"]) in commands[1]
    quick.install("run")
    assert len(commands) == 3


def test_the_test_packages_are_added_to_the_others(
        quick: ModuleType, commands: list[list[str]]) -> None:
    quick.install("run")
    quick.install("test")
    assert kinds(commands) == ["venv", "lock", "project", "lock"]
    assert str(quick.LOCKS["test"]) in commands[3]


@pytest.mark.parametrize("lock", ["lock.txt", "lock-test.txt"])
def test_a_changed_lock_starts_afresh(
        quick: ModuleType, commands: list[list[str]], tmp_path: Path, lock: str) -> None:
    quick.install("run")
    quick.install("test")
    commands.clear()
    (tmp_path / lock).write_text("changed", encoding="utf-8")
    quick.install("test")
    assert kinds(commands) == ["venv", "lock", "project"]


def test_a_changed_pyproject_installs_the_project_again(
        quick: ModuleType, commands: list[list[str]], tmp_path: Path) -> None:
    quick.install("run")
    commands.clear()
    (tmp_path / "pyproject.toml").write_text("changed", encoding="utf-8")
    quick.install("run")
    assert kinds(commands) == ["project"]


@pytest.mark.parametrize("stamp", ["{}", "{\"run\": \"abc"])
def test_a_half_made_environment_is_made_again(
        quick: ModuleType, commands: list[list[str]], stamp: str) -> None:
    quick.VENV.mkdir()
    quick.STAMP.write_text(stamp, encoding="utf-8")
    quick.install("run")
    assert kinds(commands) == ["venv", "lock", "project"]


def test_somebody_elses_environment_is_left_alone(
        quick: ModuleType, commands: list[list[str]]) -> None:
    quick.VENV.mkdir()
    kept = quick.VENV / "pyvenv.cfg"
    kept.write_text("mine", encoding="utf-8")
    with pytest.raises(quick.Stop, match=(
            r"\.venv was not made by quickstart\.py and is left alone\. Move it away or delete it, "
            r"then run this again\.$")):
        quick.install("run")
    assert kept.read_text(encoding="utf-8") == "mine"
    assert commands == []


def test_settings_that_install_elsewhere_are_dropped(
        quick: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PIP_TARGET", "/elsewhere")
    monkeypatch.setenv("SOME_SETTING", "1")
    given: dict[str, str] = {}

    def record(command: list[str], **options: Any) -> subprocess.CompletedProcess[str]:
        given.update(options["env"])
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(quick.subprocess, "run", record)
    quick.run("true", doing="trying")
    assert "PIP_TARGET" not in given
    assert given["PATH"] == os.environ["PATH"]


def test_a_failing_step_is_named(quick: ModuleType, tmp_path: Path) -> None:
    with pytest.raises(quick.Stop, match=(
            r"^trying failed \(see above\)\. Nothing outside \.venv and \.demo-data was touched; "
            r"run the same command again to go on\.$")):
        quick.run(sys.executable, "-c", "raise SystemExit(3)", doing="trying")


def test_the_invented_workshop_is_loaded_once(
        quick: ModuleType, commands: list[list[str]]) -> None:
    part = quick.DEMO.with_name(".demo-data.part")
    part.mkdir()
    (part / "half.sqlite").write_text("left by a run that was stopped", encoding="utf-8")
    quick.load_demo()
    assert commands[0][1:] == ["-m", "oiltrend", "demo", "--data", str(part)]
    assert quick.DEMO.is_dir()
    assert list(quick.DEMO.iterdir()) == []
    quick.load_demo()
    assert len(commands) == 1


def test_what_each_command_ends_in(
        quick: ModuleType, commands: list[list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    last: list[tuple[str, ...]] = []
    monkeypatch.setattr(quick, "become", lambda *words: last.append(tuple(map(str, words))))
    quick.main([])
    quick.main(["test", "-k", "wear"])
    python = str(quick.venv_python())
    assert last == [(python, "-m", "oiltrend", "serve", "--data", str(quick.DEMO)),
                    (python, "-m", "pytest", "-k", "wear")]
    assert json.loads(quick.STAMP.read_text(encoding="utf-8")).keys() == {"run", "test", "project"}


def test_an_unknown_argument_gets_a_sentence_and_status_2() -> None:
    ended = subprocess.run([sys.executable, str(FILE), "tset"], capture_output=True, text=True,
                           check=False)
    assert ended.returncode == 2
    assert ended.stderr == ("quickstart: unknown argument 'tset'. Use no argument (serve the "
                            "invented workshop) or 'test'.\n")
    assert ended.stdout == ""


def test_the_last_program_gives_the_exit_status(tmp_path: Path) -> None:
    script = (f"import sys; sys.path.insert(0, {str(ROOT)!r}); import quickstart; "
              f"sys.exit(quickstart.become(sys.executable, '-c', 'raise SystemExit(5)'))")
    ended = subprocess.run([sys.executable, "-B", "-c", script], check=False)
    assert ended.returncode == 5
