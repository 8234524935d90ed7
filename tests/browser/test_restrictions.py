"""A temporary speed restriction from the desk to the tablet's card, and away again.

It lowers a speed that is shown and moves no mark; the notice stays the authority.
"""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

from playwright.sync_api import Route, expect

from tests.browser.tablet import Tablet, card_words
from tests.browser.test_next_stop import calls
from tests.browser.test_warnings import ASK, road
from tests.support.desk import desk_client, submit
from tests.support.server import Server
from webapp import create_app
from webapp.store.db import db

FIXED = "Restrictions: your notice, not here."
LOWERED = "Lowered: your notice"
TOLD = "**/api/restrictions"
NEW = "/desk/restrictions/new"
AT = "corvane/down"


class Desk:
    """Somebody at the desk of a running depot, past its pages' looks."""

    def __init__(self, server: Server) -> None:
        self.app = create_app({"DATA": server.data, "DEMO": True, "DESK_ZONE": "UTC"})
        self.client = desk_client(self.app)

    def note(self, **fields: str) -> uuid.UUID:
        from_at = f"{datetime.now(UTC) - timedelta(days=1):%Y-%m-%dT%H:%M}"
        line = {"line": "kettle-bay", "direction": "down", "from_at": from_at}
        line |= {"reference": "notice 14", "told_by": "signaller"}
        sent = submit(self.client, NEW, at=f"{NEW}?line=kettle-bay", **{**line, **fields})
        assert sent.status_code == 302, sent.text
        (item,) = self.client.get("/api/restrictions").get_json()["items"]
        return uuid.UUID(item["id"])

    def end(self, name: uuid.UUID) -> None:
        ended_at = f"{datetime.now(UTC):%Y-%m-%dT%H:%M}"
        told = {"version": 1, "ended_at": ended_at, "told_by": "signaller", "reason": "lifted"}
        sent = submit(self.client, f"/desk/restrictions/{name}/end", **told)
        assert sent.status_code == 302, sent.text

    def close(self) -> None:
        with self.app.app_context():
            db.engine.dispose()


def ask(tablet: Tablet) -> None:
    """Ask the depot now, as when the network comes back; the page shows what it said."""
    with tablet.page.expect_response(re.compile("/api/restrictions")):
        tablet.page.evaluate(ASK)
    tablet.page.evaluate("clearInterval(window.asking)")


def speeds(text: str) -> list[int]:
    """The figures of "Not above" in a row of the Brief, each with its unit."""
    found = re.search(r"Not above (.*)", " ".join(text.split()))
    assert found, text
    return [int(one) for one in re.findall(r"(\d+) mph by ", found[1])]


def column(tablet: Tablet) -> list[int]:
    """The speeds of the card: they stand in a column of their own."""
    return [int(one) for one in tablet.page.locator(".card .speed").all_inner_texts()]


def marks(text: str) -> list[str]:
    return re.findall(r"before \S+ \S+", " ".join(text.split()))


def card_of(tablet: Tablet, base: dict[str, Any], key: str) -> str:
    """Go to the card of a stop, by hand; return what it says."""
    tablet.go("Next stop")
    name = tablet.page.locator(".line.name")
    if "CORVANE" not in name.inner_text():
        for stop in calls(base)[1 : [one["key"] for one in calls(base)].index(key) + 1]:
            tablet.page.get_by_role("button", name=f"Show {stop['name']}").click()
            expect(name).to_contain_text(stop["name"].upper())
    expect(name).to_contain_text("CORVANE")
    return " ".join(tablet.page.locator(".card").inner_text().split())


def test_it_lowers_a_speed_moves_no_mark_lasts_offline_and_goes_when_it_is_ended(
    tablet: Tablet, demo_server: Server, base: dict[str, Any]
):
    page, desk = tablet.page, Desk(demo_server)
    tablet.prepare("Damp")
    before, part = road(page), page.locator(".restrictions")
    expect(part).to_have_count(0)
    plain = card_of(tablet, base, AT)
    usual = column(tablet)
    assert max(usual) > 15, "the control: there is something to lower"

    name = desk.note(from_place="20m 00ch", to_place="22m 00ch", speed="15")
    ask(tablet)
    expect(page.locator(".card .speed").first).to_have_text("15")
    low = card_of(tablet, base, AT)
    lowered = column(tablet)
    assert lowered == [min(15, speed) for speed in usual]
    assert marks(low) == marks(plain) and len(card_words(page)) <= 25
    # The card changed while it was shown: that is said, with the reason.
    said = re.compile(r"^Changed since \d\d:\d\d: lower speeds \(notice\)$")
    expect(page.locator(".changed")).to_have_text(said)
    tablet.go("Brief")
    expect(part).to_contain_text("15 mph, 20 mi 00 ch to 22 mi 00 ch; notice: notice 14.")
    expect(part).to_contain_text(FIXED)
    expect(part).to_contain_text("Lowers a speed on the card for: Corvane.")
    assert [marks(text) for text in road(page)] == [marks(text) for text in before]
    # It stands open, drawn together with no other, and tells the speed that is lowered.
    row = page.locator(".road > .call", has_text="Corvane")
    expect(row).to_contain_text(LOWERED)
    assert speeds(row.inner_text()) == lowered

    page.route(TOLD, bad)
    ask(tablet)
    expect(part).to_contain_text("What the depot sent last cannot be read here.")
    page.unroute(TOLD)
    demo_server.stop()
    page.reload()
    expect(part).to_contain_text("cannot be read here")
    assert card_of(tablet, base, AT) == low, "offline it is as it was"

    demo_server.start()
    desk.end(name)
    ask(tablet)
    expect(page.locator(".card .speed").first).not_to_have_text("15")
    assert card_of(tablet, base, AT) == plain
    tablet.go("Brief")
    expect(part).to_have_count(0)
    desk.close()


def bad(route: Route) -> None:
    kept = {k: v for k, v in route.request.headers.items() if k.lower() != "if-none-match"}
    answer = route.fetch(headers=kept)
    body = answer.json()
    route.fulfill(response=answer, json={**body, "items": [{**body["items"][0], "speed": 0}]})
