"""The callback behind an engine's charts, against a bare one that returns them ready-made."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from dash import Dash, Input, Output, State, html

from oiltrend.dashboard.app import create_app
from oiltrend.store import open_store
from tests.benchmarks.harness import Measure, in_a_fresh_process, median_seconds, processor_seconds
from tests.benchmarks.stores import Bench

ENGINE = "E-00001"
# What stands in the page when it is opened; the callback itself says which of these it takes.
VALUES = {"engine-metal.value": "Pb", "engine-unit.value": "km",
          "engine-panels.value": ["Fe", "Cu", "Pb", "Sn"], "shell-theme.data": "light",
          "_pages_location.pathname": f"/engine/{ENGINE}"}


def charts_callback(app: Dash) -> str:
    """Find the callback that draws the charts of the engine page."""
    app.server.test_client().get("/")  # the callbacks are gathered at the first request
    found, = (name for name in app.callback_map if "engine-rate.figure" in name)
    return str(found)


def parts(joined: str) -> list[tuple[str, str]]:
    """Split ``..a.x...b.y..`` into names and properties."""
    names = joined.removeprefix("..").removesuffix("..").split("...")
    return [(name, prop) for name, _, prop in (one.rpartition(".") for one in names)]


def request(app: Dash, callback: str) -> dict[str, Any]:
    """Give the body that the engine page sends when it is opened."""
    def filled(kind: str) -> list[dict[str, Any]]:
        return [{**one, "value": VALUES[f"{one['id']}.{one['property']}"]}
                for one in app.callback_map[callback][kind]]

    inputs = filled("inputs")
    return {"output": callback, "inputs": inputs, "state": filled("state"),
            "outputs": [{"id": name, "property": prop} for name, prop in parts(callback)],
            "changedPropIds": [f"{inputs[0]['id']}.{inputs[0]['property']}"]}


def ask(client: Any, body: dict[str, Any]) -> dict[str, Any]:
    """Send the request and give what came back."""
    answer = client.post("/_dash-update-component", json=body)
    if answer.status_code != 200:
        raise RuntimeError(f"the callback answered {answer.status}: {answer.text[:500]}")
    return dict(json.loads(answer.text)["response"])


def bare(body: dict[str, Any], ready: dict[str, Any]) -> Dash:
    """Make an app with the same callback that has its answer already."""
    app = Dash("bare")
    app.layout = html.Div()
    values = [ready[name][prop] for name, prop in parts(body["output"])]

    @app.callback(*(Output(name, prop) for name, prop in parts(body["output"])),
                  *(Input(one["id"], one["property"]) for one in body["inputs"]),
                  *(State(one["id"], one["property"]) for one in body["state"]))
    def _give(*_: object) -> list[Any]:
        return values

    return app


def measure(folder: Path, runs: int) -> None:
    """Measure both on one store and print the figures as JSON."""
    store = open_store(folder=folder)
    try:
        app = create_app(store)
        body = request(app, charts_callback(app))
        ours = app.server.test_client()
        ready = ask(ours, body)
        if not ready["engine-rate"]["figure"]["data"]:
            raise RuntimeError("the engine page drew nothing")
        plain = bare(body, ready).server.test_client()
        if ask(plain, body) != ready:
            raise RuntimeError("the two callbacks give different answers")
        print(json.dumps({
            "ours": median_seconds(lambda: ask(ours, body), runs=runs, clock=processor_seconds),
            "bare": median_seconds(lambda: ask(plain, body), runs=runs, clock=processor_seconds),
            "kilobytes": len(json.dumps(ready)) / 1000}))
    finally:
        store.close()


def run(bench: Bench) -> list[Measure]:
    """Measure the engine page in a fleet of 10,000."""
    found = in_a_fresh_process("tests.benchmarks.engine_page", bench.fleet(10_000),
                               3 if bench.quick else 60)
    return [Measure("engine page callback, against a bare one", found["ours"] / found["bare"],
                    "times", 3, note=f"processor time {1000 * found['ours']:.1f} ms against "
                    f"{1000 * found['bare']:.1f} ms, {found['kilobytes']:.0f} kB")]


if __name__ == "__main__":
    measure(Path(sys.argv[1]), int(sys.argv[2]))
