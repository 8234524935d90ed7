"""New reports are kept together: the same as one by one, in few statements."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask
from sqlalchemy import event

from tests.support.reports import CHANGE, batch, item, opened
from webapp.records import outbox as service
from webapp.records.reports.models import Report, ReportWords
from webapp.store.db import db, reading

LEFT_OUT = ("server_no", "received_at", "clock_offset_s", "observed_est_at", "sent_at")


def rows(app: Flask) -> list[dict[str, Any]]:
    with app.app_context(), reading() as session:
        found = session.query(Report).order_by(Report.seq, Report.id).all()
        return [
            {
                name: getattr(row, name)
                for name in Report.__mapper__.column_attrs.keys()
                if name not in LEFT_OUT
            }
            for row in found
        ]


def words(app: Flask) -> list[tuple[int, str]]:
    with app.app_context(), reading() as session:
        found = session.query(ReportWords.server_no, ReportWords.words)
        return [(no, text) for no, text in found.order_by(ReportWords.server_no)]


def results(client: Any, sent: dict[str, Any]) -> list[dict[str, Any]]:
    answer = client.post("/api/outbox", json=sent, headers=CHANGE)
    found: list[dict[str, Any]] = answer.get_json()["results"]
    return found


def test_a_delivery_together_is_what_it_is_one_by_one(
    app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """New, repeated in the delivery, known already, refused: each as it was before."""
    client = opened(app)
    known, twice = item(1), item(2, text="leaves at the bridge")
    results(client, batch(known))
    bad = {**item(4), "body": {"found": "nonsense"}}
    sent = batch(item(3), known, twice, twice, bad, item(5), "no object")
    said = [one["result"] for one in results(client, sent)]
    assert said == [
        *("created", "duplicate", "created", "duplicate"),
        *("rejected", "created", "rejected"),
    ]
    here, text = rows(app), words(app)
    with app.app_context():
        for model in (ReportWords, Report):
            db.session.query(model).delete()
        db.session.commit()
    monkeypatch.setattr(service, "_take_together", lambda *_: {})
    results(client, batch(known))
    assert [one["result"] for one in results(client, sent)] == said
    assert rows(app) == here
    assert sorted(one for _, one in words(app)) == sorted(one for _, one in text)


def test_numbers_rise_and_are_answered_to_their_own_report(app: Flask) -> None:
    client, sent = opened(app), batch(*(item(n) for n in range(1, 31)))
    told = {one["id"]: one["server_no"] for one in results(client, sent)}
    with app.app_context(), reading() as session:
        held = {str(row.id): row.server_no for row in session.query(Report)}
    assert told == held and len(set(held.values())) == 30


def test_fifty_reports_cost_few_statements(lone_app: Flask) -> None:
    client = opened(lone_app)
    told: list[str] = []

    def note(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        told.append(statement)

    with lone_app.app_context():
        event.listen(db.engine, "before_cursor_execute", note)
    results(client, batch(*(item(n) for n in range(1, 51))))
    assert len(told) < 25, told
