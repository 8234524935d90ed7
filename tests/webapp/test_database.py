"""The stores themselves: R62 (audit), R68, R69, migrations, on SQLite and PostgreSQL."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta, timezone

import flask_migrate
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from flask import Flask
from sqlalchemy import select, text, update
from sqlalchemy.exc import DBAPIError, OperationalError, StatementError

from tests.support.reports import CHANGE, batch, item
from webapp.commands import demo
from webapp.lines.rows import FeedClock, IndexRev
from webapp.store import audit
from webapp.store.db import Base, db, reading, writing

THREADS, TURNS = 8, 500
NOW = datetime(2026, 11, 25, 6, 40, 0, 123456, tzinfo=UTC)


def test_r68_every_pooled_sqlite_connection_is_safe(lone_app: Flask) -> None:
    """R68: journal_mode=wal, synchronous=2, foreign_keys=1, busy_timeout>=5000 on each."""
    with lone_app.app_context():
        held = [db.engine.connect() for _ in range(5)]
        for connection in held:
            ask = connection.exec_driver_sql
            assert ask("PRAGMA journal_mode").scalar() == "wal"
            assert ask("PRAGMA synchronous").scalar() == 2
            assert ask("PRAGMA foreign_keys").scalar() == 1
            assert int(ask("PRAGMA busy_timeout").scalar() or 0) >= 5000
            connection.rollback()
        for connection in held:
            connection.close()


def count_up(app: Flask) -> None:
    """Read, then write what was read plus one: the pattern that a plain BEGIN fails on."""
    with app.app_context(), writing() as session:
        n = session.execute(select(FeedClock.n).with_for_update()).scalar_one()
        session.execute(update(FeedClock).values(n=n + 1))


def test_r69_read_then_write_never_finds_the_store_locked(app: Flask) -> None:
    """R69: 8 threads read, then write: no "database is locked", exact final count."""
    barrier = threading.Barrier(THREADS)

    def work(_n: int) -> None:
        barrier.wait()
        for _ in range(TURNS):
            count_up(app)

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(work, range(THREADS)))
    with app.app_context(), reading() as session:
        assert session.execute(select(FeedClock.n)).scalar_one() == THREADS * TURNS


def test_a_plain_begin_would_fail_where_ours_does_not(lone_app: Flask) -> None:
    """The control of R69: the same two steps in a reading transaction are refused at once."""
    with lone_app.app_context(), reading() as session:
        session.execute(select(FeedClock.n)).scalar_one()
        with lone_app.app_context(), writing() as other:
            other.execute(update(FeedClock).values(n=5))
        with pytest.raises(OperationalError, match="locked"):
            session.execute(update(FeedClock).values(n=7))


def test_a_reader_does_not_wait_for_a_writer(lone_app: Flask) -> None:
    with lone_app.app_context(), writing() as session:
        session.execute(update(FeedClock).values(n=9))
        with lone_app.app_context(), reading() as other:
            assert other.execute(select(FeedClock.n)).scalar_one() == 0


def test_the_migrations_make_exactly_the_tables_of_the_models(app: Flask) -> None:
    assert demo.DemoMark.__tablename__ in Base.metadata.tables
    with app.app_context(), db.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        differences = [
            difference
            for difference in compare_metadata(context, Base.metadata)
            if "alembic_version" not in str(difference)
        ]
    assert differences == []


def test_migrating_again_changes_nothing_and_going_back_empties_the_store(app: Flask) -> None:
    with app.app_context():
        flask_migrate.upgrade()
        flask_migrate.downgrade(revision="base")
        assert set(db.inspect(db.engine).get_table_names()) == {"alembic_version"}
        flask_migrate.upgrade()
        assert "report" in db.inspect(db.engine).get_table_names()


@pytest.mark.parametrize("change", ["UPDATE audit SET who = 'nobody'", "DELETE FROM audit"])
def test_r62_an_audit_row_cannot_be_changed_or_taken_away(app: Flask, change: str) -> None:
    with app.app_context():
        with writing() as session:
            audit.record(session, NOW, "a test", "test.entry", "x", None, {"n": 1})
        with pytest.raises(DBAPIError, match="append-only"), writing() as session:
            session.execute(text(change))
        with reading() as session:
            assert session.execute(text("SELECT who FROM audit")).scalar_one() == "a test"


def test_a_time_comes_back_as_the_same_instant_in_utc(app: Flask) -> None:
    east = NOW.astimezone(timezone(timedelta(hours=5, minutes=30)))
    with app.app_context():
        with writing() as session:
            session.add(IndexRev(serial=1, routes=[], published_at=east))
        with reading() as session:
            found = session.scalars(select(IndexRev)).one().published_at
    assert found == NOW and found.utcoffset() == timedelta(0)


def test_a_time_without_offset_is_refused(app: Flask) -> None:
    with (
        app.app_context(),
        pytest.raises(StatementError, match="names no instant"),
        writing() as session,
    ):
        session.add(IndexRev(serial=1, routes=[], published_at=datetime(2026, 1, 1)))


def test_what_a_driver_wrote_is_not_in_the_error_text(
    lone_app: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    """R60 on the log: a failing statement is logged without its values."""
    with lone_app.app_context():
        with writing() as session:
            session.execute(text("DROP TABLE report"))
        sent = batch(item(text="my private words"))
        answer = lone_app.test_client().post("/api/outbox", json=sent, headers=CHANGE)
    assert answer.status_code == 503
    assert "report" in caplog.text and "private words" not in caplog.text


def test_the_newest_page_and_the_gap_search_use_their_indexes(
    lone_app: Flask, explain: Callable[[str], str]
) -> None:
    newest = explain(
        "SELECT * FROM report WHERE (received_at, id) < ('2026', 'a') "
        "ORDER BY received_at DESC, id DESC LIMIT 51"
    )
    assert "ix_report_newest" in newest and "TEMP B-TREE" not in newest
    gaps = explain(
        "SELECT lag(seq, 1, 0) OVER (PARTITION BY device_id, install_id ORDER BY seq) "
        "FROM report"
    )
    assert "ix_report_sequence" in gaps and "TEMP B-TREE" not in gaps


@pytest.fixture
def explain(lone_app: Flask) -> Callable[[str], str]:
    def ask(query: str) -> str:
        with lone_app.app_context(), db.engine.connect() as connection:
            rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {query}")
            return "\n".join(str(row[-1]) for row in rows)

    return ask
