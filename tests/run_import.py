"""Import modules in a fresh interpreter and report everything they did that is work.

Started by ``test_public_face.py`` with the modules' names. Prints one JSON object: the acts
seen by the interpreter's own audit, and the outside packages that came along.
"""

from __future__ import annotations

import importlib
import json
import mimetypes
import os
import sys
from pathlib import Path

acts: list[str] = []
# The last are where the standard library looks up kinds of files.
HOMES = tuple(os.path.realpath(path) for path in (
    sys.prefix, sys.base_prefix, os.devnull, *mimetypes.knownfiles))
CODE = str(Path(__file__).resolve().parent.parent / "oiltrend")
WORK = ("socket.connect", "socket.bind", "socket.getaddrinfo", "sqlite3.connect", "os.mkdir",
        "os.remove", "os.rename", "os.system", "subprocess.Popen", "shutil.rmtree",
        "webbrowser.open")


def watch(event: str, arguments: tuple[object, ...]) -> None:
    """Note network, database, process and file work; reading code and installed files is not."""
    if event in WORK:
        acts.append(f"{event} {arguments[0]!r}")
    elif event == "open" and isinstance(arguments[0], str | bytes):
        path = os.path.realpath(os.fsdecode(arguments[0]))
        flags = arguments[2] if isinstance(arguments[2], int) else 0
        writes = bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))
        ours = path.startswith(CODE) and path.endswith((".py", ".pyc"))
        if writes or not (ours or path.startswith((*HOMES, "/proc", "/sys"))):
            acts.append(f"open {path}")


def main(names: list[str]) -> None:
    """Import the modules under watch, without a home and without a network."""
    sys.path.insert(0, str(Path(CODE).parent))
    before = set(sys.modules)
    sys.addaudithook(watch)
    for name in names:
        importlib.import_module(name)
    came = {module.partition(".")[0] for module in set(sys.modules) - before}
    outside = sorted(came - sys.stdlib_module_names - {"oiltrend"})
    found = list(acts)
    print(json.dumps({"acts": found, "outside": outside}))  # noqa: T201 - read by the test


if __name__ == "__main__":
    main(sys.argv[1:])
