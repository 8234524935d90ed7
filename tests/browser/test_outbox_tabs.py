"""Five windows and a worker empty one outbox while they are killed at random: R16, R17."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page

from tests.browser.lab import NO_LOCKS, install_lab, lab, serve_with_worker, texts
from tests.browser.tablet import Tablet

REPORTS = 50
TABS = 5
START_WORKER = """() => {
    window.worker = new Worker(window.lab.root + "flusher.js", { type: "module" });
    window.worker.onmessage = () => { window.workerSent = true; };
}"""
KEEP_SENDING = "() => { setInterval(() => window.lab.flush(), 20); }"


def new_window(tablet: Tablet, url: str, *, worker: bool = False) -> Page:
    page = tablet.context.new_page()
    page.goto(f"{url}/#outbox")
    page.wait_for_selector("main > *")
    install_lab(page)
    page.evaluate(KEEP_SENDING)
    if worker:
        page.evaluate(START_WORKER)
    return page


@pytest.mark.parametrize("locks", [True, False], ids=["r16-locks", "r17-no-locks"])
def test_r16_r17_five_windows_a_worker_and_kills_make_fifty_rows(
    new_tablet: Callable[..., Tablet], tmp_path: Path, locks: bool
) -> None:
    chance = random.Random(2026)
    with serve_with_worker(tmp_path / "depot", locks=locks) as server:
        tablet = new_tablet()
        if not locks:
            tablet.context.add_init_script(NO_LOCKS)
        tablet.open(server.url)
        assert tablet.page.evaluate("Boolean(navigator.locks)") is locks
        windows = [new_window(tablet, server.url, worker=n == 0) for n in range(TABS)]
        said: list[str] = []
        for n in range(REPORTS):
            page = chance.choice(windows)
            said.append(f"report {n:02}")
            lab(page, "save", said[-1])
            if n % 6 == 5:  # a window dies in the middle of whatever it is doing
                dying = chance.choice(windows)
                with contextlib.suppress(Error):
                    dying.evaluate("() => { window.lab.flush(); }")
                dying.close()
                place = windows.index(dying)
                windows[place] = new_window(tablet, server.url, worker=place == 0)
            if n == 20:
                server.kill()
            if n == 24:
                server.start()
        windows[0].wait_for_timeout(200)
        for _ in range(100):
            if lab(windows[1], "left") == 0:
                break
            windows[1].wait_for_timeout(100)
        assert lab(windows[1], "left") == 0
        assert texts(server) == said, "each once"
        assert server.rows("SELECT count(DISTINCT id) FROM report") == [(REPORTS,)]
        numbers = [row[0] for row in server.rows("SELECT seq FROM report ORDER BY seq")]
        assert numbers == list(range(1, REPORTS + 1))


def test_the_worker_of_these_tests_really_sends(
    new_tablet: Callable[..., Tablet], tmp_path: Path
) -> None:
    """The control: with no window sending, the worker alone empties the outbox."""
    with serve_with_worker(tmp_path / "depot", locks=True) as server:
        tablet = new_tablet()
        tablet.open(server.url)
        install_lab(tablet.page).evaluate(START_WORKER)
        lab(tablet.page, "save", "by the worker")
        tablet.until("() => window.workerSent === true")
        tablet.until("() => window.lab.left().then((left) => left === 0)")
        assert texts(server) == ["by the worker"]
