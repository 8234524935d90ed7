"""Ride along: a demo's page on which an invented train is followed, and a service has none."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Playwright

from tests.browser.axe import violations
from tests.browser.tablet import Tablet
from tests.support.server import Server
from webapp.tablet.build import find_static, read_build

TABLES = """async () => (await indexedDB.databases()).map((one) => one.name)"""


@pytest.fixture(scope="module")
def opened(
    engine: Playwright, demo_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Tablet, Server]]:
    """One demo and one browser for all rides, in which the app was never opened."""
    root = tmp_path_factory.mktemp("ride")
    shutil.copytree(demo_data, root / "data")
    with Server(root / "data") as server:
        tablet = Tablet(engine, root / "profile").start()
        yield tablet, server
        tablet.close()


@pytest.fixture
def ride(opened: tuple[Tablet, Server]) -> Tablet:
    tablet, server = opened
    tablet.requests.clear()
    tablet.page.goto(f"{server.url}/ride")
    tablet.page.wait_for_selector(".card .line")
    return tablet


def told(page, line):
    return page.locator(".told p").nth(line).inner_text()


def shown_name(page):
    return page.locator(".card .line.name .main").inner_text().casefold()


def test_the_card_follows_the_train_and_every_frame_says_what_it_is(ride):
    page = ride.page
    page.get_by_label("Speed").select_option("30")
    first = shown_name(page)
    for _ in range(3):
        page.get_by_role("button", name="To the next stop").click()
        assert page.locator(".ride-band strong").is_visible()
        ride.until("document.querySelector('.place').dataset.word === 'sure'", 30)
        assert shown_name(page) in told(page, 1).casefold()
        assert shown_name(page) in told(page, 0).casefold()
    assert shown_name(page) != first
    assert ride.errors == []


def test_a_tunnel_takes_the_position_and_a_stand_short_keeps_the_card(ride):
    page = ride.page
    page.get_by_role("button", name="Pause").click()
    page.locator("summary").click()
    page.get_by_label("A tunnel").check()
    page.get_by_label("A stand short of the platform").check()
    before = shown_name(page)
    page.get_by_role("button", name="To the next stop").click()
    page.get_by_label("Speed").select_option("30")
    page.get_by_role("button", name="Go on").click()
    ride.until("document.querySelector('.place').dataset.word !== 'sure'", 30)
    ride.until(
        "document.querySelector('.rail .signal') !== null"
        " && /standing/.test(document.querySelector('.told p').textContent)",
        30,
    )
    assert "before" in told(page, 0)
    assert before in told(page, 1).casefold()


def test_an_overrun_shows_the_stop_after_it(ride):
    page = ride.page
    page.locator("summary").click()
    page.get_by_label("An overrun").check()
    before = shown_name(page)
    page.get_by_role("button", name="To the next stop").click()
    page.get_by_label("Speed").select_option("30")
    ride.until(
        "/standing, \\d+ m past/.test(document.querySelector('.told p').textContent)", 30
    )
    name = "document.querySelector('.card .line.name .main')?.textContent.toLowerCase()"
    ride.until(f"{name} !== {before!r}")


def test_a_ride_keeps_and_sends_nothing(ride):
    page = ride.page
    sent = [url for url in ride.requests if "/api/" in url and "/api/index" not in url]
    page.get_by_label("Speed").select_option("30")
    for _ in range(3):
        page.get_by_role("button", name="To the next stop").click()
    page.wait_for_timeout(2000)
    assert sent == [url for url in ride.requests if "/api/" in url and "/api/index" not in url]
    assert sent == []
    assert page.evaluate(TABLES) == []


def test_the_page_reads_well_for_all(ride):
    ride.page.locator("summary").click()
    assert violations(ride.page) == []


def test_the_app_of_a_service_has_no_ride():
    service, demo = read_build(find_static()), read_build(find_static(), demo=True)
    held = "".join(service.source) + "".join(service.files) + "".join(service.root)
    assert "ride/" not in held and "ride.js" not in held and "ride.html" not in held
    assert {"ride.js", "ride/train.js"} <= set(demo.files) and "ride.html" in demo.root
    script = service.source["app.js"].decode()
    assert "ride/" not in script and "startRide" not in script
    assert "startRide" in demo.source["ride.js"].decode()
