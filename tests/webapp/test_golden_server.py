"""A release changes nothing for what was there: R71's migrations and protocol version 1.

`tests/golden/server_v1/` was made by the first release's own app and server; see
`tests/golden/make_server.py`. Its database is migrated up, and its requests come again.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import flask_migrate
import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import create_engine

from tests.support.reports import CHANGE
from webapp.records.reports import desk, filters, inbox, sequence
from webapp.store.db import db, reading

GOLDEN = Path(__file__).parents[1] / "golden" / "server_v1"
MADE = json.loads((GOLDEN / "requests.json").read_text())
SENT = [json.loads(body) for body in MADE["sent"]]
ITEMS = [item for batch in SENT for item in batch["items"]]
HEADS = {**CHANGE, "Content-Type": "application/json"}
FACTS = (
    "SELECT server_no, id, seq, payload_sha, item, observed_at, sent_at, received_at, "
    "clock_offset_s, observed_est_at, quarantined, supersedes, version FROM report "
    "ORDER BY server_no"
)


@pytest.fixture
def old(make_app: Callable[..., Flask], database_url: str | None, tmp_path: Path) -> Old:
    return Old(make_app, database_url, tmp_path / "data")


class Old:
    """The first release's database, before and after it was migrated to this version."""

    def __init__(self, make_app: Callable[..., Flask], url: str | None, data: Path) -> None:
        self.made = MADE["postgres" if url else "sqlite"]
        if url:
            engine = create_engine(url)
            with engine.connect() as connection:
                script = (GOLDEN / "postgres.sql").read_text()
                connection.connection.cursor().execute(script)  # as it stands, no parameters
                connection.connection.commit()
                self.before = [tuple(row) for row in connection.exec_driver_sql(FACTS)]
            engine.dispose()
        else:
            data.mkdir()
            with closing(sqlite3.connect(data / "step-in-hand.sqlite3")) as file:
                file.executescript((GOLDEN / "sqlite.sql").read_text())
                self.before = file.execute(FACTS).fetchall()
        self.app = make_app(DATABASE_URL=url, DATA=data)  # migrates up

    def after(self) -> list[tuple[Any, ...]]:
        with self.app.app_context(), db.engine.connect() as connection:
            return [tuple(row) for row in connection.exec_driver_sql(FACTS)]

    def tablet(self) -> FlaskClient:
        client = self.app.test_client()
        client.set_cookie("sih-tablet", self.made["cookie"])
        return client


def test_no_report_of_the_first_release_is_lost_or_changed_by_migrating(old: Old) -> None:
    assert len(old.before) == len(ITEMS) == 4
    assert old.after() == old.before
    with old.app.app_context(), reading() as session:
        shown = inbox.page(session, filters.Filter(), {}, "UTC").reports
        assert sequence.doubts(session) == []
    assert {str(report.id) for report in shown} == {item["id"] for item in ITEMS}
    bodies = {str(report.id): report.body for report in shown}
    for item in ITEMS:
        assert bodies[item["id"]] == {**desk.BLANK, **item["body"]}
    (correction,) = [report for report in shown if report.corrects]
    assert str(correction.corrects.id) == ITEMS[0]["id"] and correction.corrects.server_no


def test_r27_what_the_first_release_acknowledged_is_answered_equally(old: Old) -> None:
    """Its app sends again what it never heard back of: the same id, number and time."""
    tablet = old.tablet()
    for body, first in zip(MADE["sent"], old.made["answers"], strict=True):
        answer = tablet.post("/api/outbox", data=body, headers=HEADS)
        assert answer.status_code == 200, answer.text
        results = answer.get_json()["results"]
        assert results == [{**r, "result": "duplicate"} for r in first["results"]]
        assert set(answer.get_json()) == set(first)
    assert old.after() == old.before


def test_a_request_of_protocol_version_1_is_still_taken_in_whole(app: Flask) -> None:
    """By a server that has never seen it: answered in the fields that app reads."""
    tablet = app.test_client()
    tablet.get("/")
    for body, first in zip(MADE["sent"], MADE["sqlite"]["answers"], strict=True):
        answer = tablet.post("/api/outbox", data=body, headers=HEADS)
        assert answer.status_code == 200, answer.text
        got, was = answer.get_json(), first
        assert set(got) == set(was)
        for one, other in zip(got["results"], was["results"], strict=True):
            assert set(one) == set(other)
            for name in ("id", "result", "server_no"):
                assert one[name] == other[name]


def test_migrating_down_and_up_again_keeps_the_reports(old: Old) -> None:
    """For a release that must be taken back."""
    with old.app.app_context():
        flask_migrate.downgrade(revision="0001")
        flask_migrate.upgrade()
    assert old.after() == old.before
