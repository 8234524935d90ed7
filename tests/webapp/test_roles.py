"""Who may do what: every route of the app as everyone who could ask. R51, R56, R58-R60.

`ROUTES` is written by hand, not read from the code: a new route fails here until somebody
has said whom it is for, and a route whose mark was changed by mistake is found.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.support.desk import desk_client, form_token
from tests.support.problems import assert_headers, assert_problem
from tests.support.reports import CHANGE
from tests.support.whole_desk import (
    Depot,
    address,
    desk_addresses,
    every_call,
    fill,
    plain_words,
)
from webapp.plain.config import LARGEST_BODY_BYTES
from webapp.web.access import open_to_all

SECRET = "0123456789abcdef0123456789abcdef"
SAFE = {"GET", "HEAD", "OPTIONS"}
# Method and rule: whom it is for, and what such a one is answered. A form of the desk is
# sent without its token here, so whoever may send it is told that (400).
ROUTES: dict[str, tuple[str, int]] = {
    "GET /": ("all", 200),
    "GET /sw.js": ("all", 200),
    "GET /manifest.webmanifest": ("all", 200),
    # The small app of these tests has no such picture.
    "GET /favicon.ico": ("all", 404),
    "GET /type/reading.css": ("all", 200),
    "GET /type/<name>": ("all", 404),
    # Only a demo has it, and this depot is none.
    "GET /ride": ("all", 404),
    "GET /app/<build>/<path:name>": ("all", 404),
    "GET /packs/<string(length=64):sha>": ("all", 404),
    "GET /checks": ("all", 200),
    "GET /checks/checks.css": ("all", 200),
    "GET /trust": ("all", 308),
    "GET /lessons": ("all", 200),
    "GET /lessons/lessons.css": ("all", 200),
    "GET /guide": ("all", 200),
    "GET /guide/<key>.png": ("all", 404),
    "GET /guide/guide.css": ("all", 200),
    "GET /api/openapi.json": ("all", 200),
    "GET /health": ("all", 200),
    "GET /metrics": ("all", 200),
    "GET /api/ping": ("all", 422),
    "GET /api/index": ("all", 200),
    "GET /api/keys": ("all", 200),
    "GET /api/proof": ("all", 422),
    "GET /api/warnings": ("all", 422),
    "GET /api/restrictions": ("all", 200),
    "GET /api/weather": ("all", 200),
    "GET /api/tablet": ("all", 200),
    "GET /api/answers": ("tablet", 200),
    "GET /api/reports/<uuid:name>": ("tablet", 200),
    "POST /api/enrol": ("all", 422),
    # Reports of strangers and of revoked tablets are taken in and held apart (R51).
    "POST /api/outbox": ("all", 422),
    # What changes what was read is refused without If-Match.
    "GET /api/desk/warnings": ("look", 200),
    "POST /api/desk/warnings": ("review", 422),
    "GET /api/desk/warnings/<uuid:warning_id>": ("look", 200),
    "PATCH /api/desk/warnings/<uuid:warning_id>": ("review", 428),
    "POST /api/desk/warnings/<uuid:warning_id>/publish": ("publish", 428),
    "POST /api/desk/warnings/<uuid:warning_id>/end": ("publish", 422),
    "GET /api/desk/places": ("look", 200),
    "GET /api/desk/places/<uuid:place_id>": ("look", 200),
    "PATCH /api/desk/places/<uuid:place_id>": ("publish", 428),
    "GET /desk/desk.css": ("all", 200),
    "GET /desk/packs/packs.css": ("all", 200),
    "GET /desk/packs/progress.js": ("all", 200),
    "GET /desk/reports.css": ("all", 200),
    "GET /desk/keys.js": ("all", 200),
    "GET /desk/live.js": ("all", 200),
    "GET /desk/reports/state": ("look", 200),
    "GET /desk/set-up": ("all", 302),
    "POST /desk/set-up": ("all", 400),
    "GET /desk/log-in": ("all", 200),
    "POST /desk/log-in": ("all", 400),
    "GET /desk": ("look", 302),
    "POST /desk/log-out": ("self", 400),
    "GET /desk/password": ("self", 200),
    "POST /desk/password": ("self", 400),
    "GET /desk/reports": ("look", 200),
    "GET /desk/reports/<uuid:name>": ("look", 200),
    "GET /desk/carried": ("review", 200),
    "POST /desk/carried": ("review", 400),
    "GET /desk/not-enrolled": ("look", 200),
    "GET /desk/not-enrolled/<int:no>": ("look", 200),
    "POST /desk/not-enrolled/set-aside": ("review", 400),
    "POST /desk/not-enrolled/remove": ("review", 400),
    "POST /desk/not-enrolled/<int:no>/take-in": ("review", 400),
    "POST /desk/reports/review": ("review", 400),
    "POST /desk/reports/<uuid:name>/review": ("review", 400),
    "POST /desk/reports/<uuid:name>/reopen": ("review", 400),
    "POST /desk/reports/<uuid:name>/join": ("review", 400),
    "POST /desk/reports/<uuid:name>/part": ("review", 400),
    "POST /desk/reports/<uuid:name>/note": ("review", 400),
    "GET /desk/reports.csv": ("look", 200),
    "GET /desk/reports.geojson": ("look", 200),
    "GET /desk/restored": ("look", 200),
    "POST /desk/restored": ("publish", 400),
    "GET /desk/tablets": ("look", 200),
    "POST /desk/tablets": ("review", 400),
    "GET /desk/tablets/sheet": ("review", 200),
    "POST /desk/tablets/sheet": ("review", 400),
    "POST /desk/tablets/<uuid:device_id>/revoke": ("review", 400),
    "GET /desk/tablets/<uuid:device_id>": ("look", 200),
    "POST /desk/tablets/<uuid:device_id>/base": ("review", 400),
    "GET /desk/warnings": ("look", 200),
    "GET /desk/warnings.csv": ("look", 200),
    "GET /desk/warnings.geojson": ("look", 200),
    "GET /desk/warnings/new": ("review", 200),
    "POST /desk/warnings/new": ("review", 400),
    "GET /desk/warnings/<uuid:warning_id>": ("look", 200),
    "GET /desk/warnings/<uuid:warning_id>/cap.xml": ("look", 200),
    "GET /desk/warnings/<uuid:warning_id>/test-stop": ("look", 200),
    "GET /desk/warnings/<uuid:warning_id>/amend": ("review", 200),
    "POST /desk/warnings/<uuid:warning_id>/amend": ("review", 400),
    "POST /desk/warnings/<uuid:warning_id>/drop": ("review", 400),
    "GET /desk/warnings/<uuid:warning_id>/steps": ("review", 200),
    "POST /desk/warnings/<uuid:warning_id>/steps": ("review", 400),
    "POST /desk/warnings/<uuid:warning_id>/steps/<uuid:step_id>/strike": ("review", 400),
    "POST /desk/warnings/<uuid:warning_id>/publish": ("publish", 400),
    "GET /desk/warnings/<uuid:warning_id>/end": ("publish", 200),
    "POST /desk/warnings/<uuid:warning_id>/end": ("publish", 400),
    "GET /desk/places": ("look", 200),
    "GET /desk/places/new": ("publish", 200),
    "POST /desk/places/new": ("publish", 400),
    "POST /desk/places/decline": ("publish", 400),
    "GET /desk/places/<uuid:place_id>": ("look", 200),
    "GET /desk/places/<uuid:place_id>/change": ("publish", 200),
    "POST /desk/places/<uuid:place_id>/change": ("publish", 400),
    "GET /desk/places/<uuid:place_id>/treatments": ("review", 200),
    "POST /desk/places/<uuid:place_id>/treatments": ("review", 400),
    "GET /desk/places/<uuid:place_id>/treatments/<uuid:treatment_id>/strike": ("review", 200),
    "POST /desk/places/<uuid:place_id>/treatments/<uuid:treatment_id>/strike": ("review", 400),
    "POST /desk/places/<uuid:place_id>/retire": ("publish", 400),
    "GET /desk/weather": ("look", 200),
    "GET /desk/weather/<line_key>": ("look", 200),
    "POST /desk/weather/<line_key>/read": ("publish", 400),
    "POST /desk/weather/<line_key>/typed": ("publish", 400),
    "POST /desk/weather/<line_key>/worse": ("publish", 400),
    "POST /desk/weather/changes/<uuid:change_id>/back": ("publish", 400),
    "GET /desk/restrictions": ("look", 200),
    "GET /desk/restrictions/<uuid:restriction_id>": ("look", 200),
    "GET /desk/restrictions/new": ("publish", 200),
    "POST /desk/restrictions/new": ("publish", 400),
    "GET /desk/restrictions/<uuid:restriction_id>/change": ("publish", 200),
    "POST /desk/restrictions/<uuid:restriction_id>/change": ("publish", 400),
    "GET /desk/restrictions/<uuid:restriction_id>/end": ("publish", 200),
    "POST /desk/restrictions/<uuid:restriction_id>/end": ("publish", 400),
    "GET /desk/packs": ("look", 200),
    "GET /desk/packs/<route>": ("look", 200),
    "GET /desk/packs/<route>/room": ("look", 200),
    "POST /desk/packs/<route>/room/ask": ("publish", 400),
    "POST /desk/packs/<route>/room/build": ("publish", 400),
    "GET /desk/packs/<route>/build": ("publish", 200),
    "POST /desk/packs/<route>/build": ("publish", 400),
    "GET /desk/packs/<route>/back/<pack>": ("publish", 200),
    "POST /desk/packs/<route>/back/<pack>": ("publish", 400),
    "GET /desk/packs/<route>/withdraw": ("publish", 200),
    "POST /desk/packs/<route>/withdraw": ("publish", 400),
    "GET /desk/packs/proposals/<int:number>": ("look", 200),
    "POST /desk/packs/proposals/<int:number>/approve": ("publish", 400),
    "POST /desk/packs/proposals/<int:number>/compare": ("publish", 400),
    "POST /desk/packs/proposals/<int:number>/drop": ("publish", 400),
    "POST /desk/packs/proposals/<int:number>/stop": ("publish", 400),
    "POST /desk/packs/proposals/<int:number>/resume": ("publish", 400),
    "GET /desk/control": ("look", 200),
    "GET /desk/handover": ("look", 200),
    "GET /desk/seals": ("look", 200),
    "GET /desk/seals/<uuid:name>": ("look", 200),
    "GET /desk/fleet": ("look", 200),
    "POST /desk/fleet/<uuid:report_id>": ("review", 400),
    "GET /desk/barred": ("publish", 200),
    "POST /desk/barred": ("publish", 400),
    "POST /desk/barred/<uuid:bar_id>/end": ("publish", 400),
    "GET /desk/kept": ("look", 200),
    "GET /desk/kept/report": ("people", 200),
    "POST /desk/kept/report": ("people", 400),
    "GET /desk/people": ("people", 200),
    "POST /desk/people": ("people", 400),
    "GET /desk/people/<uuid:person_id>": ("people", 200),
    "POST /desk/people/<uuid:person_id>": ("people", 400),
    "POST /desk/people/<uuid:person_id>/<any(disable, enable):action>": ("people", 400),
    "POST /desk/people/<uuid:person_id>/password": ("people", 400),
}
# Who asks, and which needs are met; with a tablet's cookie nobody is a person.
PEOPLE = {
    "look": {"all", "self", "look"},
    "review": {"all", "self", "look", "review"},
    "publish": {"all", "self", "look", "review", "publish"},
    "look-and-people": {"all", "self", "look", "people"},
    "publish-and-people": {"all", "self", "look", "review", "publish", "people"},
}
ASKERS = (*PEOPLE, "tablet", "revoked tablet", "nobody")


@pytest.fixture
def closed_app(make_app: Callable[..., Flask]) -> Flask:
    """As in service: no tablet enrols itself."""
    return make_app(DEMO=False, SECRET_KEY=SECRET)


@pytest.fixture
def depot(closed_app: Flask) -> Depot:
    return fill(closed_app)


def asker(app: Flask, depot: Depot, who: str) -> FlaskClient:
    if who in PEOPLE:
        role, _, manages = who.partition("-and-")
        return desk_client(app, role, manages=bool(manages))
    client = app.test_client()
    tokens = {"tablet": depot.tablet, "revoked tablet": depot.revoked}
    if who in tokens:
        client.set_cookie("sih-tablet", tokens[who])
    return client


def ask(client: FlaskClient, method: str, path: str) -> Any:
    if method in SAFE:
        return client.open(path, method=method)
    if path.startswith("/desk"):
        return client.open(path, method=method, data={})
    return client.open(path, method=method, json={}, headers=CHANGE)


def expected(method: str, rule: str, who: str) -> int:
    need, status = ROUTES[f"{method} {rule}"]
    met = PEOPLE.get(who, {"all"}) | ({"tablet"} if who == "tablet" else set())
    if need in met:
        return status
    if need == "tablet" or (
        who not in PEOPLE and (method != "GET" or rule.startswith("/api"))
    ):
        return 401
    return 403 if who in PEOPLE else 302


def test_r56_every_route_is_in_the_table_and_the_table_has_no_other(closed_app: Flask) -> None:
    served = {f"{method} {rule}" for method, rule, _ in every_call(closed_app)}
    assert served - set(ROUTES) == set(), "say in ROUTES whom these are for"
    assert set(ROUTES) - served == set()


@pytest.mark.parametrize("who", ASKERS)
def test_r56_every_route_as_everyone(closed_app: Flask, depot: Depot, who: str) -> None:
    """R56: expected status; R59: headers; nobody is sent on but to the log-in."""
    client = asker(closed_app, depot, who)
    wrong = []
    for method, rule, endpoint in sorted(every_call(closed_app)):
        answer = ask(client, method, address(depot, rule, endpoint))
        assert_headers(answer)
        want = expected(method, rule, who)
        if answer.status_code != want:
            wrong.append(f"{method} {rule}: {answer.status_code}, not {want}")
        if want == 302 and ROUTES[f"{method} {rule}"][1] != 302:
            assert answer.headers["Location"].startswith("/desk/log-in?next="), rule
    assert wrong == []


def test_r56_a_page_that_lost_its_mark_is_found(
    closed_app: Flask, depot: Depot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The matrix can fail: a page opened to all by mistake, and one nobody marked."""
    view = closed_app.view_functions["tablet_list.everyone"]
    for spoilt, who in ((open_to_all(lambda: view()), "nobody"), (lambda: view(), "look")):
        monkeypatch.setitem(closed_app.view_functions, "tablet_list.everyone", spoilt)
        answer = asker(closed_app, depot, who).get("/desk/tablets")
        assert answer.status_code != expected("GET", "/desk/tablets", who)


def test_r58_no_form_of_the_desk_is_taken_without_its_token(
    closed_app: Flask, depot: Depot
) -> None:
    """R58: without a token, and with one of somebody else's log-in."""
    client = asker(closed_app, depot, "publish-and-people")
    strange = form_token(asker(closed_app, depot, "look"), "/desk/password")
    before = content(closed_app)
    forms = [call for call in every_call(closed_app) if call[0] not in SAFE]
    forms = [call for call in forms if call[1].startswith("/desk")]
    assert len(forms) > 8
    for method, rule, endpoint in forms:
        for token in (None, strange):
            fields = {"csrf_token": token} if token else {}
            path = address(depot, rule, endpoint)
            answer = client.open(path, method=method, data=fields)
            assert_problem(answer, 400, "form_expired")
    assert content(closed_app) == before


def test_r58_no_get_changes_anything(closed_app: Flask, depot: Depot) -> None:
    """R58: every address is read by whoever may read most; the store is as before."""
    client = asker(closed_app, depot, "publish-and-people")
    before = content(closed_app)
    for method, rule, endpoint in every_call(closed_app):
        if method == "GET":
            client.get(address(depot, rule, endpoint))
    assert content(closed_app) == before


def content(app: Flask) -> list[str]:
    """All that the database holds, as text, but for when a log-in was last used."""
    with closing(sqlite3.connect(Path(app.config["DATA"]) / "step-in-hand.sqlite3")) as file:
        lines = [line for line in file.iterdump() if '"desk_session"' not in line]
    assert any("person" in line for line in lines)
    return lines


def test_r63_no_form_may_be_more_than_one_mebibyte(closed_app: Flask, depot: Depot) -> None:
    """R63: nor is one of a stranger read at all."""
    large = {"text": "x" * (LARGEST_BODY_BYTES + 1)}
    client = asker(closed_app, depot, "publish-and-people")
    stranger = asker(closed_app, depot, "nobody")
    for method, rule, endpoint in every_call(closed_app):
        if method in SAFE or not rule.startswith("/desk"):
            continue
        path = address(depot, rule, endpoint)
        assert client.open(path, method=method, data=large).status_code == 413, rule
        need = ROUTES[f"{method} {rule}"][0]
        status = stranger.open(path, method=method, data=large).status_code
        assert status == (413 if need == "all" else 401), rule


class Page(HTMLParser):
    """The tags of a page with the names of their attributes, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.values: list[str] = []
        self.text = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(name for name, _ in attrs)))
        self.values += [value or "" for _, value in attrs]

    def handle_data(self, data: str) -> None:
        self.text += data


HOSTILE = {
    "markup": "</dd></td></textarea><script>alert(1)</script><h1>Signaller told {}</h1>",
    "attribute": '" autofocus onfocus="alert(1)" {}',
    "quote": "' onmouseover='alert(1)' {}",
    "template": "{{{{ 7 * 7 }}}}{{% raw %}} {}",
    "direction": "\u202e{}\u202c\u2066",
    "comment": "<!-- {} --><plaintext>",
}


def desk_pages(app: Flask, depot: Depot) -> dict[str, str]:
    """Every page of the desk as whoever may read most."""
    client = asker(app, depot, "publish-and-people")
    pages = {}
    for rule, path in desk_addresses(app, depot).items():
        answer = client.get(path)
        if answer.mimetype == "text/html" and answer.status_code == 200:
            pages[rule] = answer.text
    assert len(pages) > 5
    return pages


@pytest.mark.parametrize("kind", HOSTILE)
def test_r60_hostile_words_are_only_words_on_every_page_of_the_desk(
    make_app: Callable[..., Flask], tmp_path: Path, kind: str
) -> None:
    """R60: the same tags and attributes as with plain words, and the words to the letter."""
    said: dict[str, str] = {}

    def hostile(what: str, most: int) -> str:
        said[what] = HOSTILE[kind].format(what)[:most].strip()
        return said[what]

    found = {}
    for name, say in (("plain", plain_words), ("hostile", hostile)):
        app = make_app(DEMO=False, SECRET_KEY=SECRET, DATA=tmp_path / name)
        depot = fill(app, say)
        found[name] = {rule: Page(text) for rule, text in desk_pages(app, depot).items()}
    assert found["plain"].keys() == found["hostile"].keys()
    for rule, page in found["hostile"].items():
        assert page.tags == found["plain"][rule].tags, rule
    everything = "\n".join(
        part for page in found["hostile"].values() for part in (page.text, *page.values)
    )
    shown = {what for what, words in said.items() if words in everything}
    # Of a refused item: kept as ASCII. A revoked tablet: behind a choice of its page.
    never = {"an unknown field", "what was found", "a revoked tablet"}
    # Of what is held apart no page shows the name, nor what others stand in place of.
    never |= {
        "a stranger's driver_name",
        "a stranger's target",
        "a stranger's card",
        "a build",
    }
    assert set(said) - shown <= never
