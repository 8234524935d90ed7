"""After an incident: sealed without contact, sent with it, and the hash fits at the desk."""

from __future__ import annotations

import json

from playwright.sync_api import expect

from tests.browser.tablet import DOUBLE_TAP_MS, Tablet
from tests.support.server import Server
from webapp.records import seals

OPEN = "After an incident: seal what this tablet shows"


def test_two_presses_without_contact_are_two_seals_that_fit_at_the_desk(
    tablet: Tablet, demo_server: Server
) -> None:
    tablet.prepare()
    page = tablet.page
    tablet.context.set_offline(True)
    tablet.go("Report")
    for _ in range(2):
        page.get_by_role("button", name=OPEN).click()
        expect(page.locator(".seal strong")).to_have_text(
            "Call the signaller first. A seal tells nobody."
        )
        page.wait_for_timeout(DOUBLE_TAP_MS + 100)
        page.get_by_role("button", name="Seal it now").click()
        expect(page.locator(".seal .message")).to_contain_text("Sealed on this tablet at")
    tablet.go("Outbox")
    expect(page.locator(".report-row").filter(has_text="Seal ")).to_have_count(2)
    assert demo_server.rows("SELECT no FROM seal") == []
    tablet.context.set_offline(False)
    tablet.send_now()
    expect(page.locator(".report-row")).to_have_count(0)
    bodies = [json.loads(body) for (body,) in demo_server.rows("SELECT body FROM seal")]
    assert len(bodies) == 2
    for body in bodies:
        assert seals.digest(body) == body["sha256"]
        assert (body["route"], body["preparation"]["trip"]) == ("kettle-bay", "d0512")
        assert body["pack"] and body["preparation"]["rail_state"] == "damp"
        assert len(body["card"]) > 1
