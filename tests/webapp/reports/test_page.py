"""The page of one report: what stands around it, and every action on it."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select, text
from sqlalchemy.exc import DatabaseError

from tests.support.desk import desk_client, form_token
from tests.support.reports import item
from tests.support.small_pack import _base, small_pack
from tests.support.warned import typed
from webapp.lines.base import Base
from webapp.publish import service as publisher
from webapp.records.reports import strip
from webapp.records.reports.models import Note, Report
from webapp.records.warnings import answering
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import service as warnings
from webapp.store.audit import AuditEntry
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
SEEN = "2026-11-25T06:40:00+00:00"
PLACE = {"target": "fern-mill/down", "at_m": 4000.0, "observed_at": SEEN}


@pytest.fixture
def line(app: Flask) -> Flask:
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
    return app


@pytest.fixture
def three(line: Flask, send: Send) -> list[str]:
    """Three reports of one place and hour."""
    made = [item(n, **PLACE) for n in (1, 2, 3)]
    for one in made:
        send(one)
    return [one["id"] for one in made]


def page(client: FlaskClient, name: str) -> str:
    answer = client.get(f"/desk/reports/{name}")
    assert answer.status_code == 200, answer.text
    return answer.text


def words(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def do(
    client: FlaskClient, name: str, action: str, version: int | None = None, **more: Any
) -> Any:
    """Send a form of the page, by default at the version that the page shows."""
    path = f"/desk/reports/{name}"
    if version is None:
        found = re.search(r'name="version" value="(\d+)"', page(client, name))
        assert found
        version = int(found[1])
    fields = {"csrf_token": form_token(client, path), "version": version, **more}
    return client.post(f"{path}/{action}", data=fields, headers={"Accept": "text/html"})


def number(app: Flask, name: str) -> int:
    with app.app_context(), reading() as session:
        return session.scalars(
            select(Report.server_no).where(Report.id == uuid.UUID(name))
        ).one()


def state(app: Flask, name: str) -> tuple[bool, int, bool]:
    """Whether it waits, its urgency and whether it is joined."""
    with app.app_context(), reading() as session:
        row = session.scalars(select(Report).where(Report.id == uuid.UUID(name))).one()
        return row.waiting, row.urgency, row.repeats is not None


def actions_of(app: Flask, name: str) -> list[str]:
    with app.app_context(), reading() as session:
        query = select(AuditEntry.what).where(AuditEntry.subject == name)
        return list(session.scalars(query.order_by(AuditEntry.id)))


def told(tablet: FlaskClient) -> dict[str, tuple[str, int | None]]:
    items = tablet.get("/api/answers").get_json()["items"]
    return {one["report"]: (one["kind"], one["trains"]) for one in items}


def said(**changes: Any) -> dict[str, Any]:
    return {
        "said_by": "signaller",
        "said_at": "2026-11-25T06:45",
        "reference": "entry 12",
        "text": "Next two trains told.",
        **changes,
    }


def test_no_way_leads_to_a_warning_where_none_can_be_made(line: Flask, send: Send) -> None:
    """A report of a line without a pack in use: its page says why and what to do."""
    known, strange = item(1, **PLACE), item(2, route="fern-branch")
    send(known)
    send(strange)
    client = desk_client(line, "review")
    made = {name: client.get(f"/desk/warnings/new?report={name}").status_code
            for name in (known["id"], strange["id"])}  # fmt: skip
    assert list(made.values()) == [200, 409]
    for name, status in made.items():
        shown = page(client, name)
        assert (f"/desk/warnings/new?report={name}" in shown) == (status == 200)
        assert ("no pack of its line is in use here" in shown) == (status == 409)


def test_who_may_delete_what_is_held_of_a_person_is_led_there(
    line: Flask, three: list[str]
) -> None:
    manager = desk_client(line, "look", manages=True)
    found = re.search(r'href="(/desk/kept/report\?number=\d+)"', page(manager, three[1]))
    assert found and f"number={number(line, three[1])}" in found[1]
    assert manager.get(found[1]).status_code == 200
    assert "/desk/kept/report" not in page(desk_client(line, "publish"), three[1])


def test_the_page_says_where_and_what_stands_around(line: Flask, three: list[str]) -> None:
    shown = page(desk_client(line, "look"), three[0])
    picture = ET.fromstring(re.search(r'<svg class="strip".*?</svg>', shown, re.S)[0])  # type: ignore[index]
    kinds = [one.get("class") for one in picture.iter() if one.get("class")]
    assert kinds.count("near") == 2 and kinds.count("own") == 1
    named = {one.text for one in picture.iter("text")}
    assert {"Fern Mill", "This report, 2 mi 39 ch", "on to Old Larch"} <= named
    desc = picture.find("desc")
    assert desc is not None and desc.text and "Fern Mill, 2 mi 39 ch" in desc.text
    plain = words(shown)
    assert "None is missing." in plain and "Driver told nothing yet" in plain
    assert "Pack held none named" in plain and "no measured weather is kept here" in plain
    assert "Mark as reviewed" not in shown, "whoever may only look is offered no action"


def test_review_tells_the_driver_and_can_be_taken_back(
    line: Flask, tablet: FlaskClient, three: list[str]
) -> None:
    client, first = desk_client(line, "review"), three[0]
    assert do(client, first, "review").status_code == 302
    assert state(line, first) == (False, 0, False) and told(tablet) == {
        first: ("reviewed", None)
    }
    assert "reviewed" in words(page(client, first))
    again = do(client, first, "review")
    assert again.status_code == 422 and "reviewed already" in again.text
    assert do(client, first, "reopen").status_code == 302
    assert state(line, first) == (True, 6, False) and told(tablet) == {}
    assert actions_of(line, first) == [
        *("report.reviewed", "report.answer", "report.reopened", "report.answer")
    ]


def test_a_joined_report_counts_once_and_is_parted_again(
    line: Flask, three: list[str]
) -> None:
    client, (main, twin, third) = desk_client(line, "review"), three
    assert do(client, twin, "join", number=number(line, main)).status_code == 302
    assert state(line, twin) == (False, 0, True)
    inbox = client.get("/desk/reports").text
    assert "1 joined to it" in inbox and "2 reports to deal with" in inbox
    assert f"/desk/reports/{twin}" in inbox, "a joined report is never lost"
    assert inbox.count("1 more within 1 km and 3 h") == 2, "two events, not three"
    # What is joined to a joined report is joined to its main one: no chain.
    do(client, third, "join", listed=number(line, twin))
    with line.app_context(), reading() as session:
        heads = set(session.scalars(select(Report.repeats).where(Report.repeats.is_not(None))))
    assert heads == {uuid.UUID(main)}
    itself = do(client, main, "join", number=number(line, twin))
    assert itself.status_code == 422 and "That is this report itself" in itself.text
    assert do(client, twin, "part").status_code == 302
    assert state(line, twin) == (True, 6, False)
    assert actions_of(line, twin) == ["report.joined", "report.parted"]


@pytest.mark.parametrize("typed_number", ["", "0", "99999", "x", str(2**70), "9" * 5000])
def test_a_number_that_is_none_is_told_and_stays(
    line: Flask, three: list[str], typed_number: str
) -> None:
    answer = do(desk_client(line, "review"), three[0], "join", number=typed_number)
    assert answer.status_code == 422
    assert "Type the number of a report" in answer.text or "No report has" in answer.text
    assert state(line, three[0]) == (True, 6, False)


def test_reports_joined_to_a_joined_one_go_along(line: Flask, three: list[str]) -> None:
    client, (main, twin, third) = desk_client(line, "review"), three
    do(client, third, "join", number=number(line, twin))
    do(client, twin, "join", number=number(line, main))
    assert "2 joined to it" in client.get("/desk/reports").text


def test_a_note_is_kept_and_never_changed(line: Flask, three: list[str]) -> None:
    client = desk_client(line, "review")
    assert (
        do(client, three[0], "note", **said(text="<b>told</b> \u202ehim")).status_code == 302
    )
    shown = page(client, three[0])
    assert "&lt;b&gt;told&lt;/b&gt;" in shown and "entry 12" in shown
    with line.app_context(), pytest.raises(DatabaseError), writing() as session:
        session.execute(text("UPDATE report_note SET text = 'other'"))
    assert actions_of(line, three[0]) == ["report.noted"]


@pytest.mark.parametrize(
    ("wrong", "cure"),
    [
        ({"said_by": ""}, "Choose who said it."),
        ({"said_by": "nobody"}, "Not a valid choice"),
        ({"said_at": "then"}, "such as 2026-11-25T06:40"),
        ({"said_at": "2199-01-01T00:00"}, "still to come"),
        ({"text": "  "}, "Fill this in."),
        ({"text": "x" * 2001}, "At most 2000"),
        ({"text": "a\0b"}, "NUL"),
    ],
)
def test_a_bad_note_is_answered_by_field_and_nothing_is_lost(
    line: Flask, three: list[str], wrong: dict[str, str], cure: str
) -> None:
    answer = do(desk_client(line, "review"), three[0], "note", **said(**wrong))
    assert answer.status_code == 422 and cure in answer.text
    assert "entry 12" in answer.text
    with line.app_context(), reading() as session:
        assert session.scalars(select(Note)).all() == []


@pytest.mark.parametrize("action", ["review", "join", "note"])
def test_the_second_desk_is_told_and_loses_nothing_typed(
    line: Flask, three: list[str], action: str
) -> None:
    first, second = desk_client(line, "review"), desk_client(line, "publish")
    do(first, three[0], "note", version=1, **said(text="the first desk"))
    more = {"note": said(text="what I typed"), "join": {"number": number(line, three[1])}}
    late = do(second, three[0], action, version=1, **more.get(action, {}))
    assert late.status_code == 409 and "Nothing was done" in late.text
    assert "the first desk" in late.text, "what the other desk did is shown"
    assert action != "note" or "what I typed" in late.text
    assert action != "join" or f'value="{number(line, three[1])}"' in late.text
    assert actions_of(line, three[0]) == ["report.noted"]
    version = re.search(r'name="version" value="(\d+)"', late.text)
    assert version
    again = do(second, three[0], action, version=int(version[1]), **more.get(action, {}))
    assert again.status_code == 302


def warn_from(app: Flask, report: str, now: datetime) -> None:
    words = typed(from_place="2m 20ch", to_place="2m 50ch", from_at=now.isoformat())
    with app.app_context(), writing() as session:
        name = uuid.uuid4()
        made = warnings.draft(session, words, "test", now, name, uuid.UUID(report))
        answering.publish(session, name, made.rev, "test", now, UTC)  # type: ignore[arg-type]


def test_a_warning_answers_its_report_and_the_joined_ones_once(
    line: Flask, tablet: FlaskClient, three: list[str]
) -> None:
    """One train of the pack is booked there; at 06:30 it is still to come."""
    client, (main, twin, third) = desk_client(line, "review"), three
    do(client, twin, "join", number=number(line, main))
    do(client, main, "review")
    now = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
    warn_from(line, twin, now)
    assert told(tablet) == {main: ("warned", 1), twin: ("warned", 1)}
    assert "warned 1 train," in words(page(client, main))
    assert "made from this report" in page(client, main) + page(client, twin)
    before = tablet.get("/api/answers").get_json()["items"]
    warn_from(line, main, now + timedelta(minutes=5))
    assert tablet.get("/api/answers").get_json()["items"] == before, "told once"
    # One that is joined later hears the same; taking the review back takes nothing of that.
    do(client, third, "join", number=number(line, main))
    do(client, main, "reopen")
    assert told(tablet) == dict.fromkeys(three, ("warned", 1))


def test_a_desk_that_publishes_answers_in_the_same_moment(
    line: Flask, tablet: FlaskClient, three: list[str]
) -> None:
    client = desk_client(line)
    form = client.get(f"/desk/warnings/new?report={three[0]}").text
    fields = dict(re.findall(r'<input[^>]*name="(\w+)"[^>]*value="([^"]*)"', form))
    fields |= {
        "direction": "down",
        "state": "leaf",
        "told_by": "signaller",
        "reason": "leaves",
    }
    fields |= {"from_place": "2m 20ch", "to_place": "2m 50ch", "do": "publish"}
    fields["report"] = three[0]
    answer = client.post("/desk/warnings/new", data=fields)
    assert answer.status_code == 302, words(answer.text)
    assert told(tablet) == {three[0]: ("warned", 1)}


@pytest.mark.parametrize(
    ("clock", "count"), [("06:30", 1), ("07:04", 1), ("07:30", 1), ("23:59", 1)]
)
def test_trains_still_to_come_are_counted_else_the_next_days(clock: str, count: int) -> None:
    base = _base("larch-valley", "Larch Valley")
    warning = warnings_models.Warned(direction="down", from_m=3600.0, to_m=4000.0)
    now = datetime.fromisoformat(f"2026-11-25T{clock}+00:00")
    assert answering.booked(Base(base), warning, now) == count
    late = {**base["trips"][0], "calls": [{"target": "fern-mill/down", "arrive": "24:10",
                                           "depart": None}]}  # fmt: skip
    base["trips"].append(late)
    expected = {"06:30": 2, "07:04": 2, "07:30": 1, "23:59": 1}
    assert answering.booked(Base(base), warning, now) == expected[clock]
    after = datetime.fromisoformat("2026-11-26T00:05+00:00")
    assert answering.booked(Base(base), warning, after) == 2


@given(st.lists(st.floats(0, 8200), max_size=25), st.floats(0, 8200))
def test_no_two_words_of_the_strip_meet_and_all_stands_inside(
    places: list[float], at: float
) -> None:
    base = _base("larch-valley", "Larch Valley")
    things = [strip.Here("near", f"no. {n}", one) for n, one in enumerate(places)]
    drawn = strip.draw(Base(base), "down", at, things)
    assert drawn is not None
    for side in (drawn.left, drawn.right):
        labels = [one.label for one in side]
        assert all(b - a >= strip.GAP - 0.01 for a, b in pairwise(labels))
        assert all(drawn.top <= one.y <= one.y_to <= drawn.foot for one in side)
        assert all(label < drawn.height for label in labels)
    assert sum(one.kind == "report" for one in drawn.right) == 1
