"""The picture of a shift: each thing at its place and time, and the same as rows."""

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

from tests.support.desk import desk_client
from tests.support.reports import item
from tests.support.small_pack import small_pack
from tests.support.warned import typed
from webapp.lines import in_use
from webapp.packs.register import fit_listed
from webapp.publish import service as publisher
from webapp.records.places import register, treatments
from webapp.records.places import service as places
from webapp.records.reports import shift
from webapp.records.warnings import service as warnings
from webapp.store.db import reading, writing

Send = Callable[..., list[dict[str, Any]]]
NOW = datetime.now(UTC).replace(microsecond=0)
KINDS: dict[str, dict[str, Any]] = {
    "overrun": {"happened": ["overrun"]},
    "not-seen": {"train_not_seen": True},
    "no-call": {"told_signaller_at": None},
    "reportable": {},
    "flats": {"found": "good", "flats_suspected": True},
    "expected": {"found": "expected"},
    "good": {"found": "good"},
}


@pytest.fixture
def line(app: Flask, send: Send) -> Flask:
    """A report of each kind, an hour apart; one too old, one without a place."""
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), NOW)
    plain = {"target": None, "at_m": 3000.0, "happened": []}
    for n, more in enumerate(KINDS.values(), 1):
        at = (NOW - timedelta(hours=n)).isoformat()
        send(item(n, observed_at=at, **{**plain, "at_m": 3000.0 + 100 * n, **more}))
    send(item(8, observed_at=(NOW - timedelta(hours=13)).isoformat(), **plain))
    lost = {**plain, "at_m": None, "observed_at": (NOW - timedelta(minutes=9)).isoformat()}
    send(item(9, **lost))
    return app


def drawn(app: Flask, now: datetime = NOW) -> shift.Picture:
    with app.app_context(), reading() as session:
        found = shift.draw(session, in_use.bases(session)["larch-valley"], now)
    assert found is not None
    return found


def test_marks_stand_at_their_place_and_time_by_kind(line: Flask) -> None:
    marks = sorted(drawn(line).marks, key=lambda one: -one.x)
    assert [one.kind for one in marks] == list(KINDS)
    # Down the page as the posts rise, across as the clock runs: equal steps of both.
    ups = {round(b.y - a.y, 1) for a, b in pairwise(marks)}
    hours = {round(a.x - b.x) for a, b in pairwise(marks)}
    assert len(hours) == 1 and hours.pop() == round((shift.RIGHT - shift.LEFT) / 12)
    assert max(ups) - min(ups) < 0.25 and min(ups) > 0
    words = [one.words for one in drawn(line).rows]
    assert len(words) == 8 and words[0] == "no. 9, reportable", "without a place: a row alone"
    assert drawn(line).rows[0].where == "place not given"


def test_warnings_and_treatments_are_bars_and_rows(line: Flask) -> None:
    place = {"direction": "down", "from_place": "1m 40ch", "to_place": "2m 10ch"}
    with line.app_context(), writing() as session:
        begun = (NOW - timedelta(hours=3)).isoformat()
        made = warnings.draft(
            session, typed(**place, from_at=begun), "test", NOW, uuid.uuid4()
        )
        base = in_use.bases(session)["larch-valley"]
        said = {"from": "2m 00ch", "to": "2m 20ch", "state": "damp", "direction": "down"}
        said |= {"season_from": "10-01", "season_to": "12-13", "name": "Larch cutting"}
        said |= {"reason": "trees", "source": "a test"}
        places.enlist(session, base, said, "test", NOW, fit=fit_listed)
        session.flush()
        listed = register.listed_now(session, {"larch-valley": base})
        assert [one.kind for one in drawn_in(session, base).bars] == [], "a draft is none"
        warnings.publish(session, made.id, made.rev, "test", NOW)
        told = {"done_at": NOW - timedelta(hours=6), "means": "train", "outcome": "done"}
        told |= {"next_line": "no", "told_by": "crew", "note": ""}
        here = next(one for one in listed if one.name == "Larch cutting")
        treatments.note(session, here, told, "test", NOW)
    picture = drawn(line)
    warned, treated = picture.bars
    step = (shift.RIGHT - shift.LEFT) / 12
    assert (warned.kind, treated.kind) == ("warned", "treated")
    assert (
        abs(warned.x + warned.width - shift.RIGHT) < 0.2 and abs(warned.width - 3 * step) < 1
    )
    assert abs(treated.x + 2 - (shift.RIGHT - 6 * step)) < 1
    assert {one.kind for one in picture.rows} == {"report", "warning", "treatment"}


def drawn_in(session: Any, base: Any) -> shift.Picture:
    found = shift.draw(session, base, NOW)
    assert found is not None
    return found


def test_the_page_shows_it_with_a_table_of_the_same(line: Flask) -> None:
    page = desk_client(line, "look").get("/desk/reports").text
    picture = re.search(r"<figure class=\"shift\">.*?</figure>", page, re.S)
    assert picture
    svg = re.search(r"<svg viewBox=\"0 0 460.*?</svg>", picture[0], re.S)
    assert svg
    marks = [one.get("class") for one in ET.fromstring(svg[0]).iter("g")]
    assert sorted(marks) == sorted(f"mark {kind}" for kind in KINDS)
    assert len(re.findall(r"<tr><th scope=\"row\">", picture[0])) == 8
    for words in shift.WORDS.values():
        assert f"</svg> {words}</li>" in picture[0], "the key names each kind"


def test_a_line_without_a_pack_has_no_picture(app: Flask, send: Send) -> None:
    send(item(1))
    assert 'class="shift"' not in desk_client(app, "look").get("/desk/reports").text
