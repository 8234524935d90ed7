"""The desk's page after a restore: who was not heard since, and the declaration by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import desk_client, submit
from tests.support.reports import CHANGE, batch, item
from tests.webapp.warnings.test_receipts import tablet_at
from webapp.store import depot
from webapp.store.db import reading

Rows = Callable[[str], list[tuple[Any, ...]]]


def epoch(app: Flask) -> str:
    with app.app_context(), reading() as session:
        found = depot.epoch(session)
    assert found is not None
    return found.name


def send(tablet: FlaskClient) -> None:
    answer = tablet.post("/api/outbox", json=batch(item()), headers=CHANGE)
    assert answer.status_code == 200


def test_a_depot_that_was_never_put_back_says_so(app: Flask) -> None:
    page = desk_client(app, "look").get("/desk/restored").text
    assert "No older copy of this depot was ever put back." in page
    assert "Declare restored" not in page  # only for who publishes


def test_declared_at_the_desk_it_names_who_was_not_heard_since(app: Flask, rows: Rows) -> None:
    heard, silent = tablet_at(app, "Quay", "tablet 1"), tablet_at(app, "Hill", "tablet 2")
    for one in (heard, silent):
        send(one)
    before, desk = epoch(app), desk_client(app, "publish")
    done = submit(desk, "/desk/restored", reason="snapshot of last night", sure="y")
    assert done.status_code == 302
    assert epoch(app) != before
    assert rows("SELECT who FROM audit WHERE what = 'depot.restored'") == [("publish",)]
    page = desk.get("/desk/restored").text
    assert "2 tablets have not been heard from since." in page
    assert "tablet 1" in page and "tablet 2" in page
    send(heard)
    page = desk.get("/desk/restored").text
    assert "1 tablet has not been heard from since." in page
    assert "tablet 2" in page and "tablet 1" not in page


def test_without_reason_or_tick_nothing_is_declared(app: Flask) -> None:
    before, desk = epoch(app), desk_client(app, "publish")
    for typed in ({"sure": "y"}, {"reason": "a snapshot"}, {"reason": "  ", "sure": "y"}):
        assert submit(desk, "/desk/restored", **typed).status_code == 422
    assert epoch(app) == before
