"""The feed of warnings: R43 (order of commits), R44 (whole each time), R45 (ETag)."""

from __future__ import annotations

import threading
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.problems import assert_headers, assert_problem
from tests.support.queries import counted
from tests.support.warned import NOW, WHO, end, publish_line, typed, warn
from webapp.records import tablets
from webapp.records.warnings import service
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


def test_r44_the_whole_comes_in_one_answer_without_what_ended(
    line: Flask, client: FlaskClient
) -> None:
    first = warn(line)
    for _ in range(120):
        warn(line)
    end(line, warn(line))
    with line.app_context(), writing() as session:
        service.amend(session, first.id, 2, {"reason": "worse"}, WHO, NOW)
    whole = ask(client, 0)
    assert (len(whole["items"]), whole["feed_no"], whole["more"]) == (121, 124, False)
    assert {one["status"] for one in whole["items"]} == {"published"}
    assert [one["reason"] for one in whole["items"] if one["id"] == str(first.id)] == ["worse"]


def test_an_older_app_hears_nothing_new_or_must_take_the_whole(
    line: Flask, client: FlaskClient
) -> None:
    """It asks for changes since its number: none are given."""
    warn(line)
    seen = ask(client, 0)
    same = ask(client, seen["feed_no"], seen["mark"])
    assert (same["items"], same["more"]) == ([], False)
    assert (same["feed_no"], same["mark"]) == (seen["feed_no"], seen["mark"])
    end(line, warn(line))
    for mark in (seen["mark"], ""):
        answer = client.get(f"/api/warnings?since={seen['feed_no']}&mark={mark}")
        assert_problem(answer, 410, "full_refresh")
        assert "since=0" in answer.get_json()["detail"]
    assert ask(client, 0)["feed_no"] == 3


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
    assert [item["reason"] for item in ask(client, 0)["items"]] == ["T1", "T2"]


def test_r43_a_poll_while_many_publish_misses_none(line: Flask, client: FlaskClient) -> None:
    """As an app asks: by the name of what it holds, so a name must never cover two wholes."""

    def work() -> None:
        for _ in range(5):
            warn(line)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    seen: list[str] = []
    tag = ""
    while True:
        # Before the question: what the last one publishes after it is asked for once more.
        ended = not any(thread.is_alive() for thread in threads)
        answer = client.get("/api/warnings?since=0", headers={"If-None-Match": tag})
        if answer.status_code == 200:
            tag = answer.headers["ETag"]
            seen = [item["id"] for item in answer.get_json()["items"]]
        if ended:
            break
    assert len(seen) == 20


def restored(client: FlaskClient, held: int, mark: str) -> bool:
    """What the whole says of it, which must be the same as an older app is told."""
    old = client.get(f"/api/warnings?since={held}&mark={mark}")
    found = client.get(f"/api/warnings?since=0&held={held}&mark={mark}").get_json()["restored"]
    assert found == (old.status_code == 410 and old.get_json()["code"] == "restored")
    return bool(found)


def test_r44_a_number_ahead_of_a_restored_server_is_of_another_history(
    line: Flask, client: FlaskClient
) -> None:
    warn(line)
    seen = ask(client, 0)
    assert not restored(client, seen["feed_no"], seen["mark"])
    assert restored(client, seen["feed_no"] + 1, "")
    assert restored(client, 10**15 - 1, "")  # more than a column holds


def test_r44_a_number_of_another_history_is_known_by_its_mark(
    line: Flask, client: FlaskClient
) -> None:
    """The restored server has published on past the tablet's number: only the mark tells."""
    warn(line)
    seen = ask(client, 0)
    other = "0" * 16 if seen["mark"] != "0" * 16 else "1" * 16
    assert restored(client, seen["feed_no"], other)
    warn(line)
    assert restored(client, seen["feed_no"], other)
    assert not restored(client, seen["feed_no"], seen["mark"])


def test_r45_the_feed_has_a_strong_etag_and_answers_304(
    line: Flask, client: FlaskClient
) -> None:
    warned = warn(line)
    tag = client.get("/api/warnings?since=0").headers["ETag"]
    assert tag.startswith('"')
    for asked in ("since=0", "since=0&held=1"):
        same = client.get(f"/api/warnings?{asked}", headers={"If-None-Match": tag})
        assert (same.status_code, same.data) == (304, b"")
        assert_headers(same)
    other = client.get("/api/warnings?since=1", headers={"If-None-Match": tag})
    assert other.status_code == 200
    end(line, warned)
    changed = client.get("/api/warnings?since=0", headers={"If-None-Match": tag})
    assert (changed.status_code, changed.get_json()["items"]) == (200, [])


def test_nothing_new_is_answered_without_reading_a_warning(
    line: Flask, client: FlaskClient
) -> None:
    for _ in range(3):
        warn(line)
    tag = client.get("/api/warnings?since=0").headers["ETag"]
    with counted(line) as ran:
        assert client.get("/api/warnings?since=0", headers={"If-None-Match": tag}).data == b""
    assert not [one for one in ran if " JOIN " in one], "the whole was read"


@pytest.mark.parametrize(
    "query",
    ["", "since=", "since=-1", "since=1.5", "since=x", "since=+1", "since=%C2%B2",
     "since=" + "9" * 16, "since=1&mark=zz", "since=1&mark=" + "A" * 16,
     "since=1&epoch=zz", "since=0&held=-1", "since=0&held=x"],
)  # fmt: skip
def test_a_malformed_number_is_refused(client: FlaskClient, query: str) -> None:
    problem = assert_problem(client.get(f"/api/warnings?{query}"), 422, None)
    assert problem is None or problem["errors"]
