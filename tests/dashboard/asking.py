"""Ask a callback as a page does, and as a page never would."""

from __future__ import annotations

from typing import Any

from flask.testing import FlaskClient

CALLBACK = "/_dash-update-component"


def field(ident: Any, value: Any, prop: str = "value") -> dict[str, Any]:
    """Write one input or state."""
    return {"id": ident, "property": prop, "value": value}


def body_of(output: str, inputs: list[Any], state: list[Any] | None = None,
            changed: list[str] | None = None) -> dict[str, Any]:
    """Write the body that the browser sends for a callback."""
    names = output.removeprefix("..").removesuffix("..").split("...")
    outputs = [dict(zip(("id", "property"), name.rsplit(".", 1), strict=True)) for name in names]
    many = output.startswith("..")
    first = inputs[0]
    return {"output": output, "outputs": outputs if many else outputs[0], "inputs": inputs,
            "state": state or [], "changedPropIds": changed if changed is not None else
            [f"{first['id']}.{first['property']}"]}


def page_at(client: FlaskClient, pathname: Any, search: str = "") -> str:
    """Ask for the layout of a page, and give the answer as text."""
    answer = client.post(CALLBACK, json=body_of(
        ".._pages_content.children..._pages_store.data..",
        [field("_pages_location", pathname, "pathname"),
         field("_pages_location", search, "search")]))
    assert answer.status_code == 200, answer.text
    return str(answer.text)
