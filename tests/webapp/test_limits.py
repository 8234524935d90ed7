"""No limit of a list drops the row that decides, however many rows came after it."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.reports import CHANGE, batch, item
from webapp.records import control
from webapp.records.places import treatments
from webapp.records.places.register import Place
from webapp.records.reports import lists, near
from webapp.records.reports.models import Report
from webapp.records.restrictions import service as restrictions
from webapp.records.restrictions.models import Restriction
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service as warnings
from webapp.store import audit
from webapp.store.db import reading, writing

NOW = datetime.now(UTC)


@pytest.fixture
def tablet(lone_app: Flask) -> FlaskClient:
    client = lone_app.test_client()
    client.get("/")
    return client


def send(tablet: FlaskClient, *items: dict[str, Any]) -> None:
    for first in range(0, len(items), 50):
        some = batch(*items[first : first + 50])
        answer = tablet.post("/api/outbox", json=some, headers=CHANGE).get_json()
        assert {one["result"] for one in answer["results"]} == {"created"}


def seen(minutes: float) -> str:
    return (NOW - timedelta(minutes=minutes)).isoformat()


def test_wheels_nobody_looked_at_stay_in_the_list(
    lone_app: Flask, tablet: FlaskClient
) -> None:
    send(tablet, item(1, flats_suspected=True, text="the first"))
    send(tablet, *(item(n, flats_suspected=True) for n in range(2, 203)))
    looked = {"inspected_by": "fleet", "result": "no flats", "inspected_at": NOW}
    with lone_app.app_context(), reading() as session:
        assert len(control.wheels(session, NOW)) == 202
    with lone_app.app_context(), writing() as session:
        for one in control.wheels(session, NOW)[:-1]:
            control.inspected(session, one.report.id, looked, "test", NOW)
    with lone_app.app_context(), reading() as session:
        assert control.wheels(session, NOW)[0].report.server_no == 1


def test_a_grave_report_is_not_pushed_out_of_what_waits(
    lone_app: Flask, tablet: FlaskClient
) -> None:
    send(tablet, item(1, happened=["overrun"]))
    send(tablet, *(item(n, found="good", happened=[]) for n in range(2, 44)))
    with lone_app.app_context(), reading() as session:
        some = lists.unanswered(session, 40)
        assert (some.shown[0].server_no, some.count) == (1, 43)


def test_the_nearest_in_time_is_among_the_near_ones(
    lone_app: Flask, tablet: FlaskClient
) -> None:
    send(tablet, item(1, observed_at=seen(100)))
    send(tablet, item(2, observed_at=seen(101)))
    send(tablet, *(item(n, observed_at=seen(n / 10)) for n in range(3, 30)))
    with lone_app.app_context(), reading() as session:
        row = session.get_one(Report, 1)
        assert near.of(session, row)[0].row.server_no == 2


def test_the_newest_action_on_one_thing_is_told(lone_app: Flask) -> None:
    with lone_app.app_context(), writing() as session:
        for n in range(505):
            audit.record(session, NOW, "test", f"action {n}", "it", None, None)
    with lone_app.app_context(), reading() as session:
        assert audit.of(session, "it")[-1].what == "action 504"


def test_the_treatment_that_counts_is_not_hidden_by_missed_ones(
    lone_app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = warnings_models.Warned(
        status="published", line_key="l", direction="down", from_m=0, to_m=9, from_at=NOW
    )
    monkeypatch.setattr(warnings, "listed", lambda _: [begun])
    name = uuid.uuid4()
    where = {"line_key": "l", "direction": "down", "from_m": 0.0, "to_m": 9.0}
    rest = ("key", "name", "state", "season_from", "season_to", "reason", "source", "stands")
    place = Place(id=name, rev=1, **where, **dict.fromkeys(rest, ""))  # type: ignore[arg-type]
    told = {"means": "train", "next_line": "yes", "told_by": "crew", "note": ""}
    with lone_app.app_context(), writing() as session:
        later = NOW + timedelta(seconds=30)
        done = {**told, "outcome": "done", "done_at": later}
        treatments.note(session, place, done, "test", later)
        for n in range(51):
            at = later + timedelta(seconds=n + 1)
            treatments.note(
                session, place, {**told, "outcome": "missed", "done_at": at}, "test", at
            )
        assert treatments.live_there(session, place) == [begun]


def test_every_live_restriction_is_told(lone_app: Flask) -> None:
    same = {
        **{"rev": 1, "line_key": "a", "direction": "down", "from_m": 0.0, "to_m": 9.0},
        **{"speed": 20, "unit": "mph", "speed_mps": 9.0, "reference": "", "told_by": "t"},
        **{"from_at": NOW - timedelta(hours=2), "changed_at": NOW, "changed_by": "t"},
        **{"ended_told_by": "", "ended_why": ""},
    }
    past = NOW - timedelta(hours=1)
    with lone_app.app_context(), writing() as session:
        session.add_all(Restriction(id=uuid.uuid4(), **same) for _ in range(200))
        last = {**same, "line_key": "b", "until_at": past}
        session.add(Restriction(id=uuid.uuid4(), **last))
    with lone_app.app_context(), reading() as session:
        assert restrictions.live(session, NOW)[0].line_key == "b"
