"""Enrolling and ending tablets: R39 (server's part), R51, R52."""

from __future__ import annotations

import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import update

from tests.support.desk import desk_client, submit
from tests.support.reports import CHANGE, batch, item
from webapp.plain import codes
from webapp.records.tablets import EnrolCode
from webapp.store.db import writing

Rows = Callable[[str], list[tuple[Any, ...]]]


@pytest.fixture
def strict_app(make_app: Callable[..., Flask], database_url: str | None) -> Flask:
    """A server in earnest: no tablet enrols itself."""
    return make_app(DEMO=False, SECRET_KEY="s" * 40, DATABASE_URL=database_url)


def made_code(app: Flask, label: str = "Cab tablet 4") -> str:
    answer = submit(desk_client(app, "review"), "/desk/tablets", label=label)
    found = re.search(r'class="secret">([A-Z2-9]{4}-[A-Z2-9]{4})<', answer.text)
    assert found, answer.text
    return found[1]


def enrol(client: FlaskClient, code: str) -> Any:
    return client.post("/api/enrol", json={"code": code}, headers=CHANGE)


def test_r39_a_code_from_the_desk_enrols_a_tablet_that_has_only_the_app(
    strict_app: Flask, app_rows: Rows
) -> None:
    tablet = strict_app.test_client()
    tablet.get("/")
    assert tablet.get("/api/tablet").get_json() == {
        "enrolled": False,
        "valid": False,
        "label": None,
    }
    code = made_code(strict_app)
    answer = enrol(tablet, code.lower().replace("-", " "))
    assert answer.status_code == 200, answer.text
    assert tablet.get("/api/tablet").get_json()["label"] == "Cab tablet 4"
    sent = tablet.post("/api/outbox", json=batch(item()), headers=CHANGE).get_json()
    assert sent["results"][0]["result"] == "created"
    assert app_rows("SELECT quarantined FROM report") in ([(0,)], [(False,)])
    # R52: neither code nor token stands in the database.
    plain = code.replace("-", "")
    everything = str(app_rows("SELECT * FROM enrol_code") + app_rows("SELECT * FROM device"))
    cookie = tablet.get_cookie("sih-tablet")
    assert cookie is not None
    assert plain not in everything and cookie.value not in everything
    assert len(cookie.value) >= 43  # 256 bits


def test_r52_a_code_works_once(strict_app: Flask, app_rows: Rows) -> None:
    code = made_code(strict_app)
    first, second = strict_app.test_client(), strict_app.test_client()
    assert enrol(first, code).status_code == 200
    refused = enrol(second, code)
    assert refused.status_code == 403
    assert refused.get_json()["code"] == "wrong_code"
    told = app_rows("SELECT who, what, subject FROM audit ORDER BY id DESC LIMIT 1")
    assert told == [("nobody", "tablet.code_refused", "")]
    assert second.get("/api/tablet").get_json()["enrolled"] is False
    assert app_rows("SELECT count(*) FROM device") == [(1,)]


def test_r52_of_eight_tablets_with_one_code_one_is_enrolled(
    strict_app: Flask, app_rows: Rows
) -> None:
    code = made_code(strict_app)

    def one(n: int) -> int:
        client = strict_app.test_client()
        client.environ_base["REMOTE_ADDR"] = f"10.0.0.{n}"
        return int(enrol(client, code).status_code)

    with ThreadPoolExecutor(8) as pool:
        answers = sorted(pool.map(one, range(8)))
    assert answers == [200] + [403] * 7
    assert app_rows("SELECT count(*) FROM device") == [(1,)]


def test_r52_a_code_ends_after_ten_minutes(strict_app: Flask) -> None:
    code = made_code(strict_app)
    with strict_app.app_context(), writing() as session:
        session.execute(update(EnrolCode).values(expires_at=datetime.now(UTC)))
    assert enrol(strict_app.test_client(), code).status_code == 403


def test_r52_the_sixth_guess_in_a_minute_waits_and_a_colleague_does_not(
    strict_app: Flask,
) -> None:
    code = made_code(strict_app)
    bad, good = strict_app.test_client(), strict_app.test_client()
    good.environ_base["REMOTE_ADDR"] = "10.0.0.7"
    assert [enrol(bad, "AAAA-AAAA").status_code for _ in range(5)] == [403] * 5
    sixth = enrol(bad, code)
    assert sixth.status_code == 429
    assert 0 < int(sixth.headers["Retry-After"]) <= 60
    assert enrol(good, code).status_code == 200


def test_r51_an_ended_tablet_is_told_and_its_reports_are_kept_apart(
    strict_app: Flask, app_rows: Rows
) -> None:
    tablet = strict_app.test_client()
    enrol(tablet, made_code(strict_app))
    desk = desk_client(strict_app, "review")
    link = re.search(r'href="(/desk/tablets/[0-9a-f-]{36})"', desk.get("/desk/tablets").text)
    assert link
    page = desk.get(link[1]).text
    path = re.search(r'action="(/desk/tablets/[^"]+/revoke)"', page)
    assert path
    assert submit(desk, path[1], at="/desk/tablets").status_code == 302
    assert tablet.get("/api/tablet").get_json() == {
        "enrolled": True,
        "valid": False,
        "label": "Cab tablet 4",
    }
    tablet.post("/api/outbox", json=batch(item()), headers=CHANGE)
    assert app_rows("SELECT count(*) FROM report") == [(0,)]
    assert app_rows("SELECT kind FROM not_enrolled_item") == [("report",)]
    whats = [what for (what,) in app_rows("SELECT what FROM audit ORDER BY id")]
    assert whats[-3:] == ["tablet.code", "tablet.enrolled", "tablet.revoked"] or {
        "tablet.code",
        "tablet.enrolled",
        "tablet.revoked",
    } <= set(whats)


def test_who_only_looks_makes_no_code_and_ends_nothing(strict_app: Flask) -> None:
    desk = desk_client(strict_app, "look")
    page = desk.get("/desk/tablets")
    assert page.status_code == 200 and "Make a code" not in page.text
    token = re.search(r'name="csrf_token" value="([^"]+)"', page.text)
    assert token
    answer = desk.post("/desk/tablets", data={"csrf_token": token[1], "label": "x"})
    assert answer.status_code == 403


@pytest.mark.parametrize("label", ["", " " * 5, "x" * 61])
def test_a_tablet_needs_a_name_that_fits(strict_app: Flask, label: str) -> None:
    answer = submit(desk_client(strict_app, "review"), "/desk/tablets", label=label)
    assert answer.status_code == 422


def test_codes_are_read_as_people_type_them() -> None:
    assert codes.plain(" ab2c-defg ") == "AB2CDEFG"


@pytest.fixture
def app_rows(strict_app: Flask) -> Rows:
    from webapp.store.db import db

    def ask(query: str) -> list[tuple[Any, ...]]:
        with strict_app.app_context(), db.engine.connect() as connection:
            return [tuple(row) for row in connection.exec_driver_sql(query)]

    return ask
