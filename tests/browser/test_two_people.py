"""From one driver's report to the next driver's screen, and the proof that it got there.

Two tablets and a desk in three browsers, over each store: what one end does the other sees.
"""

from __future__ import annotations

import json
import re
import shutil
import urllib.request
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Playwright, Route, expect

from tests.browser.at_desk import logged_in
from tests.browser.conftest import pack_base
from tests.browser.ready import TOLD
from tests.browser.tablet import Tablet
from tests.browser.test_next_stop import calls
from tests.browser.test_warnings import LEAF_AT_CORVANE, W5, advice, command, road, sync
from tests.support.carried import carry_packs
from tests.support.desk import account
from tests.support.server import Server
from webapp import create_app
from webapp.store.db import db

AT = "corvane/down"


@pytest.fixture
def depot(demo_data: Path, tmp_path: Path, database_url: str | None) -> Iterator[Server]:
    """The real server with both demo lines, on each store, and one account at the desk."""
    data = tmp_path / "data"
    env = {} if database_url is None else {"STEP_IN_HAND_DATABASE_URL": database_url}
    if database_url is None:
        shutil.copytree(demo_data, data)
    else:
        data.mkdir()
        carry_packs(demo_data, data, database_url)
    app = create_app({"DATA": data, "DEMO": True, "DATABASE_URL": database_url})
    account(app, "fenn", "publish")
    with app.app_context():
        db.engine.dispose()
    with Server(data, env=env) as running:
        yield running


@pytest.fixture
def desk(engine: Playwright, depot: Server) -> Iterator[Page]:
    """A browser in which somebody has logged in at the desk."""
    with logged_in(engine, depot.url, "fenn") as page:
        yield page


@pytest.fixture
def table(depot: Server) -> dict[str, Any]:
    def get(path: str) -> Any:
        with urllib.request.urlopen(depot.url + path, timeout=10) as answer:
            return json.loads(answer.read())

    routes = get("/api/index")["routes"]
    pack = next(one["pack"] for one in routes if one["key"] == "kettle-bay")
    files = get(f"/packs/{pack}")["files"]
    sha = next(file["sha256"] for file in files if file["kind"] == "table")
    found: dict[str, Any] = get(f"/packs/{sha}")
    return found


def until(page: Page, text: str, seconds: int = 20) -> None:
    """Load a desk page again until it says so; a person would do the same."""
    for _ in range(seconds * 2):
        if text in page.locator("main").inner_text():
            return
        page.wait_for_timeout(500)
        page.reload()
    raise AssertionError(f"never said: {text}\n{page.locator('main').inner_text()}")


def minutes(later: int) -> str:
    return f"{datetime.now(UTC) + timedelta(minutes=later):%Y-%m-%dT%H:%M}"


def step_to(tablet: Tablet, base: dict[str, Any], key: str, beyond: int = 0) -> None:
    """Step the card on to a stop by hand."""
    tablet.go("Next stop")
    stops = calls(base)
    index = [one["key"] for one in stops].index(key) + beyond
    for stop in stops[1 : index + 1]:
        tablet.page.get_by_role("button", name=f"Show {stop['name']}").click()


ROWS = """async () => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const ask = db.transaction(["outbox"]).objectStore("outbox").getAll();
    const rows = await new Promise((done) => (ask.onsuccess = () => done(ask.result)));
    db.close();
    return rows;
}"""
RECEIPTS = """async () => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const ask = db.transaction(["receipts"]).objectStore("receipts").getAllKeys();
    const ids = await new Promise((done) => (ask.onsuccess = () => done(ask.result)));
    db.close();
    return ids;
}"""


def driver_reports_offline(tablet: Tablet, base: dict[str, Any]) -> None:
    """He has just left the stop where it slid, and there is no signal."""
    step_to(tablet, base, AT, beyond=1)
    tablet.context.set_offline(True)
    tablet.report()
    tablet.go("Outbox")
    expect(tablet.page.locator(".standing")).to_contain_text("1 report not sent")


def desk_publishes(page: Page, depot: Server, report: str) -> str:
    """From the report to a published warning; return its address."""
    page.goto(f"{depot.url}/desk/reports")
    expect(page.locator("main")).to_contain_text("Reportable")
    page.goto(f"{depot.url}/desk/reports/{report}")
    expect(page.locator("main")).to_contain_text("Reportable")
    page.goto(f"{depot.url}/desk/warnings/new?report={report}")
    expect(page.get_by_label("Reason")).to_have_value("slide")
    page.get_by_label("From", exact=True).fill("21m 00ch")
    page.get_by_label("To", exact=True).fill("21m 15ch")
    page.get_by_label("Rail state to plan with").select_option("leaf")
    page.get_by_label("From when").fill(minutes(-60))
    page.get_by_label("Told by whom").fill("signaller, Corvane")
    page.get_by_label("Reference").fill("entry 12")
    assert Axe().run(page).response["violations"] == []
    page.get_by_role("button", name="Keep it and see what it changes").press("Enter")
    expect(page.locator("main")).to_contain_text("A draft. No tablet has it.")
    page.get_by_role("button", name="Publish now").press("Enter")
    expect(page.locator("main")).to_contain_text("not yet warned: 2")
    return page.url


def told(page: Page, kind: str, at: str, result: str = "") -> None:
    """Note a step of clearing."""
    page.get_by_role("link", name="Note a step").click()
    page.get_by_label(kind).check()
    if result:
        page.get_by_label(result, exact=True).check()
    page.get_by_label("Told by whom").fill("signaller, Corvane")
    page.get_by_label("When it was done").fill(at)
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_role("heading", name="Steps of clearing")).to_be_visible()


def test_r66_from_a_report_to_the_next_drivers_card_and_back(
    new_tablet: Callable[..., Tablet],
    depot: Server,
    desk: Page,
    table: dict[str, Any],
):
    base = pack_base(depot, "kettle-bay")
    first, second = new_tablet(), new_tablet()
    for tablet in (first, second):
        tablet.open(depot.url)
        tablet.installed()
        tablet.prepare("Damp")
    before = road(second.page)
    at = next(i for i, text in enumerate(before) if "Corvane" in text)
    second.go("Outbox")

    driver_reports_offline(first, base)
    first.context.set_offline(False)
    expect(first.page.locator(".standing")).to_contain_text("has reached the depot")
    (report,) = first.page.evaluate(RECEIPTS)
    warning = desk_publishes(desk, depot, report)

    # Received by both, and shown at no Brief yet.
    sync(second)
    sync(first)
    until(desk, "received by 2 of 2 tablets, shown at a Brief on 0, not yet warned: 0")

    # The second driver's Brief: on the first screen that it is new, and at which stop.
    second.go("Brief")
    top = second.page.locator(".warning")
    expect(top).to_contain_text("Leaf film, 21 mi 00 ch to 21 mi 15 ch: slide")
    expect(second.page.locator(".first-screen .worst")).to_contain_text("Leaf film, warned")
    damp, leaf = (advice(base, table, AT, state) for state in ("damp", "leaf"))
    assert leaf["brake"] > damp["brake"] and leaf["seconds"] > damp["seconds"]
    assert f"Begin before {damp['mark']['words']}" in before[at]
    warned = road(second.page)
    assert f"Begin before {leaf['mark']['words']}" in warned[at]
    assert warned[:at] + warned[at + 1 :] == before[:at] + before[at + 1 :]
    sync(second)
    until(desk, "received by 2 of 2 tablets, shown at a Brief on 1, not yet warned: 0")

    # His card at that place: earlier and slower, by the pack's own figures.
    step_to(second, base, AT)
    card = " ".join(second.page.locator(".card").inner_text().split())
    assert f"Begin before {leaf['mark']['words']}" in card
    slower = leaf["speeds"][0]
    assert f"{slower['speed']} {slower['words']}" in card
    same = [one for one in damp["speeds"] if one["words"] == slower["words"]]
    assert all(slower["speed"] <= one["speed"] for one in same)
    expect(second.page.locator(".planned")).to_contain_text("leaf film, warned")

    # The desk's own sheet says the same whole figures, with and without.
    desk.goto(f"{warning}/test-stop?state=damp")
    sheet = desk.get_by_role("region", name=re.compile("Corvane"))
    expect(sheet).to_contain_text(f"{damp['brake']} m before the mark")
    expect(sheet).to_contain_text(f"{leaf['brake']} m before the mark")

    # Cleared as the signaller tells, then ended: both tablets drop it.
    desk.goto(warning)
    told(desk, "inspected", minutes(1))
    told(desk, "test stop", minutes(2), "good")
    assert "Missing:" not in desk.locator("main").inner_text()
    desk.get_by_role("link", name="Record its end").click()
    desk.get_by_label("Told by whom").fill("signaller, Corvane")
    desk.get_by_label("Told at").fill(minutes(3))
    desk.get_by_role("button", name="End it on every tablet").press("Enter")
    expect(desk.locator("main")).to_contain_text("Which tablets these were is not kept.")
    for tablet in (first, second):
        sync(tablet)
        tablet.go("Brief")
        expect(tablet.page.locator(".warning")).to_have_count(0)
        expect(tablet.page.locator(".w5")).to_have_text(W5)
    assert road(second.page) == before

    actions = desk.locator("main li > p > strong").all_inner_texts()
    assert actions == [
        *("Ended", "Clearing step noted", "Clearing step noted", "Published", "Drafted")
    ]
    history = desk.locator("main").inner_text()
    assert history.count("by fenn") >= 5 and "received by 2 of 2 tablets" in history
    for path in ("/desk/warnings?show=ended", "/desk/tablets", warning):
        desk.goto(path if path == warning else depot.url + path)
        assert Axe().run(desk).response["violations"] == [], path


def test_an_older_depot_that_knows_no_receipts_parks_nothing(
    tablet: Tablet, demo_server: Server
):
    """It rejects the kind by name; nobody on the train could do anything about that."""
    refused: list[str] = []

    def older(route: Route) -> None:
        sent = json.loads(route.request.post_data or "{}")
        receipts = [one["id"] for one in sent["items"] if one["kind"] == "receipt"]
        refused.extend(receipts)
        answer = route.fetch()
        body = answer.json()
        for result in body["results"]:
            if result["id"] in receipts:
                result.update(result="rejected", code="unknown_kind", errors={"kind": ["?"]})
        route.fulfill(response=answer, json=body)

    page = tablet.page
    tablet.until(TOLD)
    sent = len([url for url in tablet.requests if url.endswith("/api/outbox")])
    sync(tablet)
    assert sent == len([url for url in tablet.requests if url.endswith("/api/outbox")])
    page.route("**/api/outbox", older)
    command(demo_server, "publish", *LEAF_AT_CORVANE)
    tablet.context.set_offline(True)
    tablet.report()
    tablet.context.set_offline(False)
    sync(tablet)
    tablet.until(f"async () => ({ROWS})().then((rows) => rows.length === 0)")
    assert len(refused) == 1, "one receipt, and it is not sent again and again"
    sync(tablet)
    assert len(refused) == 1
    tablet.go("Outbox")
    expect(page.locator(".standing")).to_contain_text("has reached the depot")
    expect(page.locator(".standing")).not_to_contain_text("attention")
    assert demo_server.count() == 1
