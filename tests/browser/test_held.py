"""A driver reads and copies all that is held about a report, with the depot and without."""

from __future__ import annotations

import json
import os

from playwright.sync_api import Page, expect

from tests.browser.tablet import Tablet

READ = "Read all that is held"


def held(page: Page) -> dict[str, object]:
    found: dict[str, object] = json.loads(page.locator(".held pre").inner_text())
    return found


def test_all_that_is_held_is_read_and_copied(tablet: Tablet):
    page = tablet.page
    tablet.prepare()
    tablet.report()
    tablet.go("Outbox")
    expect(page.locator(".report-row.reached")).to_have_count(1)
    page.locator(".report-row summary").click()
    page.get_by_role("button", name=READ).click()
    expect(page.locator(".held .note")).to_contain_text("this tablet and the depot hold")
    whole = held(page)
    mine, depot = whole["tablet"], whole["depot"]
    assert isinstance(mine, dict) and isinstance(depot, dict)
    assert depot["report"]["item"] == mine["item"]
    if shots := os.environ.get("SHOTS"):
        page.screenshot(path=f"{shots}-t.png")
        page.set_viewport_size({"width": 390, "height": 844})
        page.screenshot(path=f"{shots}-p.png")
        page.set_viewport_size({"width": 810, "height": 1080})
    tablet.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy all of it").click()
    expect(page.locator(".message")).to_contain_text("Copied.")
    assert json.loads(page.evaluate("navigator.clipboard.readText()")) == whole
    # Without contact it is what the tablet has, and it says so.
    tablet.context.set_offline(True)
    page.get_by_role("button", name=READ).click()
    expect(page.locator(".held .note")).to_contain_text("The depot was not reached.")
    alone = held(page)
    assert (alone["tablet"], alone["depot"]) == (mine, None)
