"""The callback behind an engine's charts, against a bare one that returns them ready-made."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from dash import Dash, Input, Output, State, html

from oiltrend.dashboard.app import create_app
from oiltrend.store import open_store
from tests.benchmarks.harness import Measure, in_a_fresh_process, median_seconds
from tests.benchmarks.stores import Bench

ENGINE = "E-00001"
OUTPUTS = (("engine-rate", "figure"), ("engine-rate-foot", "children"),
           ("engine-values", "figure"), ("engine-values-foot", "children"))
INPUTS = (("engine-metal", "value", "Pb"), ("engine-unit", "value", "km"),
          ("engine-panels", "value", ["Fe", "Cu", "Pb", "Sn"]), ("shell-theme", "data", "light"))
WHERE = ("_pages_location", "pathname", f"/engine/{ENGINE}")


def request() -> dict[str, Any]:
    """Give the body that the engine page sends when it is opened."""
    return {
        "output": ".." + "...".join(f"{name}.{prop}" for name, prop in OUTPUTS) + "..",
        "outputs": [{"id": name, "property": prop} for name, prop in OUTPUTS],
        "inputs": [{"id": name, "property": prop, "value": value}
                   for name, prop, value in INPUTS],
        "state": [{"id": WHERE[0], "property": WHERE[1], "value": WHERE[2]}],
        "changedPropIds": [f"{INPUTS[0][0]}.{INPUTS[0][1]}"]}


def ask(client: Any) -> dict[str, Any]:
    """Send the request and give what came back."""
    answer = client.post("/_dash-update-component", json=request())
    if answer.status_code != 200:
        raise RuntimeError(f"the callback answered {answer.status}: {answer.text[:500]}")
    return dict(json.loads(answer.text)["response"])


def bare(ready: dict[str, Any]) -> Dash:
    """Make an app with the same callback that has its answer already."""
    app = Dash("bare")
    app.layout = html.Div()
    values = [ready[name][prop] for name, prop in OUTPUTS]

    @app.callback(*(Output(name, prop) for name, prop in OUTPUTS),
                  *(Input(name, prop) for name, prop, _ in INPUTS), State(WHERE[0], WHERE[1]))
    def _give(*_: object) -> list[Any]:
        return values

    return app


def measure(folder: Path, runs: int) -> None:
    """Measure both on one store and print the figures as JSON."""
    store = open_store(folder=folder)
    try:
        ours = create_app(store).server.test_client()
        ready = ask(ours)
        if not ready["engine-rate"]["figure"]["data"]:
            raise RuntimeError("the engine page drew nothing")
        plain = bare(ready).server.test_client()
        if ask(plain) != ready:
            raise RuntimeError("the two callbacks give different answers")
        print(json.dumps({
            "ours": median_seconds(lambda: ask(ours), runs=runs),
            "bare": median_seconds(lambda: ask(plain), runs=runs),
            "kilobytes": len(json.dumps(ready)) / 1000}))
    finally:
        store.close()


def run(bench: Bench) -> list[Measure]:
    """Measure the engine page in a fleet of 10,000."""
    found = in_a_fresh_process("tests.benchmarks.engine_page", bench.fleet(10_000),
                               3 if bench.quick else 60)
    return [Measure("engine page callback, against a bare one", found["ours"] / found["bare"],
                    "times", 3, note=f"{1000 * found['ours']:.1f} ms against "
                    f"{1000 * found['bare']:.1f} ms, {found['kilobytes']:.0f} kB")]


if __name__ == "__main__":
    measure(Path(sys.argv[1]), int(sys.argv[2]))
