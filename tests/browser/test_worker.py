"""The service worker: one whole version or none, and never a new one in the middle."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error, Page, Route, expect

from tests.browser.tablet import Cab, Tablet, say_where, send_now
from tests.support.server import Server
from webapp.tablet.build import find_static, read_build

SERVE = """
import sys
from pathlib import Path
from webapp.tablet import build as service
static = Path(sys.argv.pop(1))
service.find_static = lambda: static
from webapp.commands.cli import main
main()
"""


class Depot:
    """The depot after an update of the app: same data, same address, another build."""

    def __init__(self, tablet: Tablet, old: Server, static: Path) -> None:
        shutil.copytree(find_static(), static)
        self._static = static
        self._tablet = tablet
        old.stop()
        self.server = Server(old.data, command=[sys.executable, "-c", SERVE, str(static)])
        self.server.port = old.port
        self.release("the next version")

    def release(self, name: str) -> None:
        """Put one more version on the server."""
        sheet = self._static / "app.css"
        sheet.write_text(sheet.read_text() + f"/* {name} */\n")
        self.build = read_build(self._static, demo=True).id
        self.server.stop()
        self.server.start()

    def break_file(self, name: str, html: bool) -> None:
        """Let one file of the new build be cut off, or be some other network's page."""

        def serve(route: Route) -> None:
            if html:
                route.fulfill(body="<html>Log in</html>", content_type="text/html")
            else:
                route.abort()

        self._tablet.context.unroute_all(behavior="ignoreErrors")
        self._tablet.context.route(re.compile(rf"/{name}$"), serve)


@pytest.fixture
def depot(tablet: Tablet, demo_server: Server, tmp_path: Path) -> Iterator[Depot]:
    made = Depot(tablet, demo_server, tmp_path / "static")
    yield made
    tablet.context.unroute_all(behavior="ignoreErrors")
    made.server.stop()


def update(tablet: Tablet) -> str:
    """Look for a new version; return what became of it."""
    return str(
        tablet.page.evaluate(
            """async () => {
                const found = await navigator.serviceWorker.getRegistration();
                await found.update().catch(() => {});
                const worker = found.installing ?? found.waiting;
                if (!worker) return "none";
                while (worker.state === "installing") {
                    await new Promise((done) => setTimeout(done, 50));
                }
                return worker.state;
            }"""
        )
    )


def build_of(tablet: Tablet, page: Page | None = None) -> set[str]:
    """Every build named by the page and by the code it has loaded.

    Icons are left out: the browser takes those of the manifest, which is not of the page.
    """
    return set(
        (page or tablet.page).evaluate(
            """() => {
                const files = performance.getEntriesByType("resource")
                    .map((one) => one.name).filter((name) => /[.](js|css)$/.test(name));
                const text = [document.documentElement.outerHTML, ...files].join();
                return [...text.matchAll(/[/]app[/](\\w{16})[/]/g)].map((found) => found[1]);
            }"""
        )
    )


def test_r25_a_new_version_waits_until_it_is_taken(tablet: Tablet, depot: Depot):
    old = build_of(tablet)
    assert old and depot.build not in old
    tablet.go("Report")
    tablet.page.get_by_label("Reportable").click()
    assert update(tablet) == "installed"
    tablet.page.wait_for_timeout(300)
    expect(tablet.page.get_by_label("Reportable")).to_be_checked()
    assert build_of(tablet) == old, "nothing changes under a form"
    tablet.go("Brief")
    notice = tablet.page.locator(".notice")
    expect(notice).to_contain_text("A new version of the app is ready.")
    with tablet.page.expect_navigation():
        tablet.page.get_by_role("button", name="Use it now").click()
    tablet.page.wait_for_selector("main > section")
    assert build_of(tablet) == {depot.build}
    tablet.go("Report")
    expect(tablet.page.get_by_label("Reportable")).to_be_checked()
    caches = tablet.page.evaluate("caches.keys()")
    assert caches == [f"step-in-hand-shell-{depot.build}"]


def test_r24_any_one_file_missing_means_no_new_version(tablet: Tablet, depot: Depot):
    """Each in its turn, cut off or a portal's page by turns.

    The old version still opens without a server, whole and alone.
    """
    (old,) = build_of(tablet)
    listed = re.search(rb"FILES = (.*);", read_build(find_static()).root["sw.js"].plain or b"")
    assert listed
    files = [address.rpartition("/")[2] for address in json.loads(listed[1])]
    assert len(files) > 10 and {"", "app.js", "app.css"} <= set(files)
    for n, file in enumerate(files):
        depot.break_file(file, html=n % 2 == 0)
        assert update(tablet) == "redundant", file
    caches = tablet.page.evaluate("caches.keys()")
    assert caches == [f"step-in-hand-shell-{old}"]
    tablet.context.unroute_all(behavior="ignoreErrors")
    depot.server.kill()
    tablet.page.reload()
    tablet.page.wait_for_selector("#trip")
    assert build_of(tablet) == {old}


def test_nothing_of_the_depot_is_answered_from_the_worker(tablet: Tablet, demo_server: Server):
    demo_server.kill()
    answers = tablet.page.evaluate(
        """async () => Promise.all(["/api/ping?n=1", "/api/index", "/desk/reports", "/nothing"]
            .map((path) => fetch(path).then(() => path, () => "")))"""
    )
    assert answers == ["", "", "", ""]


def runs(page: Page, build: str) -> None:
    """Wait until the page is of this build, through whatever loading anew that takes."""
    sheet = page.locator(f"link[rel=stylesheet][href*='/app/{build}/']")
    expect(sheet.first).to_be_attached(timeout=30_000)
    page.wait_for_selector("main > section")


def marked(page: Page) -> None:
    page.evaluate("window.same = true")


def same(page: Page) -> bool:
    """Whether this is still the page that was marked: not loaded anew."""
    return bool(page.evaluate("window.same === true"))


def worker_state(page: Page) -> str:
    return str(
        page.evaluate(
            """async () => {
                const found = await navigator.serviceWorker.getRegistration();
                return found?.waiting?.state ?? "none";
            }"""
        )
    )


def test_r25_no_switch_under_the_card_the_report_or_a_moving_train(
    tablet: Tablet, depot: Depot, base: dict[str, Any], cab: Cab
):
    """It is not even offered there; it waits, and the page stays the same page."""
    tablet.prepare()
    page = tablet.page
    old = build_of(tablet)
    marked(page)
    tablet.go("Next stop")
    assert update(tablet) == "installed"
    for name in ("Next stop", "Report"):
        tablet.go(name)
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        page.wait_for_timeout(500)
        assert "new version" not in tablet.words()
        assert (same(page), worker_state(page)) == (True, "installed"), name
    tablet.go("Brief")
    expect(page.locator(".notice")).to_contain_text("A new version of the app is ready.")
    cab.at(base["geometry"][0][2] + 2000, 20)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    assert "new version" not in tablet.words()
    page.wait_for_timeout(500)
    assert (same(page), worker_state(page)) == (True, "installed")
    assert build_of(tablet) == old


def test_r25_a_page_opened_after_the_tap_is_not_taken_away(tablet: Tablet, depot: Depot):
    page = tablet.page
    tablet.prepare()
    assert update(tablet) == "installed"
    marked(page)
    page.locator(".notice button", has_text="Use it now").wait_for()
    page.evaluate(
        """() => {
            const tap = [...document.querySelectorAll(".notice button")];
            tap.find((one) => one.textContent === "Use it now").click();
            location.hash = "#report";
        }"""
    )
    page.wait_for_timeout(1500)
    assert same(page)
    page.get_by_label("Reportable").click()
    tablet.go("Brief")
    page.wait_for_timeout(500)
    if same(page):  # refused at once: the next tap at leisure takes it
        page.get_by_role("button", name="Use it now").click()
    runs(tablet.page, depot.build)
    tablet.go("Report")
    expect(page.get_by_label("Reportable")).to_be_checked()


def test_r25_two_windows_the_old_one_goes_on_with_its_own_files(tablet: Tablet, depot: Depot):
    page = tablet.page
    (old,) = build_of(tablet)
    other = tablet.context.new_page()
    other.goto(f"{depot.server.url}/#report")
    other.get_by_label("Expected").click()
    marked(other)
    assert update(tablet) == "installed"
    page.get_by_role("button", name="Use it now").click()
    expect(page.locator(".notice", has_text="new version")).to_contain_text(
        "Another window of the app is in use"
    )
    assert worker_state(page) == "installed"
    other.get_by_role("link", name="Outbox").click()
    with page.expect_navigation():
        page.get_by_role("button", name="Use it now").click()
    page.wait_for_selector("main > section")
    assert build_of(tablet) == {depot.build}
    # The other window is as it was: own page, own files, every page of it works.
    for name in ("Report", "Next stop", "Brief"):
        other.get_by_role("link", name=name).click()
        other.wait_for_selector("main > *")
    assert same(other)
    asked = other.evaluate(
        f"fetch('/app/{old}/core/table.js').then((answer) => answer.status)"
    )
    assert asked == 200, "the server keeps the former build's files"
    assert build_of(tablet, other) == {old}
    expect(other.locator(".notice", has_text="new version")).to_be_visible()
    with other.expect_navigation():
        other.get_by_role("button", name="Use it now").click()
    other.wait_for_selector("main > section")
    assert depot.build in other.content()


def test_r25_at_a_start_a_waiting_version_is_taken_unless_something_is_open(
    tablet: Tablet, depot: Depot
):
    page = tablet.page
    tablet.go("Report")
    page.get_by_label("Reportable").click()
    assert update(tablet) == "installed"
    page.reload()  # a report is begun
    tablet.go("Brief")
    page.wait_for_timeout(1000)
    assert depot.build not in build_of(tablet)
    tablet.go("Report")
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_be_visible()
    tablet.go("Brief")
    page.reload()
    runs(tablet.page, depot.build)
    assert build_of(tablet) == {depot.build}


def no_outbox(tablet: Tablet) -> None:
    tablet.context.route("**/api/outbox", lambda route: route.abort())


def test_r25_from_the_version_before_the_last_with_unsent_reports(
    tablet: Tablet, depot: Depot
):
    """N-2 to N: the tablet slept through one version; none of its reports is lost."""
    no_outbox(tablet)
    tablet.prepare()
    for _ in range(3):
        tablet.report()
    tablet.close()
    depot.release("the version after that")
    tablet.start()
    no_outbox(tablet)
    tablet.open(depot.server.url)
    with contextlib.suppress(Error):  # taken at this start already: the page is loaded anew
        update(tablet)
    tablet.close()
    tablet.start().open(depot.server.url)
    runs(tablet.page, depot.build)
    tablet.go("Outbox")
    expect(tablet.page.get_by_text("Reached the depot, no. ")).to_have_count(3, timeout=45_000)
    assert depot.server.count() == 3


# An update already under way takes a look with it; the tablet is looked at more than once.
LOOK_UNTIL_EMPTY = """async () => {
    for (let n = 0; n < 30 && (await caches.keys()).length; n += 1) {
        document.dispatchEvent(new Event("visibilitychange"));
        await new Promise((done) => setTimeout(done, 1000));
    }
    if ((await caches.keys()).length) throw new Error("the files are still here");
}"""
TAKEN_IN = """async () => {
    const found = await navigator.serviceWorker.getRegistration();
    return found?.active?.state === "activated" && !found.installing && !found.waiting;
}"""


def switch(server: Server, word: str) -> None:
    command = [
        sys.executable,
        "-m",
        "webapp.commands.cli",
        "shell",
        word,
        "--data",
        str(server.data),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=60)


def test_r25_the_way_back_takes_the_files_and_leaves_the_reports(
    tablet: Tablet, demo_server: Server
):
    """The worker that unregisters itself, on a tablet with the app installed."""
    page = tablet.page
    no_outbox(tablet)
    tablet.prepare()
    tablet.report("Reportable")
    tablet.report("Expected")
    tablet.go("Next stop")
    marked(page)
    switch(demo_server, "off")
    page.evaluate(LOOK_UNTIL_EMPTY)
    assert same(page), "no page is loaded anew under a driver's hands"
    expect(page.locator(".line.begin")).to_contain_text("Begin before")
    tablet.go("Brief")
    expect(
        page.locator(".notice", has_text="opens only where there is signal")
    ).to_be_visible()
    tablet.close()
    tablet.start()
    page = tablet.open(demo_server.url)  # from the server, and nothing is kept
    tablet.until(
        "async () => (await navigator.serviceWorker.getRegistrations()).length === 0"
        " && (await caches.keys()).length === 0"
    )
    tablet.go("Outbox")
    expect(page.get_by_text("Reached the depot, no. ")).to_have_count(2, timeout=45_000)
    assert demo_server.count() == 2
    switch(demo_server, "on")
    page.reload()
    tablet.go("Brief")
    tablet.until(TAKEN_IN, 30)
    demo_server.kill()
    page.reload()
    expect(page.locator(".chosen")).to_be_visible()


def test_r9_without_background_sync_everything_is_sent(tablet: Tablet, demo_server: Server):
    tablet.context.add_init_script("delete globalThis.SyncManager;")
    page = tablet.page
    demo_server.kill()
    page.reload()
    assert page.evaluate("typeof SyncManager") == "undefined"
    tablet.report()
    demo_server.start()
    tablet.go("Outbox")
    send_now(page)
    expect(page.get_by_text("Reached the depot, no. 1")).to_be_visible(timeout=45_000)
