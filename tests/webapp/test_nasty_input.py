"""No input is answered 500: every field of every address and form, with values nobody expects.

Which fields there are is not written here: the application is watched as it asks for them,
and a form is first filled in as its page proposes, so that one bad field reaches far.
"""

from __future__ import annotations

import itertools
import json
import uuid
from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote, urlsplit

import pytest
from flask import Flask
from werkzeug.datastructures import ImmutableMultiDict

from tests.support.desk import PASSWORD, account, desk_client, form_token, submit
from tests.support.reports import CHANGE, batch, item
from tests.support.whole_desk import address, desk_addresses, every_call, fill

HALF = "\ud800"  # half a character: JSON can name it, no database can hold it
NAME = str(uuid.UUID(int=10))
FIRST, LAST = "0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59-12:00"
#: What a person, a program or a mean one may put where an address says something.
IN_ADDRESSES = (
    *("", "\0", "\r\nX-Bad: 1", "9" * 400, "-1", "1e999", "nan", "\u0663", str(2**63), "%00"),
    *("0001-01-01T00:00", "9999-12-31T23:59", "9999-12-31T23:59:59.999999+14:00"),
    *("0001-01-01", "9999-12-31", "[]", "[[[[", json.dumps([HALF, HALF, NAME])),
    *(json.dumps(["a\0", "\0", NAME]), f"{FIRST}~{NAME}", f"{LAST}~{NAME}", "a\0~1~\0"),
    *(f"1~{FIRST}~{NAME}", f"{10**30}~{LAST}~{NAME}", "a~nan~b", f"1~nan~{NAME}"),
)
IN_FORMS = ("\0", str(2**63), "9" * 400, "nan", "9999-12-31T23:59")
# What the stores hold differently: the other values end before them.
ON_POSTGRES = ("\0", str(2**63), json.dumps(["a\0", "\0", NAME]), "a\0~1~\0")
# The first and the last moments that RFC 3339 can write, east and west of Greenwich.
ENDS = (
    *("0001-01-01T00:00:00Z", "0001-01-01T00:00:00+14:00", "0001-01-01T00:00:00-12:00"),
    *("9999-12-31T23:59:59.999999999Z", "9999-12-31T23:59:59+14:00"),
    "9999-12-31T23:59:59-12:00",
)
NOW = "2026-11-25T06:00:00Z"


class Watched(ImmutableMultiDict[str, str]):
    """The fields of a request, which notes what it is asked for."""

    asked: set[str] = set()  # noqa: RUF012

    def get(self, key: str, *rest: Any, **more: Any) -> Any:
        self.asked.add(key)
        return super().get(key, *rest, **more)

    def getlist(self, key: str, *rest: Any, **more: Any) -> Any:
        self.asked.add(key)
        return super().getlist(key, *rest, **more)

    def __contains__(self, key: object) -> bool:
        self.asked.add(str(key))
        return super().__contains__(key)

    def __getitem__(self, key: str) -> str:
        self.asked.add(key)
        return super().__getitem__(key)


class Forms(HTMLParser):
    """The forms of a page by address, with what stands in them, else plain words."""

    USUAL = {"datetime-local": "2026-11-25T06:40", "number": "1", "date": "2026-11-25"}  # noqa: RUF012

    def __init__(self, page: str, path: str) -> None:
        super().__init__()
        self.by_action: dict[str, dict[str, str]] = {}
        self._path, self._select = path, ""
        self._fields: dict[str, str] = {}
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        name = said.get("name", "")
        if tag == "form":
            action = urlsplit(said.get("action") or self._path).path
            self._fields = self.by_action.setdefault(action, {}) if "method" in said else {}
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select and said.get("value"):
            if "selected" in said or self._select not in self._fields:
                self._fields[self._select] = said["value"]
        elif tag in {"input", "textarea", "button"} and name != "csrf_token" and name:
            usual = self.USUAL.get(said.get("type", ""), "words")
            self._fields.setdefault(name, said.get("value") or usual)


class Asker:
    """Whoever may do most, at the desk of a depot that has one of everything."""

    def __init__(self, app: Flask) -> None:
        app.request_class = type(
            "Request", (app.request_class,), {"parameter_storage_class": Watched}
        )
        self.app, self.depot = app, fill(app)
        self.enter()
        pages = {
            address(self.depot, rule, end)
            for way, rule, end in every_call(app)
            if way == "GET"
        }
        self._page_of = {action: page for page in pages for action in self._forms(page)}

    def enter(self) -> None:
        self.client = desk_client(self.app, "publish", manages=True)
        self.token = form_token(self.client, "/desk/password")

    def _forms(self, page: str) -> dict[str, dict[str, str]]:
        answer = self.client.get(page)
        return Forms(answer.text, page).by_action if answer.mimetype == "text/html" else {}

    def proposed(self, path: str) -> dict[str, str]:
        """What stands in the form that is sent to this address, now."""
        page = self._page_of.get(path)
        return self._forms(page).get(path, {}) if page else {}

    def names(self, method: str, path: str) -> set[str]:
        """The fields that this address asks for."""
        Watched.asked.clear()
        self.ask(method, path, {"x": "y"})
        return set(Watched.asked) - {"csrf_token"}

    def ask(self, method: str, path: str, fields: dict[str, str]) -> int:
        said = "&".join(
            f"{quote(name)}={quote(value.encode('utf-8', 'surrogatepass'))}"
            for name, value in fields.items()
        )
        if method == "GET":
            return self.client.get(f"{path}?{said}").status_code
        answer = self.client.open(
            path,
            method=method,
            data=f"{said}&csrf_token={self.token}",
            content_type="application/x-www-form-urlencoded",
        )
        if answer.status_code in {400, 401}:
            self.enter()
        return answer.status_code


def faults(asker: Asker, methods: set[str], values: tuple[str, ...]) -> list[str]:
    """Send every field of every address each of these values; return what broke."""
    broke = []
    for method, rule, endpoint in sorted(every_call(asker.app)):
        is_call = rule.startswith("/api") and method != "GET"  # Schemathesis tries those
        if method not in methods or is_call or rule == "/desk/log-out":
            continue
        path = address(asker.depot, rule, endpoint)
        form = asker.proposed(path) if method != "GET" else {}
        for name in sorted(asker.names(method, path) | set(form)):
            for value in values:
                status = asker.ask(method, path, {**form, name: value})
                if status >= 500:
                    broke.append(f"{method} {rule} {name}={value[:40]!r}: {status}")
                elif status == 302 and form:  # kept: the form stands on another version now
                    form = asker.proposed(path) or form
    return broke


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_no_field_of_any_address_or_form_is_answered_500(
    app: Flask, database_url: str | None, method: str
) -> None:
    values = IN_ADDRESSES if method == "GET" else IN_FORMS
    if database_url:
        values = ON_POSTGRES[: 4 if method == "GET" else 2]
    assert faults(Asker(app), {method}, values) == []


@pytest.mark.parametrize(
    "wanted", ["/desk/\r\nX-Bad: 1", "/desk/\u2028", "/desk/a\0", "/desk/\n"]
)
def test_a_log_in_is_sent_on_to_no_address_with_a_line_break(
    lone_app: Flask, wanted: str
) -> None:
    account(lone_app, "somebody", "look")
    client = lone_app.test_client()
    fields = {"login": "somebody", "password": PASSWORD, "next": wanted}
    answer = submit(client, "/desk/log-in", **fields)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/desk")


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/Los_Angeles"])
def test_a_report_opens_whatever_its_tablets_clock_said(
    make_app: Callable[..., Flask], database_url: str | None, zone: str
) -> None:
    """Seen and sent at each end of the calendar: kept, listed, opened, written to files."""
    app = make_app(DATABASE_URL=database_url, DESK_ZONE=zone)
    depot = fill(app)
    tablet, reader = app.test_client(), desk_client(app)
    tablet.set_cookie("sih-tablet", depot.tablet)
    names = []
    for seq, (seen, sent) in enumerate(itertools.product(ENDS, (*ENDS[::3], NOW)), 20):
        one = {**item(seq, found="reportable", flats_suspected=True), "observed_at": seen}
        said = {"told_signaller_at": seen, "route": "larch-valley", "at_m": 2000.0}
        one["body"] = {**one["body"], **said}
        answer = tablet.post("/api/outbox", json=batch(one, sent_at=sent), headers=CHANGE)
        assert answer.get_json()["results"][0]["result"] == "created", answer.text
        names.append(one["id"])
    pages = [f"/desk/reports/{name}" for name in names]
    pages += [path for path in desk_addresses(app, depot).values()]
    pages += [f"/desk/reports?sort={sort}" for sort in ("seen", "urgency", "newest")]
    pages += [f"/desk/warnings/new?report={names[0]}", "/desk/places?show=proposed"]
    for page in pages:
        assert reader.get(page).status_code < 500, page
    for name in names:
        assert tablet.get(f"/api/reports/{name}").status_code == 200
