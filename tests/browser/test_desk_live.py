"""The desk's list changes by itself: who reads it keeps his place and hears what came."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright, expect

from tests.browser.at_desk import desk_depot, logged_in
from tests.support.reports import CHANGE, batch, item, opened
from tests.support.server import Server
from webapp import create_app
from webapp.store.db import db

#: The list asks every ten seconds; a report stands there within so long.
SOON_MS = 14_000


@pytest.fixture
def depot(demo_data: Path, tmp_path: Path) -> Iterator[Server]:
    with desk_depot(demo_data, tmp_path, "review") as running:
        yield running


@pytest.fixture
def desk(engine: Playwright, depot: Server) -> Iterator[Page]:
    with logged_in(engine, depot.url, "fenn", height=620) as page:
        yield page


def test_an_overrun_stands_on_top_within_seconds_and_the_reader_keeps_his_place(
    desk: Page, depot: Server
) -> None:
    app = create_app({"DATA": depot.data, "DEMO": True})
    client, place = opened(app), {"route": "kettle-bay", "target": "harrowmere/down"}
    plain = {"told_signaller_at": "2026-11-25T06:41:00Z", "happened": ["slide"], **place}
    send = [item(n, text=f"slide {n}", **plain) for n in range(1, 13)]
    assert client.post("/api/outbox", json=batch(*send), headers=CHANGE).status_code == 200
    said = desk.locator("[data-live-said]")
    expect(said).to_contain_text("New at", timeout=SOON_MS)
    rows = desk.locator("ol.reports > li")
    expect(rows.filter(has_text="slide 12")).to_have_count(1)

    # He has opened one far down, and stands on it.
    row = rows.filter(has_text="slide 1").last
    row.locator("summary").click()
    row.locator("h2 a").focus()
    desk.evaluate("scrollTo(0, document.body.scrollHeight / 2)")
    row.locator("h2 a").scroll_into_view_if_needed()
    before = row.locator("h2 a").bounding_box()
    address = row.locator("h2 a").get_attribute("href")
    worst = {**plain, "happened": ["overrun"], "step": "emergency", "flats_suspected": True}
    overrun = batch(item(13, text="ran past", **worst))
    assert client.post("/api/outbox", json=overrun, headers=CHANGE).status_code == 200
    expect(rows.first).to_contain_text("overrun", timeout=SOON_MS)
    expect(rows.first).to_contain_text("Flats suspected")
    expect(said).to_contain_text(re.compile("New at .*overrun"))
    assert desk.evaluate("document.activeElement.getAttribute('href')") == address
    mine = desk.locator(f"ol.reports a[href='{address}']")
    after = mine.bounding_box()
    assert before and after and abs(after["y"] - before["y"]) < 3
    opened_row = rows.filter(has=desk.locator(f"a[href='{address}']"))
    expect(opened_row.locator("details")).to_have_attribute("open", "")

    # Nothing changed: nothing is said again, and nothing is drawn anew.
    words = said.inner_text()
    desk.evaluate("document.querySelector('ol.reports').dataset.same = 'yes'")
    desk.wait_for_timeout(11_000)
    assert said.inner_text() == words
    assert desk.evaluate("document.querySelector('ol.reports').dataset.same") == "yes"

    depot.stop()
    expect(said).to_contain_text("No answer from the depot.", timeout=SOON_MS)
    depot.start()
    expect(said).not_to_contain_text("No answer", timeout=SOON_MS)
    with app.app_context():
        db.engine.dispose()
