"""A morning of forty reports, worked through at the desk with at most sixty clicks.

The figure is the depot's wish (common practice, no source). A press of the pointer is a click,
wherever it lands; typing is none, the press into the field is one.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, expect

from tests.browser.at_desk import desk_depot, logged_in
from tests.support.reports import item
from tests.support.server import Server
from webapp.records.reports import rank

MOST_CLICKS = 60
COUNT = """addEventListener("pointerdown", (press) => {
    if (press.isTrusted) sessionStorage.clicks = Number(sessionStorage.clicks ?? 0) + 1;
}, true);"""


def morning() -> list[dict[str, Any]]:
    """An overrun, a train not seen, one with no call noted, and 37 of every kind."""
    dice, now = random.Random(3), datetime.now(UTC)

    def one(seq: int, **more: Any) -> dict[str, Any]:
        at = (now - timedelta(minutes=dice.randrange(5, 200))).isoformat()
        found = dice.choice(["good", "expected", "reportable", "expected"])
        plain = {"route": "kettle-bay", "found": found, "happened": ["slide"], "target": None}
        plain |= {"at_m": dice.uniform(17_000, 60_000), "rail_state": "damp", "train": None}
        plain |= {"told_signaller_at": at, "direction": dice.choice(["down", "up"])}
        return item(seq, observed_at=at, **{**plain, **more})

    worst = {"happened": ["overrun", "leaves"], "step": "emergency", "flats_suspected": True}
    return [
        *(one(seq) for seq in range(1, 38)),
        one(38, found="reportable", at_m=51_000.0, direction="down", **worst),
        one(39, found="reportable", train_not_seen=True),
        one(40, found="reportable", told_signaller_at=None),
    ]


@pytest.fixture
def depot(demo_data: Path, tmp_path: Path) -> Iterator[Server]:
    with desk_depot(demo_data, tmp_path, "publish", morning()) as running:
        yield running


@pytest.fixture
def desk(engine: Playwright, depot: Server) -> Iterator[Page]:
    with logged_in(engine, depot.url, "fenn") as page:
        page.context.add_init_script(COUNT)
        page.reload()
        yield page


def opens(page: Page, link: str) -> None:
    with page.expect_navigation():
        page.get_by_role("main").get_by_text(link, exact=True).click()


def test_forty_reports_take_sixty_clicks_at_most(desk: Page) -> None:
    rows = desk.locator("ol.reports > li")
    expect(desk.get_by_text("40 reports to deal with")).to_be_visible()
    # More than three are on the screen, the overrun first.
    seen = [row.bounding_box() for row in rows.all()]
    assert sum(1 for box in seen if box and box["y"] + box["height"] <= 820) > 3, seen[:5]
    expect(rows.first).to_contain_text("overrun")

    with desk.expect_navigation():
        rows.first.locator("h2 a").click()
    opens(desk, "Make a warning from this report")
    desk.get_by_label("Told by whom").click()
    desk.keyboard.type("signaller, Harrowmere")
    for button in ("Keep it and see what it changes", "Publish now"):
        with desk.expect_navigation():
            desk.get_by_role("button", name=button).click()
    expect(desk.get_by_role("heading", name="Who is warned")).to_be_visible()
    opens(desk, "a report")
    alone, needs = 0, set(rank.REASONS) - {0}
    kinds = {rank.KINDS[one] for one in needs}
    while str(desk.locator("h1 .mark").get_attribute("class")).split()[1] in kinds:
        with desk.expect_navigation():
            desk.get_by_role("button", name="Mark as reviewed").click()
        alone += 1
    expect(desk.get_by_role("status").first).to_contain_text("is marked as reviewed")
    assert alone >= 3
    opens(desk, "All reports")
    ticks = desk.get_by_role("checkbox")
    together = ticks.count()
    assert alone + together == 40
    for one in ticks.all():
        one.click()
    with desk.expect_navigation():
        desk.get_by_role("button", name="Review the ticked ones").click()
    expect(desk.get_by_text(f"{together} reviewed together.")).to_be_visible()
    expect(desk.get_by_text("0 reports to deal with")).to_be_visible()
    clicks = int(desk.evaluate("sessionStorage.clicks"))
    print(f"clicks: {clicks}, one by one {alone}, together {together}")
    assert 40 <= clicks <= MOST_CLICKS, clicks


def test_reports_are_gone_through_and_ticked_by_keyboard(desk: Page) -> None:
    desk.keyboard.press("j")
    first = desk.evaluate("document.activeElement.textContent")
    with desk.expect_navigation():
        desk.keyboard.press("Enter")
    for key in ("j", "k"):
        with desk.expect_navigation():
            desk.keyboard.press(key)
    assert first.strip() in desk.locator("h1").inner_text()
    opens(desk, "All reports")
    row = desk.locator("ol.reports > li", has=desk.get_by_role("checkbox")).first
    row.locator("h2 a").focus()
    desk.keyboard.press("x")
    expect(row.get_by_role("checkbox")).to_be_checked()
