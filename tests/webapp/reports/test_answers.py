"""The depot's answer goes to the tablet that sent the report, and to no other."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, text, update

from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item
from webapp.commands.cli import cli
from webapp.records.reports import answers
from webapp.records.tablets import Device
from webapp.store.audit import AuditEntry
from webapp.store.db import reading, writing

NOW = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
Send = Callable[..., list[dict[str, Any]]]


def answer(app: Flask, name: str, trains: int | None, at: datetime = NOW) -> answers.Given:
    with app.app_context(), writing() as session:
        return answers.answer(session, uuid.UUID(name), trains, "a test", at)


def told(tablet: FlaskClient) -> list[dict[str, Any]]:
    got = tablet.get("/api/answers")
    assert got.status_code == 200, got.text
    return list(got.get_json()["items"])


def test_the_tablet_hears_what_became_of_its_own_reports(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    first, second = item(1), item(2)
    send(first, second)
    assert told(tablet) == []
    answer(app, first["id"], 6)
    answer(app, second["id"], None, NOW + timedelta(minutes=1))
    assert told(tablet) == [
        {
            "report": second["id"],
            "kind": "reviewed",
            "trains": None,
            "at": "2026-11-25T07:01:00.000000Z",
        },
        {
            "report": first["id"],
            "kind": "warned",
            "trains": 6,
            "at": "2026-11-25T07:00:00.000000Z",
        },
    ]


def test_no_other_tablet_hears_it(app: Flask, send: Send) -> None:
    sent = item(1)
    send(sent)
    answer(app, sent["id"], 6)
    other = app.test_client()
    assert other.get("/").status_code == 200
    assert told(other) == []
    stranger = app.test_client()
    assert_problem(stranger.get("/api/answers"), 401, "not_enrolled")


def test_a_revoked_tablet_hears_nothing_more(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    sent = item(1)
    send(sent)
    answer(app, sent["id"], 6)
    with app.app_context(), writing() as session:
        session.execute(update(Device).values(revoked_at=NOW))
    assert_problem(tablet.get("/api/answers"), 401, "not_enrolled")


def test_nothing_of_a_driver_is_in_an_answer(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    sent = item(1, driver_name="A Name", text="what I saw")
    send(sent)
    answer(app, sent["id"], 2)
    body = tablet.get("/api/answers").text
    assert "A Name" not in body and "what I saw" not in body and "a test" not in body


def test_a_later_answer_takes_the_place_and_the_earlier_stays_in_the_audit(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    sent = item(1)
    send(sent)
    answer(app, sent["id"], None)
    before = tablet.get("/api/answers").headers["ETag"]
    answer(app, sent["id"], 6, NOW + timedelta(minutes=5))
    assert [(one["kind"], one["trains"]) for one in told(tablet)] == [("warned", 6)]
    with app.app_context(), reading() as session:
        rows = session.scalars(select(AuditEntry).where(AuditEntry.what == "report.answer"))
        seen = [(row.who, row.old, row.new) for row in rows]
    reviewed = {"kind": "reviewed", "trains": None}
    assert seen == [
        ("a test", None, reviewed),
        ("a test", reviewed, {"kind": "warned", "trains": 6}),
    ]
    again = tablet.get("/api/answers", headers={"If-None-Match": before})
    assert again.status_code == 200
    same = {"If-None-Match": again.headers["ETag"]}
    assert tablet.get("/api/answers", headers=same).status_code == 304


def test_an_answer_that_commits_late_is_told_all_the_same(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    """T1 answers, T2 answers and commits, the tablet asks, T1 commits: it gets both."""
    first, second = item(1), item(2)
    send(first, second)
    holds, may_commit = threading.Event(), threading.Event()

    def slow() -> None:
        with app.app_context(), writing() as session:
            answers.answer(session, uuid.UUID(first["id"]), 1, "a test", NOW)
            holds.set()
            assert may_commit.wait(20)

    worker = threading.Thread(target=slow)
    worker.start()
    assert holds.wait(20)
    try:
        with app.app_context():
            on_postgres = "postgresql" in app.config["SQLALCHEMY_DATABASE_URI"]
        if on_postgres:  # SQLite lets one writer in at a time: there the second waits
            answer(app, second["id"], 2, NOW + timedelta(minutes=1))
        assert len(told(tablet)) == (1 if on_postgres else 0)
    finally:
        may_commit.set()
        worker.join()
    if not on_postgres:
        answer(app, second["id"], 2, NOW + timedelta(minutes=1))
    assert [one["trains"] for one in told(tablet)] == [2, 1]


@pytest.mark.parametrize("trains", [-1, 1000])
def test_an_impossible_number_of_trains_is_refused(
    app: Flask, send: Send, trains: int
) -> None:
    sent = item(1)
    send(sent)
    with pytest.raises(answers.NotAnswered, match="from 0 to 999"):
        answer(app, sent["id"], trains)
    with pytest.raises(answers.NotAnswered, match="no report has the id"):
        answer(app, str(uuid.uuid4()), 1)
    with app.app_context(), reading() as session:
        assert session.execute(text("SELECT count(*) FROM report_answer")).scalar() == 0


def test_the_command_answers_by_number(lone_app: Flask, tmp_path: Path) -> None:
    tablet = lone_app.test_client()
    tablet.get("/")
    tablet.post("/api/outbox", json=batch(item(1)), headers=CHANGE)

    def run(*args: str) -> Any:
        data = ("--who", "a test", "--data", str(tmp_path / "data"))
        return CliRunner().invoke(cli, ["report", "answer", *args, *data])

    done = run("1", "--warned", "6")
    assert (done.exit_code, done.output) == (0, "report 1: warned 6 trains\n"), done.output
    assert [one["trains"] for one in told(tablet)] == [6]
    assert run("1", "--reviewed").exit_code == 0
    assert [one["kind"] for one in told(tablet)] == ["reviewed"]
    unknown = run("99", "--reviewed")
    assert unknown.exit_code == 1 and "no report has the number 99" in unknown.output
    for neither in ((), ("--warned", "1", "--reviewed")):
        assert "either --warned N or --reviewed" in run("1", *neither).output
