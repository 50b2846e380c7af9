"""Write the lock files from pyproject.toml: exact versions with hashes, for every platform.

Run it with any Python 3.11 or newer, from anywhere: ``python requirements/make_lock.py``. It
makes a throw-away environment for the resolver, so nothing has to be installed first. Add
``--upgrade`` to move every package to its newest allowed release; without it, pins stay
where they can.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
RESOLVER = "uv==0.13.9"
# What builds the project itself; locked too, so that an installation fetches nothing unpinned.
BUILD = "hatchling>=1.27,<2\neditables>=0.6,<1\n"


def resolve(uv: Path, output: str, *options: str) -> None:
    """Resolve pyproject.toml and the build tools into one lock file."""
    build = Path(uv.parent.parent, "build.in")
    build.write_text(BUILD, encoding="utf-8")
    # The machine's own index settings must not leak into a file that is meant for everyone.
    clean = {name: value for name, value in os.environ.items()
             if not name.startswith(("UV_", "PIP_"))}
    command = [
        str(uv), "pip", "compile", "pyproject.toml", str(build), "--output-file", output,
        "--universal", "--python-version", "3.11", "--generate-hashes", "--no-config",
        "--no-emit-index-url", "--no-emit-find-links", "--no-annotate", "--quiet",
        "--custom-compile-command", "python requirements/make_lock.py", *options]
    subprocess.run(command, cwd=ROOT, env=clean, check=True)


def main() -> None:
    """Make both lock files; the run set is held to the versions of the test set."""
    upgrade = ["--upgrade"] if "--upgrade" in sys.argv[1:] else []
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        tools = Path(folder, "Scripts" if os.name == "nt" else "bin")
        subprocess.run([tools / "python", "-m", "pip", "install", "--quiet", RESOLVER],
                       check=True)
        uv = tools / ("uv.exe" if os.name == "nt" else "uv")
        resolve(uv, "requirements/lock-test.txt", "--extra", "test", *upgrade)
        resolve(uv, "requirements/lock.txt", "--constraint", "requirements/lock-test.txt",
                *upgrade)


if __name__ == "__main__":
    main()
