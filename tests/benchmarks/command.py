"""Run one command of oiltrend in its own process and report its time and peak memory.

``python -m tests.benchmarks.command ARGUMENTS``: what the command prints is dropped; the last
line is JSON with its exit status, seconds and megabytes.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import time

from tests.benchmarks.harness import peak_mb, seconds


def main(arguments: list[str]) -> None:
    """Run the command and print what it took."""
    from oiltrend.cli import main as oiltrend

    status: list[int] = []
    printed = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    with contextlib.redirect_stdout(printed):
        began = time.process_time()
        took = seconds(lambda: status.append(oiltrend(words=arguments)))
        busy = time.process_time() - began
    printed.flush()
    text = printed.buffer.getvalue().decode()  # type: ignore[attr-defined]
    print(json.dumps({"status": status[0], "seconds": took, "processor": busy, "peak_mb": peak_mb(),
                      "printed": text if len(text) < 4000 else ""}))


if __name__ == "__main__":
    main(sys.argv[1:])
