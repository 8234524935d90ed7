"""The feed of warnings: R43 (order of commits), R44 (tombstones, full refresh), R45 (ETag)."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import text

from tests.support.problems import assert_headers, assert_problem
from tests.support.warned import NOW, WHO, end, publish_line, typed, warn
from webapp.records import tablets
from webapp.records.warnings import feed, service
from webapp.store.db import db, writing


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


@pytest.fixture
def client(line: Flask) -> FlaskClient:
    """A tablet that the demo has enrolled."""
    tablet = line.test_client()
    tablet.get("/")
    return tablet


def ask(client: FlaskClient, since: int, mark: str = "") -> dict[str, Any]:
    answer = client.get(f"/api/warnings?since={since}&mark={mark}")
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.get_json()
    return found


def test_an_empty_feed_says_so_with_the_depots_time(client: FlaskClient) -> None:
    found = ask(client, 0)
    assert (found["feed_no"], found["items"], found["more"]) == (0, [], False)
    assert found["server_time"].endswith("Z")


def test_a_warning_is_told_whole(line: Flask, client: FlaskClient) -> None:
    warned = warn(line, review_at="2026-11-25T09:00:00+01:00")
    assert ask(client, 0)["items"] == [
        {
            "id": str(warned.id),
            "rev": 2,
            "feed_no": 1,
            "status": "published",
            "line": "larch-valley",
            "direction": "down",
            "datum": "Larch Quay",
            "from_m": warned.from_m,
            "to_m": warned.to_m,
            "state": "leaf",
            "reason": "leaf film at Harrowmere",
            "from_at": "2026-11-25T06:40:00Z",
            "review_at": "2026-11-25T08:00:00Z",
            "told_by": "signaller, Harrowmere",
            "reference": "",
        }
    ]


def test_who_told_it_is_for_valid_tablets_alone(line: Flask, client: FlaskClient) -> None:
    warn(line, reference="entry 12")
    (known,) = ask(client, 0)["items"]
    assert (known["told_by"], known["reference"]) == ("signaller, Harrowmere", "entry 12")
    first = client.get("/api/warnings?since=0").headers["ETag"]
    with line.app_context(), writing() as session:
        device = session.scalars(tablets.every()).one()
        tablets.revoke(session, device, NOW)
    for asker in (client, line.test_client()):
        (told,) = ask(asker, 0)["items"]
        assert told == {k: v for k, v in known.items() if k not in {"told_by", "reference"}}
        again = asker.get("/api/warnings?since=0", headers={"If-None-Match": first})
        assert (again.status_code, again.headers["Vary"]) == (200, "Cookie")


def test_a_delta_holds_only_what_changed_each_once(line: Flask, client: FlaskClient) -> None:
    first, second = warn(line), warn(line)
    seen = ask(client, 0)
    assert seen["feed_no"] == 2
    assert ask(client, 2, seen["mark"])["items"] == []
    with line.app_context(), writing() as session:
        service.amend(session, first.id, 2, {"reason": "worse"}, WHO, NOW)
        service.amend(session, first.id, 3, {"reason": "worse still"}, WHO, NOW)
    end(line, second)
    delta = ask(client, 2, seen["mark"])
    assert [(item["id"], item["status"]) for item in delta["items"]] == [
        (str(first.id), "published"),
        (str(second.id), "ended"),
    ]
    assert delta["items"][0]["reason"] == "worse still"
    assert delta["feed_no"] == 5


def test_the_whole_comes_in_one_answer_and_without_tombstones(
    line: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(feed.page, "__defaults__", (2,))
    for _ in range(5):
        warn(line)
    end(line, warn(line))
    whole = ask(client, 0)
    assert (len(whole["items"]), whole["feed_no"], whole["more"]) == (5, 7, False)


def test_deltas_come_in_pages_that_miss_nothing(
    line: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    warn(line)
    start = ask(client, 0)
    monkeypatch.setattr(feed.page, "__defaults__", (2,))
    made = [str(warn(line).id) for _ in range(5)]
    since, mark, seen, pages = start["feed_no"], start["mark"], [], 0
    while True:
        page = ask(client, since, mark)
        seen += [item["id"] for item in page["items"]]
        since, mark, pages = page["feed_no"], page["mark"], pages + 1
        if not page["more"]:
            break
    assert (seen, pages, since) == (made, 3, 6)


def test_r43_what_commits_late_is_not_skipped(line: Flask, client: FlaskClient) -> None:
    """T1 takes its number; T2 wants one; the tablet polls; T1 commits: it gets both."""
    holds, may_commit = threading.Event(), threading.Event()
    order: list[str] = []

    def publisher(name: str, wait: bool) -> None:
        with line.app_context():
            with writing() as session:
                made = service.draft(
                    session, typed(reason=name), WHO, NOW, service.uuid.uuid4()
                )
                service.publish(session, made.id, made.rev, WHO, NOW)
                if wait:
                    holds.set()
                    assert may_commit.wait(20)
                    order.append(name)
            if not wait:
                order.append(name)
            db.session.remove()

    late = threading.Thread(target=publisher, args=("T1", True))
    late.start()
    assert holds.wait(20)
    quick = threading.Thread(target=publisher, args=("T2", False))
    quick.start()
    quick.join(0.5)
    # The control: without the lock T2 would be through, with a higher number than T1.
    assert quick.is_alive()
    polled = ask(client, 0)
    assert (polled["feed_no"], polled["items"]) == (0, [])
    may_commit.set()
    late.join(20)
    quick.join(20)
    assert order == ["T1", "T2"]
    got = polled["items"] + ask(client, polled["feed_no"], polled["mark"])["items"]
    assert [item["reason"] for item in got] == ["T1", "T2"]


def test_r43_a_poll_while_many_publish_misses_none(line: Flask, client: FlaskClient) -> None:
    def work() -> None:
        for _ in range(5):
            warn(line)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    seen: set[str] = set()
    since, mark = 0, ""
    while True:
        # Before the question: what the last one publishes after it is asked for once more.
        ended = not any(thread.is_alive() for thread in threads)
        page = ask(client, since, mark)
        seen |= {item["id"] for item in page["items"]}
        since, mark = page["feed_no"], page["mark"]
        if ended and not page["items"]:
            break
    assert len(seen) == 20


def test_r44_a_tablet_older_than_the_tombstones_must_begin_again(
    line: Flask, client: FlaskClient
) -> None:
    now = datetime.now(UTC)
    held, gone = warn(line, now), warn(line, now)
    seen = ask(client, 0)
    end(line, gone, now - timedelta(days=59))
    delta = ask(client, seen["feed_no"], seen["mark"])
    assert [item["status"] for item in delta["items"]] == ["ended"]
    line.config["TOMBSTONE_DAYS"] = "58"
    answer = client.get(f"/api/warnings?since={seen['feed_no']}")
    assert_problem(answer, 410, "full_refresh")
    assert "since=0" in answer.get_json()["detail"]
    # Who knows of the end already may go on; who begins again is not sent in circles.
    assert ask(client, delta["feed_no"], delta["mark"])["items"] == []
    assert [item["id"] for item in ask(client, 0)["items"]] == [str(held.id)]


def test_r44_a_number_ahead_of_a_restored_server_must_begin_again(
    line: Flask, client: FlaskClient
) -> None:
    warn(line)
    seen = ask(client, 0)
    assert_problem(client.get(f"/api/warnings?since={seen['feed_no'] + 1}"), 410, "restored")


def test_r44_a_number_of_another_history_must_begin_again(
    line: Flask, client: FlaskClient
) -> None:
    """The restored server has published on past the tablet's number: only the mark tells."""
    warn(line)
    seen = ask(client, 0)
    other = "0" * 16 if seen["mark"] != "0" * 16 else "1" * 16
    warn(line)
    answer = client.get(f"/api/warnings?since={seen['feed_no']}&mark={other}")
    assert_problem(answer, 410, "restored")
    assert len(ask(client, seen["feed_no"], seen["mark"])["items"]) == 1


def test_r45_the_feed_has_a_strong_etag_and_answers_304(
    line: Flask, client: FlaskClient
) -> None:
    warn(line)
    tag = client.get("/api/warnings?since=0").headers["ETag"]
    assert tag.startswith('"')
    same = client.get("/api/warnings?since=0", headers={"If-None-Match": tag})
    assert (same.status_code, same.data) == (304, b"")
    assert_headers(same)
    other = client.get("/api/warnings?since=1", headers={"If-None-Match": tag})
    assert other.status_code == 200
    warn(line)
    changed = client.get("/api/warnings?since=0", headers={"If-None-Match": tag})
    assert changed.status_code == 200


@pytest.mark.parametrize(
    "query",
    ["", "since=", "since=-1", "since=1.5", "since=x", "since=+1", "since=%C2%B2",
     "since=" + "9" * 16, "since=1&mark=zz", "since=1&mark=" + "A" * 16,
     "since=1&epoch=zz", "since=0&restored=yes"],
)  # fmt: skip
def test_a_malformed_cursor_is_refused(client: FlaskClient, query: str) -> None:
    problem = assert_problem(client.get(f"/api/warnings?{query}"), 422, None)
    assert problem is None or problem["errors"]


def test_the_feed_is_found_by_its_index(lone_app: Flask) -> None:
    publish_line(lone_app)
    with lone_app.app_context(), db.engine.connect() as connection:
        plan = connection.execute(
            text(
                "EXPLAIN QUERY PLAN SELECT 1 FROM warning "
                "WHERE status = 'ended' AND feed_no > 5 AND ended_at < '2026'"
            )
        ).fetchall()
    assert "ix_warning_feed" in str(plan)
