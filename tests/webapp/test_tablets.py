"""Which tablet is speaking: R51, R52 (both cookies pinned), R53."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.reports import CHANGE, batch, item
from webapp.records import tablets
from webapp.store.db import writing

Rows = Callable[[str], list[tuple[Any, ...]]]
HTTPS = "https://localhost"


def cookie_of(answer: Any) -> str | None:
    found: str | None = answer.headers.get("Set-Cookie")
    return found


def test_the_demo_enrols_a_tablet_that_opens_the_app_once(app: Flask, rows: Rows) -> None:
    client = app.test_client()
    assert cookie_of(client.get("/"))
    assert cookie_of(client.get("/")) is None
    assert rows("SELECT count(*) FROM device") == [(1,)]


def test_only_opening_the_app_enrols(app: Flask, rows: Rows) -> None:
    for path in ("/sw.js", "/api/index", "/api/ping?n=1", "/desk/reports", "/nowhere"):
        assert cookie_of(app.test_client().get(path)) is None
    assert rows("SELECT count(*) FROM device") == [(0,)]


def test_outside_the_demo_nobody_is_enrolled_by_opening_the_app(
    make_app: Callable[..., Flask],
) -> None:
    client = make_app(DEMO=False, SECRET_KEY="s" * 32).test_client()
    assert cookie_of(client.get("/")) is None


def test_r52_on_loopback_http_the_cookie_is_plain_and_out_of_reach(app: Flask) -> None:
    cookie = cookie_of(app.test_client().get("/")) or ""
    assert cookie.startswith("sih-tablet=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    assert "Secure" not in cookie


def test_r52_over_https_the_cookie_is_bound_to_the_host(app: Flask) -> None:
    cookie = cookie_of(app.test_client().get("/", base_url=HTTPS)) or ""
    assert cookie.startswith("__Host-sih-tablet=")
    parts = set(cookie.split("; "))
    assert {"HttpOnly", "SameSite=Strict", "Path=/", "Secure"} <= parts
    assert "Domain" not in cookie


def test_over_https_the_plain_name_does_not_count(app: Flask, rows: Rows) -> None:
    """Another server on the same host could have set a plain cookie over http."""
    plain = app.test_client()
    token = (cookie_of(plain.get("/")) or "").split(";")[0].split("=")[1]
    client = app.test_client()
    client.set_cookie("sih-tablet", token, domain="localhost", secure=True)
    client.post("/api/outbox", json=batch(item()), headers=CHANGE, base_url=HTTPS)
    assert rows("SELECT count(*) FROM report") == [(0,)]
    assert rows("SELECT kind FROM not_enrolled_item") == [("report",)]


def test_r53_the_token_is_long_and_only_its_hash_is_kept(app: Flask, rows: Rows) -> None:
    token = (cookie_of(app.test_client().get("/")) or "").split(";")[0].split("=")[1]
    assert len(token) >= 43  # 256 bits in base64
    ((kept,),) = rows("SELECT token_sha FROM device")
    assert token not in kept


def test_r51_what_a_revoked_tablet_sees_later_is_held_apart(
    app: Flask, tablet: FlaskClient, rows: Rows
) -> None:
    ((device,),) = rows("SELECT id FROM device")
    with app.app_context(), writing() as session:
        tablets.revoke(session, uuid.UUID(str(device)), datetime.now(UTC))
    late = item(observed_at=datetime.now(UTC).isoformat())
    answer = tablet.post("/api/outbox", json=batch(late), headers=CHANGE)
    assert answer.get_json()["results"][0]["code"] == "received_not_counted"
    assert rows("SELECT count(*) FROM report") == [(0,)]


def test_the_demo_does_not_enrol_a_revoked_tablet_anew(
    app: Flask, tablet: FlaskClient, rows: Rows
) -> None:
    ((device,),) = rows("SELECT id FROM device")
    with app.app_context(), writing() as session:
        tablets.revoke(session, uuid.UUID(str(device)), datetime.now(UTC))
    assert cookie_of(tablet.get("/")) is None


@pytest.mark.parametrize("token", ["", "x", "é" * 50, "a" * 4000, "\udcff"])
def test_a_made_up_token_is_simply_unknown(app: Flask, token: str) -> None:
    client = app.test_client()
    headers = {
        **CHANGE,
        "Cookie": f"sih-tablet={token.encode('utf-8', 'replace').decode('latin-1')}",
    }
    answer = client.post("/api/outbox", json=batch(item()), headers=headers)
    assert answer.status_code == 200


def test_the_last_contact_and_build_are_noted(tablet: FlaskClient, rows: Rows) -> None:
    tablet.post("/api/outbox", json=batch(), headers=CHANGE)
    ((heard, build),) = rows("SELECT last_heard_at, app_build FROM device")
    assert heard is not None and build == "0123456789abcdef"
