"""R41: `Idempotency-Key` on a batch; one key, one body, one answer, on both stores."""

from __future__ import annotations

import itertools
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import update

from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, INSTALL, batch, item
from webapp.records import idempotency, outbox
from webapp.records.idempotency import KeptAnswer
from webapp.store import db
from webapp.store.db import writing

Rows = Callable[[str], list[tuple[Any, ...]]]
OTHER = "0192f0c1-0000-4000-8000-000000000009"


def post(client: FlaskClient, content: Any, key: str = '"k-1"') -> Any:
    return client.post("/api/outbox", json=content, headers={**CHANGE, "Idempotency-Key": key})


def set_back(app: Flask, by: timedelta) -> None:
    """Let every key be older than it is."""
    with app.app_context(), writing() as session:
        session.execute(update(KeptAnswer).values(claimed_at=datetime.now(UTC) - by))


def test_r41_the_same_key_and_items_get_the_same_results(
    tablet: FlaskClient, rows: Rows
) -> None:
    """Sent again later and by a newer build of the app: still "created", as at first."""
    content = batch(item(1), {"kind": "report"}, {"kind": "\0", "id": "\ud800"})
    first = post(tablet, content)
    again = post(tablet, {**content, "sent_at": "2030-01-01T00:00:00Z", "app_build": "next"})
    assert first.status_code == again.status_code == 200
    assert first.get_json()["results"] == again.get_json()["results"]
    assert [r["result"] for r in again.get_json()["results"]] == ["created"] + ["rejected"] * 2
    assert rows("SELECT count(*) FROM report") == [(1,)]


def test_r41_without_the_header_the_answer_is_equal(tablet: FlaskClient, rows: Rows) -> None:
    names = {"id", "server_no", "received_at"}
    content = batch(item(1), item(2))
    keyed = post(tablet, content).get_json()["results"]
    plain = tablet.post("/api/outbox", json=content, headers=CHANGE).get_json()["results"]
    assert [{n: r[n] for n in names} for r in keyed] == [
        {n: r[n] for n in names} for r in plain
    ]
    assert [r["result"] for r in plain] == ["duplicate"] * 2
    assert rows("SELECT count(*) FROM kept_answer") == [(1,)]


def test_r41_the_same_key_with_other_items_is_refused_and_nothing_is_kept(
    tablet: FlaskClient, rows: Rows
) -> None:
    assert post(tablet, batch(item(1))).status_code == 200
    other = batch(item(2))
    assert_problem(post(tablet, other), 422, "idempotency_key_reused")
    assert rows("SELECT seq FROM report") == [(1,)]
    assert post(tablet, other, '"k-2"').get_json()["results"][0]["result"] == "created"


@pytest.mark.parametrize(
    "header",
    ["", "k-1", '""', '"k', "'k'", '"k", "l"', '"ä"', "?1", "12", ":aGk=:", f'"{"x" * 256}"'],
)
def test_r41_a_key_that_is_no_quoted_string_is_400(lone_app: Flask, header: str) -> None:
    answer = post(lone_app.test_client(), batch(item(1)), header)
    body = assert_problem(answer, 400, "bad_idempotency_key")
    assert "quoted string" in body["detail"]


def test_r41_keys_belong_to_one_tablet(app: Flask, tablet: FlaskClient, rows: Rows) -> None:
    """Scope (device, key); of a stranger no answer is kept, for anybody could send those."""
    other = app.test_client()
    other.get("/")
    for client in (tablet, other):
        assert post(client, batch(item(1), install_id=INSTALL)).status_code == 200
    assert post(app.test_client(), batch(item(2), install_id=OTHER)).status_code == 200
    assert rows("SELECT count(*) FROM report") == [(2,)]
    assert len({scope for (scope,) in rows("SELECT scope FROM kept_answer")}) == 2


def test_r41_while_the_first_is_at_work_the_second_is_told_to_wait(
    app: Flask, tablet: FlaskClient, rows: Rows, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = batch(item(1))
    inside, go_on = threading.Event(), threading.Event()
    calls = itertools.count()
    begin = db.writing

    def hold_the_work() -> Any:
        """Let the claim be committed, and the work's own transaction wait."""
        if next(calls) == 1:
            inside.set()
            assert go_on.wait(20)
        return begin()

    monkeypatch.setattr(outbox, "writing", hold_the_work)
    cookie = tablet.get_cookie("sih-tablet")
    assert cookie
    second = app.test_client()
    second.set_cookie("sih-tablet", cookie.value)
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(post, tablet, content)
        assert inside.wait(20)
        waiting = post(second, content)
        go_on.set()
        assert first.result().status_code == 200
    assert_problem(waiting, 409, "in_progress")
    assert int(waiting.headers["Retry-After"]) > 0
    again = post(second, content)
    assert again.get_json()["results"] == first.result().get_json()["results"]
    assert rows("SELECT count(*) FROM report") == [(1,)]


def test_r41_work_that_failed_lets_its_key_go(
    tablet: FlaskClient, rows: Rows, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = batch(item(1))
    with monkeypatch.context() as broken:
        broken.setattr(outbox, "take_in", lambda *_: 1 / 0)
        assert_problem(post(tablet, content), 500)
    assert rows("SELECT count(*) FROM kept_answer") == [(0,)]
    assert post(tablet, content).get_json()["results"][0]["result"] == "created"


def test_r41_a_claim_of_a_server_that_died_is_taken_over(
    app: Flask, tablet: FlaskClient, rows: Rows
) -> None:
    """And if the first was only slow, it finds its claim gone and undoes its work."""
    content = batch(item(1))
    ((device,),) = rows("SELECT id FROM device")
    sha = idempotency.body_sha(uuid.UUID(content["install_id"]), content["items"])
    with app.app_context(), writing() as session:
        scope = f"tablet {uuid.UUID(str(device))}"
        dead = idempotency.claim(session, scope, "k-1", sha, datetime.now(UTC))
    assert_problem(post(tablet, content), 409, "in_progress")
    set_back(app, idempotency.AT_WORK)
    assert post(tablet, content).get_json()["results"][0]["result"] == "created"
    with (
        app.app_context(),
        pytest.raises(idempotency.KeyTrouble, match="being taken in"),
        writing() as session,
    ):
        idempotency.finish(session, dead, [])
    assert post(tablet, content).get_json()["results"][0]["result"] == "created"


@pytest.mark.parametrize(("days", "word"), [(89.9, "created"), (90.1, "duplicate")])
def test_r41_an_answer_is_kept_for_ninety_days(
    app: Flask, tablet: FlaskClient, rows: Rows, days: float, word: str
) -> None:
    """After that the key is forgotten, and the id of the report still makes it harmless."""
    content = batch(item(1))
    post(tablet, content)
    post(tablet, batch(item(2)), '"k-2"')
    set_back(app, timedelta(days=days))
    assert post(tablet, content).get_json()["results"][0]["result"] == word
    assert rows("SELECT count(*) FROM report") == [(2,)]
    assert rows("SELECT count(*) FROM kept_answer") == [(1 if word == "duplicate" else 2,)]


def test_r41_fifty_threads_with_one_key_leave_one_row(
    app: Flask, tablet: FlaskClient, rows: Rows
) -> None:
    content = batch(item(1))
    barrier = threading.Barrier(50)
    cookie = tablet.get_cookie("sih-tablet")
    assert cookie is not None

    def send(_n: int) -> Any:
        client = app.test_client()
        client.set_cookie("sih-tablet", cookie.value)
        barrier.wait()
        return post(client, content)

    with ThreadPoolExecutor(50) as pool:
        answers = list(pool.map(send, range(50)))
    done = [answer.get_json()["results"] for answer in answers if answer.status_code == 200]
    assert done and all(results == done[0] for results in done)
    assert {answer.status_code for answer in answers} <= {200, 409}
    assert rows("SELECT count(*) FROM report") == [(1,)]
