"""What one tablet says never replaces what another said; who only looks sees no tablet."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import desk_client
from tests.support.reports import CHANGE, batch, item
from webapp.records import tablets
from webapp.records.reports import counted as counted_
from webapp.store.db import reading, writing

OTHERS = "0192f0c1-0000-4000-8000-000000000002"


def enrolled(app: Flask, label: str) -> FlaskClient:
    with app.app_context(), writing() as session:
        token = tablets.enrol(session, label, datetime.now(UTC))
    client = app.test_client()
    client.set_cookie("sih-tablet", token)
    return client


def send(
    client: FlaskClient, one: dict[str, Any], answered: str = "created", **envelope: Any
) -> None:
    one["observed_at"] = datetime.now(UTC).isoformat()
    answer = client.post("/api/outbox", json=batch(one, **envelope), headers=CHANGE)
    assert answer.get_json()["results"][0]["result"] == answered, answer.text


def counted(app: Flask) -> set[str]:
    with app.app_context(), reading() as session:
        found = counted_.counted_since(session, datetime.now(UTC) - timedelta(days=1))
        return {str(one.id) for one in found}


def words(client: FlaskClient, one: dict[str, Any]) -> str:
    page = client.get(f"/desk/reports/{one['id']}").text
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", page))


def test_only_the_same_tablet_corrects_a_report(app: Flask) -> None:
    own, other, desk = enrolled(app, "tablet 7"), enrolled(app, "tablet 8"), desk_client(app)
    first = item(1)
    send(own, first)
    taken_back = item(1, found="good", happened=[], supersedes=first["id"])
    send(other, taken_back, install_id=OTHERS)
    assert counted(app) == {first["id"], taken_back["id"]}
    assert "Corrected by" not in words(desk, first)
    assert "Named by others no. 2 , from another tablet" in words(desk, first)
    assert "Names another no. 1 as what it corrects" in words(desk, taken_back)
    corrected = item(2, found="expected", supersedes=first["id"])
    send(own, corrected)
    assert counted(app) == {corrected["id"], taken_back["id"]}
    assert "Corrected by no. 3" in words(desk, first)


def test_a_stranger_corrects_no_report(app: Flask) -> None:
    own = enrolled(app, "tablet 7")
    first = item(1)
    send(own, first)
    other = item(1, found="good", happened=[], supersedes=first["id"])
    send(app.test_client(), other, "retry")  # received, not counted
    assert counted(app) == {first["id"]}
    assert "Corrected by" not in words(desk_client(app), first)


@pytest.mark.parametrize("driver", [None, "A. Driver"])
def test_which_tablet_sent_it_is_for_who_reviews_and_never_beside_a_name(
    make_app: Callable[..., Flask], driver: str | None
) -> None:
    app = make_app(DEMO=False, SECRET_KEY="0123456789abcdef0123456789abcdef")
    own, one = enrolled(app, "tablet seventy"), item(4711, driver_name=driver)
    send(own, one)
    pages = [f"/desk/reports/{one['id']}", "/desk/reports", "/desk/handover", "/desk/control"]
    pages += ["/desk/fleet", "/desk/reports.csv", "/desk/reports.geojson", "/desk/seals"]
    telling = re.compile(r"tablet seventy|\b4711\b|\b4710\b|0192f0c1-0000")
    looker, reviewer = desk_client(app, "look"), desk_client(app, "review")
    told = {page: telling.search(looker.get(page).text) for page in pages}
    assert {page for page, found in told.items() if found} == set()
    report = reviewer.get(pages[0]).text
    assert ("tablet seventy" in report) == (driver is None)
    assert ("4711" in report) == (driver is None)
    assert ("A. Driver" in report) == (driver is not None)
