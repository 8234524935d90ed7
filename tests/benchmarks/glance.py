"""How soon the tablet shows a card, and what a new position costs: printed, not asserted.

Run as ``python -m tests.benchmarks.glance``. Chromium without a window, its processor slowed
down to a quarter, no network. Aims: the first useful card within 500 ms of a cold start; after
a new fix 16 ms at the 99th percentile. What these times come from is held by
``tests/browser/test_glance.py``; a time in milliseconds says something about a machine, its
ratio to an empty page of the same run something about the app.
"""

from __future__ import annotations

import statistics
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Playwright, sync_playwright

from tests.browser.conftest import pack_base
from tests.browser.ready import Kept, copy_profile
from tests.browser.tablet import Cab, Tablet
from tests.support.demo import prepared_demo
from tests.support.runs import TEN
from tests.support.server import Server
from tests.support.tracks import track
from webapp.tablet.build import find_static, read_build

SLOWER = 4
STARTS = 8
PAGES = {"next": "start until the card stands", "brief": "start until the Brief stands"}
#: The browser tells the time in steps of this. [ms]
CLOCK_MS = 0.1
BESIDE = Path(__file__).parents[1] / "browser"
#: A page of nothing but a line, out of the same cache by the same worker.
EMPTY = "fonts/LICENSE-B612.txt"

#: Each fix is timed from the receiver's call until script, style and layout are done.
FIXES = """
(fixes) => {
    const app = [], bare = [];
    const empty = document.createElement("iframe");
    document.body.append(empty);
    const line = empty.contentDocument.createElement("p");
    empty.contentDocument.body.append(line);
    for (const [i, fix] of fixes.entries()) {
        window.cab.wait(1);
        document.body.getBoundingClientRect();
        if (fix.length > 0) {
            const begun = performance.now();
            window.cab.fix(fix);
            document.body.getBoundingClientRect();
            app.push(performance.now() - begun);
        }
        const begun = performance.now();
        line.textContent = `${i}`;
        line.getBoundingClientRect();
        bare.push(performance.now() - begun);
    }
    return { app, bare };
}
"""


@contextmanager
def slowed(playwright: Playwright, profile: Path) -> Iterator[Tablet]:
    """A tablet started anew, its processor slowed down, with no network."""
    tablet = Tablet(playwright, profile).start()
    cdp = tablet.context.new_cdp_session(tablet.page)
    cdp.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    tablet.context.set_offline(True)
    try:
        yield tablet
    finally:
        tablet.close()


def empty_start(tablet: Tablet, url: str, build: str) -> float:
    """Return when the empty page had been painted. [ms since its start]"""
    tablet.page.goto(f"{url}/app/{build}/{EMPTY}")
    return float(
        tablet.page.evaluate(
            """() => new Promise((done) => {
                const look = () => {
                    const [first] = performance.getEntriesByName("first-contentful-paint");
                    first ? done(first.startTime) : requestAnimationFrame(look);
                };
                look();
            })"""
        )
    )


def card_start(tablet: Tablet, url: str, hash_: str) -> dict[str, Any]:
    """Return what the start of a page of the app was seen to do."""
    tablet.context.add_init_script((BESIDE / "glance.js").read_text("utf-8"))
    tablet.page.goto(f"{url}/#{hash_}")
    tablet.until("window.glance?.paintedAt != null")
    seen: dict[str, Any] = tablet.page.evaluate(
        """() => ({
            ...window.glance,
            files: performance.getEntriesByType("resource").map(
                (one) => [one.name, one.startTime, one.responseEnd, one.decodedBodySize]),
        })"""
    )
    return seen


def fixes_of(tablet: Tablet, url: str, base: dict[str, Any]) -> dict[str, list[float]]:
    """Drive one whole trip; return milliseconds for each fix, app and empty page."""
    tablet.page.goto(f"{url}/#next")
    cab = Cab(tablet, base["geometry"])
    tablet.page.reload()
    tablet.page.wait_for_selector(".line.name")
    cab.listen()
    found: dict[str, list[float]] = tablet.page.evaluate(FIXES, track(base, TEN[0])["fixes"])
    return found


def at_99(values: list[float]) -> float:
    return sorted(values)[int(0.99 * (len(values) - 1))]


def row(what: str, value: float, empty: float) -> None:
    print(
        f"  {what:34}{value:9.1f} ms   empty page {empty:8.2f} ms   ratio {value / empty:6.1f}"
    )


def starts_of(
    playwright: Playwright, kept: Kept, root: Path
) -> tuple[list[float], dict[str, list[dict[str, Any]]]]:
    """Start the browser anew for each look, on a copy of the same tablet."""
    url = f"http://127.0.0.1:{kept.port}"
    build = read_build(find_static(), demo=True).id
    empty: list[float] = []
    starts: dict[str, list[dict[str, Any]]] = {hash_: [] for hash_ in PAGES}
    for number in range(STARTS):
        profile = root / f"profile-{number}"
        copy_profile(kept.profile, profile)
        with slowed(playwright, profile) as tablet:
            empty.append(empty_start(tablet, url, build))
        for hash_, seen in starts.items():
            with slowed(playwright, profile) as tablet:
                seen.append(card_start(tablet, url, hash_))
    return empty, starts


def measure(playwright: Playwright, root: Path) -> None:
    kept = Kept(playwright, prepared_demo(root / "demo"), root)
    with Server(kept.data) as server:
        base = pack_base(server, "kettle-bay")
    empty, starts = starts_of(playwright, kept, root)
    print(f"offline, {SLOWER} times slower, median of {STARTS} cold starts")
    bare = statistics.median(empty)
    for hash_, what in PAGES.items():
        row(what, statistics.median(one["paintedAt"] for one in starts[hash_]), bare)
    with slowed(playwright, kept.profile) as tablet:
        times = fixes_of(tablet, f"http://127.0.0.1:{kept.port}", base)
    print(f"one trip of {len(times['app'])} fixes")
    for what, of in (
        ("median", statistics.median),
        ("99th percentile", at_99),
        ("longest", max),
    ):
        row(f"a fix, {what}", of(times["app"]), max(CLOCK_MS, of(times["bare"])))


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        measure(playwright, Path(folder))


if __name__ == "__main__":
    main()
