"""The desk's pages of packs: two people at two desks at once by keyboard alone, and in print.

Outside measures: WCAG 2.2 success criteria 2.1.1 (keyboard), 2.4.7 (focus is seen) and 3.2.5
(nothing takes the focus away); ISO 216 A4 with margins of 10 mm, 190 mm wide.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import Browser, Playwright, ViewportSize, expect
from werkzeug.serving import make_server

from tests.browser.tablet import ARGUMENTS, chromium_path
from tests.browser.test_desk_pages import WIDE, Keyboard
from tests.support.desk import PASSWORD, account
from tests.support.migrated import lay_tables
from tests.webapp.test_proposals import ROUTE, in_use, pack, propose, publish
from webapp import create_app
from webapp.commands import prepare
from webapp.publish import proposals
from webapp.store.db import db, writing

A4: ViewportSize = {"width": 718, "height": 1047}  # 190 x 277 mm at 96 px an inch
LATER, FIRST = pack(-100), pack()
# What would be missing on paper: words cut off, or rows folded away.
CUT = """() => {
    const wide = [document.documentElement, ...document.querySelectorAll(".wide-table")]
        .filter((one) => one.scrollWidth > one.clientWidth + 1).map(() => "cut at the side");
    const rows = [...document.querySelectorAll("main tr")].filter((one) =>
        !one.checkVisibility() || one.getBoundingClientRect().height < 5);
    const hidden = [...document.querySelectorAll("main :is(th, td)")].filter((one) =>
        !["visible", "clip"].includes(getComputedStyle(one).overflowX));
    return [...wide, ...rows.map((one) => `not there: ${one.textContent.slice(0, 60)}`),
        ...hidden.map((one) => `may be cut: ${one.textContent.slice(0, 60)}`)];
}"""


@pytest.fixture
def desk(tmp_path: Path, database_url: str | None) -> Iterator[tuple[Flask, str]]:
    """A depot in service with one line; whoever asks for a build waits for a builder."""
    app = create_app({"DATA": tmp_path / "data", "DATABASE_URL": database_url, "DEMO": True})
    lay_tables(app)
    prepare.migrate(app)
    app.extensions["start_builder"] = lambda _app: None
    app.config["DEMO"] = False
    publish(app, FIRST)
    for login in ("fenn", "vale"):
        account(app, login)
    server = make_server("127.0.0.1", 0, app, threaded=True)
    serving = threading.Thread(target=server.serve_forever, daemon=True)
    serving.start()
    yield app, f"http://127.0.0.1:{server.server_port}"
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


def seated(browser: Browser, url: str, login: str) -> Keyboard:
    """A person at a desk of their own, in front of the list of packs."""
    page = browser.new_context(viewport=WIDE).new_page()
    keys = Keyboard(page)
    page.goto(url + "/desk/packs")
    keys.fill("Login", login)
    keys.fill("Password", PASSWORD)
    keys.follow("Log in", "Packs")
    return keys


def says(keys: Keyboard, words: str) -> None:
    expect(keys.page.locator("main")).to_contain_text(words)


def test_two_people_work_with_packs_at_once_by_keyboard_alone(
    desk: tuple[Flask, str], browser: Browser
) -> None:
    app, url = desk
    propose(app, LATER)
    fenn, vale = seated(browser, url, "fenn"), seated(browser, url, "vale")
    for keys in (fenn, vale):
        keys.follow("Larch Valley, number 1", "proposal 1")
        says(keys, "Needs a second person: begins later")
    says(fenn, "You proposed it.")
    expect(fenn.page.get_by_role("button", name="publish")).to_have_count(0)
    # The whole comparison, then a decision; the other desk still shows what was.
    folded = vale.page.locator("details.cards").first
    vale.to(folded.locator("summary").inner_text())
    vale.page.keyboard.press("Enter")
    expect(folded.locator("tbody tr").first).to_be_visible()
    vale.follow("Approve and publish to tablets", "proposal 1")
    says(vale, "Published by vale")
    fenn.fill("Reason", "the gradient is wrong")
    fenn.follow("Drop this proposal", "proposal 1")
    says(fenn, "Proposal 1 was published by vale already.")
    assert in_use(app) == LATER.sha256
    # Back in one step, while the other takes all advice away.
    fenn.follow("All packs", "Packs")
    fenn.follow("Earlier packs", "Packs of Larch Valley")
    back = f"Put pack {FIRST.sha256[:8]} back"
    fenn.follow(back, back)
    fenn.fill("Reason", "the new one is wrong")
    fenn.follow(back, "proposal 2")
    says(fenn, "One person may publish this")
    vale.follow("All packs", "Packs")
    vale.follow("Withdraw", "Withdraw all packs of this line")
    vale.fill("Reason, as drivers read it", "marks are wrong")
    vale.follow("Withdraw all packs of this line", "Packs")
    says(vale, "tablets show no advice here")
    fenn.follow("Publish to tablets", "proposal 2")
    says(fenn, "Another person has to approve this: advice again after a withdrawal")
    assert in_use(app) is None
    vale.follow("Larch Valley, number 2", "proposal 2")
    vale.follow("Approve and publish to tablets", "proposal 2")
    assert in_use(app) == FIRST.sha256
    vale.follow("All packs", "Packs")
    vale.follow("Earlier packs", "Packs of Larch Valley")
    vale.follow(f"Withdraw {LATER.sha256[:8]}", f"Withdraw pack {LATER.sha256[:8]}")
    vale.fill("Reason, as drivers read it", "never again")
    vale.follow(f"Withdraw pack {LATER.sha256[:8]}", "Packs")
    assert in_use(app) == FIRST.sha256


def test_a_build_is_watched_stopped_and_dropped_by_keyboard_alone(
    desk: tuple[Flask, str], browser: Browser
) -> None:
    """News of a build takes neither the focus nor what is being typed."""
    app, url = desk
    keys = seated(browser, url, "fenn")
    keys.follow("Build and compare", "Build and compare")
    keys.fill("Reason", "the register changed")
    keys.page.clock.install()
    keys.follow("Build and compare", "proposal 1")
    keys.to("Stop the build")
    with app.app_context(), writing() as session:
        row = proposals.find(session, 1, lock=True)
        row.state, row.progress = proposals.BUILDING, "Down: 1 of 2 stops"
    keys.page.clock.run_for(6_000)
    expect(keys.page.locator(".state")).to_have_text("Building: Down: 1 of 2 stops")
    assert keys.page.evaluate("document.activeElement.textContent") == "Stop the build"
    keys.opens("proposal 1")
    with app.app_context(), writing() as session:  # as the builder does when it is asked to
        row = proposals.find(session, 1, lock=True)
        assert row.state == proposals.STOPPING
        row.state, row.progress = proposals.STOPPED, None
    with keys.page.expect_navigation():
        keys.page.clock.run_for(6_000)
    expect(keys.page.locator(".state")).to_have_text("Stopped")
    keys.follow("Build again", "proposal 1")
    expect(keys.page.get_by_label("Reason")).to_have_count(0)  # nothing to lose by a new page
    keys.follow("Stop the build", "proposal 1")
    keys.fill("Reason", "not needed")
    keys.follow("Drop this proposal", "proposal 1")
    says(keys, "Dropped by fenn")


def test_each_page_of_packs_is_whole_in_print(
    desk: tuple[Flask, str], browser: Browser
) -> None:
    """No navigation, nothing to press, no table cut, no card folded away."""
    app, url = desk
    propose(app, LATER)
    page = seated(browser, url, "vale").page
    for path, words in (
        ("/desk/packs", ("number 1", "Larch Valley")),
        ("/desk/packs/proposals/1", ("Begins later", "Fern Mill", "Quarry Halt")),
        (f"/desk/packs/{ROUTE}", (FIRST.sha256[:8], "in use")),
    ):
        page.goto(url + path)
        page.set_viewport_size(A4)
        page.emulate_media(media="print")
        for one in ("header", "nav", ".skip", "form", "button"):
            assert not any(each.is_visible() for each in page.locator(one).all()), one
        for word in words:
            expect(
                page.locator("main :is(tr, h2, h3)").filter(has_text=word).first
            ).to_be_visible()
        assert page.evaluate(CUT) == [], path
    page.goto(url + "/desk/packs/proposals/1")  # what is looked for is found
    page.emulate_media(media="screen")
    page.evaluate("document.querySelector('main table').style.width = '999px'")
    found = " ".join(page.evaluate(CUT))
    assert "cut at the side" in found and "not there" in found
