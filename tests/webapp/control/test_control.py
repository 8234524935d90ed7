"""Control's page, fleet's list of wheels, and trains that may not go somewhere."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from tests.support.desk import desk_client, submit
from tests.support.reports import item
from tests.support.small_pack import small_pack
from tests.support.warned import typed
from webapp.lines import posts
from webapp.lines.base import Base, Lines, Target
from webapp.publish import service as publisher
from webapp.records import allowance
from webapp.records.warnings import service as warnings
from webapp.store.db import writing

Send = Callable[..., list[dict[str, Any]]]
Rows = Callable[[str], list[tuple[Any, ...]]]
NOW = datetime.now(UTC)


@pytest.fixture
def line(app: Flask) -> Flask:
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), NOW)
    return app


def words(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def warned(app: Flask, *, publish: bool = True, **changes: Any) -> uuid.UUID:
    said = typed(
        **{
            "from_place": "2m 20ch",
            "to_place": "2m 50ch",
            "from_at": (NOW - timedelta(hours=2)).isoformat(),
            **changes,
        }
    )
    with app.app_context(), writing() as session:
        made = warnings.draft(session, said, "vale", NOW, uuid.uuid4())
        if publish:
            warnings.publish(session, made.id, made.rev, "vale", NOW)
        return made.id


def test_live_places_are_named_by_the_places_in_them(line: Flask) -> None:
    warned(line, review_at=(NOW - timedelta(hours=1)).isoformat())
    warned(line, from_at=(NOW + timedelta(hours=1)).isoformat(), from_place="3m 0ch")
    warned(line, publish=False, reason="only drafted")
    page = words(desk_client(line, "look"), "/desk/control")
    assert "Fern Mill: planned as leaf film" in page
    assert "2 mi 20 ch to 2 mi 50 ch" in page and "Down, to Quarry Halt" in page
    assert "Review was due" in page and "stays live until the signaller ends it" in page
    assert "Begins " in page
    assert "only drafted" not in page


def test_without_a_live_place_the_page_does_not_promise_a_clear_rail(line: Flask) -> None:
    """OPERATIONS W5: never "no warnings"."""
    page = words(desk_client(line, "look"), "/desk/control")
    assert "Held here: none. Newer ones: signaller." in page
    assert "no warning" not in page.lower()


def test_the_allowance_is_what_the_brief_adds_up(line: Flask) -> None:
    """The small pack: 10 s a stop for each state below dry, at its approach of 60."""
    page = words(desk_client(line, "look"), "/desk/control")
    assert "07:00 to Quarry Halt Unit, 4 cars" in page
    assert re.search(r"Unit, 4 cars 0 s 20 s ", page)
    assert "Minutes lost to these approaches are the company's." in page


def test_a_reduction_on_the_way_counts_and_one_beyond_does_not() -> None:
    raw = {
        "directions": [{"key": "down", "sign": 1}],
        "places": [{"key": "a", "at_m": 0}],
        "targets": [
            {"key": "stop", "kind": "stop", "direction": "down", "mark_m": [None, 500]},
            {"key": "r1", "kind": "reduction", "direction": "down", "mark_m": [300, 300]},
            {"key": "r2", "kind": "reduction", "direction": "down", "mark_m": [900, 900]},
            {"key": "r3", "kind": "reduction", "direction": "up", "mark_m": [200, 200]},
        ],
    }
    trip = {"direction": "down", "starts": {"place": "a"}, "calls": [{"target": "stop"}]}
    base = Base({**raw, "trips": [{"key": "t", **trip}]})
    assert allowance.on_the_way(base, base.trips[0]) == [0, 1]


@pytest.mark.parametrize(
    ("season", "day", "inside"),
    [
        (None, date(2026, 6, 1), 1),
        ({"from": "10-01", "to": "12-13"}, date(2026, 12, 13), 1),
        ({"from": "10-01", "to": "12-13"}, date(2026, 12, 14), 0),
        ({"from": "11-15", "to": "02-28"}, date(2026, 1, 3), 1),
        ({"from": "11-15", "to": "02-28"}, date(2026, 3, 1), 0),
    ],
)
def test_a_listed_place_counts_in_its_season(season: Any, day: date, inside: int) -> None:
    base = Base({"listed": [{"key": "cutting", "season": season}]})
    assert base.in_season(Target("near", listed=("cutting",)), day.isoformat()) == inside
    assert not base.in_season(Target("far"), day.isoformat())


def test_suspected_flats_wait_until_fleet_has_looked(
    line: Flask, send: Send, rows: Rows
) -> None:
    report = item(1, flats_suspected=True, place="Fern Mill")
    send(report, item(2, place="Old Larch"))
    client = desk_client(line, "review")
    for path in ("/desk/control", "/desk/fleet"):
        assert "Fern Mill" in words(client, path) and "Old Larch" not in words(client, path)
    path = f"/desk/fleet/{report['id']}"
    empty = submit(client, path, at="/desk/fleet", inspected_by="depot fitters", result=" ")
    assert empty.status_code == 422
    assert "Fill this in." in empty.text and 'value="depot fitters"' in empty.text
    found = {"inspected_by": "depot fitters", "result": "two flats of 25 mm, axle 3"}
    assert submit(client, path, at="/desk/fleet", **found).status_code == 302
    assert "No train waits for its wheels" in words(client, "/desk/control")
    assert "two flats of 25 mm" in words(client, "/desk/fleet")
    told = rows("SELECT who, what, subject FROM audit WHERE what = 'wheels.inspected'")
    assert told == [("review", "wheels.inspected", report["id"])]
    assert rows("SELECT flats FROM report ORDER BY seq") in ([(1,), (0,)], [(True,), (False,)])


def test_an_inspection_of_a_report_that_is_not_there(line: Flask) -> None:
    client = desk_client(line, "review")
    said = {"inspected_by": "x", "result": "y"}
    path = f"/desk/fleet/{uuid.uuid4()}"
    assert submit(client, path, at="/desk/password", **said).status_code == 404


def test_trains_are_barred_and_let_go_again_and_the_audit_keeps_both(
    line: Flask, rows: Rows
) -> None:
    client = desk_client(line, "publish")
    rule = {"line_key": "larch-valley", "place": "Quarry Halt", "trains": "4 cars, no sand"}
    why = {"reason": "no step left in hand", "decided_by": "standards"}
    short = submit(client, "/desk/barred", **{**rule, "trains": ""}, **why)
    assert short.status_code == 422 and 'value="Quarry Halt"' in short.text
    unknown = submit(client, "/desk/barred", **{**rule, "line_key": "elsewhere"}, **why)
    assert unknown.status_code == 422
    assert submit(client, "/desk/barred", **rule, **why).status_code == 302
    look = desk_client(line, "look")
    assert "Quarry Halt (Larch Valley) 4 cars, no sand" in words(look, "/desk/control")
    assert "Change this list" not in words(look, "/desk/control")
    (found,) = re.findall(r"/desk/barred/([\w-]+)/end", client.get("/desk/barred").text)
    end = f"/desk/barred/{found}/end"
    assert submit(client, end, at="/desk/barred").status_code == 302
    assert submit(client, end, at="/desk/barred").status_code == 409
    assert "The company has named none." in words(look, "/desk/control")
    told = [what for (what,) in rows("SELECT what FROM audit ORDER BY id")]
    told = [what for what in told if what.startswith("train.")]
    assert told == ["train.barred", "train.unbarred"]


@given(st.floats(0, 500_000))
def test_a_place_in_miles_and_chains_is_within_half_a_chain(metres: float) -> None:
    """1 mile = 80 chains = 1,609.344 m (international yard, exact)."""
    miles, chains = map(
        int, re.findall(r"\d+", posts.place_along(metres, "mi-ch", about=True))
    )
    assert 0 <= chains < 80
    assert abs(miles * 1609.344 + chains * 20.1168 - metres) <= 20.1168 / 2 + 1e-6


def test_a_line_that_no_pack_knows_is_shown_by_its_keys() -> None:
    known = Lines({})
    assert known.name("gone") == "gone" and known.direction("gone", "up") == "up"
    assert known.stretch("gone", 20.4, 10) == "0.01 km to 0.02 km"
    assert posts.place_along(12_345, "km") == "12.345 km"
