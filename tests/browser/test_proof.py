"""Who answers must prove to be the depot: what is shown again renews nothing, what lies on an
enrolled tablet goes to its own depot alone.
"""

from __future__ import annotations

import json
import time
import urllib.request
from typing import Any
from urllib.parse import parse_qs, urlsplit

from playwright.sync_api import Route, expect

from tests.browser.tablet import Tablet
from tests.browser.test_index import Key
from tests.support.server import Server

OURS = {"X-Step-In-Hand": "1"}
PROOF = "**/api/proof*"
ASK = "dispatchEvent(new Event('online'))"
#: When the depot last confirmed the packs, as it is kept on the tablet; 0 before that.
CONFIRMED = """() => new Promise((done) => {
    const request = indexedDB.open("step-in-hand");
    request.onsuccess = () => {
        const db = request.result;
        const read = db.transaction(["kv"]).objectStore("kv").get("confirmed");
        read.onsuccess = () => (db.close(), done(read.result ?? 0));
    };
})"""


def later_than(tablet: Tablet, moment: float) -> float:
    """Ask the depot until it has confirmed the packs after this moment."""
    page, deadline = tablet.page, time.monotonic() + 30
    while (found := float(page.evaluate(CONFIRMED))) <= moment:
        assert time.monotonic() < deadline, "the depot did not confirm its packs"
        page.evaluate(ASK)
        page.wait_for_timeout(300)
    return found


def asked(tablet: Tablet) -> None:
    """Ask the depot once more, and be there when the answer was weighed."""
    page = tablet.page
    with page.expect_response(PROOF):
        page.evaluate(ASK)
    page.wait_for_timeout(500)


def test_r81_what_somebody_kept_and_shows_again_confirms_nothing(
    tablet: Tablet, demo_server: Server
) -> None:
    with urllib.request.urlopen(f"{demo_server.url}/api/proof?n=kept", timeout=10) as answer:
        old = json.load(answer)
    tablet.context.route(PROOF, lambda route: route.fulfill(json=old, headers=OURS))
    asked(tablet)  # what was under way before is over now
    first = tablet.page.evaluate(CONFIRMED)
    assert first > 0
    for _ in range(2):
        asked(tablet)
    assert tablet.page.evaluate(CONFIRMED) == first
    tablet.context.unroute(PROOF)
    assert later_than(tablet, first) > first


def test_an_enrolled_tablet_gives_nothing_to_another_depot(
    tablet: Tablet, demo_server: Server
) -> None:
    """Not to one that proves itself by another key, whatever it says of the tablet."""
    later_than(tablet, 0)
    key = Key()

    def another(route: Route) -> None:
        (nonce,) = parse_qs(urlsplit(route.request.url).query)["n"]
        said: dict[str, Any] = {"format": "step-in-hand/proof", "version": 1, "n": nonce}
        said |= {"at": "2026-11-25T06:40:00Z", "index": "0" * 64}
        route.fulfill(json=key.sign(said), headers=OURS)

    unknown = {"enrolled": False, "valid": False, "label": None}
    tablet.context.route(PROOF, another)
    tablet.context.route("**/api/keys", lambda route: route.fulfill(json=key.served()))
    tablet.context.route(
        "**/api/tablet", lambda route: route.fulfill(json=unknown, headers=OURS)
    )
    before = len([url for url in tablet.requests if url.endswith("/api/outbox")])
    tablet.prepare("Damp")
    tablet.report()
    tablet.go("Outbox")
    standing = tablet.page.locator(".standing")
    expect(standing).to_contain_text("Another depot answers here.", timeout=30_000)
    expect(standing).to_contain_text("1 report not sent")
    assert len([url for url in tablet.requests if url.endswith("/api/outbox")]) == before
    for path in (PROOF, "**/api/keys", "**/api/tablet"):
        tablet.context.unroute(path)
    tablet.send_now()
    expect(tablet.page.get_by_text("Reached the depot, no. 1")).to_be_visible(timeout=45_000)
    assert demo_server.count() == 1
