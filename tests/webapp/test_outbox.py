"""Exactly once in effect: OFFLINE.md R6, R27, R28, R29, R30, R32, R40, on both stores."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from typing import Any

import marshmallow as ma
import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import event
from sqlalchemy.exc import IntegrityError, OperationalError

from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item, opened
from webapp.records import outbox
from webapp.records.outbox import fingerprint
from webapp.records.outbox_schemas import ReportItem
from webapp.records.reports import service as reports
from webapp.records.reports.body import ReportBody
from webapp.store.db import db

Send = Callable[..., list[dict[str, Any]]]
Rows = Callable[[str], list[tuple[Any, ...]]]
ANSWER = ("id", "server_no", "received_at")


def test_r26_an_id_that_is_not_a_canonical_uuid_is_rejected_by_name(send: Send) -> None:
    bad = ["", "7", str(uuid.uuid4()).upper(), uuid.uuid4().hex, f"{{{uuid.uuid4()}}}"]
    results = send(*(item(id=name) for name in bad))
    assert [r["result"] for r in results] == ["rejected"] * 5
    assert [r["id"] for r in results] == bad
    assert all("lower case" in r["errors"]["id"][0] for r in results)


def test_r27_fifty_threads_send_one_report_for_one_row(app: Flask, rows: Rows) -> None:
    """R27: 50 threads post the same report: 1 row, 50 success answers, identical body."""
    the_batch = batch(item())
    barrier = threading.Barrier(50)

    def post(_n: int) -> dict[str, Any]:
        client = opened(app)
        barrier.wait()
        answer = client.post("/api/outbox", json=the_batch, headers=CHANGE)
        assert answer.status_code == 200, answer.text
        return dict(answer.get_json()["results"][0])

    with ThreadPoolExecutor(50) as pool:
        answers = list(pool.map(post, range(50)))
    assert rows("SELECT count(*) FROM report") == [(1,)]
    assert len({tuple(answer[name] for name in ANSWER) for answer in answers}) == 1
    words = sorted(answer["result"] for answer in answers)
    assert words == ["created"] + ["duplicate"] * 49


def test_crossed_batches_of_the_same_reports_do_not_lock_each_other(
    app: Flask, rows: Rows
) -> None:
    """R6, R71: shuffled and reversed batches at once; on PostgreSQL a deadlock if careless."""
    items = [item(seq) for seq in range(1, 41)]
    barrier = threading.Barrier(8)

    def post(n: int) -> list[str]:
        client = opened(app)
        mine = items[::-1] if n % 2 else items[n:] + items[:n]
        barrier.wait()
        answer = client.post("/api/outbox", json=batch(*mine), headers=CHANGE)
        assert answer.status_code == 200, answer.text
        assert [r["id"] for r in answer.get_json()["results"]] == [i["id"] for i in mine]
        return [r["result"] for r in answer.get_json()["results"]]

    with ThreadPoolExecutor(8) as pool:
        words = [word for result in pool.map(post, range(8)) for word in result]
    assert rows("SELECT count(*) FROM report") == [(40,)]
    assert (words.count("created"), words.count("duplicate")) == (40, 280)


def test_r28_a_repeat_is_answered_with_equal_number_and_time(send: Send, rows: Rows) -> None:
    report = item()
    first, repeat = send(report)[0], send(report, sent_at="2030-01-01T00:00:00Z")[0]
    assert (first["result"], repeat["result"]) == ("created", "duplicate")
    assert [first[n] for n in ANSWER] == [repeat[n] for n in ANSWER]
    assert rows("SELECT count(*) FROM report") == [(1,)]


def test_r41_a_key_for_the_batch_changes_nothing(tablet: FlaskClient, rows: Rows) -> None:
    """Neither a repeat nor another batch under the same key is answered otherwise."""
    keyed = {**CHANGE, "Idempotency-Key": '"k-1"'}
    one, two = batch(item(1)), batch(item(2))
    answers = [
        tablet.post("/api/outbox", json=sent, headers=headers).get_json()["results"][0]
        for sent, headers in ((one, keyed), (one, keyed), (one, CHANGE), (two, keyed))
    ]
    words = ["created", "duplicate", "duplicate", "created"]
    assert [answer["result"] for answer in answers] == words
    assert {answers[0]["server_no"]} == {answer["server_no"] for answer in answers[:3]}
    assert rows("SELECT count(*) FROM report") == [(2,)]


def test_a_newer_apps_report_is_refused_with_its_number_and_taken_after_the_upgrade(
    send: Send, rows: Rows, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The depot was rolled back behind the app; then it is upgraded again."""
    newer, known = item(1, leaves_seen=True), item(2)
    refused, taken = send(newer, known)
    assert (refused["result"], refused["code"]) == ("rejected", "unknown_field")
    assert taken["result"] == "created"
    assert rows("SELECT seq FROM refusal") == [(1,)]

    class NewerBody(ReportBody):
        leaves_seen = ma.fields.Boolean()

    class NewerItem(ReportItem):
        body = ma.fields.Nested(NewerBody, required=True)

    kind = replace(outbox.KINDS["report"], schema=NewerItem())
    monkeypatch.setitem(outbox.KINDS, "report", kind)
    assert [one["result"] for one in send(newer, known)] == ["created", "duplicate"]
    assert rows("SELECT seq FROM report ORDER BY seq") == [(1,), (2,)]


def test_r28_another_content_under_a_known_id_changes_nothing_and_is_audited(
    send: Send, rows: Rows
) -> None:
    report = item(text="first words")
    other = {**report, "body": {**report["body"], "text": "second words"}}
    first = send(report)[0]
    assert send(other)[0] == {
        "id": report["id"],
        "result": "rejected",
        "server_no": None,
        "received_at": None,
        "code": "id_reused",
    }
    assert send(report)[0] == {**first, "result": "duplicate"}
    assert rows("SELECT what, subject FROM audit") == [("outbox.id_reused", report["id"])]
    ((kept,),) = rows("SELECT payload_sha FROM report")
    assert kept == fingerprint(report) != fingerprint(other)


def test_the_same_id_twice_in_one_batch_is_judged_like_two_batches(send: Send) -> None:
    report = item(1)
    other = {**report, "seq": 2}
    words = [r["result"] for r in send(report, report, other)]
    assert words == ["created", "duplicate", "rejected"]


def test_r29_a_correction_is_a_new_report_that_names_the_old_one(
    send: Send, rows: Rows
) -> None:
    first = item(1)
    send(first)
    assert send(item(2, supersedes=first["id"]))[0]["result"] == "created"
    ((old,),) = rows("SELECT supersedes FROM report WHERE supersedes IS NOT NULL")
    assert uuid.UUID(str(old)) == uuid.UUID(first["id"])


def test_r30_bad_items_are_named_and_the_others_are_kept(send: Send, rows: Rows) -> None:
    """R30: 20 items with items 3 and 7 bad: 18 stored, 2 named."""
    items: list[Any] = [item(seq) for seq in range(1, 21)]
    items[2]["body"]["found"] = "fine"
    del items[6]["observed_at"]
    results = send(*items)
    bad = [n for n, result in enumerate(results, 1) if result["result"] != "created"]
    assert bad == [3, 7]
    assert results[2]["errors"]["body"]["found"] == [
        "Send one of: good, expected, reportable."
    ]
    assert "observed_at" in results[6]["errors"]
    assert [result["id"] for result in results] == [i["id"] for i in items]
    assert rows("SELECT count(*) FROM report") == [(18,)]


def test_an_item_the_database_will_not_take_is_to_be_sent_again_and_spoils_no_other(
    send: Send, rows: Rows, monkeypatch: pytest.MonkeyPatch
) -> None:
    items = [item(seq) for seq in range(1, 4)]
    insert, together = reports.insert_new, reports.insert_all

    def fail_with_two(session: Any, rows: Any) -> Any:
        """Kept together first: one that is refused sends each on its own way."""
        if any(row["seq"] == 2 for row in rows):
            session.execute(db.text("INSERT INTO feed_clock (id, n) VALUES (1, 0)"))
        return together(session, rows)

    def fail_on_two(session: Any, model: Any, values: Any, **names: Any) -> Any:
        if values["seq"] == 2:
            # A real refusal, so that a store which needs the savepoint shows it.
            session.execute(db.text("INSERT INTO feed_clock (id, n) VALUES (1, 0)"))
        return insert(session, model, values, **names)

    monkeypatch.setattr(reports, "insert_all", fail_with_two)
    monkeypatch.setattr(reports, "insert_new", fail_on_two)
    results = send(*items)
    assert [result["result"] for result in results] == ["created", "retry", "created"]
    assert rows("SELECT count(*) FROM report") == [(2,)]
    monkeypatch.undo()
    assert [r["result"] for r in send(*items)] == ["duplicate", "created", "duplicate"]


def test_a_full_disk_is_told_as_one_and_takes_nothing(
    lone_app: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    """SQLite has room for no page more; then it has, and the same batch goes through."""
    client, the_batch = opened(lone_app), batch(*(item(text="x" * 500) for _ in range(40)))
    with lone_app.app_context():
        engine = db.engine
        with engine.connect() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()

    def bound(connection: Any, *_rest: Any, most: int = 0) -> None:
        connection.execute(f"PRAGMA max_page_count = {most or pages}")

    event.listen(engine, "checkout", bound)
    answer = client.post("/api/outbox", json=the_batch, headers=CHANGE)
    assert_problem(answer, 503, "disk_full")
    assert "disk is full" in answer.get_json()["detail"]
    assert answer.headers["Retry-After"] == "60"
    assert "disk is full" in caplog.text and "did not answer" not in caplog.text
    event.remove(engine, "checkout", bound)
    more = partial(bound, most=100_000)
    event.listen(engine, "checkout", more)
    results = client.post("/api/outbox", json=the_batch, headers=CHANGE).get_json()["results"]
    assert {one["result"] for one in results} == {"created"}


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (OperationalError("COMMIT", {}, Exception("disk I/O error")), 503),
        (IntegrityError("COMMIT", {}, Exception("refused")), 500),
        (RuntimeError("anything"), 500),
    ],
)
def test_r40_no_success_before_commit_has_returned(
    app: Flask, tablet: FlaskClient, rows: Rows, error: Exception, status: int
) -> None:
    """R40: make COMMIT raise: 5xx, row absent; the same batch then goes through."""
    the_batch = batch(item())

    def fail(_connection: object) -> None:
        raise error

    with app.app_context():
        engine = db.engine
    event.listen(engine, "commit", fail)
    try:
        answer = tablet.post("/api/outbox", json=the_batch, headers=CHANGE)
    finally:
        event.remove(engine, "commit", fail)
    assert_problem(answer, status)
    assert rows("SELECT count(*) FROM report") == [(0,)]
    again = tablet.post("/api/outbox", json=the_batch, headers=CHANGE)
    assert again.get_json()["results"][0]["result"] == "created"


def test_r30_any_order_of_arrival_leaves_the_same_reports(send: Send, rows: Rows) -> None:
    """R6: reversed batches keep each report under its own sequence number."""
    items = [item(seq) for seq in range(1, 7)]
    send(*items[5:2:-1])
    send(*items[2::-1])
    kept = {(uuid.UUID(str(name)), seq) for name, seq in rows("SELECT id, seq FROM report")}
    assert kept == {(uuid.UUID(i["id"]), i["seq"]) for i in items}


def test_r20_a_number_used_twice_is_kept_not_refused(send: Send, rows: Rows) -> None:
    results = send(item(1), item(1))
    assert [result["result"] for result in results] == ["created", "created"]


def test_server_numbers_are_unique_and_rise(send: Send) -> None:
    numbers = [r["server_no"] for n in range(3) for r in send(*(item(s) for s in (1, 2)))]
    assert len(set(numbers)) == 6
    assert numbers[0] < numbers[2] < numbers[4]


def test_a_report_of_a_tablet_we_do_not_know_is_held_apart(app: Flask, rows: Rows) -> None:
    """R51: not dropped, and not among the reports."""
    stranger = app.test_client()
    stranger.set_cookie("sih-tablet", "made-up")
    answer = stranger.post("/api/outbox", json=batch(item()), headers=CHANGE)
    (result,) = answer.get_json()["results"]
    assert (result["result"], result["code"]) == ("retry", "received_not_counted")
    assert rows("SELECT count(*) FROM report") == [(0,)]
    assert rows("SELECT kind FROM not_enrolled_item") == [("report",)]


@pytest.mark.parametrize(
    ("sent_at", "offset"),
    [
        ("1970-01-01T00:00:00Z", "1970"),
        ("2027-01-01T01:00:00+01:00", "+h"),
        ("2999-12-31T23:59:59-12:00", "far"),
    ],
)
def test_r33_a_wrong_clock_is_kept_beside_the_corrected_time(
    send: Send, rows: Rows, sent_at: str, offset: str
) -> None:
    """R32, R33: offset = received - sent, and the corrected time of what was seen."""
    result = send(item(observed_at=sent_at), sent_at=sent_at)[0]
    assert result["result"] == "created"
    ((received, estimated, seconds),) = rows(
        "SELECT received_at, observed_est_at, clock_offset_s FROM report"
    )
    assert str(received)[:19] == str(estimated)[:19]
    assert abs(seconds) > 3000


def test_an_empty_batch_is_a_greeting(send: Send, rows: Rows) -> None:
    assert send() == []
    ((build,),) = rows("SELECT app_build FROM device")
    assert build == "0123456789abcdef"
