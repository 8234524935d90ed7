"""What tablets send that are not enrolled: kept apart, within a budget, adopted later."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import flask_migrate
import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import text, update

from tests.support.desk import desk_client
from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item
from tests.support.seals import seal
from tests.support.small_pack import small_pack
from tests.support.warned import warn
from webapp.publish import service as publisher
from webapp.records import not_enrolled as strangers
from webapp.records.items import Delivery
from webapp.records.not_enrolled_rows import HeldItem
from webapp.records.outbox_schemas import ReportItem
from webapp.records.reports import service as reports
from webapp.records.reports.models import Note, Report
from webapp.records.tablets import Device
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
Rows = Callable[[str], list[tuple[Any, ...]]]
#: Every table that may never lose a row, or of which a page or rule of the enrolled reads.
OTHERS = (
    *("report", "report_words", "refusal", "closed_number", "seal", "sealed_report", "audit"),
    *("approach_count", "count_item", "receipt_item", "warning_receipt"),
)


def offer(client: FlaskClient, *items: Any, address: str = "10.0.0.1", **more: Any) -> Any:
    return client.post(
        "/api/outbox",
        json=batch(*items, **more),
        headers=CHANGE,
        environ_base={"REMOTE_ADDR": address},
    )


def results(answer: Any) -> list[tuple[str, str | None]]:
    assert answer.status_code == 200, answer.text
    return [(one["result"], one.get("code")) for one in answer.get_json()["results"]]


@pytest.fixture
def others(rows: Rows) -> Callable[[], list[int]]:
    return lambda: [rows(f"SELECT count(*) FROM {table}")[0][0] for table in OTHERS]


def counted(seq: int) -> dict[str, Any]:
    cell = {
        "route": "l",
        "target": "t",
        "hour": 6,
        "rail_state": "dry",
        "train_type": "a",
        "n": 1,
    }
    body = {"month": "2026-11", "cells": [cell]}
    return {"kind": "counts", "id": str(uuid.uuid4()), "body": body}


def test_every_kind_is_answered_to_be_offered_again_and_nothing_else_is_written(
    app: Flask, others: Callable[[], list[int]], rows: Rows
) -> None:
    """An app that knows only created, duplicate, rejected and retry keeps it by "retry"."""
    before, stranger = others(), app.test_client()
    receipt = {"kind": "receipt", "id": str(uuid.uuid4())}
    receipt["body"] = {"packs": [], "received": [], "seen": []}  # type: ignore[assignment]
    answer = offer(stranger, item(1), seal(2), counted(3), receipt, {**item(4), "seq": 0}, 7)
    assert results(answer) == [
        ("retry", "received_not_counted"),
        ("retry", "received_not_counted"),
        *[("retry", "not_enrolled")] * 2,
        ("rejected", "invalid"),
        ("rejected", "not_an_object"),
    ]
    assert all(one["server_no"] is None for one in answer.get_json()["results"])
    assert others() == before
    assert sorted(rows("SELECT kind FROM not_enrolled_item")) == [("report",), ("seal",)]


def test_a_stranger_cannot_learn_whether_a_report_is_there(
    app: Flask, send: Send, others: Callable[[], list[int]]
) -> None:
    there = item(1)
    send(there)
    before = others()
    clash = {**there, "body": {**there["body"], "text": "other"}}
    for one in (there, clash, item(2)):
        assert results(offer(app.test_client(), one)) == [("retry", "received_not_counted")]
    assert others() == before


def test_once_enrolled_the_same_report_is_adopted(app: Flask, send: Send, rows: Rows) -> None:
    """Also where somebody else sent other words under its id before."""
    one = item(1, happened=["overrun"])
    offer(app.test_client(), {**one, "body": {**one["body"], "text": "not mine"}})
    offer(app.test_client(), one)
    with app.app_context(), reading() as session:
        assert strangers.waiting(session).words == "2 from tablets not enrolled, 2 say overrun"
    (result,) = send(one)
    assert result["result"] == "created" and result["server_no"]
    with app.app_context(), reading() as session:
        assert (
            strangers.waiting(session).words == "1 from tablets not enrolled, 1 says overrun"
        )


def test_what_an_ended_tablet_saw_while_it_was_enrolled_counts(
    app: Flask, tablet: FlaskClient, rows: Rows
) -> None:
    now = datetime.now(UTC)
    seen = {n: (now - timedelta(minutes=n)).isoformat() for n in (5, 15, 25)}
    with app.app_context(), writing() as session:
        began, ended = now - timedelta(minutes=20), now - timedelta(minutes=10)
        session.execute(update(Device).values(enrolled_at=began, revoked_at=ended))
    answer = offer(tablet, *(item(n, observed_at=at) for n, at in seen.items()))
    assert [one for one, _ in results(answer)] == ["retry", "created", "retry"]
    assert rows("SELECT seq FROM report") == [(15,)]


def test_one_address_has_a_budget_of_requests_and_rows(
    app: Flask, monkeypatch: pytest.MonkeyPatch, send: Send
) -> None:
    monkeypatch.setattr(strangers, "OF_ADDRESS", strangers.Budget(3, 4, 10**6))
    stranger = app.test_client()
    first = results(offer(stranger, *(item(n) for n in range(1, 7))))
    assert (
        sorted(code or "" for _, code in first)
        == ["no_room"] * 2 + ["received_not_counted"] * 4
    )
    assert results(offer(stranger, item(9))) == [("retry", "no_room")]
    # The same home under another address of its /64 is the same sender, another is not.
    for n, expected in (("1", 200), ("2", 200), ("3", 200), ("4", 429)):
        assert offer(stranger, item(9), address=f"2001:db8::{n}").status_code == expected
    assert offer(stranger, item(9)).status_code == 200
    away = offer(stranger, item(9))
    assert_problem(away, 429, "too_many_not_enrolled")
    assert 0 < int(away.headers["Retry-After"]) <= 3601
    assert "not enrolled: tell the depot" in away.get_json()["detail"]
    assert offer(stranger, item(9), address="10.0.0.2").status_code == 200
    assert send(item(1))[0]["result"] == "created"


def test_all_together_have_a_budget_of_bytes_and_of_what_is_held(
    app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = item(1, text="x" * 1000)
    monkeypatch.setattr(strangers, "OF_ALL", strangers.Budget(99, 99, 5000))
    codes = [
        results(
            offer(app.test_client(), {**one, "id": str(uuid.uuid4())}, address=f"10.1.1.{n}")
        )
        for n in range(5)
    ]
    assert [code for ((_, code),) in codes].count("no_room") >= 2
    monkeypatch.setattr(strangers, "AT_MOST", strangers.Budget(0, 1, 10**6))
    assert results(offer(app.test_client(), item(1))) == [("retry", "no_room")]


def test_below_the_floor_of_disk_only_enrolled_tablets_reports_are_taken(
    app: Flask, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    app.config["FREE_DISK_MB"] = 10_000_000
    away = offer(app.test_client(), item(1))
    assert_problem(away, 503, "disk_low")
    assert "disk is nearly full: only enrolled tablets" in away.get_json()["detail"]
    assert away.headers["Retry-After"] == "601"
    assert send(item(1))[0]["result"] == "created"


def test_what_nobody_used_expires_and_so_does_what_was_spent(app: Flask, rows: Rows) -> None:
    offer(app.test_client(), item(1))
    with app.app_context(), writing() as session:
        long_ago = datetime.now(UTC) - timedelta(days=2)
        session.execute(update(HeldItem).values(expires_at=long_ago))
        session.execute(
            text("UPDATE not_enrolled_spent SET \"window\" = '2026-01-01 00:00:00'")
        )
    offer(app.test_client(), item(2))
    assert rows("SELECT count(*) FROM not_enrolled_item") == [(1,)]
    assert rows("SELECT count(*) FROM not_enrolled_spent") == [(2,)]
    assert not re.search(r"10\.0\.0", str(rows("SELECT * FROM not_enrolled_spent")))


def test_what_was_kept_apart_before_moves_over_unless_somebody_worked_with_it(
    app: Flask, tablet: FlaskClient, send: Send, rows: Rows
) -> None:
    """A depot of 0.2.0: 1 genuine; 2 and 3 of strangers; 4 reviewed, 5 joined to 6, 7 noted.

    8 is of a tablet that was ended later: what it saw while it was enrolled counts now.
    """
    with app.app_context():
        flask_migrate.downgrade(revision="0018")
    now = datetime.now(UTC)
    items = [item(n, observed_at=now.isoformat(), text=f"word {n}") for n in range(1, 9)]
    items[1]["body"]["happened"] = ["overrun"]
    with app.app_context(), writing() as session:
        device = session.query(Device).one()
        device.enrolled_at, device.revoked_at = (
            now - timedelta(days=1),
            now + timedelta(days=1),
        )
        delivery = Delivery(None, uuid.uuid4(), now, now, now)
        for n, one in enumerate(items, 1):
            checked = ReportItem().load(one)
            reports.keep(session, delivery, checked, one, str(n) * 64)
        session.flush()
        kept = {row.server_no: row for row in session.query(Report)}
        for n in range(2, 9):
            kept[n].quarantined = True
        kept[8].device_id = device.id
        kept[4].reviewed_at = now
        kept[5].repeats = kept[6].id
        said = {"said_by": "driver", "reference": "", "text": "it was me", "noted_by": "a"}
        session.add(Note(report_id=kept[7].id, said_at=now, noted_at=now, **said))
    with app.app_context():
        flask_migrate.upgrade()
    query = "SELECT server_no, quarantined FROM report ORDER BY server_no"
    left = [(no, bool(apart)) for no, apart in rows(query)]
    assert left == [(1, False), (4, True), (5, True), (6, True), (7, True), (8, False)]
    moved = "SELECT former_no, gravity, kind FROM not_enrolled_item ORDER BY former_no"
    assert rows(moved) == [
        (2, strangers.OVERRUN, "report"),
        (3, strangers.REPORTABLE, "report"),
    ]
    with app.app_context(), reading() as session:
        first = strangers.page(session, 1, aside=False).rows[0]
        assert first.item == items[1] and first.expires_at > now + timedelta(days=89)
    assert rows("SELECT count(*) FROM report_words") == [(6,)]


@pytest.fixture
def flood(request: pytest.FixtureRequest) -> int:
    return int(request.config.getoption("--flood"))


def test_a_flood_changes_nothing_of_the_enrolled_and_stays_in_its_budget(
    app: Flask, send: Send, others: Callable[[], list[int]], flood: int, rows: Rows
) -> None:
    """Reports, seals, counts and clashing ids from many addresses, as fast as they come."""
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
    begun = (datetime.now(UTC) - timedelta(hours=1)).isoformat()
    warned = warn(app, from_at=begun, from_place="2m 20ch", to_place="2m 50ch")
    now, there = datetime.now(UTC).isoformat(), {"at_m": 3900.0, "target": None}
    genuine = item(1, observed_at=now, flats_suspected=True, **there)
    send(genuine)
    desk = desk_client(app)
    path = f"/desk/warnings/{warned.id}"
    pages = (path, f"{path}/end", "/desk/reports", "/desk/handover", "/desk/control")
    pages += ("/desk/fleet", "/desk/seals", "/desk/places", "/desk/reports.csv")
    first = item(1, happened=["overrun"], flats_suspected=True, observed_at=now, **there)
    offer(app.test_client(), first)
    before, shown = others(), [plain(desk.get(page).text) for page in pages]
    assert all(desk.get(page).status_code == 200 for page in pages)
    for n in range(0, flood, 50):
        many = [
            item(
                n + k + 1, observed_at=now, happened=["overrun"], flats_suspected=True, **there
            )
            for k in range(47)
        ]
        clash = {**genuine, "body": {**genuine["body"], "text": f"{n}"}}
        answer = offer(
            app.test_client(),
            *(*many, seal(n + 48), counted(n + 49), clash),
            address=f"10.{n % 250}.{n // 50 % 250}.{n // 12500}",
        )
        assert answer.status_code in (200, 429)
    assert others() == before
    assert [plain(desk.get(page).text) for page in pages] == shown
    ((held, size),) = rows("SELECT count(*), sum(size) FROM not_enrolled_item")
    assert held <= strangers.OF_ALL.rows and size <= strangers.OF_ALL.size
    ((spent,),) = rows("SELECT count(*) FROM not_enrolled_spent")
    assert spent <= strangers.OF_ALL.requests + 1
    assert send(item(2))[0]["result"] == "created"


def plain(page: str) -> str:
    """The page without what differs each time, and without the one line about these."""
    page = re.sub(r'name="csrf_token"[^>]*>|\d\d:\d\d(:\d\d)?|\d+ from tablets.*', "", page)
    # What stands in the shift's picture moves along with the hour.
    moving = "aria-describedby|value|x|x1|x2|cx|d|points|transform|width"
    return re.sub(rf'\b({moving})="[^"]*"', "", page)
