"""The lock files: complete, hashed, free of any one machine's settings, above the floors."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from tests.house import ROOT

FOLDER = ROOT / "requirements"
LOCKS = ("lock.txt", "lock-test.txt")
FLOORS = [Requirement(line.partition("#")[0]) for line in
          (FOLDER / "security-floors.txt").read_text(encoding="utf-8").splitlines()
          if line.partition("#")[0].strip()]
PLATFORMS = [{"sys_platform": system, "platform_system": name, "os_name": os_name,
              "python_version": python, "python_full_version": f"{python}.0"}
             for system, name, os_name in (("linux", "Linux", "posix"), ("darwin", "Darwin",
                                           "posix"), ("win32", "Windows", "nt"))
             for python in ("3.11", "3.12", "3.13")]


def pins(lock: str) -> list[tuple[Requirement, list[str]]]:
    """Read a lock file as pins with their hashes."""
    text = (FOLDER / lock).read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return [(Requirement(line.split(" --hash=")[0]), re.findall(r"--hash=(\S+)", line))
            for line in lines]


def pinned(lock: str, platform: dict[str, str]) -> dict[str, Version]:
    """Give the one version of each package that a platform gets."""
    found: dict[str, Version] = {}
    for pin, _ in pins(lock):
        if pin.marker is None or pin.marker.evaluate(platform):
            name = canonicalize_name(pin.name)
            assert name not in found, f"{lock} pins {name} twice for {platform}"
            found[name] = Version(next(iter(pin.specifier)).version)
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_every_pin_is_exact_and_hashed(lock: str) -> None:
    assert len(pins(lock)) > 20
    for pin, hashes in pins(lock):
        assert [spec.operator for spec in pin.specifier] == ["=="], str(pin)
        assert hashes, str(pin)
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", digest) for digest in hashes), str(pin)


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_host_and_no_folder(lock: str) -> None:
    text = (FOLDER / lock).read_text(encoding="utf-8")
    assert re.findall(r"https?:|file:|--(?:extra-)?index-url|--find-links|@ ", text) == []


@pytest.mark.parametrize("platform", PLATFORMS, ids=lambda p: f"{p['sys_platform']}-"
                         f"{p['python_version']}")
def test_the_locks_satisfy_pyproject_everywhere(platform: dict[str, str]) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    run, test = (pinned(lock, platform) for lock in LOCKS)
    assert {name: test.get(name) for name in run} == run
    extras = project["optional-dependencies"]
    wanted = [("run", run, line) for line in project["dependencies"]]
    wanted += [("test", test, line) for line in extras["test"] + extras["postgresql"]
               if not line.startswith("oiltrend")]
    for which, lock, line in wanted:
        need = Requirement(line)
        if need.marker is None or need.marker.evaluate(platform):
            found = lock.get(canonicalize_name(need.name))
            assert found is not None, f"{which}: {line} is not locked"
            assert need.specifier.contains(found), f"{which}: {line} is locked at {found}"


@pytest.mark.parametrize("floor", FLOORS, ids=str)
def test_nothing_lies_below_a_security_floor(floor: Requirement) -> None:
    assert floor.specifier.contains(version(floor.name))
    for lock in LOCKS:
        for platform in PLATFORMS:
            assert floor.specifier.contains(pinned(lock, platform)[canonicalize_name(floor.name)])


def test_the_lock_is_made_from_the_build_tools_of_pyproject() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    recipe = Path(FOLDER / "make_lock.py").read_text(encoding="utf-8")
    assert all(f'"{need}' in recipe for need in project["build-system"]["requires"])
