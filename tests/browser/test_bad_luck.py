"""The tablet in an unlucky world: wrong clock, storage held elsewhere, damage, old choices."""

from __future__ import annotations

import json
import re
import urllib.request
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.tablet import Cab, Tablet, as_booked, say_where
from tests.support.server import Server

BLOCKED = "The tablet's storage does not open."


def listed(page: Page) -> int:
    return page.locator(".part.listed").count()


def at_noon(tablet: Tablet, day: str, state: str) -> None:
    page = tablet.page
    page.clock.set_fixed_time(f"{day}T12:00:00Z")
    page.reload()
    page.wait_for_selector(".road, #trip")
    if page.locator("#trip").count():  # so late it is another run: asked again
        tablet.prepare(state)


def test_a_wrong_clock_does_not_end_the_leaf_season(tablet: Tablet):
    page = tablet.page
    # Dry: a jump of the clock makes the state old, and the wet it is planned as then still
    # lists every place.
    tablet.prepare("Dry")
    inside, outside = "2026-11-25", "2027-06-01"
    real_day = datetime.now(UTC).strftime("%m-%d")
    by_the_depot = listed(page)
    assert (by_the_depot > 0) == ("10-01" <= real_day <= "12-13"), "as in listed.csv"
    for day in (inside, outside):
        at_noon(tablet, day, "Dry")
        expect(page.locator(".notice", has_text="clock is")).to_be_visible()
        expect(page.locator(".part.listed")).to_have_count(by_the_depot)


def test_a_clock_set_back_without_contact_counts_every_listed_place(tablet: Tablet):
    page = tablet.page
    tablet.prepare("Damp")
    tablet.context.set_offline(True)
    at_noon(tablet, "2020-06-01", "Damp")
    assert listed(page) > 0


def test_storage_held_by_another_window_shows_a_page_and_goes_on(
    tablet: Tablet, demo_server: Server
):
    other = tablet.context.new_page()
    address = f"{demo_server.url}/manifest.webmanifest"
    for page in (tablet.page, other):
        page.goto(address)
    # As an old version of the app does that ignores the wish of a newer one.
    other.evaluate(
        """() => new Promise((done) => {
            const request = indexedDB.open("step-in-hand");
            request.onsuccess = () => { window.held = request.result; done(); };
        })"""
    )
    other.evaluate("() => { indexedDB.deleteDatabase('step-in-hand'); }")
    page = tablet.page
    page.goto(demo_server.url)
    expect(page.locator(".notice").first).to_contain_text(BLOCKED, timeout=20_000)
    tablet.go("Report")
    page.get_by_label("Reportable").click()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".message")).to_contain_text("Could not save", timeout=20_000)
    other.evaluate("() => window.held.close()")
    tablet.go("Brief")
    expect(page.locator("input[name=line]")).to_have_count(2, timeout=60_000)
    expect(page.get_by_text(BLOCKED)).to_have_count(0)


def test_a_damaged_pack_keeps_no_other_from_the_tablet(
    new_tablet: Callable[..., Tablet], demo_server: Server
):
    with urllib.request.urlopen(f"{demo_server.url}/api/index", timeout=10) as answer:
        routes = json.load(answer)["routes"]
    first, second = routes[0], routes[1]
    tablet = new_tablet()
    tablet.context.route(
        f"**/packs/{first['pack']}",
        lambda route: route.fulfill(body="{}", content_type="application/json"),
    )
    page = tablet.open(demo_server.url)
    expect(page.locator("input[name=line]")).to_have_count(1)
    expect(page.locator("input[name=line]")).to_have_value(second["key"])


def test_yesterdays_stop_is_not_todays_first_card(tablet: Tablet, base: dict[str, Any]):
    page = tablet.page
    tablet.prepare()
    tablet.go("Next stop")
    first = page.locator(".line.name").inner_text()
    for _ in range(3):
        page.get_by_role("button", name="Show").click()
    expect(page.locator(".line.name")).not_to_have_text(first)
    third = page.locator(".line.name").inner_text()
    page.reload()
    expect(page.locator(".line.name")).to_have_text(third)  # a restart on the way
    page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=20))
    page.reload()
    # Nor is yesterday's train today's: it is asked for again, and the rail state is old.
    expect(page.locator("#page")).to_contain_text("No trip is prepared.")
    tablet.go("Brief")
    expect(page.locator("#trip")).to_have_value("d0512")
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    page.get_by_role("button", name="Show the stops").click()
    expect(page.locator(".chosen")).to_contain_text("Rail state 20 h old")
    tablet.go("Next stop")
    expect(page.locator(".line.name")).to_have_text(first)


def test_a_train_that_runs_back_gets_no_card(tablet: Tablet, base: dict[str, Any], cab: Cab):
    page = tablet.page
    tablet.prepare()
    tablet.go("Next stop")
    start = base["geometry"][0][2] + 2000
    cab.at(start, 20)
    # The watch may take a moment to begin: only a fix that was seen can be run back from.
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    cab.at(start - 100, 20)
    expect(page.locator(".line.name")).to_be_visible()
    cab.at(start - 700, 20)
    expect(page.locator(".card")).to_have_text("No advice here. Drive to the conditions.")
