"""A finger is on the glass for a tenth of a second: what comes in that time takes no tap.

Common practice, no source: a press takes 50 to 200 ms, more in gloves.
"""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from tests.browser.tablet import Tablet
from tests.support.server import Server

# The worker's word that the way back has been taken: the Brief says so at its top.
OFF = """navigator.serviceWorker.dispatchEvent(new MessageEvent("message", { data: "off" }))"""


def finger_down(control: Locator) -> None:
    control.hover()
    control.page.mouse.down()


def both_are_there(page: Page) -> None:
    """What was pressed was done, and the news that came meanwhile is shown."""
    notice = page.locator(".notice", has_text="opens only where there is signal")
    expect(notice).to_be_visible()
    expect(page.get_by_role("button", name="Change", exact=True)).to_have_count(0)


def test_a_tap_is_not_lost_to_news_that_comes_under_the_finger(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare()
    tablet.context.route("**/api/outbox", lambda route: route.abort())
    tablet.report()
    tablet.go("Brief")

    # The number beside the tab goes while the tab is pressed.
    finger_down(page.get_by_role("link", name="Outbox"))
    tablet.context.unroute("**/api/outbox")
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator(".unsent")).to_have_count(0, timeout=30_000)
    page.mouse.up()
    expect(page.locator("section.outbox")).to_contain_text("Reached the depot, no. 1")

    # A page of controls: the news waits for the finger, then it is there.
    tablet.go("Brief")
    finger_down(page.get_by_role("button", name="Change", exact=True))
    page.evaluate(OFF)
    page.mouse.up()
    both_are_there(page)


def test_the_space_bar_is_no_more_lost_than_a_finger(tablet: Tablet):
    page = tablet.page
    tablet.prepare()
    page.get_by_role("button", name="Change", exact=True).focus()
    page.keyboard.down("Space")
    page.evaluate(OFF)
    page.keyboard.up("Space")
    both_are_there(page)


def test_a_finger_that_stays_holds_no_news_up_for_long(tablet: Tablet):
    page = tablet.page
    tablet.prepare()
    finger_down(page.get_by_role("button", name="Change", exact=True))
    page.evaluate(OFF)
    notice = page.locator(".notice", has_text="opens only where there is signal")
    expect(notice).to_be_visible()
    page.mouse.up()


# Each control in turn as the keyboard reaches it: which of them lie behind something else?
HIDDEN = """() => {
    const all = [...document.querySelectorAll("#page :is(a, button, input, select, summary)")]
        .filter((one) => one.checkVisibility() && !one.disabled);
    scrollTo(0, 0);
    const hidden = all.filter((one) => {
        one.focus();
        const box = (one.closest(".choice") ?? one).getBoundingClientRect();
        const seen = document.elementFromPoint(box.left + box.width / 2, box.bottom - 4);
        return !(one.closest(".choice") ?? one).contains(seen);
    });
    return [all.length, hidden.map((one) => one.textContent || one.id || one.name)];
}"""
W8_SEEN = """() => {
    const foot = document.getElementById("foot");
    const box = foot.getBoundingClientRect();
    return foot === document.elementFromPoint(box.left + box.width / 2, box.bottom - 2);
}"""


def test_what_stays_at_the_bottom_hides_nothing_that_is_reached_and_says_w8_after_a_touch(
    tablet: Tablet,
):
    page = tablet.page
    for size in ({"width": 1180, "height": 820}, {"width": 810, "height": 1080}):
        page.set_viewport_size(size)
        tablet.go("Brief")
        if page.locator(".chosen button").count():
            page.locator(".chosen button").click()
        tablet.prepare()
        page.evaluate("scrollTo(0, 0)")
        expect(page.locator("#foot")).to_have_text("Before you move: signal, doors.")
        for name in ("brief", "report", "screen", "slide", "outbox"):
            page.evaluate(f"location.hash = {name!r}")
            tablet.until(f"document.body.dataset.screen === {name!r}")
            assert name == "report" or page.evaluate(W8_SEEN), name
            count, hidden = page.evaluate(HIDDEN)
            assert count > 0 or name == "outbox", name
            assert hidden == [], (name, hidden)
