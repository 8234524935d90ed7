"""A driver reads back all that the depot holds about a report, and nobody else's."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item
from tests.support.warned import publish_line, typed
from webapp.records import control, privacy
from webapp.records.reports import answers
from webapp.records.reports.models import Note, Report
from webapp.records.reports.own import NOT_TOLD
from webapp.records.warnings import service as warnings
from webapp.store.db import Base, writing

NOW = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
Send = Callable[..., list[dict[str, Any]]]


def test_every_row_about_the_own_report_is_told(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    one = item(1, text="long skid", driver_name="Quillon Abernathy", flats_suspected=True)
    send(one)
    name = uuid.UUID(one["id"])
    said = {"said_by": "signaller", "said_at": NOW, "reference": "r 7", "text": "thanks"}
    looked = {"inspected_by": "fleet", "inspected_at": NOW, "result": "two flats"}
    publish_line(app)
    with app.app_context(), writing() as session:
        session.add(Note(report_id=name, noted_by="a desk person", noted_at=NOW, **said))
        answers.answer(session, name, 3, "a desk person", NOW)
        control.inspected(session, name, looked, "a desk person", NOW)
        made = warnings.draft(session, typed(), "t", NOW, uuid.uuid4(), report=name).id
    got = tablet.get(f"/api/reports/{name}")
    assert got.headers["Cache-Control"] == "no-store"
    told = got.get_json()
    assert set(told["report"]) == set(Report.__table__.columns.keys()) - NOT_TOLD
    assert told["report"]["item"] == one
    assert "long skid" in told["searched"]
    assert told["answer"]["trains"] == 3
    assert told["notes"][0]["text"] == "thanks"
    assert told["wheels"]["result"] == "two flats"
    assert told["warnings"] == [{"id": str(made), "status": "draft"}]
    assert "a desk person" not in got.text, "who of the desk is not about the driver"


def test_each_table_that_names_a_report_is_told_or_named_here() -> None:
    """A new one fails here until the driver is told of it too."""
    naming = {
        table.name
        for table in Base.metadata.sorted_tables
        if {"report_id", "server_no"} & set(table.columns.keys())
    }
    told = {"report", "report_words", "report_note", "report_answer", "wheel_check"}
    assert naming == told | {"warning", "sealed_report"}


def test_no_other_tablet_and_nobody_reads_it(
    make_app: Callable[..., Flask], app: Flask, tablet: FlaskClient, send: Send
) -> None:
    one = item(1)
    send(one)
    path = f"/api/reports/{one['id']}"
    assert tablet.get(path).status_code == 200, "the control"
    other = app.test_client()
    other.get("/")
    other.post("/api/outbox", json=batch(item(1)), headers=CHANGE)
    assert_problem(other.get(path), 404, "not_held")
    assert_problem(app.test_client().get(path), 401, "not_enrolled")
    assert_problem(tablet.get(f"/api/reports/{uuid.uuid4()}"), 404, "not_held")


def test_what_was_anonymised_is_nobodys_any_more(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    one = item(1, text="long skid")
    ((sent),) = send(one)
    with app.app_context(), writing() as session:
        session.query(Report).update({"waiting": False})
        found = privacy.held(session, sent["server_no"])
        assert found
        privacy.anonymise(session, found, "t", NOW)
    assert_problem(tablet.get(f"/api/reports/{one['id']}"), 404, "not_held")
