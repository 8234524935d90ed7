"""R19: an iPad page outside the home screen says so, and the desk knows."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.browser.tablet import Tablet
from tests.support.server import Server

# Safari on an iPad has this property; false means a page in the browser.
IPAD = "Object.defineProperty(navigator, 'standalone', { value: %s });"


def test_r19_not_installed_is_told_to_driver_and_desk(tablet: Tablet, demo_server: Server):
    tablet.context.add_init_script(IPAD % "false")
    tablet.page.reload()
    expect(tablet.page.locator(".strip")).to_contain_text("not installed on this tablet")
    tablet.report()
    expect(tablet.page.locator("body")).to_contain_text("Saved on this tablet")
    tablet.go("Outbox")
    expect(tablet.page.get_by_text("Reached the depot, no. ")).to_have_count(1)
    assert demo_server.rows("SELECT installed FROM device") == [(0,)]


def test_r18_the_answer_about_keeping_is_shown(tablet: Tablet):
    tablet.page.evaluate("location.hash = 'screen'")
    expect(tablet.page.get_by_text("what this app stores")).to_have_count(1)
