"""Seals: kept once, to the letter and for ever; a hash that does not fit is said, not refused.

The hash is held against hashlib over JSON written by hand (`tests/support/seals.py`), and
the canonical bytes against the example of RFC 8785, section 3.2.2/3.2.4.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, text, update
from sqlalchemy.exc import DatabaseError

from tests.support.desk import desk_client
from tests.support.problems import assert_problem
from tests.support.reports import CHANGE, batch, item
from tests.support.seals import RESTRICTION, hashed, seal
from webapp.records import privacy, seals
from webapp.records.reports import sequence
from webapp.records.reports.models import Report
from webapp.records.restrictions.models import Restriction
from webapp.records.seals import Seal, SealBody
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
#: RFC 8785, 3.2.2, the sample object, and the bytes that 3.2.4 gives for it.
SAMPLE = json.loads(
    r"""{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
    "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
    "literals": [null, true, false]}"""
)
SAMPLE_HEX = """
7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c
22 6e 75 6d 62 65 72 73 22 3a 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31
65 2b 33 30 2c 34 2e 35 2c 30 2e 30 30 32 2c 31 65 2d 32 37 5d 2c 22 73 74 72 69 6e 67 22
3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d
"""


def kept(app: Flask, one: dict[str, Any]) -> Seal:
    with app.app_context(), reading() as session:
        row = session.scalars(select(Seal).where(Seal.id == uuid.UUID(one["id"]))).one()
        session.expunge(row)
        return row


def test_the_hash_is_over_the_bytes_that_rfc_8785_gives() -> None:
    want = hashlib.sha256(bytes.fromhex(SAMPLE_HEX)).hexdigest()
    assert seals.digest({**SAMPLE, "sha256": "left out"}) == want


def test_a_seal_is_kept_once_and_as_it_was_sent(app: Flask, send: Send) -> None:
    one = seal(1)
    (created,) = send(one)
    assert (created["result"], created["server_no"]) == ("created", 1)
    assert send(one) == [{**created, "result": "duplicate"}]
    row = kept(app, one)
    assert row.body == one["body"] and seals.fits(row)


def test_two_presses_are_two_seals(app: Flask, send: Send) -> None:
    numbers = {one["server_no"] for one in send(seal(1), seal(2))}
    assert numbers == {1, 2}


def test_a_hash_that_does_not_fit_is_kept_and_said(app: Flask, send: Send) -> None:
    good, bad = seal(1), seal(2)
    bad["body"]["card"] = ["Harrowmere, platform 3"]
    send(good, bad)
    desk = desk_client(app, "look")
    assert "<strong>Fits</strong>" in desk.get(f"/desk/seals/{good['id']}").text
    assert "<strong>Does not fit</strong>" in desk.get(f"/desk/seals/{bad['id']}").text
    listed = desk.get("/desk/seals").text
    assert listed.count("<td>fits") == listed.count("<td>does not fit") == 1


@pytest.mark.parametrize("number", [4.0, -0.0, 2**53 - 1])
def test_a_whole_number_has_one_hash_however_it_is_written(
    app: Flask, send: Send, number: float
) -> None:
    one = seal(1, preparation={"cars": int(number)})
    one["body"]["preparation"]["cars"] = number
    (answer,) = send(one)
    assert answer["result"] == "created" and seals.fits(kept(app, one))


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("driver_name", "Quillon Abernathy"),
        ("text", "free words"),
        ("preparation", {"sand": [1]}),
        ("preparation", {"sand": 0.5}),
        ("preparation", {"sand": 2**53}),
        ("preparation", {"sand": "x" * 121}),
        ("card", ["x" * 501]),
        ("warnings", [{"id": "x", "rev": 1}]),
        ("clock_offset_s", 1.5),
    ],
)
def test_what_a_seal_may_not_hold_is_refused_by_name(
    app: Flask, send: Send, part: str, value: Any
) -> None:
    (answer,) = send(seal(1, **{part: value}))
    assert answer["result"] == "rejected"
    assert part in answer["errors"]["body"]


def test_no_field_is_for_a_name_or_free_words() -> None:
    assert not {"driver_name", "text", "name", "words"} & set(SealBody().fields)


@pytest.mark.parametrize("change", ["UPDATE seal SET no = 7", "DELETE FROM seal"])
def test_no_seal_is_changed_or_deleted(app: Flask, send: Send, change: str) -> None:
    one = seal(1, unsent=[str(uuid.uuid4())])
    send(one)
    for statement in (change, "DELETE FROM sealed_report"):
        with app.app_context(), pytest.raises(DatabaseError), writing() as session:
            session.execute(text(statement))
    assert kept(app, one).no == 1


def test_another_content_under_one_id_overwrites_nothing(app: Flask, send: Send) -> None:
    one = seal(1)
    send(one)
    other = {**one, "body": hashed({**one["body"], "card": []})}
    (answer,) = send(other)
    assert (answer["result"], answer["code"]) == ("rejected", "id_reused")
    assert kept(app, one).body == one["body"]


def test_its_number_is_no_gap_among_the_reports(app: Flask, send: Send) -> None:
    send(item(1), seal(2), item(3), item(5))
    with app.app_context(), reading() as session:
        gaps = [(one.first, one.last) for one in sequence.doubts(session)]
    assert gaps == [(4, 4)], "the control: 4 never came"


def test_which_tablet_it_was_is_not_kept(app: Flask, send: Send) -> None:
    send(seal(1))
    columns = set(Seal.__table__.columns.keys())
    assert not {"device_id", "install_id", "seq"} & columns


def aged(app: Flask, one: dict[str, Any]) -> None:
    before = datetime.now(UTC) - timedelta(days=4000)
    with app.app_context(), writing() as session:
        row = update(Report).where(Report.id == uuid.UUID(one["id"]))
        session.execute(row.values(received_at=before, waiting=False))


def tidied(app: Flask) -> privacy.Tidied:
    with app.app_context(), writing() as session:
        return privacy.tidy(session, privacy.Rules(90, 400), "t", datetime.now(UTC))


def test_a_report_named_in_a_seal_is_not_tidied_away(app: Flask, send: Send) -> None:
    named, other = item(1, text="long skid"), item(2, text="long skid")
    send(named, other, seal(3, unsent=[named["id"]]))
    aged(app, named)
    aged(app, other)
    with app.app_context(), reading() as session:
        due = privacy.due(session, privacy.Rules(90, 400), datetime.now(UTC))
    assert (due.words, due.warned) == (1, 1)
    assert tidied(app).words == 1
    with app.app_context(), reading() as session:
        left = session.scalars(select(Report.id).where(Report.anonymised_at.is_(None))).all()
    assert [str(one) for one in left] == [named["id"]]


def test_a_strangers_seal_holds_nothing_back(app: Flask, send: Send) -> None:
    """Anybody could name any report otherwise; his seal is held apart, on no list of seals."""
    named = item(1, text="long skid")
    send(named)
    one = seal(2, unsent=[named["id"]])
    answer = app.test_client().post("/api/outbox", json=batch(one), headers=CHANGE)
    assert answer.get_json()["results"][0]["code"] == "received_not_counted"
    aged(app, named)
    assert tidied(app).words == 1
    desk = desk_client(app, "look")
    assert desk.get(f"/desk/seals/{one['id']}").status_code == 404
    assert "Seal</a>" in desk.get("/desk/not-enrolled").text


def test_who_sent_the_report_is_told_of_the_seal(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    named = item(1)
    one = seal(2, unsent=[named["id"]])
    send(named, one)
    told = tablet.get(f"/api/reports/{named['id']}").get_json()
    assert told["seals"] == [{"id": one["id"], "no": 1}]


def test_the_sheet_says_whom_to_call_and_blames_nobody(app: Flask, send: Send) -> None:
    here, missing = item(1), str(uuid.uuid4())
    one = seal(2, unsent=[here["id"], missing])
    send(here, one)
    page = desk_client(app, "look").get(f"/desk/seals/{one['id']}").text
    for words in (
        "The signaller was to be called first.",
        "31¼ post",
        one["body"]["pack"],
        one["body"]["sha256"],
        "Report 1</a>",
        f"{missing}: not here",
    ):
        assert words in page, words
    said = page.casefold()
    assert not [w for w in ("fault", "blame", "error", "fail", "driver") if w in said]


def test_the_sheet_names_the_restrictions_that_were_held(app: Flask, send: Send) -> None:
    # A tablet of before sealed none: that is not the same as holding none.
    said, none, before = seal(1), seal(2, restrictions=[]), seal(3)
    before["body"] = hashed({k: v for k, v in before["body"].items() if k != "restrictions"})
    assert [one["result"] for one in send(said, none, before)] == ["created"] * 3
    desk = desk_client(app, "look")
    pages = [desk.get(f"/desk/seals/{one['id']}").text for one in (said, none, before)]
    known = f"{RESTRICTION}, not known here"
    assert [known in page for page in pages] == [True, False, False]
    heads = [
        page.split("Speed restrictions held</h2>")[1].split("<h2>")[0].strip()
        for page in pages
    ]
    assert heads[1] == "<p>None.</p>" and "did not say" in pages[2]
    row = {"id": uuid.UUID(RESTRICTION), "rev": 2, "line_key": "larch-valley", "unit": "mph"}
    row |= {"direction": "down", "from_m": 10.0, "to_m": 90.0, "speed": 20, "speed_mps": 8.9}
    row |= {"from_at": datetime.now(UTC), "reference": "notice 14", "told_by": "signaller"}
    row |= {"changed_at": datetime.now(UTC), "changed_by": "test"}
    with app.app_context(), writing() as session:
        session.add(Restriction(**row))
    page = desk.get(f"/desk/seals/{said['id']}").text
    assert ">notice 14</a>, revision 1; it has revision 2 now" in page


def test_the_list_goes_on_behind_its_last_row(
    app: Flask, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(seals, "AT_ONCE", 2)
    send(*(seal(n) for n in (1, 2, 3)))
    desk = desk_client(app, "look")
    first, second = desk.get("/desk/seals").text, desk.get("/desk/seals?before=2").text
    assert ">Seal 3<" in first and ">Seal 2<" in first and ">Seal 1<" not in first
    assert "before=2" in first and ">Seal 1<" in second and "Older seals" not in second


@pytest.mark.parametrize("before", ["x", "-1", "0", "9" * 30, "²", ""])
def test_a_broken_address_says_so(app: Flask, before: str) -> None:
    desk = desk_client(app, "look")
    assert_problem(desk.get(f"/desk/seals?before={before}"), 422, "bad_cursor")
    assert_problem(desk.get(f"/desk/seals/{uuid.uuid4()}"), 404, "no_seal")
