"""Watch in a real browser: when the first rows stand there, with 10,000 engines and with 100."""

from __future__ import annotations

import json
import sys
import threading
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from oiltrend.dashboard.serve import make_server
from oiltrend.store import open_store
from tests.benchmarks.harness import Measure, in_a_fresh_process, median_seconds
from tests.benchmarks.stores import Bench
from tests.needs import GET_CHROMIUM, chromium_flags, find_chromium


def open_once(browser: Browser, address: str) -> None:
    """Open Watch in a fresh context and wait until its first row is visible."""
    context = browser.new_context()
    try:
        page = context.new_page()
        page.goto(address, wait_until="commit")
        page.locator(".watch-row").first.wait_for(state="visible", timeout=30_000)
    finally:
        context.close()


def measure(folder: Path, runs: int) -> None:
    """Serve one store, open Watch several times, print the median as JSON."""
    chromium = find_chromium()
    if chromium is None:
        raise RuntimeError(GET_CHROMIUM)
    store = open_store(folder=folder)
    server = make_server(store, port=0)
    threading.Thread(target=server.run, daemon=True).start()
    address = f"http://127.0.0.1:{server.effective_port}/"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=chromium_flags())
        open_once(browser, address)
        took = median_seconds(lambda: open_once(browser, address), runs=runs)
        browser.close()
    server.close()
    print(json.dumps({"seconds": took}))


def run(bench: Bench) -> list[Measure]:
    """Measure both fleets, turn and turn about, and compare the better run of each."""
    runs = 1 if bench.quick else 7
    large, small = bench.fleet(10_000), bench.fleet(100)
    took = [[in_a_fresh_process("tests.benchmarks.watch_page", folder, runs)["seconds"]
             for folder in (large, small)] for _ in range(1 if bench.quick else 2)]
    many, few = (min(column) for column in zip(*took, strict=True))
    return [Measure("Watch, first rows with 10,000 engines against 100", many / few, "times", 1.5,
                    note=f"{many:.2f} s against {few:.2f} s")]


if __name__ == "__main__":
    measure(Path(sys.argv[1]), int(sys.argv[2]))
