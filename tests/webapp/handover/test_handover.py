"""The hand-over: what is live, what changed since a time, what waits."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import desk_client
from tests.support.queries import counted
from tests.support.reports import item
from tests.support.small_pack import small_pack
from tests.support.warned import typed
from webapp.publish import service as publisher
from webapp.records import handover
from webapp.records import handover as words
from webapp.records.reports import answers
from webapp.records.warnings import service as warnings
from webapp.store import audit
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
NOW = datetime.now(UTC)
PLACE = {"from_place": "2m 20ch", "to_place": "2m 50ch"}


@pytest.fixture
def line(app: Flask) -> Flask:
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), NOW)
    return app


def page(client: FlaskClient, since: str = "") -> str:
    answer = client.get(f"/desk/handover{since}")
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_what_waits_is_counted_and_listed(line: Flask, send: Send) -> None:
    report = item(1, flats_suspected=True, place="Fern Mill")
    send(report, item(3, place="Old Larch"))
    past = (NOW - timedelta(hours=1)).isoformat()
    before = (NOW - timedelta(hours=3)).isoformat()
    with line.app_context(), writing() as session:
        for publish in (True, False):
            said = typed(**PLACE, from_at=before, review_at=past)
            made = warnings.draft(session, said, "vale", NOW, uuid.uuid4())
            if publish:
                warnings.publish(session, made.id, made.rev, "vale", NOW)
    client = desk_client(line, "look")
    text = page(client)
    for said in (
        "2 reports not answered yet",
        "1 warning drafted, not published",
        "1 review due",
        "1 train with wheels to look at",
        "1 doubt about tablets' numbers",
        "Warning published Fern Mill (Larch Valley, Down, to Quarry Halt); Leaf film",
        "Old Larch",
    ):
        assert said in text, said
    assert text.index("What is live") < text.index("What waits") < text.index("What changed")
    with line.app_context(), writing() as session:
        answers.answer(session, uuid.UUID(report["id"]), 3, "vale", NOW)
    text = page(client)
    assert "1 report not answered yet" in text
    assert "Report answered" in text


def test_what_changed_is_told_since_the_time_that_was_chosen(line: Flask) -> None:
    with line.app_context(), writing() as session:
        for hours in (30, 2):
            at = NOW - timedelta(hours=hours)
            audit.record(session, at, "vale", "pack.withdrawn", f"line-{hours}", {}, {})
        audit.record(session, NOW, "nobody", "log-in.refused", "nobody", {}, {})
    client = desk_client(line, "look")
    assert "Pack withdrawn line-2 " in page(client) and "line-30" not in page(client)
    assert "1 log-in refused." in page(client)
    since = (NOW - timedelta(hours=31)).strftime("?since=%Y-%m-%dT%H:%M")
    assert "line-30" in page(client, since) and "line-2 " in page(client, since)
    later = (NOW + timedelta(days=1)).strftime("?since=%Y-%m-%dT%H:%M")
    assert "Nothing was changed at the desk." in page(client, later)
    assert client.get("/desk/handover?since=yesterday").status_code == 422


def test_the_time_is_that_of_the_desk(make_app: Callable[..., Flask]) -> None:
    app = make_app(DESK_ZONE="Asia/Tokyo")
    moment = datetime(2026, 11, 20, 3, 0, tzinfo=UTC)  # noon there
    with app.app_context(), writing() as session:
        audit.record(session, moment, "vale", "pack.withdrawn", "a line", {}, {})
    client = desk_client(app, "look")
    kept = handover.FURTHEST
    handover.FURTHEST = timedelta(days=40_000)
    try:
        assert "Fri 20 Nov 12:00" in page(client, "?since=2026-11-20T11:59")
        assert "a line" not in page(client, "?since=2026-11-20T12:01")
    finally:
        handover.FURTHEST = kept


def test_every_action_that_is_told_has_words_of_its_own() -> None:
    """Found in the code: whoever adds an action adds its words."""
    rooms = Path(handover.__file__).parents[1]
    code = "".join(path.read_text() for path in rooms.rglob("*.py"))
    recorded = set(re.findall(r'who, "([a-z-]+\.[a-z_]+|log-in|log-out)"', code))
    recorded |= set(re.findall(r'now, "([a-z]+\.[a-z_]+)"', code))
    assert len(recorded) > 10
    assert recorded - set(words.ACTIONS) - set(words.NOT_TOLD) == set()


def test_the_page_asks_a_fixed_number_of_questions(line: Flask, send: Send) -> None:
    client = desk_client(line, "look")
    send(item(1))
    few = queries(line, client)
    send(*(item(n) for n in range(2, 40)))
    assert queries(line, client) <= few <= 25


def queries(app: Flask, client: FlaskClient) -> int:
    page(client)
    with counted(app) as asked:
        page(client)
    return len(asked)


def test_changes_since_are_read_along_their_index(lone_app: Flask) -> None:
    with lone_app.app_context(), reading() as session:
        plan = session.connection().exec_driver_sql(
            "EXPLAIN QUERY PLAN SELECT * FROM audit WHERE at >= '2026-01-01' "
            "AND what = 'log-in.refused'"
        )
        assert "ix_audit_at" in str(plan.fetchall())


def test_a_warning_ended_elsewhere_still_has_words(line: Flask) -> None:
    entry = audit.Entry(NOW, "x", "something.new", None, [1], "subject")
    with line.app_context(), reading() as session:
        known = handover.control.lines(session)
    told = words.change(entry, known)
    assert (told.action, told.about) == ("something: new", "subject")
