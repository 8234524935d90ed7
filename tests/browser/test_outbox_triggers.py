"""Each thing that makes the app send, alone, and the words meanwhile: R5, R9-R11, R54."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.lab import install_lab, lab, texts
from tests.browser.tablet import Tablet
from tests.support.server import Server

# Every trigger but one is deaf; Background Sync is not there at all (R9).
ONLY = """
delete window.SyncManager;
const only = "ONE";
const listen = EventTarget.prototype.addEventListener;
EventTarget.prototype.addEventListener = function (type, ...rest) {
    const triggers = ["online", "pageshow", "visibilitychange"];
    if (triggers.includes(type) && type !== only) return;
    return listen.call(this, type, ...rest);
};
const every = window.setInterval;
window.setInterval = (call, ms) => only === "timer" ? every(call, Math.min(ms, 300)) : 0;
"""
FIRE = {
    "online": "() => dispatchEvent(new Event('online'))",
    "pageshow": "() => dispatchEvent(new PageTransitionEvent('pageshow'))",
    "visibilitychange": "() => document.dispatchEvent(new Event('visibilitychange'))",
    "timer": None,
}


def start(new_tablet: Callable[..., Tablet], server: Server, only: str) -> Tablet:
    tablet = new_tablet()
    tablet.context.add_init_script(ONLY.replace("ONE", only))
    tablet.open(server.url)
    assert tablet.page.evaluate("typeof SyncManager") == "undefined"
    tablet.page.wait_for_timeout(500)  # the app's own start, which sends too, has passed
    install_lab(tablet.page)
    return tablet


@pytest.mark.parametrize("trigger", FIRE)
def test_r9_r10_one_trigger_alone_sends(
    new_tablet: Callable[..., Tablet], server: Server, trigger: str
) -> None:
    tablet = start(new_tablet, server, trigger)
    lab(tablet.page, "save", trigger)
    if FIRE[trigger]:
        tablet.page.evaluate(FIRE[trigger])
    tablet.until("() => window.lab.left().then((left) => left === 0)")
    assert texts(server) == [trigger]


def test_r9_r10_the_start_of_the_app_alone_sends_and_nothing_does_so_unasked(
    new_tablet: Callable[..., Tablet], server: Server
) -> None:
    tablet = start(new_tablet, server, "nothing")
    lab(tablet.page, "save", "at the start")
    for fire in filter(None, FIRE.values()):
        tablet.page.evaluate(fire)
    tablet.page.wait_for_timeout(1_000)
    assert texts(server) == [], "the control: the other triggers really are deaf"
    tablet.page.reload()
    tablet.page.wait_for_selector("main > *")
    install_lab(tablet.page)
    tablet.until("() => window.lab.left().then((left) => left === 0)")
    assert texts(server) == ["at the start"]


def test_r9_r10_saving_alone_sends_and_so_does_a_tap(
    new_tablet: Callable[..., Tablet], server: Server
) -> None:
    tablet = start(new_tablet, server, "nothing")
    tablet.report()
    tablet.until("() => window.lab.left().then((left) => left === 0)")
    server.kill()
    tablet.report()
    tablet.go("Outbox")
    page = tablet.page
    words = "1 report not sent. Keep this app open where there is signal."
    expect(page.locator(".standing .count")).to_have_text(words)  # R11
    assert "automatically" not in tablet.words()
    expect(page.locator(".standing")).to_contain_text("No contact with the depot.")
    server.start()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator(".standing")).to_contain_text("Every report on this tablet has")
    assert server.count() == 2


@pytest.mark.parametrize("status", [401, 403])
def test_r54_a_tablet_to_be_enrolled_again_keeps_all_and_sends_it_once(
    new_tablet: Callable[..., Tablet], server: Server, status: int
) -> None:
    tablet = new_tablet()
    tablet.open(server.url)
    problem = {"type": "about:blank", "title": "no", "status": status, "code": "no_tablet"}
    tablet.context.route(
        "**/api/outbox",
        lambda route: route.fulfill(
            status=status,
            body=json.dumps(problem),
            headers={"X-Step-In-Hand": "1", "Content-Type": "application/problem+json"},
        ),
    )
    tablet.report()
    tablet.report("Expected")
    tablet.go("Outbox")
    standing = tablet.page.locator(".standing")
    tablet.page.get_by_role("button", name="Send now").click()
    expect(standing).to_contain_text("This tablet is not enrolled: tell the depot.")
    expect(standing).to_contain_text("2 reports not sent.")
    tablet.context.unroute("**/api/outbox")
    tablet.page.get_by_role("button", name="Send now").click()
    expect(standing).to_contain_text("Every report on this tablet has reached the depot.")
    assert server.count() == 2


TAP_PARKED = """(name) => [...document.querySelectorAll(".attention button")]
    .find((one) => one.textContent === name)?.click()"""


def test_r5_the_number_shown_is_the_number_of_rows_after_each_of_200_operations(
    new_tablet: Callable[..., Tablet], server: Server
) -> None:
    chance = random.Random(5)
    answers: list[str] = []

    def answer(route: Any) -> None:
        how = chance.choice(["pass", "lost", "reject", "portal"])
        answers.append(how)
        items = json.loads(route.request.post_data)["items"]
        results = [
            {"id": item["id"], "result": "rejected", "code": "invalid"} for item in items
        ]
        if how == "pass":
            route.continue_()
        elif how == "lost":
            route.abort()
        elif how == "portal":
            route.fulfill(body="<html>", content_type="text/html")
        else:
            route.fulfill(json={"results": results}, headers={"X-Step-In-Hand": "1"})

    tablet = new_tablet()
    tablet.open(f"{server.url}/#outbox")
    install_lab(tablet.page)
    # Once the worker is settled: seen on a busy machine that no request came this way.
    tablet.until("() => navigator.serviceWorker.controller !== null", 30)
    tablet.context.route("**/api/outbox", answer)
    page = tablet.page
    for n in range(200):
        what = chance.choice(["save", "save", "send", "again", "aside"])
        parked = page.locator(".attention")
        if what == "save":
            lab(page, "save", f"report {n}")
            page.evaluate("() => dispatchEvent(new Event('pageshow'))")
        elif what == "send":
            lab(page, "flush")
            page.evaluate("() => dispatchEvent(new Event('pageshow'))")
        elif parked.count():
            name = "Send again" if what == "again" else "Keep on this tablet only"
            # Looked for and tapped in one step: meanwhile the depot may have taken it.
            page.evaluate(TAP_PARKED, name)
        same = """async () => {
            const left = await window.lab.left();
            const badge = Number(document.querySelector(".unsent")?.textContent ?? 0);
            const counts = [...document.querySelectorAll(".standing .count")]
                .map((one) => Number(/\\d+/.exec(one.textContent)?.[0] ?? 0));
            return left === badge && left === counts.reduce((a, b) => a + b, 0);
        }"""
        tablet.until(same)
    assert len(set(answers)) == 4
