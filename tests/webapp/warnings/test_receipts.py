"""Receipts at the depot: which tablets hold a warning while it lives, only counts after."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import inspect, update

from tests.support.reports import CHANGE, INSTALL, batch, item
from tests.support.warned import WHO, end, publish_line, warn
from webapp.records import tablets
from webapp.records.tablets import Device
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import receipts, service
from webapp.records.warnings.models import ReceiptItem
from webapp.store.db import db, reading, writing

Rows = Callable[[str], list[tuple[Any, ...]]]
Send = Callable[..., list[dict[str, Any]]]
PACK = "a" * 64


def receipt(
    *received: tuple[uuid.UUID, int], seen: tuple[tuple[uuid.UUID, int], ...] = (), **body: Any
) -> dict[str, Any]:
    said = {"received": received, "seen": seen}
    whole = {
        name: [{"warning": str(warning), "rev": rev} for warning, rev in some]
        for name, some in said.items()
    }
    packs = [{"route": "larch-valley", "pack": PACK}]
    return {
        "kind": "receipt",
        "id": str(uuid.uuid4()),
        "body": {"packs": packs, **whole, **body},
    }


def tablet_at(app: Flask, base: str, label: str = "cab tablet") -> FlaskClient:
    """An enrolled tablet of a duty base."""
    with app.app_context(), writing() as session:
        token = tablets.enrol(session, label, datetime.now(UTC), base)
    client = app.test_client()
    client.set_cookie("sih-tablet", token)
    return client


def hand_in(client: FlaskClient, *items: dict[str, Any]) -> list[dict[str, Any]]:
    answer = client.post("/api/outbox", json=batch(*items), headers=CHANGE)
    assert answer.status_code == 200, answer.text
    return list(answer.get_json()["results"])


def reach(app: Flask, warned: warnings_models.Warned) -> receipts.Reach:
    with app.app_context(), reading() as session:
        row = session.get_one(type(warned), warned.id)
        return receipts.reach(session, [row])[warned.id]


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


def test_received_then_seen_and_the_pack(line: Flask, rows: Rows) -> None:
    warned, tablet = warn(line), tablet_at(line, "Harrowmere")
    tablet_at(line, "Harrowmere")
    assert reach(line, warned) == receipts.Reach(2, 0, 0)
    (answer,) = hand_in(tablet, receipt((warned.id, 2)))
    assert (answer["result"], answer["server_no"]) == ("created", None)
    assert reach(line, warned) == receipts.Reach(2, 1, 0)
    hand_in(tablet, receipt(seen=((warned.id, 2),)))
    assert reach(line, warned) == receipts.Reach(2, 1, 1)
    assert reach(line, warned).lacking == 1
    assert rows("SELECT line_key, pack_sha FROM tablet_pack") == [("larch-valley", PACK)]


def test_a_line_the_tablet_no_longer_names_it_no_longer_holds(line: Flask, rows: Rows) -> None:
    tablet = tablet_at(line, "")
    hand_in(tablet, receipt())
    other = {"route": "kettle-bay", "pack": "b" * 64}
    hand_in(tablet, receipt(packs=[other]))
    assert rows("SELECT line_key FROM tablet_pack") == [("kettle-bay",)]


def test_a_repeat_is_answered_the_same_and_another_content_refused(line: Flask) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    one = receipt((warned.id, 2))
    first, again = hand_in(tablet, one)[0], hand_in(tablet, one)[0]
    assert (first["result"], again["result"]) == ("created", "duplicate")
    assert first["received_at"] == again["received_at"]
    other = hand_in(tablet, {**one, "body": receipt()["body"]})[0]
    assert (other["result"], other["code"]) == ("rejected", "id_reused")
    assert reach(line, warned).received == 1


def test_any_order_of_arrival_leaves_the_newest_revision(line: Flask, rows: Rows) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    with line.app_context(), writing() as session:
        service.amend(session, warned.id, 2, {"reason": "worse"}, WHO, datetime.now(UTC))
    hand_in(tablet, receipt((warned.id, 3)))
    hand_in(tablet, receipt((warned.id, 2), seen=((warned.id, 2),)))
    assert rows("SELECT received_rev, seen_rev FROM warning_receipt") == [(3, 2)]
    # What stands now was received; shown at a Brief was only what stood before.
    assert reach(line, warned) == receipts.Reach(1, 1, 0)


def test_an_amended_warning_is_not_yet_received_by_who_holds_the_former(line: Flask) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    hand_in(tablet, receipt((warned.id, 2), seen=((warned.id, 2),)))
    with line.app_context(), writing() as session:
        service.amend(session, warned.id, 2, {"reason": "worse"}, WHO, datetime.now(UTC))
    assert reach(line, warned) == receipts.Reach(1, 0, 0)


def test_what_was_seen_was_received(line: Flask) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    hand_in(tablet, receipt(seen=((warned.id, 2),)))
    assert reach(line, warned) == receipts.Reach(1, 1, 1)


def test_a_warning_or_revision_nobody_made_is_passed_over(line: Flask, rows: Rows) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    (answer,) = hand_in(tablet, receipt((uuid.uuid4(), 1), (warned.id, 9)))
    assert answer["result"] == "created"
    assert rows("SELECT count(*) FROM warning_receipt") == [(0,)]


def test_strangers_and_ended_tablets_count_nowhere(line: Flask, rows: Rows) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    hand_in(line.test_client(), receipt((warned.id, 2)))
    assert rows("SELECT count(*) FROM warning_receipt") == [(0,)]
    hand_in(tablet, receipt((warned.id, 2)))
    with line.app_context(), writing() as session:
        session.execute(update(Device).values(revoked_at=datetime.now(UTC)))
    assert reach(line, warned) == receipts.Reach(0, 0, 0)
    hand_in(tablet, receipt(seen=((warned.id, 2),)))
    assert rows("SELECT seen_rev FROM warning_receipt") == [(None,)]


def test_after_the_end_only_counts_by_base_are_kept(line: Flask, rows: Rows) -> None:
    """OPERATIONS 5: the list lives as long as the warning; then nobody can tell who."""
    warned, other = warn(line), warn(line)
    first, second = tablet_at(line, "Harrowmere", "one"), tablet_at(line, "Kettle Bay", "two")
    tablet_at(line, "Kettle Bay", "three")
    hand_in(first, receipt((warned.id, 2), (other.id, 2), seen=((warned.id, 2),)))
    hand_in(second, receipt((warned.id, 2)))
    before = reach(line, warned)
    ended = end(line, warned)
    assert reach(line, ended) == before == receipts.Reach(3, 2, 1)
    assert rows("SELECT base, tablets, received, seen FROM warning_reach ORDER BY base") == [
        ("Harrowmere", 1, 1, 1),
        ("Kettle Bay", 2, 1, 0),
    ]
    left = rows("SELECT warning_id FROM warning_receipt")
    assert len(left) == 1 and str(left[0][0]).replace("-", "") == other.id.hex
    # A tablet that was away says it later: no row comes back.
    hand_in(second, receipt(seen=((warned.id, 2),)))
    assert len(rows("SELECT 1 FROM warning_receipt")) == 1
    assert reach(line, ended) == before


def test_a_receipt_that_comes_in_the_moment_of_the_end_leaves_no_row(
    line: Flask, rows: Rows
) -> None:
    warned, tablet = warn(line), tablet_at(line, "")
    holds, may_commit = threading.Event(), threading.Event()

    def ending() -> None:
        with line.app_context():
            with writing() as session:
                service.end(session, warned.id, 2, "signaller", WHO, datetime.now(UTC))
                holds.set()
                assert may_commit.wait(20)
            db.session.remove()

    late = threading.Thread(target=ending)
    late.start()
    assert holds.wait(20)
    sender = threading.Thread(target=hand_in, args=(tablet, receipt((warned.id, 2))))
    sender.start()
    sender.join(0.5)
    assert sender.is_alive(), "the control: it waits for the lock"
    may_commit.set()
    late.join(20)
    sender.join(20)
    assert rows("SELECT count(*) FROM warning_receipt") == [(0,)]


def test_ids_are_forgotten_after_a_month(line: Flask, rows: Rows) -> None:
    tablet = tablet_at(line, "")
    hand_in(tablet, receipt())
    long_ago = datetime.now(UTC) - receipts.REMEMBERED - timedelta(days=1)
    with line.app_context(), writing() as session:
        session.execute(update(ReceiptItem).values(received_at=long_ago))
    hand_in(tablet, receipt())
    assert rows("SELECT count(*) FROM receipt_item") == [(1,)]


def test_receipts_hold_no_driver_no_place_and_no_time_of_the_tablets(line: Flask) -> None:
    """OPERATIONS 5: a receipt is no signature and no track."""
    with line.app_context():
        columns = {
            table: {one["name"] for one in inspect(db.engine).get_columns(table)}
            for table in ("receipt_item", "warning_receipt", "warning_reach", "tablet_pack")
        }
    assert columns == {
        "receipt_item": {"id", "payload_sha", "received_at"},
        "warning_receipt": {
            *("warning_id", "device_id", "received_rev", "received_at"),
            *("seen_rev", "seen_at"),
        },
        "warning_reach": {"warning_id", "base", "tablets", "received", "seen"},
        "tablet_pack": {"device_id", "line_key", "pack_sha", "told_at"},
    }


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"received": [{"warning": "x", "rev": 1}]}, "received"),
        ({"received": [{"warning": str(uuid.uuid4()), "rev": 0}]}, "received"),
        ({"seen": None}, "seen"),
        ({"packs": [{"route": "a", "pack": "short"}]}, "packs"),
        ({"received": [{"warning": str(uuid.uuid4()), "rev": 1}] * 501}, "received"),
        ({"driver": "somebody"}, "driver"),
    ],
)
def test_a_receipt_that_is_none_is_refused_by_name_and_spoils_no_report(
    send: Send, change: dict[str, Any], field: str
) -> None:
    one = receipt()
    bad, report = send({**one, "body": {**one["body"], **change}}, item(1))
    assert bad["result"] == "rejected" and field in str(bad["errors"])
    assert report["result"] == "created"


def test_a_tablet_that_only_asks_counts_as_heard(line: Flask, rows: Rows) -> None:
    tablet = tablet_at(line, "")
    tablet.get("/api/tablet")
    ((first,),) = rows("SELECT last_heard_at FROM device")
    assert first is not None
    tablet.get("/api/tablet")
    assert rows("SELECT last_heard_at FROM device") == [(first,)], "not a write for each"


def test_the_installation_is_nowhere_beside_a_receipt(line: Flask, rows: Rows) -> None:
    hand_in(tablet_at(line, ""), receipt())
    said = repr([rows(f"SELECT * FROM {t}") for t in ("receipt_item", "tablet_pack")])
    assert INSTALL not in said and INSTALL.replace("-", "") not in said
