"""Storage in trouble: a plain message each time, never a false "saved", nothing deleted."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright, expect

from tests.browser.tablet import ARGUMENTS, Tablet, chromium_path, say_where, written
from tests.support.server import Server

NOT_SAVED = "Could not save this report on the tablet. Write it down. Call now."
W7 = "Saved on this tablet. The signaller does not know. Call now."

#: Every opening of the storage fails by this name while window.broken is set.
NO_OPEN = """
    const open = IDBFactory.prototype.open;
    window.broken = true;
    IDBFactory.prototype.open = function (...all) {
        if (!window.broken) return open.apply(this, all);
        const request = new EventTarget();
        request.error = new DOMException("injected", "NAME");
        setTimeout(() => request.onerror?.(new Event("error")), 5);
        return request;
    };
"""


def save(page: Page) -> None:
    page.get_by_label("Reportable").click()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()


def held(page: Page) -> dict[str, list[str]]:
    """Every key in every store of the tablet's database."""
    found: dict[str, list[str]] = page.evaluate(
        """async () => {
            const db = await new Promise((done) => {
                indexedDB.open("step-in-hand").onsuccess = (e) => done(e.target.result);
            });
            const all = {};
            for (const name of db.objectStoreNames) {
                const ask = db.transaction(name).objectStore(name).getAllKeys();
                all[name] = await new Promise((done) => {
                    ask.onsuccess = () => done(ask.result);
                });
            }
            db.close();
            return all;
        }"""
    )
    return found


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("UnknownError", "The tablet's storage cannot be read. Nothing was deleted."),
        ("VersionError", "A newer version of the app wrote this storage."),
        ("SecurityError", "This browser lets the app keep nothing."),
    ],
)
def test_r12_a_storage_that_does_not_open_says_why_and_never_saved(
    tablet: Tablet, name: str, words: str
):
    tablet.context.add_init_script(NO_OPEN.replace("NAME", name))
    page = tablet.page
    page.reload()
    expect(page.locator(".strip .notice")).to_contain_text(words)
    tablet.go("Report")
    expect(page.locator(".strip .notice")).to_contain_text("No report can be saved here")
    save(page)
    expect(page.locator(".message")).to_have_text(NOT_SAVED)
    assert "Saved" not in tablet.words()
    page.evaluate("window.broken = false")
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_have_text(W7)
    expect(page.locator(".strip .notice")).to_have_count(0)
    tablet.go("Brief")
    expect(page.locator("input[name=line]")).to_have_count(2)


def test_r12_a_newer_database_is_left_alone(tablet: Tablet, demo_server: Server):
    """After a step back of the app: a real database of a later version, not deleted."""
    page = tablet.page
    page.goto(f"{demo_server.url}/manifest.webmanifest")
    page.evaluate(
        """() => new Promise((done, fail) => {
            const request = indexedDB.open("step-in-hand", 99);
            request.onsuccess = () => (request.result.close(), done());
            request.onerror = fail;
        })"""
    )
    before = held(page)
    page.goto(demo_server.url)
    expect(page.locator(".strip .notice")).to_contain_text("A newer version of the app wrote")
    tablet.go("Report")
    save(page)
    expect(page.locator(".message")).to_have_text(NOT_SAVED)
    assert held(page) == before and before["packs"]


def test_r12_the_words_of_a_report_that_cannot_be_saved_can_be_read_and_copied(tablet: Tablet):
    tablet.context.grant_permissions(["clipboard-read", "clipboard-write"])
    tablet.context.add_init_script(NO_OPEN.replace("NAME", "UnknownError"))
    page = tablet.page
    page.reload()
    tablet.go("Report")
    page.get_by_text("More, if there is time").click()
    page.get_by_label("In your own words").fill("film from the bridge on")
    save(page)
    expect(page.locator(".rescue")).to_contain_text("rail worse than expected")
    expect(page.locator(".rescue")).to_contain_text("film from the bridge on")
    page.get_by_role("button", name="Copy these words").click()
    expect(page.get_by_role("button", name="Copied.")).to_be_visible()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert "rail worse than expected" in copied and "film from the bridge on" in copied
    expect(page.get_by_label("Reportable")).to_be_checked()


#: The disc is full: this many writes of a report find no room.
NO_ROOM = """
    const put = IDBObjectStore.prototype.put;
    window.fullFor = TIMES;
    IDBObjectStore.prototype.put = function (...all) {
        if (this.name === "outbox" && window.fullFor-- > 0) {
            throw new DOMException("injected", "QuotaExceededError");
        }
        return put.apply(this, all);
    };
"""


@pytest.mark.parametrize(("times", "lines_left"), [(1, 1), (2, 0), (99, 0)])
def test_r21_a_full_tablet_drops_packs_before_it_loses_a_report(
    tablet: Tablet, demo_server: Server, times: int, lines_left: int
):
    """The pack in use goes last; it stays open on the screen even then."""
    page = tablet.page
    tablet.prepare()
    before = held(page)
    demo_server.kill()
    tablet.context.add_init_script(NO_ROOM.replace("TIMES", str(times)))
    page.reload()
    tablet.go("Report")
    save(page)
    if times < 99:
        expect(page.locator(".saved")).to_have_text(W7)
    else:
        expect(page.locator(".message")).to_have_text(NOT_SAVED)
        assert "Saved" not in tablet.words()
        expect(page.locator(".rescue")).to_contain_text("rail worse than expected")
    expect(page.locator(".strip")).to_contain_text("The tablet is full. Packs were dropped")
    after = held(page)
    assert len(after["outbox"]) == (1 if times < 99 else 0)
    assert len(after["packs"]) < len(before["packs"])
    assert bool(after["packs"]) == bool(lines_left)
    tablet.go("Next stop")
    expect(page.locator(".line.begin")).to_contain_text("Begin before")
    demo_server.start()
    page.reload()
    tablet.go("Brief")
    expect(page.locator(".chosen, input[name=line]").first).to_be_visible()
    tablet.until(
        "async () => { const db = await new Promise((done) => {"
        "indexedDB.open('step-in-hand').onsuccess = (e) => done(e.target.result); });"
        "const ask = db.transaction('packs').objectStore('packs').count();"
        "const n = await new Promise((done) => (ask.onsuccess = () => done(ask.result)));"
        f"db.close(); return n === {len(before['packs'])}; }}",
        30,
    )


def empty_storage(tablet: Tablet, which: str) -> None:
    """As the system does when it is short of space: no word to the app."""
    cdp = tablet.context.new_cdp_session(tablet.page)
    origin = tablet.page.evaluate("location.origin")
    tablet.page.goto("about:blank")
    cdp.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": which})


@pytest.mark.parametrize("unsent", [0, 2])
def test_r20_a_tablet_whose_storage_was_emptied_says_so(
    tablet: Tablet, demo_server: Server, unsent: int
):
    """IndexedDB, caches, worker and local storage go at once; the cookie stays behind."""
    page = tablet.page
    tablet.prepare()
    if unsent:
        demo_server.kill()
    for _ in range(unsent):
        tablet.report()
    empty_storage(tablet, "indexeddb,cache_storage,service_workers,local_storage")
    if unsent:
        demo_server.start()
    tablet.open(demo_server.url)
    strip = page.locator(".strip")
    expect(strip).to_contain_text("This tablet's storage was emptied by the system.")
    said = "2 unsent reports may be lost. Tell the depot." if unsent else "no unsent report"
    expect(strip).to_contain_text(said)
    page.reload()
    expect(strip).to_contain_text(said)  # it stays until somebody has seen it
    page.get_by_role("button", name="Understood").click()
    expect(strip).to_be_empty()
    tablet.installed()
    page.reload()
    expect(page.locator("input[name=line]")).to_have_count(2)
    expect(strip).to_be_empty()


def test_r20_the_database_alone_emptied_is_noticed_too(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    empty_storage(tablet, "indexeddb,cookies")
    tablet.open(demo_server.url)
    expect(tablet.page.locator(".strip")).to_contain_text("was emptied by the system")


def test_a_new_tablet_was_not_emptied(tablet: Tablet):
    expect(tablet.page.locator(".strip")).to_be_empty()
    tablet.page.reload()
    expect(tablet.page.locator("input[name=line]")).to_have_count(2)
    expect(tablet.page.locator(".strip")).to_be_empty()


def test_a_database_damaged_on_disk_never_passes_in_silence(
    tablet: Tablet, demo_server: Server
):
    """Bytes overwritten while the tablet is off: whatever the browser makes of it, we say."""
    tablet.prepare()
    demo_server.kill()
    tablet.report()
    written(tablet.page, 1000)
    tablet.close()
    files = [
        one for one in tablet.profile.rglob("*") if "indexeddb.leveldb" in str(one.parent)
    ]
    assert files
    for one in files:
        if one.is_file() and one.name != "LOCK":
            one.write_bytes(b"\xff" * max(64, one.stat().st_size))
    demo_server.start()
    page = tablet.start().open(demo_server.url)
    expect(page.locator(".strip .notice")).to_be_visible(timeout=20_000)
    said = page.locator(".strip").inner_text()
    assert "cannot be read" in said or "1 unsent report may be lost" in said, said


def test_r65_without_https_the_app_says_so_and_pretends_nothing(
    engine: Playwright, demo_server: Server, tmp_path: Path
):
    context = engine.chromium.launch_persistent_context(
        str(tmp_path / "plain"), executable_path=chromium_path(engine), args=ARGUMENTS
    )
    try:
        page = context.pages[0]
        there = "http://depot.example"

        def fetched(route: object) -> None:
            request = route.request  # type: ignore[attr-defined]
            url = request.url.replace(there, demo_server.url)
            route.fulfill(response=route.fetch(url=url))  # type: ignore[attr-defined]

        context.route(f"{there}/**", fetched)
        page.goto(f"{there}/")
        expect(page.locator("h1")).to_have_text("This address needs https.")
        assert not page.evaluate("isSecureContext")
        expect(page.locator("main")).to_contain_text("reports by voice")
        expect(page.locator("button, input, select, .tab")).to_have_count(0)
    finally:
        context.close()
