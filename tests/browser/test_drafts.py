"""A draft is one report or none, in however many windows, and no word of it is lost."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.golden_store import GOLDEN, load
from tests.browser.tablet import Tablet, say_where, written
from tests.browser.test_report import LATE_COMPLETE, W7
from tests.support.server import Server

#: Browsers that have none: a window is not told what the others do.
NO_CHANNEL = "delete globalThis.BroadcastChannel;"
ROWS = """async (name) => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (e) => done(e.target.result);
    });
    const ask = db.transaction(name).objectStore(name).getAll();
    const all = await new Promise((done) => { ask.onsuccess = () => done(ask.result); });
    db.close();
    return all;
}"""


def rows(page: Page, name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(ROWS, name)
    return found


def save(page: Page) -> None:
    say_where(page)
    page.get_by_role("button", name="Save the report").click()


def saved(page: Page) -> None:
    expect(page.locator(".saved")).to_have_text(W7)


def own_words(page: Page, text: str) -> None:
    if not page.get_by_label("In your own words").is_visible():
        page.get_by_text("More, if there is time").click()
    page.get_by_label("In your own words").fill(text)


def window(tablet: Tablet, server: Server) -> Page:
    page = tablet.context.new_page()
    page.goto(f"{server.url}/#report")
    page.wait_for_selector(".report")
    return page


def reports(server: Server, count: int) -> list[dict[str, Any]]:
    """Wait until the depot has so many; more is a fault too."""
    ends = time.monotonic() + 15
    while server.count() < count and time.monotonic() < ends:
        time.sleep(0.05)
    assert server.count() == count
    return [
        json.loads(item) for (item,) in server.rows("SELECT item FROM report ORDER BY seq")
    ]


def test_a_draft_opened_in_a_second_window_is_one_report(tablet: Tablet, demo_server: Server):
    """It moves there; the first window says so, can have it back, and saves it once."""
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Expected").click()
    written(page)
    other = window(tablet, demo_server)
    expect(other.get_by_label("Expected")).to_be_checked()
    expect(page.locator(".report")).to_contain_text("now open in another window")
    expect(page.get_by_role("button", name="Save the report")).to_have_count(0)
    boxes = [one.bounding_box() for one in page.locator(".report .steps button").all()]
    first, second = (box for box in boxes if box)
    assert second["x"] - first["x"] - first["width"] > 8, "a touch between them is neither"
    own_words(other, "film from the bridge on")
    written(other)
    page.get_by_role("button", name="Go on with it here").click()
    expect(page.get_by_label("In your own words")).to_have_value("film from the bridge on")
    expect(other.locator(".report")).to_contain_text("now open in another window")
    (draft,) = rows(page, "drafts")
    save(page)
    saved(page)
    other.get_by_role("button", name="Go on with it here").click()
    expect(other.get_by_label("Expected")).not_to_be_checked()
    (report,) = reports(demo_server, 1)
    assert report["id"] == draft["id"], "the draft's id is the report's"
    assert report["body"]["text"] == "film from the bridge on"
    assert rows(page, "drafts") == []


def test_two_windows_that_know_nothing_of_each_other_save_one_draft_once(
    tablet: Tablet, demo_server: Server
):
    """What was changed in the second is refused in words, stays, and becomes a correction."""
    tablet.context.add_init_script(NO_CHANNEL)
    page = tablet.page
    page.reload()
    tablet.prepare()
    tablet.go("Report")
    page.get_by_label("Expected").click()
    written(page)
    others = [window(tablet, demo_server) for _ in range(2)]
    for other in others:
        expect(other.get_by_label("Expected")).to_be_checked()
    save(page)
    saved(page)
    save(others[0])  # nothing was changed in it: it is saved
    saved(others[0])
    own_words(others[1], "film from the bridge on")
    message = others[1].locator(".message")
    expect(message).to_contain_text("already saved in another window")
    save(others[1])
    expect(message).to_contain_text("already saved in another window")
    assert rows(page, "drafts") == []
    reports(demo_server, 1)
    others[1].get_by_role("button", name="Make it a correction").click()
    expect(others[1].get_by_label("In your own words")).to_have_value(
        "film from the bridge on"
    )
    save(others[1])
    saved(others[1])
    first, second = reports(demo_server, 2)
    assert second["body"]["supersedes"] == first["id"]
    assert second["body"]["text"] == "film from the bridge on"


def test_a_draft_thrown_away_in_another_window_is_not_saved_without_a_word(
    tablet: Tablet, demo_server: Server
):
    tablet.context.add_init_script(NO_CHANNEL)
    page = tablet.page
    page.reload()
    tablet.prepare()
    tablet.go("Report")
    page.get_by_label("Expected").click()
    written(page)
    other = window(tablet, demo_server)
    page.evaluate("Date.now = ((now) => () => now() + 120000)(Date.now)")
    tablet.go("Outbox")
    tablet.go("Report")
    page.get_by_role("button", name="Start afresh").click()
    expect(page.get_by_label("Expected")).not_to_be_checked()
    save(other)
    expect(other.locator(".message")).to_contain_text("saved or discarded in another window")
    assert demo_server.count() == 0
    other.get_by_role("button", name="Make it a new report").click()
    save(other)
    saved(other)
    reports(demo_server, 1)


def test_drafts_of_two_windows_are_two_rows(tablet: Tablet, demo_server: Server):
    """Saving one leaves the other, also over a restart."""
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    other = window(tablet, demo_server)
    page.get_by_label("Expected").click()
    other.get_by_label("Reportable").click()
    own_words(other, "film from the bridge on")
    for one in (page, other):
        written(one)
    assert len(rows(page, "drafts")) == 2
    save(page)
    saved(page)
    assert [one["text"] for one in rows(page, "drafts")] == ["film from the bridge on"]
    other.reload()
    expect(other.get_by_label("Reportable")).to_be_checked()
    other.close()
    page.get_by_role("button", name="Another report").click()
    page.wait_for_timeout(600)
    if page.locator(".saved").count():
        page.get_by_role("button", name="Another report").click()
    expect(page.get_by_label("Expected")).not_to_be_checked()
    expect(page.locator(".others")).to_contain_text("Another report was begun")
    page.locator(".others").get_by_role("button", name="Open it").click()
    expect(page.get_by_label("Reportable")).to_be_checked()
    save(page)
    saved(page)
    assert sorted(one["body"]["found"] for one in reports(demo_server, 2)) == [
        "expected",
        "reportable",
    ]


def test_while_it_is_saved_the_form_takes_no_word_and_loses_none(
    tablet: Tablet, demo_server: Server
):
    """Nor does the saved report come back as a draft, wherever the driver goes meanwhile."""
    tablet.prepare()
    tablet.context.add_init_script(LATE_COMPLETE)
    page = tablet.page
    page.reload()
    tablet.go("Report")
    page.get_by_label("Reportable").click()
    own_words(page, "film from the bridge on")
    say_where(page)
    own_words(page, "film from the bridge on")
    written(page)
    page.get_by_label("In your own words").focus()
    page.evaluate("[...document.querySelectorAll('.save button')].at(-1).click()")
    page.keyboard.type("; and more")
    expect(page.get_by_label("In your own words")).to_be_disabled()
    expect(page.locator(".report input:enabled, .report textarea:enabled")).to_have_count(0)
    tablet.go("Outbox")
    tablet.go("Report")
    expect(page.locator(".report input:enabled, .report textarea:enabled")).to_have_count(0)
    saved(page)
    (report,) = reports(demo_server, 1)
    assert report["body"]["text"] == "film from the bridge on"
    assert rows(page, "drafts") == []
    page.reload()
    tablet.go("Report")
    expect(page.get_by_label("Reportable")).not_to_be_checked()
    reports(demo_server, 1)


def test_the_draft_and_the_marks_of_version_2_become_rows(
    new_tablet: Callable[..., Tablet], demo_server: Server
):
    """The marks are put into the fixture here: its app made none."""
    tablet = new_tablet()
    golden = load(tablet.page, demo_server.url, GOLDEN / "store-2.json")
    kept = {row["key"]: row["value"] for row in golden["stores"]["kv"]["rows"]}
    draft = kept["draft"]
    marks = [draft, *({**draft, "found": None, "openedAt": n, "text": ""} for n in (1, 2))]
    tablet.page.evaluate(
        """async (marks) => {
            const db = await new Promise((done) => {
                indexedDB.open("step-in-hand").onsuccess = (e) => done(e.target.result);
            });
            const tx = db.transaction("kv", "readwrite");
            tx.objectStore("kv").put(marks, "marks");
            await new Promise((done) => (tx.oncomplete = done));
            db.close();
        }""",
        marks,
    )
    page = tablet.open(demo_server.url)
    tablet.go("Report")
    expect(page.get_by_label("Reportable")).to_be_checked()
    found = sorted(rows(page, "drafts"), key=lambda one: one["openedAt"])
    assert [(one["openedAt"], one["marked"]) for one in found] == [
        (1, True),
        (2, True),
        (draft["openedAt"], False),
    ]
    assert found[-1]["text"] == draft["text"]
    assert len({one["id"] for one in found}) == 3
