"""The desk's list: newest first, none skipped, what is doubtful said; R20, R33, R60, R92."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from tests.support.desk import enter
from tests.support.problems import assert_problem
from tests.support.queries import counted
from tests.support.reports import CHANGE, batch, item, opened
from webapp.lines.base import Base
from webapp.plain.fields import Strict, choice
from webapp.records import outbox
from webapp.records.items import Delivery, Kind
from webapp.records.reports import filters, inbox, service
from webapp.records.reports.body import BLANK
from webapp.records.reports.names import Names, names
from webapp.store.db import reading, writing

KEEPERS = (outbox.KINDS["report"].keep, outbox.KINDS["report"].parked)
Send = Callable[..., list[dict[str, Any]]]
START = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
FREE_TEXT = (
    "text",
    "place",
    "driver_name",
    "route",
    "direction",
    "target",
    "train",
    "rail_state",
)
OTHER_INSTALL = "0192f0c1-0000-4000-8000-000000000002"


class NoReport(Strict):
    """A report as an older server might have known it: without most of its fields."""

    kind = choice("report", required=True)


class Reader(HTMLParser):
    """Counts the tags and gathers the text of a page, as a browser would see them."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.text = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(name for name, _ in attrs)))
        self.text += " "

    def handle_data(self, data: str) -> None:
        self.text += data


def page_of(client: FlaskClient, address: str = "/desk/reports") -> str:
    if client.get_cookie("sih-desk") is None:
        enter(client, "review")
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return answer.text


def words_of(client: FlaskClient) -> str:
    return re.sub(r"\s+", " ", Reader(page_of(client)).text)


def keep_at(app: Flask, seconds: list[int]) -> list[uuid.UUID]:
    """Put reports straight into the store, with the arrival times the test wants."""
    ids = []
    with app.app_context(), writing() as session:
        for seq, second in enumerate(seconds, 1):
            moment = START + timedelta(seconds=second)
            delivery = Delivery(None, uuid.UUID(OTHER_INSTALL), moment, moment, None)
            name = uuid.uuid4()
            raw = item(seq, id=str(name))
            body = {**raw["body"], "pack": None, "supersedes": None}
            checked = {"id": name, "seq": seq, "observed_at": moment, "body": body}
            service.keep(session, delivery, checked, raw, "0" * 64)
            ids.append(name)
    return ids


def test_an_empty_list_says_so(tablet: FlaskClient) -> None:
    assert "No report has arrived." in words_of(tablet)


def test_a_report_is_shown_with_what_the_driver_said(tablet: FlaskClient, send: Send) -> None:
    send(
        item(
            7,
            place="Kettle Bay, platform 2",
            text="Leaves from the bridge on",
            weather="mist",
            sand_used=True,
            flats_suspected=True,
            train_not_seen=True,
            driver_name="A. Driver",
        )
    )
    words = words_of(tablet)
    for said in (
        *("Reportable: Kettle Bay, platform 2", "slide, leaves", "Brake step 2"),
        *("told Wed 25 Nov 2026 06:41:00", "Leaves from the bridge on", "Sand used yes"),
        *("flats suspected", "train not seen", "A. Driver", "leaf film"),
    ):
        assert said in words, said
    # The number that a tablet gave never stands beside a driver's name.
    assert "its no. 7" not in words
    assert "does not mean that the signaller was told" in words
    assert "Quarantined" not in words


def test_the_least_a_tablet_may_send_is_shown(tablet: FlaskClient, send: Send) -> None:
    least = item(1)
    least["body"] = {"route": "larch-valley", "direction": "up", "found": "good"}
    assert send(least)[0]["result"] == "created"
    words = words_of(tablet)
    assert "Good: place not given" in words
    assert "no call noted" in words
    assert "None" not in words


def test_keys_are_shown_by_their_names_in_the_line_s_own_measure() -> None:
    base = {
        "route": {"name": "Kettle Bay line", "distance_unit": "mi-ch"},
        "directions": [{"key": "down", "name": "Down"}],
        "targets": [{"key": "harrowmere/down", "name": "Harrowmere", "platform": "1"}],
        "trains": [{"key": "electric-3", "name": "3 cars", "steps": ["B1", "B2", "B3"]}],
        "states": [{"key": "leaf", "name": "Leaf film"}],
    }
    body = {
        **BLANK,
        **{"route": "kettle-bay", "direction": "down", "target": "harrowmere/down"},
        **{"at_m": 51_700.2, "train": "electric-3", "rail_state": "leaf", "step": "2"},
    }
    # 32 miles = 51 498.97 m and 10 chains = 201.168 m (BS 350-1, from memory)
    assert names(Base(base), body) == Names(
        line="Kettle Bay line",
        direction="Down",
        stop="Harrowmere, platform 1",
        at="32 mi 10 ch",
        train="3 cars",
        rail="Leaf film",
        step="B2",
    )
    assert names(Base({**base, "route": {"distance_unit": "km"}}), body).at == "51.7 km"
    unknown = names(None, body)
    assert (unknown.line, unknown.stop, unknown.at) == (
        "kettle-bay",
        "harrowmere/down",
        "51.7 km",
    )
    assert names(Base(base), {**body, "step": "emergency"}).step == "emergency"


@pytest.mark.parametrize(
    ("change", "loud"),
    [
        ({"found": "reportable", "told_signaller_at": None}, True),
        ({"found": "good", "happened": ["overrun"], "told_signaller_at": None}, True),
        ({"found": "good", "happened": [], "told_signaller_at": None}, False),
        ({"found": "reportable"}, False),
    ],
)
def test_a_call_that_nobody_noted_stands_out(
    tablet: FlaskClient, send: Send, change: dict[str, Any], loud: bool
) -> None:
    send(item(1, **change))
    assert ("<strong>no call noted</strong>" in page_of(tablet)) is loud


@pytest.mark.parametrize("sort", ["newest", "matters", "seen"])
def test_newest_first_page_by_page_and_none_is_skipped_or_shown_twice(
    app: Flask, sort: str
) -> None:
    """Many arrive in the same instant, and more arrive while someone is reading."""
    ids = keep_at(app, [n // 7 for n in range(65)])
    seen: list[uuid.UUID] = []
    times = []
    cursor, wanted = None, filters.Filter(sort=sort)
    with app.app_context():
        for turn in range(100):
            with reading() as session:
                page = inbox.page(session, wanted, {}, "UTC", cursor, size=10)
            seen += [report.id for report in page.reports]
            times += [report.received_at for report in page.reports]
            if page.older is None:
                break
            cursor = page.older
            keep_at(app, [1000 + turn])
    assert sorted(seen) == sorted(ids)
    assert times == sorted(times, reverse=True)


def test_the_link_to_older_reports_works(app: Flask) -> None:
    keep_at(app, list(range(51)))
    client = app.test_client()
    link = re.search(r'href="(/desk/reports\?before=[^"]+)"', page_of(client))
    assert link
    older = page_of(client, link[1].replace("&amp;", "&"))
    assert older.count('class="report"') == 1
    assert "before=" not in older


@pytest.mark.parametrize(("hours", "word"), [(-1, "fast"), (1, "slow"), (24 * 8, "slow")])
def test_r33_a_wrong_clock_is_said_with_both_times(
    tablet: FlaskClient, send: Send, hours: int, word: str
) -> None:
    now = datetime.now(UTC)
    by_tablet = now - timedelta(hours=hours)
    send(item(observed_at=by_tablet.isoformat()), sent_at=by_tablet.isoformat())
    words = words_of(tablet)
    assert "The tablet's clock is wrong by" in words and f"({word})" in words
    assert f"By that clock: {by_tablet:%a %d %b %Y %H:%M:%S}" in words
    assert f"Corrected: {now:%a %d %b %Y %H:}" in words


def test_r33_a_clock_within_two_minutes_is_not_mentioned(
    tablet: FlaskClient, send: Send
) -> None:
    nearly = (datetime.now(UTC) - timedelta(seconds=100)).isoformat()
    send(item(observed_at=nearly), sent_at=nearly)
    assert "clock is wrong" not in words_of(tablet)


def test_of_an_unknown_tablet_only_a_count_is_shown(app: Flask) -> None:
    stranger = app.test_client()
    stranger.post("/api/outbox", json=batch(item()), headers=CHANGE)
    words = words_of(stranger)
    assert "1 from tablets not enrolled, 1 says reportable" in words
    assert "unknown tablet" not in words


def test_r20_numbers_that_never_arrived_are_named(tablet: FlaskClient, send: Send) -> None:
    """R20: "seq 14, 15 never arrived", here also the very first ones."""
    send(item(3), item(4), item(7), item(9))
    words = words_of(tablet)
    assert "demo tablet: reports 1 to 2 have not arrived." in words
    assert "demo tablet: reports 5 to 6 have not arrived." in words
    assert "demo tablet: report 8 has not arrived." in words
    send(*(item(seq) for seq in (1, 2, 5, 6, 8)))
    assert "not arrived" not in words_of(tablet)


def test_r20_a_number_used_twice_is_named(tablet: FlaskClient, send: Send) -> None:
    send(item(1), item(1))
    assert "two different reports both carry the number 1" in words_of(tablet)


def test_r20_a_store_wiped_with_three_unsent_shows_at_the_next_contact(
    tablet: FlaskClient, send: Send
) -> None:
    """Numbers 1 to 4 arrived, 5 to 7 were wiped, the new store begins at 1."""
    send(*(item(seq) for seq in range(1, 5)))
    assert "started again" not in words_of(tablet)
    send(item(1), install_id=OTHER_INSTALL)
    words = words_of(tablet)
    assert "demo tablet: its numbering started again at 1; seen " in words
    assert "reports after number 4 that it had not sent are then lost" in words
    assert "not arrived" not in words and "both carry" not in words


def test_r20_two_stores_that_both_go_on_are_no_wipe(tablet: FlaskClient, send: Send) -> None:
    """Late arrivals of the first store: each counts for itself."""
    send(item(1), item(2))
    send(item(1), install_id=OTHER_INSTALL)
    assert "started again" in words_of(tablet)
    send(item(4))
    words = words_of(tablet)
    assert "two stores number their reports side by side" in words
    assert "started again" not in words
    assert "report 3 has not arrived" in words


def test_r20_gaps_are_counted_in_each_store_and_each_tablet_alone(
    app: Flask, tablet: FlaskClient, send: Send
) -> None:
    send(item(1), item(3))
    send(item(2), install_id=OTHER_INSTALL)
    stranger = app.test_client()
    stranger.post("/api/outbox", json=batch(item(2)), headers=CHANGE)
    words = words_of(tablet)
    assert "demo tablet: report 2 has not arrived" in words
    assert "demo tablet: report 1 has not arrived" in words
    assert "unknown tablet" not in words


def test_r20_a_refused_number_lies_on_the_tablet_and_is_not_missing(
    tablet: FlaskClient, send: Send
) -> None:
    """Refused here, so parked there: the desk is told which, why, and that it can be had."""
    send(item(1), item(6))
    bad = item(3, found="fine")
    assert send(bad)[0]["result"] == "rejected"
    words = words_of(tablet)
    assert (
        "report 2 has not arrived. Waiting on the tablet, kept there only, or lost." in words
    )
    assert "reports 4 to 5 have not arrived" in words
    assert "demo tablet: report 3 was refused on " in words and "lies on the tablet" in words
    assert "invalid" in words and "Send one of: good, expected, reportable." in words
    send(bad)
    assert words_of(tablet).count("report 3 was refused") == 1


def test_r20_a_refusal_is_answered_when_a_newer_server_takes_the_report(
    tablet: FlaskClient, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    report = item(1)
    with monkeypatch.context() as older:
        older.setitem(outbox.KINDS, "report", Kind(NoReport(), *KEEPERS))
        assert send(report)[0]["code"] == "unknown_field"
    assert "report 1 was refused" in words_of(tablet)
    assert send(report)[0]["result"] == "created"
    assert "refused" not in words_of(tablet)


def test_r28_a_second_content_under_one_id_is_shown_as_refused(
    tablet: FlaskClient, send: Send
) -> None:
    report = item(1)
    send(report)
    send({**report, "body": {**report["body"], "text": "other words"}})
    words = words_of(tablet)
    assert "report 1 was refused on " in words and "Reason: id_reused" in words


@pytest.mark.parametrize(
    "odd",
    [
        {"id": "7", "seq": 1},
        {"id": None, "seq": 1},
        {"seq": "1"},
        {"seq": 2**31},
        {"seq": 10**400},
        {"more": json.loads("[" * 600 + "]" * 600)},
        {"a\0\ud800": 2**60},
    ],
    ids=["no uuid", "no id", "text", "too large", "huge", "deep", "no such character"],
)
def test_r30_whatever_is_refused_the_desk_can_still_be_read(
    tablet: FlaskClient, send: Send, odd: dict[str, Any]
) -> None:
    assert send({**item(1), **odd})[0]["result"] == "rejected"
    readable = "id" not in odd and "seq" not in odd
    assert ("report 1 was refused" in words_of(tablet)) is readable


@pytest.mark.parametrize("first", ["report", "correction"])
def test_r29_a_correction_and_its_report_are_two_linked_rows(
    tablet: FlaskClient, send: Send, first: str
) -> None:
    """In either order of arrival; before both are there, that is said."""
    report = item(1, text="stopped short")
    correction = item(2, text="stopped on the mark", supersedes=report["id"])
    order = [report, correction] if first == "report" else [correction, report]
    numbers = {}
    for one in order:
        numbers[one["seq"]] = send(one)[0]["server_no"]
        if one is correction and first == "correction":
            assert f"a report that has not arrived ({report['id']})" in words_of(tablet)
    words = words_of(tablet)
    assert f"Corrects no. {numbers[1]}" in words
    assert f"Corrected by no. {numbers[2]}" in words
    assert "stopped short" in words and "stopped on the mark" in words
    assert "has not arrived" not in words
    links = set(re.findall(r'href="(/desk/reports/[^"]+)"', page_of(tablet)))
    assert links == {f"/desk/reports/{one['id']}" for one in order}
    for one in order:
        alone = Reader(page_of(tablet, f"/desk/reports/{one['id']}")).text
        assert one["body"]["text"] in alone and "One report" in alone
        assert f"its no. {one['seq']}" in alone


def test_r29_a_correction_whose_report_never_comes_stands_alone(
    tablet: FlaskClient, send: Send
) -> None:
    lost = str(uuid.uuid4())
    send(item(2, supersedes=lost))
    words = words_of(tablet)
    assert f"a report that has not arrived ({lost})" in words
    assert "report 1 has not arrived" in words
    assert_problem(tablet.get(f"/desk/reports/{lost}"), 404, "no_such_report")


NOW = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)
CLOCKS = {
    "-1 h": timedelta(hours=-1),
    "+1 h, summer time": timedelta(hours=1),
    "+8 days": timedelta(days=8),
    "1970": datetime(1970, 1, 1, 0, 0, 3, tzinfo=UTC) - NOW,
    "year 1": datetime(1, 1, 1, 0, 0, 3, tzinfo=UTC) - NOW,
    "year 9999": datetime(9999, 12, 31, 23, 59, 57, tzinfo=UTC) - NOW,
}


@pytest.mark.parametrize(
    ("wrong", "zone"),
    [
        *((clock, "UTC") for clock in CLOCKS),
        ("year 9999", "Pacific/Auckland"),
        ("year 1", "America/Denver"),
    ],
)
def test_r32_r33_four_times_are_kept_and_the_desk_shows_both(
    make_app: Callable[..., Flask], database_url: str | None, wrong: str, zone: str
) -> None:
    """Seen two seconds before it was sent, by a wrong clock; received in the year we have."""
    app = make_app(DATABASE_URL=database_url, DESK_ZONE=zone)
    client = opened(app)
    sent = NOW + CLOCKS[wrong]
    seen = sent - timedelta(seconds=2)
    report = item(1, observed_at=seen.isoformat(), told_signaller_at=seen.isoformat())
    answer = client.post(
        "/api/outbox", json=batch(report, sent_at=sent.isoformat()), headers=CHANGE
    )
    assert answer.get_json()["results"][0]["result"] == "created"
    with app.app_context(), reading() as session:
        (kept,) = inbox.page(session, filters.Filter(), {}, "UTC").reports
        row = session.execute(text("SELECT sent_at, observed_at FROM report")).one()
    assert kept.observed_at == seen
    assert str(row.sent_at)[:19] == f"{sent:%Y-%m-%d %H:%M:%S}".rjust(19, "0")
    offset = kept.received_at - sent
    assert abs(kept.clock_offset - offset) < timedelta(milliseconds=100)
    assert kept.observed_est_at == seen + offset
    words = words_of(client)
    assert "The tablet's clock is wrong by" in words
    assert f"Corrected: {clock_of(kept.observed_est_at, zone)}" in words
    assert f"By that clock: {clock_of(seen, zone)}" in words


def clock_of(moment: datetime, zone: str) -> str:
    try:
        return moment.astimezone(ZoneInfo(zone)).strftime("%a %d %b %Y %H:%M:%S")
    except OverflowError:
        return moment.isoformat(" ", "seconds")  # no such date in that zone


def test_r33_when_clocks_are_farther_apart_than_time_has_room_nothing_breaks(
    tablet: FlaskClient, send: Send
) -> None:
    """Seen at the end of year 9999 and sent in year 1: no instant is the corrected one."""
    seen, sent = "9999-12-31T23:59:59-14:00", "0001-01-01T00:00:00+14:00"
    assert send(item(1, observed_at=seen), sent_at=sent)[0]["result"] == "created"
    assert "The tablet's clock is wrong by" in words_of(tablet)


def test_r92_the_zone_is_named_and_summer_time_is_kept(
    make_app: Callable[..., Flask],
) -> None:
    app = make_app(DESK_ZONE="Europe/London")
    client = opened(app)
    for seq, told in ((1, "2026-10-25T00:30:00Z"), (2, "2026-10-25T01:30:00+00:00")):
        report = item(seq, told_signaller_at=told)
        client.post("/api/outbox", json=batch(report), headers=CHANGE)
    words = words_of(client)
    assert "All times: Europe/London." in words
    assert words.count("told Sun 25 Oct 2026 01:30:00") == 2  # the hour that comes twice


def test_the_page_asks_the_store_a_fixed_number_of_questions(app: Flask) -> None:
    keep_at(app, [1, 1])
    keep_at(app, [1])
    few = count_queries(app)
    keep_at(app, list(range(49)))
    # Four of them are the picture of the shift: which line, its reports, warnings, treatments.
    assert count_queries(app) == few <= 23


def count_queries(app: Flask) -> int:
    client = enter(app.test_client())
    with counted(app) as asked:
        page_of(client)
    return len(asked)


def test_the_desk_is_shut_to_a_stranger(lone_app: Flask) -> None:
    client = lone_app.test_client()
    assert client.get("/desk").status_code == 302
    assert client.get("/desk/reports").headers["Location"].startswith("/desk/log-in")


def test_the_page_has_no_script_and_no_style_of_its_own(tablet: FlaskClient) -> None:
    page = page_of(tablet)
    assert re.findall(r"<script[^>]*>[^<]*", page) == [
        '<script type="module" src="/desk/keys.js">',
        '<script type="module" src="/desk/live.js">',
    ]
    assert "style=" not in page and "<style" not in page
    assert 'name="viewport"' in page
    style = tablet.get("/desk/desk.css")
    assert style.headers["Content-Type"] == "text/css; charset=utf-8"
    assert tablet.get("/desk").headers["Location"] == "/desk/reports"


hostile = st.one_of(
    st.sampled_from(
        [
            "<script>alert(1)</script>",
            "</dd></dl><h1>Signaller told</h1>",
            '"><img src=x onerror=alert(1)>',
            "{{ 7 * 7 }}{% raw %}",
            "\u202ereportable\u202c",
            "&lt;b&gt; &amp;amp; &#60;",
            "line one\r\nline two\u2028line three",
            "<!--",
            "]]>",
            "<plaintext>",
            "'; DROP TABLE report; --",
        ]
    ),
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1),
)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(field=st.sampled_from(FREE_TEXT), words=hostile)
@example(field="text", words="\U0001f9ca" * 2000)
def test_r60_hostile_words_are_shown_as_words(lone_app: Flask, field: str, words: str) -> None:
    """R60: whatever a driver's field holds, the page has the same tags as with plain words."""
    with lone_app.app_context(), writing() as session:
        session.execute(text("DELETE FROM report"))
    client = opened(lone_app)
    words = words[: 2000 if field == "text" else 90]
    pages = []
    for said in ("plain", words):
        sent = batch(item(1, id=str(uuid.UUID(int=1)), **{field: said}))
        answer = client.post("/api/outbox", json=sent, headers=CHANGE)
        assert answer.get_json()["results"][0]["result"] == "created"
        pages.append(Reader(page_of(client)))
        with lone_app.app_context(), writing() as session:
            session.execute(text("DELETE FROM report"))
    plain, hostile_page = pages
    assert hostile_page.tags == plain.tags
    # A browser reads CR and CR LF as LF; the words are otherwise there to the letter.
    assert _as_read(words) in _as_read(hostile_page.text)


def _as_read(words: str) -> str:
    return words.replace("\r\n", "\n").replace("\r", "\n").strip()


@pytest.mark.parametrize("field", FREE_TEXT)
@pytest.mark.parametrize(
    ("bad", "cure"),
    [
        ("a\0b", "NUL"),
        ("\ud800", "surrogate"),
        ("x" * 2001, "Shorten this to at most"),
        (7, "string"),
        (["a"], "string"),
    ],
)
def test_r60_words_no_store_can_hold_are_rejected_with_a_cure(
    lone_app: Flask, field: str, bad: Any, cure: str
) -> None:
    sent = batch(item(1, **{field: bad}), item(2))
    answer = opened(lone_app).post("/api/outbox", json=sent, headers=CHANGE)
    results = answer.get_json()["results"]
    assert [r["result"] for r in results] == ["rejected", "created"]
    assert cure in results[0]["errors"]["body"][field][0]
