"""The service worker: one whole version or none, and never a new one in the middle."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Route, expect

from tests.browser.tablet import Tablet
from tests.support.server import Server
from webapp.shell.service import find_static, read_build

SERVE = """
import sys
from pathlib import Path
from webapp.shell import service
static = Path(sys.argv.pop(1))
service.find_static = lambda: static
from webapp.cli import main
main()
"""


class Depot:
    """The depot after an update of the app: same data, same address, another build."""

    def __init__(self, tablet: Tablet, old: Server, static: Path) -> None:
        shutil.copytree(find_static(), static)
        sheet = static / "app.css"
        sheet.write_text(sheet.read_text() + "/* the next version */\n")
        self.build = read_build(static).id
        self._tablet = tablet
        old.stop()
        self.server = Server(old.data, command=[sys.executable, "-c", SERVE, str(static)])
        self.server.port = old.port
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


def build_of(tablet: Tablet) -> set[str]:
    """Every build named by the page and by the files it has loaded."""
    return set(
        tablet.page.evaluate(
            """() => {
                const files = performance.getEntriesByType("resource").map((one) => one.name);
                const text = [document.documentElement.outerHTML, ...files].join();
                return [...text.matchAll(/[/]app[/](\\w{16})[/]/g)].map((found) => found[1]);
            }"""
        )
    )


def test_a_new_version_waits_until_it_is_taken(tablet: Tablet, depot: Depot):
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


@pytest.mark.parametrize("html", [False, True], ids=["cut", "portal"])
def test_any_one_file_missing_means_no_new_version(tablet: Tablet, depot: Depot, html: bool):
    """One file of each kind in turn; the old version still opens without a server."""
    (old,) = build_of(tablet)
    for file in ("", "app.js", "app.css", "core/table.js", "icons/icon-512.png"):
        depot.break_file(file, html)
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
