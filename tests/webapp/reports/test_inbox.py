"""The list of reports: what matters first, each filter, search, an address that is wrong."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import desk_client, enter
from tests.support.reports import item
from tests.support.small_pack import small_pack
from webapp.publish import service as publisher
from webapp.records.reports.models import Report
from webapp.records.reports.rank import urgency
from webapp.store.db import writing

Send = Callable[..., list[dict[str, Any]]]
SEEN = "2026-11-25T06:40:00+00:00"
MANY = (
    {"found": "good", "happened": [], "text": "bit well", "target": None, "at_m": 4100},
    {"found": "reportable", "text": "Film of LEAVES 100%", "target": "fern-mill/down"},
    {"found": "expected", "happened": ["stopped short"], "rail_state": "damp", "at_m": 9.0},
    {"found": "good", "happened": ["overrun"], "direction": "up", "route": "other-line"},
)


@pytest.fixture
def desk(app: Flask, send: Send) -> FlaskClient:
    """Numbers 1 to 4 from a tablet, on a line that is published; 5 kept apart, as of 0.2.0."""
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
    plain = {"target": "quarry-halt/down", "at_m": None, "observed_at": SEEN}
    for n, one in enumerate(MANY, 1):  # a batch is kept in the order of its ids
        send(item(n, **{**plain, **one}))
    apart = item(1, text="from nowhere", **{**plain, "observed_at": "2026-11-26T06:40:00Z"})
    send(apart)
    with app.app_context(), writing() as session:
        row = session.get_one(Report, 5)
        row.quarantined, row.device_id = True, None
        row.urgency = urgency(row.item["body"], apart=True)
    return enter(app.test_client())


def numbers(desk: FlaskClient, **asked: str) -> list[int]:
    answer = desk.get("/desk/reports", query_string=asked)
    assert answer.status_code == 200, answer.text
    return [int(n) for n in re.findall(r"Arrived</dt><dd>[^<]*no\. (\d+)", answer.text)]


def test_what_matters_comes_first(desk: FlaskClient) -> None:
    """An overrun, the reportable ones, then what is apart, then expected, then good."""
    assert numbers(desk) == [4, 2, 5, 3, 1]
    assert (
        "5 reports to deal with</strong>, 3 of them reportable or graver."
        in desk.get("/desk/reports").text
    )


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"line": "other-line"}, [4]),
        ({"line": "larch-valley"}, [1, 2, 3, 5]),
        ({"direction": "up"}, [4]),
        ({"found": "expected"}, [3]),
        ({"happened": "stopped short"}, [3]),
        ({"happened": "slide"}, [2, 5]),
        ({"rail": "damp"}, [3]),
        ({"state": "waiting"}, [1, 2, 3, 4, 5]),
        ({"state": "reviewed"}, []),
        ({"state": "repeat"}, []),
        ({"apart": "yes"}, [5]),
        ({"apart": "no"}, [1, 2, 3, 4]),
        ({"since": "2026-11-26"}, [5]),
        ({"until": "2026-11-25"}, [1, 2, 3, 4]),
        ({"since": "2026-11-25T06:40", "until": "2026-11-25T06:40"}, [1, 2, 3, 4]),
        ({"since": "2026-11-25T06:41", "until": "2026-11-26T06:39"}, []),
        ({"line": "larch-valley", "place": "fern-mill"}, [1, 2]),
        ({"q": "leaves film of"}, [2]),
        ({"q": "100%"}, [2]),
        ({"q": "1_0"}, []),
        ({"q": "5"}, [5]),
        ({"q": "FROM NOWHERE", "apart": "yes", "found": "reportable"}, [5]),
        ({"q": "nothing like it"}, []),
        ({"found": "", "q": " "}, [1, 2, 3, 4, 5]),
    ],
)
def test_each_filter_narrows(
    desk: FlaskClient, asked: dict[str, str], found: list[int]
) -> None:
    # The tablet's clock is right but its reports are old: seen is what the filter asks for.
    assert sorted(numbers(desk, **asked)) == found


@pytest.mark.parametrize(
    ("asked", "field", "cure"),
    [
        ({"found": "fine"}, "found", "Send one of: good, expected, reportable."),
        ({"sort": "colour"}, "sort", "Send one of:"),
        ({"since": "yesterday"}, "since", "like 2026-11-25T06:40"),
        ({"since": "9999-12-31", "until": "0001-01-01"}, "until", "later"),
        ({"until": "9999-12-31"}, "until", "This is no time"),
        ({"place": "fern-mill"}, "place", "Choose the line too"),
        ({"line": "larch-valley", "place": "moon"}, "place", "old-larch, fern-mill"),
        ({"colour": "red"}, "colour", "Take it out of the address."),
        ({"q": "x" * 101}, "q", "at most 100"),
        ({"before": "5"}, "before", "Open /desk/reports again."),
        (
            {"before": "7~2026-11-25T06:40:00~00000000-0000-4000-8000-000000000000"},
            "before",
            "",
        ),
    ],
)
def test_a_wrong_address_is_answered_by_field(
    desk: FlaskClient, asked: dict[str, str], field: str, cure: str
) -> None:
    answer = desk.get("/desk/reports", query_string=asked)
    assert answer.status_code == 422
    found = re.search(rf'role="alert">{field}: ([^<]+)<', answer.text)
    assert found and cure in found[1]
    for name, value in asked.items():
        if name in ("since", "until", "q"):
            assert f'value="{value}"'.encode() in answer.data or value == "\0"


def test_two_reports_of_one_stop_and_hour_are_near(
    app: Flask, send: Send, desk: FlaskClient
) -> None:
    send(item(5, target="fern-mill/down", at_m=None, observed_at=SEEN))
    send(item(6, target=None, at_m=4600.0, observed_at=SEEN))
    page = desk.get("/desk/reports", query_string={"sort": "newest"}).text
    # 6 is near 1 (500 m), and 5 near 2 (the same stop).
    assert page.count("1 more within 1 km and 3 h") == 4


@pytest.mark.parametrize("sort", ["matters", "newest", "oldest", "seen"])
def test_a_filtered_list_goes_on_where_it_ended(
    app: Flask, send: Send, desk: FlaskClient, sort: str
) -> None:
    for start in (10, 60):
        send(*(item(n, text="many") for n in range(start, start + 50)))
    seen: list[int] = []
    address = f"/desk/reports?q=many&sort={sort}"
    for _ in range(3):
        page = desk.get(address).text
        seen += [int(n) for n in re.findall(r"Arrived</dt><dd>[^<]*no\. (\d+)", page)]
        link = re.search(r'rel="next" href="([^"]+)"', page)
        if link is None:
            break
        address = link[1].replace("&amp;", "&")
        assert "q=many" in address
    assert len(seen) == len(set(seen)) == 100


@pytest.mark.parametrize(("role", "may"), [("look", False), ("review", True)])
def test_one_report_leads_to_a_warning_made_from_it(
    app: Flask, desk: FlaskClient, role: str, may: bool
) -> None:
    """The form comes with the report's place in it, for those who may write one."""
    shown = desk.get("/desk/reports", query_string={"found": "reportable"}).text
    name = re.search(r'href="(/desk/reports/[0-9a-f-]{36})[?]found=reportable"', shown)
    assert name
    person = desk_client(app, role)
    leads = re.search(r'href="(/desk/warnings/new\?[^"]+)"', person.get(name[1]).text)
    assert bool(leads) == may
    if leads:
        form = person.get(leads[1]).text
        assert f'value="{name[1].rsplit("/", 1)[1]}"' in form, "the report goes with it"
        (begins,) = re.findall(r'<input[^>]*name="from_place"[^>]*>', form)
        assert re.search(r'value="\d', begins), begins
