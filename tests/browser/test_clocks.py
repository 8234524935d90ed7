"""Clocks that jump, a screen that may switch off: nothing is lost, the words stay true."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.tablet import Cab, Tablet
from tests.support.server import Server

DAY_S = 86_400
#: The tablet's clock is window.wrong seconds off; nothing but Date knows of it.
WRONG_CLOCK = """
    const Right = Date;
    window.wrong = WRONG;
    globalThis.Date = class extends Right {
        constructor(...all) {
            if (all.length) super(...all);
            else super(Right.now() + window.wrong * 1000);
        }
        static now() { return Right.now() + window.wrong * 1000; }
    };
"""


@pytest.mark.parametrize("jump", [8 * DAY_S, -8 * DAY_S, 5 * 365 * DAY_S])
def test_r3_no_jump_of_the_clock_ends_an_unsent_report(
    tablet: Tablet, demo_server: Server, jump: int
):
    """While the app is open, and again between two starts."""
    tablet.context.add_init_script(WRONG_CLOCK.replace("WRONG", "0"))
    page = tablet.page
    page.reload()
    tablet.prepare("Damp")
    demo_server.kill()
    tablet.report()
    tablet.report("Expected")
    page.evaluate(f"window.wrong = {jump}")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    tablet.go("Outbox")
    unsent = "2 reports not sent. Keep this app open where there is signal."
    expect(page.locator(".standing")).to_contain_text(unsent)
    tablet.context.add_init_script(WRONG_CLOCK.replace("WRONG", str(jump)))
    page.reload()
    expect(page.locator(".standing")).to_contain_text(unsent)
    # Without contact nobody knows whether five years have passed: then the old pack is none.
    lapsed = "The depot last confirmed this pack" if jump > 60 * DAY_S else ""
    expect(page.locator(".strip")).to_contain_text(lapsed)
    expect(page.locator(".strip .notice")).to_have_count(1 if lapsed else 0)
    demo_server.start()
    tablet.send_now()
    expect(page.get_by_text("Reached the depot, no. ")).to_have_count(2, timeout=45_000)
    assert demo_server.count() == 2
    tablet.go("Brief")
    expect(page.locator(".notice", has_text="The tablet's clock is")).to_be_visible()
    expect(page.locator(".strip .notice")).to_have_count(0)


def test_r81_a_pack_not_confirmed_for_long_gives_words_and_no_figure(
    tablet: Tablet, demo_server: Server
):
    """And one word of the depot brings its advice back."""
    page = tablet.page
    tablet.prepare("Damp")
    begin = page.locator(".road .part.begin")
    expect(begin.first).to_be_visible()
    demo_server.kill()
    tablet.context.add_init_script(WRONG_CLOCK.replace("WRONG", str(61 * DAY_S)))
    page.reload()
    expect(page.locator(".strip")).to_contain_text("last confirmed this pack 61 days ago")
    tablet.prepare("Damp")  # so late it is another run: asked again
    expect(begin).to_have_count(0)
    tablet.go("Next stop")
    expect(page.locator("#page")).to_contain_text("No advice here. Drive to the conditions.")
    expect(page.locator("#page")).not_to_contain_text("Begin before")
    demo_server.start()
    page.reload()
    tablet.go("Brief")
    expect(begin.first).to_be_visible(timeout=45_000)


@pytest.mark.parametrize("wrong", [3600, -3600])
def test_r36_a_wrong_clock_does_not_make_every_position_old(
    tablet: Tablet, base: dict[str, Any], cab: Cab, wrong: int
):
    """The receiver's stamps are right, the tablet's clock is an hour off: one fix is lost."""
    tablet.context.add_init_script(WRONG_CLOCK.replace("WRONG", str(wrong)))
    page = tablet.page
    page.reload()
    tablet.prepare("Damp")
    tablet.go("Next stop")
    start = base["geometry"][0][2] + 500
    for step in range(3):
        cab.at(start + 24 * step, 20)
        page.wait_for_timeout(1_100)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    page.evaluate(f"window.wrong = {-wrong}")  # set again while the train runs
    page.wait_for_timeout(1_500)
    for step in range(3, 6):
        expect(page.locator("body")).to_have_class(re.compile("moving"))
        cab.at(start + 24 * step, 20)
        page.wait_for_timeout(1_100)
    expect(page.locator("body")).to_have_class(re.compile("moving"))


WAKE_LOCK = """
    window.locks = [];
    const request = async () => {
        if (window.refuse) throw new DOMException("low battery", "NotAllowedError");
        const lock = new EventTarget();
        lock.released = false;
        lock.release = async () => {
            lock.released = true;
            lock.dispatchEvent(new Event("release"));
        };
        window.locks.push(lock);
        return lock;
    };
    Object.defineProperty(navigator, "wakeLock", { value: { request }, configurable: true });
    Object.defineProperty(document, "visibilityState", {
        get: () => (window.hiddenNow ? "hidden" : "visible"),
    });
    window.show = (seen) => {
        window.hiddenNow = !seen;
        if (!seen) window.locks.forEach((lock) => lock.released || lock.release());
        document.dispatchEvent(new Event("visibilitychange"));
    };
"""


def test_r38_the_screen_is_kept_on_and_the_page_says_when_it_is_not(tablet: Tablet):
    tablet.context.add_init_script(WAKE_LOCK)
    page = tablet.page
    page.reload()
    tablet.prepare("Damp")

    def held() -> int:
        return int(page.evaluate("window.locks.filter((one) => !one.released).length"))

    asleep = page.get_by_text("The screen may switch off by itself.")
    assert held() == 0, "only the Next stop page keeps it on"
    tablet.go("Next stop")
    expect(asleep).to_have_count(0)
    assert held() == 1
    page.evaluate("window.show(false)")
    page.evaluate("window.show(true)")
    page.wait_for_timeout(200)
    assert held() == 1, "asked for again after it was hidden"
    expect(asleep).to_have_count(0)
    page.evaluate("window.locks.at(-1).release()")  # the system takes it back
    expect(asleep).to_be_visible()
    page.evaluate("(window.refuse = true, window.show(false), window.show(true))")
    expect(asleep).to_be_visible()
    page.evaluate("(window.refuse = false, window.show(false), window.show(true))")
    expect(asleep).to_have_count(0)
    tablet.go("Brief")
    assert held() == 0


RECEIVER = """
    window.listening = new Set();
    let last = 0;
    navigator.geolocation.watchPosition = () => { window.listening.add(++last); return last; };
    navigator.geolocation.clearWatch = (one) => window.listening.delete(one);
    navigator.geolocation.getCurrentPosition = () => {};
    Object.defineProperty(document, "visibilityState", {
        get: () => (window.hiddenNow ? "hidden" : "visible"),
    });
    window.show = (seen) => {
        window.hiddenNow = !seen;
        document.dispatchEvent(new Event("visibilitychange"));
    };
"""


def test_the_receiver_is_let_go_when_the_tablet_is_dark_for_long(tablet: Tablet):
    """A glance away is no reason; back after long, it listens again."""
    page = tablet.page
    tablet.context.add_init_script(RECEIVER)
    page.clock.install()
    page.reload()
    listening = "window.listening.size"
    page.clock.run_for(3_000)
    assert page.evaluate(listening) == 0, "no trip is prepared yet"
    tablet.prepare("Damp")
    page.clock.run_for(3_000)
    assert page.evaluate(listening) == 1
    page.evaluate("window.show(false)")
    page.clock.run_for(5 * 60_000)
    assert page.evaluate(listening) == 1
    page.evaluate("window.show(true)")
    page.evaluate("window.show(false)")
    page.clock.run_for(9 * 60_000)
    assert page.evaluate(listening) == 1, "the ten minutes begin anew with each look"
    page.clock.run_for(2 * 60_000)
    assert page.evaluate(listening) == 0
    page.evaluate("window.show(true)")
    page.clock.run_for(2_000)
    assert page.evaluate(listening) == 1
