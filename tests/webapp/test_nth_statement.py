"""R40: let the 1st, 2nd, 3rd … statement to the database fail until all goes through.

After each failure nothing is half stored, and sending again leaves every row exactly once.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import event
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import OperationalError

from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item
from webapp.store.db import db

Rows = Callable[[str], list[tuple[Any, ...]]]
Fail = Callable[[Connection], None]


def refuse(_connection: Connection) -> None:
    """The store answers with a fault: its disk is full, its answer is an I/O error."""
    raise OperationalError("a statement", {}, Exception("disk I/O error"))


def hang_up(connection: Connection) -> None:
    """The connection is gone: the store was restarted, a cable pulled."""
    connection.connection.dbapi_connection.close()  # type: ignore[union-attr]


class Nth:
    """Counts statements and COMMITs, and lets the nth of them fail."""

    def __init__(self, engine: Engine, n: int, fail: Fail) -> None:
        self.engine, self.n, self.fail = engine, n, fail
        self.seen: list[str] = []

    def _count(self, connection: Connection, what: str) -> None:
        self.seen.append(what)
        if len(self.seen) == self.n:
            self.fail(connection)

    @contextmanager
    def planted(self) -> Iterator[None]:
        def statement(connection: Connection, _c: Any, text: str, *_rest: Any) -> None:
            self._count(connection, text)

        def commit(connection: Connection) -> None:
            self._count(connection, "COMMIT")

        event.listen(self.engine, "before_cursor_execute", statement)
        event.listen(self.engine, "commit", commit)
        try:
            yield
        finally:
            event.remove(self.engine, "before_cursor_execute", statement)
            event.remove(self.engine, "commit", commit)


def engine_of(app: Flask) -> Engine:
    with app.app_context():
        return db.engine


def mixed_batch() -> dict[str, Any]:
    """Two reports, a correction, a refused one, and an id that comes again otherwise."""
    first = item(1)
    correction = item(2, supersedes=first["id"])
    reused = {**first, "seq": 4}
    return batch(first, correction, item(3), item(5, found="fine"), reused)


WORDS = ["created"] * 3 + ["rejected"] * 2


def post(client: FlaskClient, content: Any) -> Any:
    return client.post("/api/outbox", json=content, headers=CHANGE)


def stored(rows: Rows, content: dict[str, Any]) -> list[int]:
    """The numbers of this batch's reports that are in the store, with repeats."""
    names = {one["id"].replace("-", "") for one in content["items"]}
    there = rows("SELECT id, seq FROM report ORDER BY seq")
    return [seq for name, seq in there if str(name).replace("-", "") in names]


def test_r40_the_nth_statement_is_refused_for_every_n(
    app: Flask, tablet: FlaskClient, rows: Rows
) -> None:
    fail_every_nth(engine_of(app), tablet, rows, refuse)


@pytest.mark.postgres
def test_r40_the_line_is_cut_at_the_nth_statement_for_every_n(
    make_app: Callable[..., Flask], postgres_url: str
) -> None:
    """PostgreSQL alone: SQLite is a file in the server's own process, with no line to cut."""
    app = make_app(DATABASE_URL=postgres_url)
    client = app.test_client()
    client.get("/")

    def rows(query: str) -> list[tuple[Any, ...]]:
        with app.app_context(), db.engine.connect() as connection:
            return [tuple(row) for row in connection.exec_driver_sql(query)]

    fail_every_nth(engine_of(app), client, rows, hang_up)


def fail_every_nth(engine: Engine, tablet: FlaskClient, rows: Rows, fail: Fail) -> None:
    seen: list[str] = []
    for n in itertools.count(1):
        content = mixed_batch()
        nth = Nth(engine, n, fail)
        with nth.planted():
            answer = post(tablet, content)
        if len(nth.seen) < n:
            break
        seen = nth.seen
        assert answer.status_code in {500, 503}, (n, seen[-1])
        assert_problem(answer, answer.status_code)
        assert stored(rows, content) == [], (n, seen[-1])
        again = post(tablet, content)
        assert again.status_code == 200, (n, again.text)
        assert [r["result"] for r in again.get_json()["results"]] == WORDS, n
        assert stored(rows, content) == [1, 2, 3], (n, seen[-1])
    assert [r["result"] for r in answer.get_json()["results"]] == WORDS
    assert stored(rows, content) == [1, 2, 3]
    # It was really tried: every insert, both refusals, the audit entry, COMMIT.
    assert n > 12 and seen[-1] == "COMMIT", seen
    assert rows("SELECT count(*) FROM refusal") == [(2 * n,)]
    assert rows("SELECT count(*) FROM audit") == [(n,)]


def test_r40_commit_returned_but_its_answer_was_lost(
    app: Flask,
    tablet: FlaskClient,
    rows: Rows,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The worst moment: all is stored and the server cannot know. The repeat says so."""
    content = mixed_batch()
    dialect = engine_of(app).dialect
    commit = dialect.do_commit
    commits = itertools.count(1)

    def commit_and_lose(connection: Any) -> None:
        commit(connection)
        if next(commits) == 1:
            raise OperationalError("COMMIT", {}, Exception("connection lost"))

    with monkeypatch.context() as broken:
        broken.setattr(dialect, "do_commit", commit_and_lose)
        answer = post(tablet, content)
    assert_problem(answer, 503)
    assert stored(rows, content) == [1, 2, 3]
    again = post(tablet, content).get_json()["results"]
    assert [r["result"] for r in again] == ["duplicate"] * 3 + ["rejected"] * 2
    assert all(r["server_no"] for r in again[:3])
    assert stored(rows, content) == [1, 2, 3]
