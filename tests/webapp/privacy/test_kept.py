"""What tells of a person goes when it is due or asked for; the grip fact stays."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select, update

from tests.support.desk import desk_client, submit
from tests.support.reports import CHANGE, INSTALL, batch, item
from tests.support.warned import publish_line, typed
from tests.webapp.test_no_blame import kept
from webapp.commands.cli import cli
from webapp.records import privacy
from webapp.records.holdings import HOLDINGS
from webapp.records.reports import sequence
from webapp.records.reports.models import Report
from webapp.records.warnings import service as warnings
from webapp.store.db import Base, reading, writing

DRIVER, WORDS = "Quillon Abernathy", "my hands shook all the way"
RULES = privacy.Rules(120, 400)
Send = Callable[..., list[dict[str, Any]]]


def told(seq: int, **changes: Any) -> dict[str, Any]:
    return item(seq, driver_name=DRIVER, text=WORDS, **changes)


def change(app: Flask, one: dict[str, Any], **values: Any) -> None:
    with app.app_context(), writing() as session:
        query = update(Report).where(Report.id == uuid.UUID(one["id"]))
        session.execute(query.values(**values))


def aged(app: Flask, one: dict[str, Any], days: int, *, waiting: bool = False) -> None:
    then = datetime.now(UTC) - timedelta(days=days)
    change(app, one, received_at=then, waiting=waiting)


def row(app: Flask, one: dict[str, Any]) -> Report:
    with app.app_context(), reading() as session:
        found = session.scalars(select(Report).where(Report.id == uuid.UUID(one["id"]))).one()
        session.expunge(found)
        return found


def due(app: Flask) -> privacy.Due:
    with app.app_context(), reading() as session:
        return privacy.due(session, RULES, datetime.now(UTC))


def tidy(app: Flask) -> privacy.Tidied:
    with app.app_context(), writing() as session:
        return privacy.tidy(session, RULES, "t", datetime.now(UTC))


def test_every_table_is_in_the_list_of_what_is_kept() -> None:
    named = [table for one in HOLDINGS for table in one.tables]
    assert sorted(named) == sorted(table.name for table in Base.metadata.sorted_tables)


def test_a_dry_run_counts_what_the_tidy_then_does(app: Flask, send: Send) -> None:
    fresh, named, old, nameless = told(1), told(2), told(3), item(4)
    send(fresh, named, old, nameless)
    for one, days in ((fresh, 3), (named, 121), (old, 401), (nameless, 200)):
        aged(app, one, days)
    assert due(app) == privacy.Due(names=1, words=1, waiting=0, warned=0)
    assert tidy(app) == privacy.Tidied(names=1, words=1)
    assert due(app) == privacy.Due(0, 0, 0, 0) and tidy(app) == privacy.Tidied(0, 0)
    assert row(app, fresh).item == fresh and row(app, nameless).item == nameless
    body = row(app, named).item["body"]
    assert (body["driver_name"], body["text"]) == (None, WORDS)
    assert row(app, named).install_id == uuid.UUID(INSTALL)
    body = row(app, old).item["body"]
    assert (body["driver_name"], body["text"]) == (None, "")


def test_the_grip_fact_stays_and_nothing_of_the_person(app: Flask, send: Send) -> None:
    one = told(1, observed_at="2026-11-25T06:40:00+00:00")
    send(one)
    aged(app, one, 401)
    before = row(app, one)
    tidy(app)
    after = row(app, one)
    facts = ("server_no", "id", "line_key", "direction", "at_m", "found", "rail_state")
    facts += ("pack_sha", "observed_est_at", "received_at", "target", "happened", "flats")
    for name in facts:
        assert getattr(after, name) == getattr(before, name), name
    assert after.item["body"] == {
        **one["body"],
        **{"driver_name": None, "text": "", "position": None},
    }
    for word in (DRIVER, WORDS):
        assert kept(app, word) == set()
    for known in (before.payload_sha, INSTALL, str(before.device_id)):
        assert kept(app, known, one["id"]) == set(), "no row ties it to its tablet"


def test_what_is_still_needed_is_left_and_it_is_said_why(app: Flask, send: Send) -> None:
    waits, made, drafted, ended, repeat = (told(n) for n in range(1, 6))
    send(waits, made, drafted, ended, repeat)
    for one in (waits, made, drafted, ended, repeat):
        aged(app, one, 401, waiting=one is waits)
    change(app, repeat, repeats=uuid.UUID(made["id"]))
    now = datetime.now(UTC)
    publish_line(app)
    with app.app_context(), writing() as session:
        for one, steps in ((made, 1), (drafted, 0), (ended, 2)):
            of = uuid.UUID(one["id"])
            name = warnings.draft(session, typed(), "t", now, uuid.uuid4(), report=of).id
            if steps:
                warnings.publish(session, name, 1, "t", now)
            if steps == 2:
                warnings.end(session, name, 2, "signaller", "t", now)
    assert due(app) == privacy.Due(names=0, words=1, waiting=1, warned=3)
    assert tidy(app) == privacy.Tidied(0, 1)
    for one in (waits, made, drafted, repeat):
        assert row(app, one).item == one
    assert row(app, ended).anonymised_at is not None


def test_numbers_of_anonymised_reports_are_no_gap_and_a_repeat_is_a_duplicate(
    app: Flask, send: Send
) -> None:
    first, second, third = told(1), told(2), told(3)
    send(first, second, third)
    aged(app, second, 401)
    tidy(app)
    with app.app_context(), reading() as session:
        assert sequence.doubts(session) == []
    (again,) = send(second)
    assert again["result"] == "duplicate"
    assert row(app, second).item["body"]["text"] == "", "what went does not come back"
    (other,) = send(told(2, id=first["id"]))
    assert other["code"] == "id_reused", "the control: of the others the fingerprint counts"


def test_a_person_is_taken_out_with_all_corrections(app: Flask, send: Send) -> None:
    one = told(1)
    two = told(2, supersedes=one["id"])
    other = told(3)
    send(one, two, other)
    number = row(app, two).server_no
    desk = desk_client(app, "look", manages=True)
    path = "/desk/kept/report"
    page = desk.get(f"{path}?number={number}").text
    assert "Review it first" in page and "Delete it for good" not in page
    for each in (one, two, other):
        change(app, each, waiting=False)
    at = f"{path}?number={number}"
    refused = submit(desk, path, at=at, number=number)
    assert refused.status_code == 422 and row(app, one).item == one
    assert submit(desk, path, at=at, number=number, sure="y").status_code == 302
    assert "Nothing of a person is held" in desk.get(at).text
    assert row(app, one).anonymised_at and row(app, two).anonymised_at
    assert row(app, other).item == other
    said = kept(app, "report.pared")
    assert said == {("audit", "what")}
    assert "audit" not in {table for table, _ in kept(app, DRIVER)}


def test_while_it_waits_it_is_not_deleted_even_by_hand(app: Flask, send: Send) -> None:
    one = told(1)
    send(one)
    number = row(app, one).server_no
    desk = desk_client(app, "look", manages=True)
    answer = submit(desk, "/desk/kept/report", at="/desk/password", number=number, sure="y")
    assert answer.status_code == 422 and "Review it first" in answer.text
    assert row(app, one).item == one


@pytest.mark.parametrize("number", ["", "x", "0", "-1", "9" * 30, "\u0661"])
def test_a_number_that_is_none_is_said_in_words(app: Flask, number: str) -> None:
    desk = desk_client(app, "look", manages=True)
    answer = desk.get("/desk/kept/report", query_string={"number": number})
    assert answer.status_code == (422 if number else 200)
    assert ("No report has this number" in answer.text) == bool(number)


@given(st.integers(91, 3650), st.integers(91, 3650))
def test_a_name_never_outlives_the_words_beside_it(names: int, words: int) -> None:
    first, second = privacy.Rules(names, words).before(datetime(2026, 11, 25, tzinfo=UTC))
    assert first >= second


def test_the_command_prints_first_and_asks(
    lone_app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = told(1)
    client = lone_app.test_client()
    assert client.get("/").status_code == 200  # the demo enrols the tablet that opens it
    client.post("/api/outbox", json=batch(one), headers=CHANGE)
    aged(lone_app, one, 401)
    data = str(lone_app.config["DATA"])
    run = CliRunner().invoke(cli, ["keep", "tidy", "--dry-run", "--data", data])
    assert "older than 400 days: 1" in run.output and row(lone_app, one).item == one
    run = CliRunner().invoke(cli, ["keep", "tidy", "--data", data], input="n\n")
    assert run.exit_code == 1 and row(lone_app, one).item == one
    run = CliRunner().invoke(cli, ["keep", "tidy", "--yes", "--data", data])
    assert run.exit_code == 0, run.output
    assert "Done: 0 names, 1 reports" in run.output
    assert row(lone_app, one).item["body"]["driver_name"] is None
    monkeypatch.setenv("STEP_IN_HAND_KEEP_NAMES_DAYS", "90")
    run = CliRunner().invoke(cli, ["keep", "tidy", "--data", data])
    assert "KEEP_NAMES_DAYS: '90' is not a number of days from 91" in str(run.exception)


def test_the_page_says_days_and_what_is_next(lone_app: Flask) -> None:
    page = desk_client(lone_app, "look").get("/desk/kept").text
    assert (
        "after 120 days" in page and "after 400 days" in page and "<strong>0</strong>" in page
    )
