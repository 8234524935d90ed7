"""A tablet in a test: Chromium with its own profile, to be killed and started again."""

from __future__ import annotations

import contextlib
import math
import os
import re
import shutil
import signal
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Error, Page, Playwright, expect

ARGUMENTS = [
    "--no-sandbox",
    "--disable-quic",
    "--disable-gpu",
    "--dns-prefetch-disable",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]
SIZES = {"tablet": (810, 1080), "wide": (1180, 820), "phone": (390, 844)}
#: Words that stand on no page while the train moves (OPERATIONS.md W3).
NEVER_MOVING = (
    *("safe", "clear", "ok", "covered", "enough", "permitted", "risk", "late"),
    *("minutes", "seconds", "per cent", "green", "red", "amber"),
)


def chromium_path(playwright: Playwright) -> str:
    """Return a browser that is here, or say what to install."""
    named = os.environ.get("CHROMIUM", "")
    found = [named, *map(shutil.which, ("chromium", "google-chrome"))]
    own = "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"
    for path in [*found, own, playwright.chromium.executable_path]:
        if path and Path(path).exists():
            return path
    raise AssertionError(
        "no browser for the tests: install Debian's chromium (apt-get install chromium), "
        "or run `playwright install chromium`, or name one in $CHROMIUM"
    )


DOUBLE_TAP_MS = 500


def unfold(page: Page) -> None:
    """Open each row of the Brief in which plain stops are drawn together."""
    page.evaluate(
        """() => {
            const heads = document.querySelectorAll(".run-head[aria-expanded=false]");
            heads.forEach((one) => one.click());
        }"""
    )


# A change waits for those before it, and is answered once it is on disk.
WRITTEN = """async () => {
    const db = await new Promise((done, fail) => {
        const request = indexedDB.open("step-in-hand");
        request.onsuccess = () => done(request.result);
        request.onerror = () => fail(request.error);
    });
    await new Promise((done, fail) => {
        const tx = db.transaction(["kv", "drafts"], "readwrite", { durability: "strict" });
        tx.objectStore("drafts").count();
        tx.oncomplete = done;
        tx.onabort = () => fail(tx.error);
    });
    db.close();
}"""


def written(page: Page, ms: int = 250) -> None:
    """A moment after a tap, and however long this machine's disk takes to write it."""
    page.wait_for_timeout(ms)
    page.evaluate(WRITTEN)


def as_booked(page: Page) -> None:
    """Say that the train has as many cars as are booked: nobody says it for the driver."""
    told = page.locator("fieldset:has(input[name=formation]) + .help").inner_text()
    found = re.search(r"(?:Booked|Geplant): (.+?)\.", told)
    assert found, told
    page.locator("fieldset:has(input[name=formation]) label", has_text=found[1]).click()


def advice_off(page: Page, reason: str) -> None:
    """Switch the advice off: a quiet entry at the end of the Brief, then one tap."""
    if not page.locator(".off[open]").count():
        page.locator(".off > summary").click()
    page.locator(".off").get_by_role("button", name=reason).click()


class Tablet:
    """One tablet with the app open. Every page it opens is watched for errors."""

    def __init__(self, playwright: Playwright, profile: Path, **options: Any) -> None:
        self._playwright = playwright
        self.profile = profile
        self._options = options
        self.errors: list[str] = []
        self.requests: list[str] = []
        self.context: BrowserContext
        self.page: Page

    def start(self) -> Tablet:
        width, height = SIZES[self._options.get("size", "tablet")]
        self.context = self._playwright.chromium.launch_persistent_context(
            str(self.profile),
            executable_path=chromium_path(self._playwright),
            args=ARGUMENTS,
            viewport={"width": width, "height": height},
            color_scheme=self._options.get("scheme", "light"),
            has_touch=True,
            locale="en-GB",
            timezone_id="Europe/London",
        )
        self.context.on("request", lambda request: self.requests.append(request.url))
        self.page = self.context.pages[0]
        self.page.set_default_timeout(15_000)
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        return self

    def close(self) -> None:
        with contextlib.suppress(Error):
            self.context.close()

    def kill(self) -> None:
        """SIGKILL to every process of this profile, as when the battery is pulled."""
        for pid in self._processes():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.close()
        for lock in self.profile.glob("Singleton*"):
            lock.unlink(missing_ok=True)

    def _processes(self) -> Iterator[int]:
        mark = f"--user-data-dir={self.profile}".encode()
        for entry in Path("/proc").glob("[0-9]*/cmdline"):
            with contextlib.suppress(OSError):
                if mark in entry.read_bytes():
                    yield int(entry.parent.name)

    def open(self, url: str) -> Page:
        """Open the app as a driver does, and wait until a page of it stands."""
        self.page.goto(url)
        self.page.wait_for_selector("main > *")
        return self.page

    def installed(self) -> None:
        """Wait until the worker holds the app and both packs are on the tablet."""
        self.until(
            """async () => {
                if (!navigator.serviceWorker.controller) return false;
                const [name] = await caches.keys();
                const files = await (await caches.open(name)).keys();
                return files.some((file) => file.url.endsWith("/app.js"));
            }"""
        )
        expect(self.page.locator("input[name=line]")).to_have_count(2)

    def until(self, script: str, seconds: float = 15) -> None:
        """Wait for a script to give true; the page's CSP forbids Playwright's own way."""
        for _ in range(int(seconds * 10)):
            if self.page.evaluate(script):
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"never true: {script}")

    def prepare(
        self, state: str = "Damp", trip: str = "d0512", line: str = "kettle-bay"
    ) -> None:
        """Choose line, trip, train and rail state in the Brief."""
        page = self.page
        page.locator(f"input[name=line][value={line}]").click()
        expect(page.locator(f"#trip option[value={trip}]")).to_be_attached()
        another = page.locator("#trip").input_value() != trip
        page.select_option("#trip", trip)
        if another:  # what was answered for the one before is taken back first
            expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
        as_booked(page)
        page.locator("input[name=isolated][value='0']").click()
        page.locator("input[name=wsp][value=works]").click()
        page.get_by_label(state, exact=True).click()
        expect(page.get_by_label(state, exact=True)).to_be_checked()  # it is kept
        page.get_by_role("button", name="Show the stops").click()
        page.wait_for_selector(".road")

    def go(self, name: str) -> None:
        self.page.get_by_role("link", name=name).click()
        self.page.wait_for_selector("main > *")

    def report(self, found: str = "Reportable") -> None:
        """File one report in three touches."""
        self.go("Report")
        another = self.page.get_by_role("button", name="Another report")
        if another.count():
            # Straight after Save it takes no touch: that would be the second of a double tap.
            self.page.wait_for_timeout(DOUBLE_TAP_MS + 100)
            another.click()
        self.page.get_by_label(found).click()
        self.page.get_by_label("Slide", exact=True).click()
        say_where(self.page)
        self.page.get_by_role("button", name="Save the report").click()
        expect(self.page.locator(".saved")).to_have_text(
            "Saved on this tablet. The signaller does not know. Call now."
        )

    def send_now(self) -> None:
        """Tap Send now if it is there: the app may send by itself in the same moment."""
        send_now(self.page)

    def words(self) -> str:
        """Return all text that can be seen."""
        return self.page.locator("body").inner_text()


def card_words(page: Page) -> list[str]:
    """Return the words of the card that change from one to the next: no labels (R78)."""
    parts = page.locator(".card :is(.main, .tail, .speed, .by)").all_inner_texts()
    return " ".join(parts).split()


def say_where(page: Page) -> None:
    """Say where it was, unless position has; without a receiver only the driver can."""
    if page.locator(".place-now").count():
        return
    if page.locator("#place").count():
        page.locator("#place").select_option(index=2)
        page.locator(".place-now").wait_for()
    else:  # no pack yet
        page.locator("#place-text").fill("by the shed")


def send_now(page: Page) -> None:
    """Look and tap in one step: between the two the app may have sent by itself."""
    page.evaluate(
        """() => [...document.querySelectorAll("button")]
            .find((one) => one.textContent === "Send now")?.click()"""
    )


class Cab:
    """Drives the tablet along a line: metres of the chainage, speed in m/s.

    The receiver and the clocks are played by cab.js: a way of a minute takes none, but the
    app sees a train that really went it, second by second, and no impossible jump.
    """

    CRUISE = 15.0

    def __init__(self, tablet: Tablet, geometry: list[list[float]]) -> None:
        self._tablet = tablet
        self._geometry = geometry
        self._metres: float | None = None
        self._allow_receiver(tablet)
        script = (Path(__file__).parent / "cab.js").read_text("utf-8")
        tablet.context.add_init_script(script)
        tablet.page.evaluate(script)

    def _allow_receiver(self, tablet: Tablet) -> None:
        cdp = tablet.context.new_cdp_session(tablet.page)
        target = cdp.send("Target.getTargetInfo")["targetInfo"]
        allowed = {"permission": {"name": "geolocation"}, "setting": "granted"}
        try:
            named = {"browserContextId": target["browserContextId"]}
            cdp.send("Browser.setPermission", allowed | named)
        except Error:  # an older Chromium does not know a profile's own context by name
            cdp.send("Browser.setPermission", allowed)

    def at(self, metres: float, speed: float, accuracy: float = 8) -> None:
        """Drive there from where it was; the last fix has the speed."""
        self.listen()
        before = metres if self._metres is None else self._metres
        self._metres = metres
        cruise = max(speed, self.CRUISE)
        seconds = max(1, math.ceil(abs(metres - before) / cruise))
        steps = [
            (1, before + (metres - before) * step / seconds, cruise)
            for step in range(1, seconds)
        ]
        self.drive([*steps, (1, metres, speed)], accuracy)

    def stand(self, metres: float) -> None:
        """Stand still long enough to count as a stand."""
        for _ in range(8):
            self.at(metres, 0)

    def wait(self, seconds: int) -> None:
        """Let time go by without a fix."""
        self._tablet.page.evaluate("n => window.cab.drive(Array(n).fill([1]))", seconds)

    def leap(self, metres: float) -> None:
        """Go on from there: nobody saw the way."""
        self._metres = metres

    def drive(self, steps: list[tuple[float, float, float]], accuracy: float = 8) -> None:
        """Go through (seconds, metres, speed)."""
        rows = []
        for seconds, metres, speed in steps:
            lon, lat = self.place(metres)
            rows.append([seconds, lat, lon, accuracy, speed])
        self._tablet.page.evaluate("rows => window.cab.drive(rows)", rows)

    def listen(self) -> None:
        """Wait until the app listens, as it does soon after a trip is prepared."""
        self._tablet.until("window.cab.listening() > 0")

    def place(self, metres: float) -> tuple[float, float]:
        rows = self._geometry
        for (lon_a, lat_a, at_a), (lon_b, lat_b, at_b) in pairwise(rows):
            if at_a <= metres <= at_b:
                share = (metres - at_a) / (at_b - at_a)
                return lon_a + share * (lon_b - lon_a), lat_a + share * (lat_b - lat_a)
        raise AssertionError(f"{metres} m is not on the line")
