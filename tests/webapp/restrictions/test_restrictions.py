"""The register of temporary speed restrictions: as the notice says, ended by a person."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from tests.support.desk import desk_client, submit
from tests.support.queries import counted
from tests.support.small_pack import small_pack
from webapp.lines import in_use
from webapp.publish import service as publisher
from webapp.records.restrictions import service
from webapp.records.restrictions.models import Restriction
from webapp.store.db import reading, writing

NOW = datetime.now(UTC).replace(second=0, microsecond=0)
LIST, NEW = "/desk/restrictions", "/desk/restrictions/new?line=larch-valley"
AUTHORITY = (
    "The notice is the authority. Tablets hold what is listed here and may show a lower "
    '"not above" by it. Brake marks do not use it: '
    "they are computed from the line's own speed."
)
ASKS = "The end has passed: has the notice been withdrawn?"


def at(**shift: float) -> str:
    """A time as the form's field sends it; the desk of these tests keeps UTC."""
    return f"{NOW + timedelta(**shift):%Y-%m-%dT%H:%M}"


TYPED = {
    **{"line": "larch-valley", "direction": "down", "speed": "20"},
    **{"from_place": "2m 20ch", "to_place": "2m 50ch"},
    **{"reference": "notice 14", "told_by": "signaller, Fern Mill"},
}
END = {"told_by": "the track section", "reason": "notice 15 withdraws it"}


@pytest.fixture
def line(app: Flask) -> Iterator[Flask]:
    app.config["DESK_ZONE"] = "UTC"
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), NOW)
    yield app


def words(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))
    return text.replace("&#39;", "'")


def note(client: FlaskClient, **changes: Any) -> Any:
    fields = {**TYPED, "from_at": at(days=-2), **changes}
    return submit(client, "/desk/restrictions/new", at=NEW, **fields)


def rows(app: Flask) -> list[Restriction]:
    with app.app_context(), reading() as session:
        found = list(session.scalars(select(Restriction).order_by(Restriction.from_m)))
        session.expunge_all()
    return found


def only(app: Flask) -> Restriction:
    (row,) = rows(app)
    return row


def test_a_restriction_is_kept_in_the_unit_posted_on_the_line(line: Flask) -> None:
    """OFFLINE R86. 20 mph = 20 x 1609.344 m / 3600 s: the international mile, exact by
    definition (agreement of 1959), so 8.9408 m/s."""
    client = desk_client(line)
    assert note(client).status_code == 302
    row = only(line)
    assert (row.speed, row.unit, row.speed_mps) == (20, "mph", 8.9408)
    assert (row.from_m, row.to_m) == (3621.02, 4224.53)
    shown = words(desk_client(line, "look"), LIST)
    for said in ("20 mph, 2 mi 20 ch to 2 mi 50 ch", "Fern Mill", "notice 14", "none given"):
        assert said in shown, said
    other = note(client, speed="30 km/h")
    assert other.status_code == 422 and "posted in mph" in other.text


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("speed", "0", "whole number of mph from 1 to 250"),
        ("speed", "12.5", "whole number of mph from 1 to 250"),
        ("from_place", "2.5", "type it as on the posts"),
        ("to_place", "90m 00ch", "is not on Larch Valley"),
        ("to_place", "2m 20ch", "A restriction has a length"),
        pytest.param("until_at", at(days=-3), "Not after the start", id="end-before-start"),
        ("from_at", "0001-01-01T00:00", "Look at the year"),
        ("until_at", "9999-12-31T23:59", "Look at the year"),
        ("reference", "", "Fill this in"),
        ("told_by", "", "Fill this in"),
    ],
)
def test_a_bad_field_is_named_and_nothing_is_kept_or_lost(
    line: Flask, field: str, typed: str, said: str
) -> None:
    answer = note(desk_client(line), **{"told_by": "somebody met", field: typed})
    assert answer.status_code == 422
    assert said in answer.text and f'id="{field}-fault"' in answer.text
    assert field == "told_by" or "somebody met" in answer.text
    assert rows(line) == []


def test_past_its_end_it_asks_and_stays_until_a_person_ends_it(line: Flask) -> None:
    client = desk_client(line)
    note(client, until_at=at(hours=-1))
    note(client, from_at=at(days=2), reference="notice 99")
    for page in (LIST, "/desk/control", "/desk/handover"):
        shown = words(client, page)
        assert ASKS in shown and "notice 14" in shown and AUTHORITY in shown, page
        assert page == "/desk/handover" or "notice 99" not in shown, page
    assert "1 speed restriction past its end" in words(client, "/desk/handover")
    assert "notice 99" in words(client, f"{LIST}?show=to-come")
    row = next(one for one in rows(line) if one.reference == "notice 14")
    page = f"{LIST}/{row.id}/end"
    early = submit(client, page, **END, ended_at=at(days=1), version=row.rev)
    assert early.status_code == 422 and "Still to come" in early.text
    silent = submit(client, page, **{**END, "reason": ""}, ended_at=at(), version=row.rev)
    assert silent.status_code == 422
    assert submit(client, page, **END, ended_at=at(), version=row.rev).status_code == 302
    for page in (LIST, "/desk/control"):
        assert "notice 14" not in words(client, page)
    gone = words(client, f"{LIST}?show=ended")
    for said in ("notice 15 withdraws it", "Told by the track section", "kept by publish"):
        assert said in gone, said
    told = words(client, "/desk/handover")
    for said in ("Speed restriction noted", "Speed restriction ended", "20 mph"):
        assert said in told, said
    assert "0 speed restrictions past their end" in told
    assert "None" not in told


def test_who_comes_second_sees_both_and_loses_nothing(line: Flask) -> None:
    client = desk_client(line)
    note(client)
    page = f"{LIST}/{only(line).id}/change"
    fields = {**TYPED, "from_at": at(days=-2)}
    same = submit(client, page, **fields, version=1)
    assert same.status_code == 422 and "Nothing was changed" in same.text
    assert submit(client, page, **{**fields, "speed": "30"}, version=1).status_code == 302
    second = submit(client, page, **{**fields, "speed": "10"}, version=1)
    assert second.status_code == 409
    assert re.search(r"<td>30</td><td>10</td>", second.text) and 'value="10"' in second.text
    assert only(line).speed == 30
    end = submit(client, page.replace("change", "end"), **END, ended_at=at(), version=1)
    assert end.status_code == 409 and "notice 15 withdraws it" in end.text
    assert only(line).ended_at is None
    assert submit(client, page, **{**fields, "speed": "10"}, version=2).status_code == 302
    done = submit(client, page.replace("change", "end"), **END, ended_at=at(), version=3)
    assert done.status_code == 302
    late = submit(client, page, **{**fields, "speed": "15"}, version=4)
    assert late.status_code == 409 and "cannot be changed any more" in late.text


def test_its_page_tells_what_was_done_by_whom_also_without_a_pack(line: Flask) -> None:
    client = desk_client(line)
    note(client)
    page = f"{LIST}/{only(line).id}"
    said = {**TYPED, "from_at": at(days=-2), "speed": "30", "version": 1}
    assert submit(client, f"{page}/change", **said).status_code == 302
    done = submit(client, f"{page}/end", **END, ended_at=at(), version=2)
    assert done.status_code == 302
    looker = desk_client(line, "look")
    assert f'href="{page}"' in looker.get(f"{LIST}?show=ended").text
    shown = words(looker, page)
    actions = ["Ended by", "Changed by", "Noted by"]
    assert sorted(actions, key=shown.index) == actions
    assert "speed: 20 mph 30 mph" in shown and "because: notice 15 withdraws it" in shown
    assert "from: 2 mi 20 ch" in shown
    with line.app_context(), writing() as session:
        publisher.ready(session, keys := line.extensions["depot_key"], NOW)
        publisher.withdraw(session, "larch-valley", "measured anew", NOW, keys.load(), "x")
    assert "Noted by" in words(looker, page)
    assert looker.get(f"{LIST}/{uuid.uuid4()}").status_code == 404


@pytest.mark.parametrize("path", [LIST, f"{LIST}?show=ended", f"{LIST}/new", NEW])
def test_every_page_says_that_the_notice_is_the_authority(line: Flask, path: str) -> None:
    client = desk_client(line)
    assert AUTHORITY in words(client, path)
    note(client)
    for action in ("change", "end"):
        assert AUTHORITY in words(client, f"{LIST}/{only(line).id}/{action}")


@pytest.mark.parametrize("show", [service.LIVE, service.ENDED])
def test_the_lists_are_read_in_pages_that_lose_and_repeat_none(line: Flask, show: str) -> None:
    many, same = 2 * service.PAGE_SIZE + 5, {**TYPED, "from_at": NOW, "until_at": None}
    with line.app_context(), writing() as session:
        (base,) = in_use.bases(session).values()
        for n in range(many):
            said = {**same, "reference": f"sheet {n:03}."}
            name = service.note(session, base, said, "test", NOW)
            if show == service.ENDED:
                service.end(session, name, 1, {**END, "ended_at": NOW}, "test", NOW)
    client, path, seen = desk_client(line, "look"), f"{LIST}?show={show}", []
    client.get(path)
    while path:
        with counted(line) as asked:
            page = client.get(path).text
        assert len(asked) <= 8, asked
        seen += re.findall(r"<dd>(sheet \d+\.)</dd>", page)
        after = re.search(r'href="([^"]*after=[^"]*)"', page)
        path = after[1].replace("&amp;", "&") if after else ""
    assert len(seen) == many == len(set(seen))


def test_a_restriction_reaches_no_tablet(line: Flask) -> None:
    """OPERATIONS: the tablet keeps its fixed words only; the index is what tablets fetch."""

    def index() -> Any:
        with line.app_context(), reading() as session:
            return publisher.current(session)

    before = index()
    assert note(desk_client(line)).status_code == 302
    assert index() == before
