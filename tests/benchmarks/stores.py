"""Stores of generated fleets for the benchmarks, each made once a run by the import command."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.benchmarks.generate import engine_name, lab_file
from tests.benchmarks.harness import in_a_fresh_process

FAMILY = "BENCH"
SAMPLES = 12
MEASURANDS = 25


def make_engines(folder: Path, engines: int) -> None:
    """Put the one engine family of the benchmarks and its engines into a new store."""
    texts = {"families": f"family,rods,oil_fill_l\n{FAMILY},8,8\n",
             "engines": "engine,family\n" + "".join(
                 f"{engine_name(number)},{FAMILY}\n" for number in range(engines))}
    for kind, text in texts.items():
        file = folder.with_name(f"{folder.name}-{kind}.csv")
        file.write_text(text, encoding="utf-8")
        made = in_a_fresh_process("tests.benchmarks.command", "import", file, "--kind", kind,
                                  "--data", folder)
        if made["status"] != 0:
            raise RuntimeError(f"{kind} could not be stored: {made}")


def import_into(folder: Path, file: Path) -> dict[str, float]:
    """Import a lab file with the command; give status, time and memory."""
    done: dict[str, float] = in_a_fresh_process(
        "tests.benchmarks.command", "import", file, "--good-rows-only", "--data", folder)
    if done["status"] not in (0, 1):
        raise RuntimeError(f"the import stored nothing: {done}")
    return done


class Bench:
    """One run: its folder, its size, and the fleets made so far.

    ``engines`` counts 10,000 at full size; quick runs are tiny and only show that they run.
    """

    def __init__(self, folder: Path, *, quick: bool) -> None:
        self.folder = folder
        self.quick = quick

    def size(self, engines: int) -> int:
        """Give the number of engines to use in place of the full one."""
        return max(3, engines // 500) if self.quick else engines

    def fleet(self, engines: int) -> Path:
        """Give the data folder of a fleet with that many engines at full size; read it only."""
        folder = self.folder / f"fleet-{engines}"
        if not folder.exists():
            file = self.folder / f"fleet-{engines}.csv"
            lab_file(file, engines=self.size(engines), samples=SAMPLES, measurands=MEASURANDS)
            make_engines(folder, self.size(engines))
            import_into(folder, file)
        return folder

    def own_fleet(self, engines: int, name: str) -> Path:
        """Give a copy of a fleet that may be changed."""
        return Path(shutil.copytree(self.fleet(engines), self.folder / f"{name}-{engines}"))
