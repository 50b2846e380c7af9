import io
import json
import re
from typing import Any

import pytest
from dash import Dash
from flask.testing import FlaskClient

from oiltrend.dashboard.app import create_app
from oiltrend.dashboard.pages import PAGES
from oiltrend.dashboard.serve import make_server
from oiltrend.errors import NotAllowed
from oiltrend.store import Store
from tests.dashboard.asking import CALLBACK, body_of, field, page_at

OPEN = ["/", "/health", "/_dash-layout", "/_dash-dependencies", "/assets/10-tokens.css",
        "/data/template/samples.csv", "/data/nothing.csv", "/engine/AQ-101", "/nowhere"]


def watch_body(**changed: Any) -> dict[str, Any]:
    values = {"watch-search": "", "watch-family": None, "watch-level": "",
              "watch-order": "pressing"} | changed
    inputs = [field(name, value) for name, value in values.items()]
    inputs += [field("watch-back", None, "n_clicks"), field("watch-on", None, "n_clicks")]
    return body_of("..watch-rows.children...watch-page.data..", inputs,
                   [field("watch-page", 0, "data")])


@pytest.mark.parametrize("path", OPEN)
def test_every_answer_carries_its_headers(client: FlaskClient, path: str) -> None:
    with client.get(path) as answer:
        headers = answer.headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["X-Frame-Options"] == "DENY"
    policy = headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy
    script = re.search(r"script-src ([^;]*)", policy)
    assert script is not None
    assert "unsafe" not in script[1]
    assert "sha256-" in script[1]
    if not path.startswith("/assets"):
        assert headers["Cache-Control"] == "no-store"


def test_callbacks_are_not_kept_by_anybody(client: FlaskClient) -> None:
    client.get("/")
    answer = client.post(CALLBACK, json=watch_body())
    assert (answer.status_code, answer.headers["Cache-Control"]) == (200, "no-store")


@pytest.mark.parametrize("host", ["shop.example", "192.168.1.7:8050", "127.0.0.1.example",
                                  "localhost.example:8050"])
def test_another_name_for_this_computer_is_refused(client: FlaskClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 403


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost:8050", "[::1]:8050"])
def test_this_computer_is_answered(client: FlaskClient, host: str) -> None:
    assert client.get("/health", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("headers", [
    {"Origin": "http://shop.example"}, {"Origin": "null"}, {"Origin": "http://localhost:9"},
    {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}])
@pytest.mark.parametrize("path", ["/api/upload", CALLBACK])
def test_a_change_from_another_site_is_refused(client: FlaskClient, path: str,
                                               headers: dict[str, str]) -> None:
    assert client.post(path, headers=headers, json={}).status_code == 403


def test_a_change_from_this_page_is_taken(client: FlaskClient) -> None:
    answer = client.post("/api/upload", headers={"Origin": "http://localhost"},
                         data={"file": (io.BytesIO(b"a,b\n"), "../../x.csv")})
    assert answer.status_code == 200
    assert answer.json is not None
    assert answer.json["filename"] == "x.csv"


@pytest.mark.parametrize("body", [
    None, [], "text", 7, {}, {"output": "nothing.children"}, {"output": 7},
    {"output": "watch-rows.children", "outputs": []},
    watch_body() | {"inputs": None}, watch_body() | {"inputs": [7]},
    watch_body() | {"inputs": [{"id": 7, "property": "value"}]},
    watch_body() | {"state": {"id": "x"}}, watch_body() | {"changedPropIds": [7]},
    watch_body() | {"outputs": "all"}, watch_body() | {"output": "..admin.children.."},
], ids=str)
def test_a_body_that_no_page_sends_is_refused(client: FlaskClient, body: Any) -> None:
    client.get("/")
    answer = client.post(CALLBACK, json=body)
    assert answer.status_code == 400
    assert "Traceback" not in answer.text


def test_broken_json_and_another_type_are_refused(client: FlaskClient) -> None:
    client.get("/")
    assert client.post(CALLBACK, data=b"{", content_type="application/json").status_code == 400
    assert client.post(CALLBACK, data=json.dumps(watch_body()),
                       content_type="text/plain").status_code == 400


@pytest.mark.parametrize("name", ["watch-search", "watch-family", "watch-level", "watch-order"])
@pytest.mark.parametrize("value", [7, True, None, [], {}, ["AQ"], {"$ne": ""}, "'; drop table--",
                                   "\x00", "x" * 100_000, "..%2f", 10**30])
def test_values_that_no_field_gives_do_no_harm(client: FlaskClient, store: Store, name: str,
                                               value: Any) -> None:
    client.get("/")
    before = store.data_version()
    answer = client.post(CALLBACK, json=watch_body(**{name: value}))
    assert answer.status_code == 200
    assert "went wrong" not in answer.text
    assert store.data_version() == before


@pytest.mark.parametrize("search", ["?engine=AQ-102", "?engine=AQ-102&engine=AQ-103", "?show=1"])
def test_the_query_has_no_say_in_which_engine_is_shown(client: FlaskClient, search: str) -> None:
    client.get("/")
    page = page_at(client, "/engine/AQ-101", search)
    assert "AQ-101" in page
    assert "AQ-102" not in page


@pytest.mark.parametrize("pathname", [7, None, [], {"a": 1}, "/engine/AQ-101/AQ-102", "/engine/"])
def test_an_address_that_is_none_shows_no_engine(client: FlaskClient, pathname: Any) -> None:
    client.get("/")
    answer = client.post(CALLBACK, json=body_of(
        ".._pages_content.children..._pages_store.data..",
        [field("_pages_location", pathname, "pathname"),
         field("_pages_location", "", "search")]))
    assert answer.status_code == 200
    assert "Wear rate" not in answer.text


def test_no_page_s_layout_travels_with_the_first_answer(client: FlaskClient) -> None:
    text = client.get("/").text + client.get("/_dash-layout").text
    assert "AQ-101" not in text
    assert "watch-rows" not in text


def test_the_environment_turns_nothing_on(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DASH_DEBUG", "FLASK_DEBUG", "DASH_MCP_ENABLED", "DASH_HOT_RELOAD", "DASH_UI",
                 "DASH_SERVE_DEV_BUNDLES"):
        monkeypatch.setenv(name, "true")
    app = create_app(store)
    client = app.server.test_client()
    page = client.get("/").text
    assert '"ui":false' in page
    assert '"hot_reload"' not in page
    assert app.server.debug is False
    assert not any("mcp" in rule.rule for rule in app.server.url_map.iter_rules())


def test_two_apps_in_one_process_show_each_its_own_store(store: Store, tmp_path: Any) -> None:
    from oiltrend.store import open_store
    with open_store(folder=tmp_path / "other") as other:
        first, second = create_app(store), create_app(other)
        for app, there in ((first, True), (second, False)):
            client = app.server.test_client()
            client.get("/")
            assert ("AQ-101" in page_at(client, "/")) is there


def test_every_page_offers_what_the_app_asks_for() -> None:
    for page in PAGES:
        assert page.PATH.startswith("/")
        assert page.NAME
        assert isinstance(page.BELOW, tuple)
        assert callable(page.layout)
        assert callable(page.register)
    paths = [path for page in PAGES for path in (page.PATH, *page.BELOW)]
    assert len(set(paths)) == len(paths)


def test_every_callback_belongs_to_a_page_or_the_frame(store: Store) -> None:
    app: Dash = create_app(store)
    app.server.test_client().get("/")
    known = ("watch-", "engine-", "add-", "hand-", "drawn-", "file-", "limit-", "book-", "shell-",
             "_pages_", '{"name":["ALL"],"type":"add-')
    strangers = [name for name in app.callback_map if not name.lstrip(".").startswith(known)]
    assert strangers == []


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.7", "shop.example"])
def test_a_bind_beyond_this_computer_is_refused(store: Store, host: str) -> None:
    with pytest.raises(NotAllowed) as caught:
        make_server(store, host=host, port=0)
    assert str(caught.value) == (
        "host: there are no accounts yet, so the dashboard may only be opened on this computer, "
        f"found '{host}'; use 127.0.0.1")


def test_a_fault_is_told_by_a_number_and_without_its_inside(
        client: FlaskClient, monkeypatch: pytest.MonkeyPatch,
        caplog: pytest.LogCaptureFixture) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret inside")
    client.get("/")
    monkeypatch.setattr("oiltrend.service.fleet.watch", broken)
    page = page_at(client, "/")
    number = re.search(r"number ([0-9a-f]{8}) in the log", page)
    assert number is not None
    assert "secret inside" not in page
    assert number[1] in caplog.text
    answer = client.post(CALLBACK, json=watch_body())
    assert "went wrong" in answer.text
    assert "secret inside" not in answer.text
