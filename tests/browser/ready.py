"""A tablet that has been in use: app and packs on it, enrolled, a trip prepared; made once."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, Playwright, expect

from tests.browser.tablet import Tablet
from tests.support.line import Line
from tests.support.ports import steady_port
from tests.support.server import Server

UNSENT = "Keep this app open where there is signal."
ALL_THERE = "Every report on this tablet has reached the depot."
W7 = "Saved on this tablet. The signaller does not know. Call now."
WORTHLESS = ("Cache", "Code Cache", "GPUCache", "*ShaderCache", "Crash*", "*.log.bak")


TOLD = """async () => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const tx = db.transaction(["kv", "outbox"]);
    const asks = [tx.objectStore("kv").get("told"), tx.objectStore("outbox").count()];
    const [told, rows] = await Promise.all(
        asks.map((ask) => new Promise((done) => (ask.onsuccess = () => done(ask.result)))));
    db.close();
    return Object.keys(told?.packs ?? {}).length === 2 && rows === 0;
}"""


class Kept:
    """Profile and data folder after a first day, and the port they know each other by."""

    def __init__(self, playwright: Playwright, demo_data: Path, root: Path) -> None:
        self.profile, self.data = root / "profile", root / "data"
        shutil.copytree(demo_data, self.data)
        self.port = steady_port()
        line = Line(self.port)
        with Server(self.data) as server:
            line.depot = server.port
            tablet = Tablet(playwright, self.profile).start()
            tablet.open(line.url)
            tablet.installed()
            tablet.prepare()
            # What it holds has been told: no receipt is left to go in a story's first batch.
            tablet.until(TOLD)
            # In order: Chromium writes cookies down only after half a minute.
            tablet.close()
        line.close()


class First:
    """Profile and data folder after the app's first opening, and their port; made once."""

    def __init__(self, playwright: Playwright, demo_data: Path, root: Path) -> None:
        self.profile, self.data = root / "profile", root / "data"
        self.port = steady_port()
        shutil.copytree(demo_data, self.data)
        server = Server(self.data)
        server.port = self.port
        with server:
            tablet = Tablet(playwright, self.profile).start()
            tablet.open(server.url)
            tablet.installed()
            # In order: Chromium writes cookies down only after half a minute.
            tablet.close()
            self.errors = tablet.errors


class Opened:
    """A copy of that tablet and its depot, with the app open in the Brief."""

    def __init__(self, playwright: Playwright, first: First, root: Path) -> None:
        shutil.copytree(first.data, root / "data")
        copy_profile(first.profile, root / "profile")
        self.server = Server(root / "data")
        self.server.port = first.port
        self.tablet = Tablet(playwright, root / "profile")
        both_start(self.tablet, self.server)
        self.tablet.open(self.server.url)
        self.tablet.installed()

    def close(self) -> None:
        self.tablet.close()
        self.server.stop()


def copy_profile(kept: Path, to: Path) -> None:
    shutil.copytree(kept, to, symlinks=True, ignore=shutil.ignore_patterns(*WORTHLESS))


def both_start(tablet: Tablet, server: Server) -> None:
    """Beside each other: this is the greater part of what most tests take."""
    with ThreadPoolExecutor(1) as other:
        started = other.submit(server.start)
        tablet.start()
        started.result()


class Ready:
    """One tablet on its line to one depot, each to be struck on its own."""

    def __init__(self, playwright: Playwright, kept: Kept, root: Path) -> None:
        shutil.copytree(kept.data, root / "data")
        copy_profile(kept.profile, root / "profile")
        self.line = Line(kept.port)
        self.depot = Server(root / "data")
        self.tablet = Tablet(playwright, root / "profile")
        both_start(self.tablet, self.depot)
        self.line.depot = self.depot.port

    @property
    def page(self) -> Page:
        return self.tablet.page

    def start_depot(self) -> None:
        self.depot.start()
        self.line.depot = self.depot.port

    def open(self, hash_: str = "", before: Callable[[Page], Any] | None = None) -> Page:
        """Start the browser if it is dead, and open the app."""
        if before:
            before(self.page)
        return self.tablet.open(self.line.url + (f"/#{hash_}" if hash_ else ""))

    def reopen(self, hash_: str = "") -> Page:
        """After a kill: the battery is back."""
        self.tablet.start()
        return self.open(hash_)

    def close(self) -> None:
        self.tablet.close()
        self.line.close()
        self.depot.stop()

    def standing(self, *words: str, seconds: float = 30) -> None:
        """The Outbox says so."""
        self.tablet.go("Outbox")
        standing = self.page.locator(".standing")
        for some in words:
            expect(standing).to_contain_text(some, timeout=seconds * 1000)

    def send_now(self) -> None:
        """Tap it if it is there: the app sends by itself too, and then the button goes.

        In one step in the page, as it may go between a look and a tap.
        """
        self.page.evaluate(
            """() => [...document.querySelectorAll("button")]
                .find((one) => one.textContent === "Send now")?.click()"""
        )

    def arrives(self, reports: int) -> None:
        """The same end for every story: all there, none twice, both ends agree."""
        self.tablet.go("Outbox")
        self.send_now()
        self.standing(ALL_THERE, seconds=60)
        expect(self.page.get_by_text("Reached the depot, no. ")).to_have_count(reports)
        rows = self.depot.rows("SELECT seq, quarantined FROM report ORDER BY seq")
        assert rows == [(seq, 0) for seq in range(1, reports + 1)]
