"""No blame (OPERATIONS.md 5): what the depot must not know, searched for where it could be.

Every column of every table and every page and file of the desk is walked with words that
stand nowhere else, so that a new table or page is walked too. Each walk is also shown
something it must find.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from html.parser import HTMLParser
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from tests.support.desk import desk_client
from tests.support.reports import CHANGE, INSTALL, batch, item
from tests.support.warned import typed
from tests.support.whole_desk import Depot, fill
from tests.webapp.test_roles import address, every_call
from webapp.records.warnings import service as warnings
from webapp.store.db import Base, db, reading, writing
from webapp.web.access import open_to_all

DRIVER = "Quillon Abernathy"
NOW = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)
#: What a page or a file may not be asked by, whatever the field is called.
WHO = re.compile(r"driver|crew|roster|signed|employee|install|device", re.IGNORECASE)
Place = tuple[str, str]


def say(what: str, most: int) -> str:
    return (DRIVER if what == "a report's driver_name" else f"words for {what}")[:most]


@pytest.fixture
def closed(make_app: Callable[..., Flask]) -> Flask:
    return make_app(DEMO=False, SECRET_KEY="0123456789abcdef0123456789abcdef")


@pytest.fixture
def depot(closed: Flask) -> Depot:
    return fill(closed, say)


@pytest.fixture
def desk(closed: Flask, depot: Depot) -> FlaskClient:
    return desk_client(closed, "publish", manages=True)


def kept(app: Flask, *words: str) -> set[Place]:
    """Table and column of every row that holds all of some words, in any spelling of ids."""
    found = set()
    with app.app_context(), reading() as session:
        for table in Base.metadata.sorted_tables:
            for row in session.execute(select(table)).mappings():
                cells = {column: plain(value) for column, value in row.items()}
                if all(any(plain(word) in cell for cell in cells.values()) for word in words):
                    columns = [c for c, cell in cells.items() if plain(words[0]) in cell]
                    found |= {(table.name, column) for column in columns}
    return found


def plain(value: Any) -> str:
    return repr(value).replace("-", "").casefold().strip("'")


def answers(app: Flask, depot: Depot, desk: FlaskClient, query: str = "") -> dict[str, Any]:
    """Every page and file of the desk, by rule, as whoever may read most."""
    found = {}
    for method, rule, endpoint in every_call(app):
        if method == "GET" and rule.startswith("/desk"):
            found[rule] = desk.get(address(depot, rule, endpoint) + query)
    assert len(found) > 20
    return found


def pages(app: Flask, depot: Depot, desk: FlaskClient) -> dict[str, str]:
    read = answers(app, depot, desk)
    return {rule: one.text for rule, one in read.items() if one.mimetype == "text/html"}


class Asked(HTMLParser):
    """What a page can be asked by: its fields, their choices, and the queries of its links."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.choices: set[str] = set()
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in {"input", "select", "textarea", "button"} and given.get("name"):
            self.names.add(str(given["name"]))
        if tag == "option":
            self.choices.add(str(given.get("value") or ""))
        if tag == "a":
            self.names |= set(re.findall(r"[?&](\w+)=", given.get("href") or ""))


def blaming(page: str) -> set[str]:
    asked = Asked(page)
    return {name for name in asked.names | asked.choices if WHO.search(name)}


def test_a_drivers_name_stands_only_in_the_report_as_it_was_sent(
    closed: Flask, depot: Depot
) -> None:
    """Nowhere beside it: not in what is searched, not in the audit, not in a list."""
    assert kept(closed, DRIVER) == {("report", "item")}


def test_the_walk_finds_a_name_that_is_elsewhere(closed: Flask, depot: Depot) -> None:
    """The control: typed among the free words it is among what is searched, as those are."""
    send(closed, depot, item(9, text=f"{DRIVER} was told"))
    assert kept(closed, DRIVER) > {("report", "item")}


def send(app: Flask, depot: Depot, *items: Any) -> None:
    client = app.test_client()
    client.set_cookie("sih-tablet", depot.tablet)
    answer = client.post("/api/outbox", json=batch(*items), headers=CHANGE)
    results = [one["result"] for one in answer.get_json()["results"]]
    assert set(results) <= {"created", "duplicate"}, answer.get_json()


def test_nobody_who_gave_no_name_has_one(closed: Flask, depot: Depot) -> None:
    """The name is the driver's to add: of a report without one nothing is made up."""
    one = item(9)
    send(closed, depot, one)
    with closed.app_context(), reading() as session:
        table = Base.metadata.tables["report"]
        query = select(table.c.item).where(table.c.id == uuid.UUID(one["id"]))
        assert session.scalar(query) == one


@pytest.mark.parametrize("word", [DRIVER, "Abernathy", "quillon", INSTALL])
def test_no_page_of_the_desk_is_searched_by_driver_or_by_the_tablets_store(
    closed: Flask, depot: Depot, desk: FlaskClient, word: str
) -> None:
    link = f"/desk/reports/{depot.ids['report_id']}"
    assert link in desk.get("/desk/reports").text, "the control: there it stands"
    for name in ("q", "driver", "driver_name", "device", "install_id", "tablet", "place"):
        for rule, answer in answers(closed, depot, desk, f"?{name}={word}").items():
            if rule == "/desk/reports" or answer.mimetype != "text/html":
                assert answer.status_code == 422 or link not in answer.text, (rule, name)


def test_no_page_of_the_desk_asks_or_ranks_by_driver(
    closed: Flask, depot: Depot, desk: FlaskClient
) -> None:
    for rule, page in pages(closed, depot, desk).items():
        assert blaming(page) == set(), rule
    called = closed.test_client().get("/api/openapi.json").get_json()["paths"]
    names = set(re.findall(r"'name': '([^']+)', ", repr(called)))
    assert "since" in names and not [name for name in names if WHO.search(name)]


def test_a_page_that_ranks_by_driver_is_found(
    closed: Flask, depot: Depot, desk: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control, by its field, by its choice and by its link."""
    for part in (
        '<input name="driver">',
        '<select name="sort"><option value="driver-most"></select>',
        '<a href="/desk/reports?install_id=1">his others</a>',
    ):
        spoilt = open_to_all(lambda part=part: part)
        monkeypatch.setitem(closed.view_functions, "reports.newest", spoilt)
        assert blaming(pages(closed, depot, desk)["/desk/reports"])


def test_no_file_of_the_desk_says_which_tablet_or_driver(
    closed: Flask, depot: Depot, desk: FlaskClient
) -> None:
    """Files leave the depot: neither name, tablet nor its store is in one."""
    known = [DRIVER, "words for a tablet", INSTALL, depot.ids["device_id"]]
    files = {
        rule: one
        for rule, one in answers(closed, depot, desk).items()
        if one.mimetype not in {"text/html", "text/css", "text/javascript"}
    }
    assert {"/desk/warnings.csv", "/desk/warnings.geojson"} <= files.keys()
    for rule, one in files.items():
        assert not [word for word in known if word in one.text], rule
    assert [word for word in known if word in desk.get("/desk/tablets").text], "the control"


def warned(app: Flask) -> uuid.UUID:
    words = typed(from_place="1m 20ch", to_place="2m 10ch")
    with app.app_context(), writing() as session:
        made = warnings.draft(session, words, "t", NOW, uuid.uuid4())
        warnings.publish(session, made.id, made.rev, "t", NOW)
        return made.id


def saw(app: Flask, depot: Depot, name: uuid.UUID) -> None:
    one = [{"warning": str(name), "rev": 2}]
    body = {"packs": [], "received": one, "seen": one}
    send(app, depot, {"kind": "receipt", "id": str(uuid.uuid4()), "body": body})


def test_who_saw_a_warning_is_told_only_while_it_lives(
    closed: Flask, depot: Depot, desk: FlaskClient
) -> None:
    """The list goes with the warning from store, pages and files; counts by base stay."""
    one = warned(closed)
    saw(closed, depot, one)
    tablet = depot.ids["device_id"]
    assert kept(closed, tablet, str(one)) == {("warning_receipt", "device_id")}, "the control"
    depot.ids["warning_id"] = str(one)
    with closed.app_context(), writing() as session:
        warnings.end(session, one, 2, "signaller", "t", NOW)
    assert kept(closed, tablet, str(one)) == set()
    page = desk.get(f"/desk/warnings/{one}").text
    assert "words for a tablet" not in page and "Which tablets these were is not kept" in page
    # Neither who lacked it: of two lists that make up all, one gives the other away.
    lacking = desk.get(f"/desk/tablets?warning={one}")
    assert lacking.status_code == 404 and "words for a tablet" not in lacking.text
    for rule, answer in answers(closed, depot, desk, f"?warning={one}").items():
        if "<uuid:warning_id>" in rule:
            assert "words for a tablet" not in answer.text, rule
    # A tablet that was away and says it late brings nothing back.
    saw(closed, depot, one)
    assert kept(closed, tablet, str(one)) == set()


def test_the_audit_names_no_tablet_beside_a_report(closed: Flask, depot: Depot) -> None:
    """The audit cannot be changed: what it tied to a tablet would stay so for ever."""
    one = item(9)
    send(closed, depot, one)
    client = closed.test_client()
    client.set_cookie("sih-tablet", depot.tablet)
    other = {**one, "observed_at": "2026-11-25T07:40:00+00:00"}
    answer = client.post("/api/outbox", json=batch(other), headers=CHANGE)
    assert answer.get_json()["results"][0]["code"] == "id_reused"
    assert ("audit", "subject") in kept(closed, one["id"]), "the control"
    for tablet in (depot.ids["device_id"], INSTALL):
        assert "audit" not in {table for table, _ in kept(closed, tablet, one["id"])}


def test_the_trip_log_is_tied_to_no_tablet(closed: Flask, depot: Depot) -> None:
    """Counts come with a tablet's cookie and its store's id; no row anywhere says both."""
    cell = {"route": "larch-valley", "target": "a-stop-of-its-own", "hour": 6, "n": 3}
    cell |= {"rail_state": "leaf film", "train_type": "three-step"}
    one = {"kind": "counts", "id": str(uuid.uuid4())}
    send(closed, depot, {**one, "body": {"month": "2026-11", "cells": [cell]}})
    assert kept(closed, "a-stop-of-its-own") == {("approach_count", "target")}, "the control"
    for known in (depot.ids["device_id"], INSTALL, "words for a tablet", DRIVER):
        assert kept(closed, "a-stop-of-its-own", known) == set()
        assert kept(closed, one["id"], known) == set()


def columns(app: Flask) -> Iterator[Place]:
    with app.app_context():
        for table in Base.metadata.sorted_tables:
            yield from ((table.name, column.name) for column in table.columns)


def test_no_column_is_made_for_a_driver(closed: Flask) -> None:
    """Nor for a trip, a trace or a signature; accounts are the desk's own people."""
    made = re.compile(r"driver|crew|roster|trip|trace|lat\b|lon\b|signature|position")
    assert [place for place in columns(closed) if made.search(place[1])] == []
    assert made.search("driver_name") and made.search("lat"), "the control"
    with closed.app_context():
        assert set(db.inspect(db.engine).get_table_names()) - {"alembic_version"} == {
            table.name for table in Base.metadata.sorted_tables
        }
