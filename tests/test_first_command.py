"""What the first command of the README does, in its own processes: load, serve, stop."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.house import ROOT


def oiltrend(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "oiltrend", *map(str, arguments)], cwd=ROOT,
                          capture_output=True, text=True, encoding="utf-8", timeout=120,
                          check=False)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("first") / ".demo-data.part"
    ended = oiltrend("demo", "--data", folder)
    assert ended.returncode == 0, ended.stderr
    # quickstart.py moves the folder once it is full; nothing in it may hold on to its old name.
    return folder.rename(folder.with_name(".demo-data"))


@contextmanager
def served(demo: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Serve the folder and give the address that was printed."""
    with subprocess.Popen(
            [sys.executable, "-m", "oiltrend", "serve", "--data", str(demo), "--port", "0"],
            cwd=ROOT, stderr=subprocess.PIPE, text=True, encoding="utf-8") as program:
        try:
            assert program.stderr is not None
            line = program.stderr.readline()
            found = re.search(r"http://127\.0\.0\.1:\d+/", line)
            assert found is not None, line + program.stderr.read()
            yield found[0], program
        finally:
            program.kill()


def test_the_invented_workshop_is_loaded_once(demo: Path) -> None:
    again = oiltrend("demo", "--data", demo)
    assert (again.returncode, again.stderr) == (0, "")
    assert "is already there" in again.stdout


def test_the_dashboard_answers_at_the_printed_address(demo: Path) -> None:
    with served(demo) as (address, _):
        for path in ("", "health", "_dash-layout", "_dash-dependencies"):
            with urllib.request.urlopen(address + path, timeout=30) as answer:
                assert answer.status == 200
                assert answer.read()


@pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent the POSIX way")
def test_ctrl_c_stops_it_without_a_word(demo: Path) -> None:
    with served(demo) as (address, program):
        urllib.request.urlopen(address + "health", timeout=30).close()
        program.send_signal(signal.SIGINT)
        assert program.wait(timeout=30) == 0
        assert program.stderr is not None
        assert program.stderr.read() == ""


def test_a_port_that_is_taken_gives_a_sentence(demo: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        ended = oiltrend("serve", "--data", demo, "--port", str(port))
    assert ended.returncode == 2
    assert re.fullmatch(
        rf"oiltrend: port: must be a free one, found {port} \([^)]+\)\n"
        r"  What to do: stop what uses it, or choose another with --port\n", ended.stderr)
