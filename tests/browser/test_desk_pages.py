"""The desk in a browser: every page by axe, on a phone and enlarged; and by keyboard alone.

Pages come from the URL map, so that a new one is looked at by itself. Outside measures: axe's
rules (WCAG 2.2 A, AA and contrast of 7 to 1), and WCAG 2.2 success criteria 1.4.4 (200 %),
1.4.10 (no sideways scrolling), 2.4.7 (focus is seen) and 2.5.5 (44 px).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import flask_migrate
import pytest
from flask import Flask
from playwright.sync_api import Browser, Page, Playwright, ViewportSize, expect
from werkzeug.serving import make_server

from tests.browser.axe import violations
from tests.browser.tablet import ARGUMENTS, chromium_path
from tests.support.desk import PASSWORD, account, desk_client
from tests.support.whole_desk import desk_addresses, fill
from webapp import create_app
from webapp.store.db import db

WIDE: ViewportSize = {"width": 1180, "height": 820}
ENLARGED: ViewportSize = {"width": 590, "height": 410}  # 1180 x 820 at 200 %
PHONE: ViewportSize = {"width": 390, "height": 844}

SIDEWAYS = """() => {
    const { scrollWidth, clientWidth } = document.documentElement;
    return scrollWidth > clientWidth ? [`${scrollWidth - clientWidth} px too wide`] : [];
}"""
UNFOLD = "() => document.querySelectorAll('details').forEach((one) => { one.open = true; })"
# A choice is tapped by its label too. A link in a sentence is as high as the sentence's line.
LOW = """() => {
    const seen = (one) => one.checkVisibility({ visibilityProperty: true });
    const block = (one) => getComputedStyle(one.parentElement).display === "inline"
        ? block(one.parentElement) : one.parentElement;
    const height = (one) => one.getBoundingClientRect().height;
    const inSentence = (one) => one.matches("a") && getComputedStyle(one).display === "inline"
        && block(one).textContent.trim().length > one.textContent.trim().length;
    const tapped = (one) => one.matches("[type=radio], [type=checkbox]")
        ? Math.max(height(one), ...[...one.labels].map(height)) : height(one);
    return [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
        .filter((one) => seen(one) && !inSentence(one) && tapped(one) < 43.5)
        .map((one) => `${Math.round(tapped(one))} px high: ${one.outerHTML.slice(0, 110)}`);
}"""
# What has the focus: its words, or why nobody would see it.
FOCUSED = """() => {
    const one = document.activeElement;
    if (!one || one === document.body) return "(lost)";
    const { outlineStyle, outlineWidth } = getComputedStyle(one);
    if (outlineStyle === "none" || parseFloat(outlineWidth) < 2) return "(no outline)";
    const box = one.getBoundingClientRect();
    if (box.right <= 0 || box.bottom <= 0 || box.top >= innerHeight) return "(out of sight)";
    if (one.id === "main") return "(the page itself)";
    return (one.labels?.[0] ?? one).textContent.trim();
}"""
FAULTY = """<!doctype html><html lang="en"><title>Faulty</title><main><h1>Faulty</h1>
<input><button style="height: 20px">Low</button><p style="width: 1300px">Wide</p></main>"""


@dataclass
class Desk:
    """A desk with one of everything, served on loopback; the pages a person can open."""

    app: Flask
    url: str
    pages: dict[str, str]
    report: str

    def cookie(self) -> str:
        held = desk_client(self.app, "publish", manages=True).get_cookie("sih-desk")
        assert held is not None
        return held.value


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    app = create_app({"DATA": tmp_path / "data", "DEMO": True})
    with app.app_context():
        flask_migrate.upgrade()
    depot = fill(app)
    client = desk_client(app, "publish", manages=True)
    pages = {}
    for rule, path in desk_addresses(app, depot).items():
        answer = client.get(path)
        if answer.status_code == 200 and answer.mimetype == "text/html":
            pages[rule] = path
    server = make_server("127.0.0.1", 0, app, threaded=True)
    serving = threading.Thread(target=server.serve_forever, daemon=True)
    serving.start()
    url = f"http://127.0.0.1:{server.server_port}"
    yield Desk(app, url, pages, depot.ids["report_id"])
    server.shutdown()
    serving.join()
    server.server_close()
    with app.app_context():
        db.engine.dispose()


@pytest.fixture
def browser(engine: Playwright) -> Iterator[Browser]:
    one = engine.chromium.launch(executable_path=chromium_path(engine), args=ARGUMENTS)
    yield one
    one.close()


def looked_at(page: Page, *, axe: bool) -> list[str]:
    """What is wrong with the page as it stands, in words."""
    found = [*page.evaluate(SIDEWAYS), *page.evaluate(LOW)]
    if axe:
        found += [f"{rule}: {nodes}" for rule, nodes in violations(page)]
    return found


def test_every_page_is_read_by_all_on_a_phone_and_enlarged(
    desk: Desk, browser: Browser
) -> None:
    page = browser.new_context(viewport=WIDE).new_page()
    page.set_content(FAULTY)
    faults = "\n".join(looked_at(page, axe=True))  # what is looked for is found
    for known in ("px too wide", "20 px high: <button", "label: "):
        assert known in faults, faults
    page.context.add_cookies([{"name": "sih-desk", "value": desk.cookie(), "url": desk.url}])
    assert {"/desk/reports", "/desk/reports/<uuid:name>", "/desk/warnings"} <= set(desk.pages)
    found = []
    for rule, path in desk.pages.items():
        page.set_viewport_size(WIDE)
        page.emulate_media(color_scheme="light")
        answer = page.goto(desk.url + path)
        assert answer and answer.status == 200, path
        page.evaluate(UNFOLD)
        found += [f"{rule}, bright: {fault}" for fault in looked_at(page, axe=True)]
        page.set_viewport_size(ENLARGED)
        found += [f"{rule}, at 200 %: {fault}" for fault in looked_at(page, axe=False)]
        page.set_viewport_size(PHONE)
        page.emulate_media(color_scheme="dark")
        found += [f"{rule}, phone, dark: {fault}" for fault in looked_at(page, axe=True)]
    assert found == [], "\n" + "\n".join(found)


class Keyboard:
    """A person without a mouse; after each key the focus is somewhere, and seen."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, key: str) -> str:
        """Press a key that stays on the page; return the words of what has the focus now."""
        self.page.keyboard.press(key)
        words = str(self.page.evaluate(FOCUSED))
        assert words not in ("(lost)", "(no outline)", "(out of sight)"), (key, self.page.url)
        return words

    def to(self, words: str) -> None:
        """Go on with Tab until the thing of these words has the focus."""
        passed = []
        for _ in range(60):
            passed.append(self.press("Tab"))
            if passed[-1] == words:
                return
        raise AssertionError(f"{words!r} is not reached on {self.page.url}: {passed}")

    def fill(self, label: str, text: str) -> None:
        self.to(label)
        self.page.keyboard.type(text)

    def follow(self, words: str, heading: str) -> None:
        """Go to a link or button, press Enter, and wait for the page that it leads to."""
        self.to(words)
        self.opens(heading)

    def choose(self, first: str, down: int = 0) -> None:
        """Tab to the first choice of a group, then so many down with the arrow."""
        self.to(first)
        self.page.keyboard.press("Space")
        for _ in range(down):
            self.press("ArrowDown")

    def opens(self, heading: str) -> None:
        with self.page.expect_navigation():  # the next page may have the same heading
            self.page.keyboard.press("Enter")
        expect(self.page.locator("h1")).to_contain_text(heading)


def test_log_in_list_and_review_by_keyboard_alone(desk: Desk, browser: Browser) -> None:
    account(desk.app, "keys")
    page = browser.new_context(viewport=WIDE).new_page()
    keys = Keyboard(page)
    page.goto(desk.url + "/desk/reports")
    keys.fill("Login", "keys")
    keys.fill("Password", PASSWORD)
    keys.follow("Log in", "Reports")
    assert keys.press("Tab") == "To the page itself"
    assert keys.press("Enter") == "(the page itself)"
    assert keys.press("/") == "Words, or a number"
    keys.press("Shift+Tab")
    first = keys.press("j")
    assert keys.press("j") != first
    assert keys.press("k") == first
    keys.opens(first.split(":")[0])
    address = page.url
    keys.follow("Mark as reviewed", "Reports")  # it was the last of the list that is open
    page.goto(address)
    keys.to("Undo review")
    # Its line has no pack here: where no warning can be made the page says what to do.
    expect(page.get_by_text("No warning can be made from this report:")).to_be_visible()
    keys.follow("make one by hand on a line that has a pack", "New warning")


@pytest.fixture
def keys(desk: Desk, browser: Browser) -> Keyboard:
    page = browser.new_context(viewport=WIDE, locale="en-US").new_page()
    page.context.add_cookies([{"name": "sih-desk", "value": desk.cookie(), "url": desk.url}])
    return Keyboard(page)


def test_a_warning_from_its_draft_to_its_end_by_keyboard_alone(
    desk: Desk, keys: Keyboard
) -> None:
    keys.page.goto(desk.url + "/desk/warnings")
    keys.follow("New warning", "New warning")
    keys.choose("Down, to Quarry Halt")
    keys.fill("From", "2m 30ch")
    keys.fill("To", "2m 70ch")
    keys.fill("Rail state to plan with", "Damp")
    keys.fill("Reason", "drizzle on the rail")
    keys.fill("Told by whom", "signaller, Fern Mill")
    keys.follow("Keep it and see what it changes", "Damp, 2 mi 30 ch to 2 mi 70 ch")
    keys.follow("Publish now", "Damp")
    keys.follow("Amend", "Amend the warning")
    keys.fill("Rail state to plan with", "Leaf")
    keys.follow("Amend it on every tablet", "Leaf film, 2 mi 30 ch to 2 mi 70 ch")
    for down in (1, 2):  # treated, then a test stop
        keys.follow("Note a step", "Note a step")
        keys.choose("inspected", down)
        if down == 2:
            keys.choose("good")
        keys.fill("Told by whom", "signaller, Fern Mill")
        keys.follow("Note it", "Leaf film")
    assert "Missing:" not in keys.page.locator("main").inner_text()
    keys.follow("Record its end", "Record the end of a warning")
    keys.fill("Told by whom", "signaller, Fern Mill")
    keys.follow("End it on every tablet", "Leaf film")
    expect(keys.page.get_by_text("Tablets drop it as soon as they ask.")).to_be_visible()
    actions = keys.page.locator("ol.reports strong").all_inner_texts()
    noted = "Clearing step noted"
    assert actions == ["Ended", noted, noted, "Amended", "Published", "Drafted"]


def test_a_place_and_a_restriction_by_keyboard_alone(desk: Desk, keys: Keyboard) -> None:
    keys.page.goto(desk.url + "/desk/places/new?line=larch-valley")
    keys.fill("Name", "Fern cutting")
    keys.choose("Down, to Quarry Halt")
    keys.fill("From", "2m 30ch")
    keys.fill("To", "2m 70ch")
    keys.fill("Rail state to plan with there", "Damp")
    keys.fill("Reason", "trees")
    keys.fill("Source", "the line's owner, list 3")
    keys.follow("List it", "Fern cutting")
    keys.follow("Note a treatment", "Note a treatment")
    for first in ("train", "done", "yes"):
        keys.choose(first, down=1)
    keys.fill("Told by whom", "treatment crew")
    keys.follow("Note it", "Fern cutting")
    keys.page.goto(desk.url + "/desk/restrictions/new?line=larch-valley")
    keys.choose("Down, to Quarry Halt")
    keys.fill("From", "1m 00ch")
    keys.fill("To", "1m 40ch")
    keys.fill("Speed, mph", "20")
    keys.fill("Start", "11012026")  # as this browser's language writes a day
    keys.page.keyboard.press("Tab")
    keys.page.keyboard.type("0640AM")
    keys.fill("Notice reference", "notice 7")
    keys.fill("Told by whom", "notice board")
    keys.follow("Note it", "Temporary speed restrictions")
    keys.follow("End it", "Has the notice been withdrawn?")
    keys.fill("Told by whom", "notice board")
    keys.fill("Reason", "withdrawn")
    keys.follow("End it", "Temporary speed restrictions")
