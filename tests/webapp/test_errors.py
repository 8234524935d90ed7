"""One error shape and the same headers on every answer: R42, R58, R59."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import enter
from tests.support.problems import assert_headers, assert_problem
from tests.support.reports import CHANGE, batch, item
from webapp.plain.config import LARGEST_BODY_BYTES, OUTBOX_BYTES
from webapp.web.access import open_to_all

JSON = {**CHANGE, "Content-Type": "application/json"}


@pytest.fixture
def client(lone_app: Flask) -> FlaskClient:
    return lone_app.test_client()


@pytest.mark.parametrize(
    ("method", "path", "sent", "status", "code"),
    [
        ("GET", "/nowhere", {}, 404, "not_found"),
        ("GET", "/app/0123456789abcdef/app.js", {}, 404, "no_such_file"),
        ("GET", "/app/x/../../../etc/passwd", {}, 404, None),
        ("GET", "/packs/" + "0" * 64, {}, 404, "no_such_file"),
        ("GET", "/packs/short", {}, 404, "not_found"),
        ("PUT", "/api/index", {"headers": CHANGE}, 405, "method_not_allowed"),
        ("GET", "/api/outbox", {}, 405, "method_not_allowed"),
        ("POST", "/api/outbox", {"json": {}}, 403, "header_missing"),
        ("POST", "/api/outbox", {"data": "a=b", "headers": CHANGE}, 415, "not_json"),
        ("POST", "/api/outbox", {"data": {"a": "b"}, "headers": CHANGE}, 415, "not_json"),
        ("POST", "/api/outbox", {"data": "{", "headers": JSON}, 400, "invalid_json"),
        ("POST", "/api/outbox", {"data": "", "headers": JSON}, 400, "invalid_json"),
        ("POST", "/api/outbox", {"data": b"\xff\xfe", "headers": JSON}, 400, "invalid_json"),
        ("POST", "/api/outbox", {"data": "[NaN]", "headers": JSON}, 400, "invalid_json"),
        ("POST", "/api/outbox", {"data": "[" * 99_999, "headers": JSON}, 400, "invalid_json"),
        ("POST", "/api/outbox", {"data": "1" * 9_999, "headers": JSON}, 400, "invalid_json"),
        ("POST", "/api/outbox", {"data": "[]", "headers": JSON}, 422, None),
        ("POST", "/api/outbox", {"data": "null", "headers": JSON}, 422, None),
        ("GET", "/api/ping", {}, 422, None),
    ],
)
def test_every_refusal_has_the_one_shape(
    client: FlaskClient, method: str, path: str, sent: dict[str, Any], status: int, code: str
) -> None:
    assert_problem(client.open(path, method=method, **sent), status, code)


@pytest.mark.parametrize("path", ["/nowhere", "/guide/nothing", "/%3Cscript%3E"])
def test_a_mistyped_address_gets_a_page_with_ways_on(client: FlaskClient, path: str) -> None:
    answer = client.get(path, headers={"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"})
    assert (answer.status_code, answer.mimetype) == (404, "text/html")
    assert "no page at this address" in answer.text and "script" not in answer.text
    assert 'href="/"' in answer.text and 'href="/desk"' in answer.text
    assert_headers(answer)


def test_a_call_stays_a_call_whoever_asks(client: FlaskClient) -> None:
    for path in ("/api/nothing", "/packs/short", "/app/ffffffffffffffff/app.js"):
        assert_problem(client.get(path, headers={"Accept": "text/html"}), 404)


def test_a_wrong_method_names_the_right_ones(client: FlaskClient) -> None:
    assert "POST" in client.get("/api/outbox").headers["Allow"]


@pytest.mark.parametrize(("bytes_", "status"), [(OUTBOX_BYTES, 200), (OUTBOX_BYTES + 1, 413)])
def test_a_body_may_be_256_kib_and_not_a_byte_more(
    client: FlaskClient, bytes_: int, status: int
) -> None:
    """R2, R30: 413 tells the tablet to halve."""
    content = json.dumps(batch(item()))
    answer = client.post("/api/outbox", data=content.ljust(bytes_), headers=JSON)
    assert answer.status_code == status
    if status == 413:
        assert_problem(answer, 413)


def test_fifty_one_items_are_too_many(client: FlaskClient) -> None:
    fifty = batch(*(item(seq) for seq in range(1, 51)))
    assert client.post("/api/outbox", json=fifty, headers=CHANGE).status_code == 200
    more = batch(*(item(seq) for seq in range(1, 52)))
    answer = client.post("/api/outbox", json=more, headers=CHANGE)
    assert_problem(answer, 413, "too_many_items")


def test_r63_no_body_may_be_more_than_one_mebibyte(lone_app: Flask) -> None:
    assert lone_app.config["MAX_CONTENT_LENGTH"] == LARGEST_BODY_BYTES <= 1024 * 1024


@pytest.mark.parametrize("field", ["install_id", "sent_at", "app_build", "items"])
@pytest.mark.parametrize("wrong", [None, 7, "", [], {}, True])
def test_a_bad_envelope_is_named_by_field(client: FlaskClient, field: str, wrong: Any) -> None:
    if field == "items" and wrong == []:
        return  # an empty batch is a greeting
    answer = client.post("/api/outbox", json={**batch(), field: wrong}, headers=CHANGE)
    body = assert_problem(answer, 422)
    assert list(body["errors"]["json"]) == [field]


def test_a_fault_of_ours_says_nothing_of_the_code(
    make_app: Callable[..., Flask], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = make_app()
    monkeypatch.setitem(app.view_functions, "reports.newest", open_to_all(lambda: 1 / 0))
    body = assert_problem(app.test_client().get("/desk/reports"), 500)
    assert "division" not in json.dumps(body)


def every_address(app: Flask) -> list[tuple[str, str]]:
    found = []
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<uuid:[^>]+>", str(uuid.UUID(int=1)), rule.rule)
        path = re.sub(r"<[^>]+>", "x", path)
        found += [(method, path) for method in rule.methods or ()]
    return found


def test_r59_the_headers_stand_on_every_route(lone_app: Flask) -> None:
    """R59: every rule with every method, found or not, right or wrong."""
    client = lone_app.test_client()
    build = lone_app.extensions["shell"].current.id
    addresses = [*every_address(lone_app), ("GET", f"/app/{build}/app.css"), ("GET", "/no")]
    assert len(addresses) > 20
    for method, path in addresses:
        answer = client.open(path, method=method)
        assert answer.status_code < 500 or path == "/health", path
        assert_headers(answer)
        assert "Strict-Transport-Security" not in answer.headers


def test_r59_https_is_remembered_for_a_year(client: FlaskClient) -> None:
    for path in ("/", "/nowhere"):
        answer = client.get(path, base_url="https://localhost")
        assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"


@pytest.mark.parametrize("name", ["evil.example", "127.0.0.1.evil.example", "10.0.0.5"])
def test_another_name_for_this_machine_is_refused(client: FlaskClient, name: str) -> None:
    """A site that points its own name here could otherwise read the desk in a browser."""
    assert_problem(client.get("/desk/reports", base_url=f"http://{name}:8000"), 400)
    enter(client)
    for good in ("127.0.0.1", "localhost"):
        assert client.get("/desk/log-in", base_url=f"http://{good}:8000").status_code == 200


def test_r58_no_route_changes_anything_without_the_header(lone_app: Flask) -> None:
    """R58: a cross-site form post of any kind is 4xx on every route that is not a GET."""
    client = lone_app.test_client()
    writes = [
        (method, path)
        for method, path in every_address(lone_app)
        if method not in {"GET", "HEAD", "OPTIONS"}
    ]
    assert ("POST", "/api/outbox") in writes
    kinds = ("application/x-www-form-urlencoded", "multipart/form-data", "text/plain")
    for method, path in writes:
        for kind in (*kinds, "application/json"):
            answer = client.open(path, method=method, data="{}", content_type=kind)
            if path.startswith("/desk/"):
                assert answer.status_code in {400, 401, 404}, path
            else:
                assert_problem(answer, 403, "header_missing")


def test_r91_the_served_openapi_document_names_every_call(lone_app: Flask) -> None:
    document = lone_app.test_client().get("/api/openapi.json").get_json()
    assert document["openapi"] == "3.1.0"
    served = {
        re.sub(r"<(?:[^:>]+:)?([^>]+)>", r"{\1}", rule.rule)
        for rule in lone_app.url_map.iter_rules()
        if rule.rule.startswith(("/api/", "/packs/"))
    }
    assert served == set(document["paths"])
    text = json.dumps(document)
    named = set(re.findall(r"#/components/schemas/(\w+)", text))
    assert named <= set(document["components"]["schemas"])
    assert {"ReportItem", "Problem"} <= named
