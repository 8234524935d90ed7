"""The main job with no depot: advice is there, reports arrive exactly once afterwards."""

from __future__ import annotations

import http.server
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import expect

from tests.browser.tablet import Tablet
from tests.support.server import Server

UNSENT = "3 reports not sent. Keep this app open where there is signal."
ALL_THERE = "Every report on this tablet has reached the depot."


def advice_is_there(tablet: Tablet) -> None:
    tablet.go("Next stop")
    expect(tablet.page.locator(".w1")).to_have_text("Platform stop only. Signals first.")
    expect(tablet.page.locator(".line.name")).to_have_text("BRINEWICK 4 cars")
    expect(tablet.page.locator(".line.begin")).to_contain_text("Begin before")


def outbox_says(tablet: Tablet, words: str) -> None:
    tablet.go("Outbox")
    expect(tablet.page.locator(".standing")).to_contain_text(words)


def arrives_once(tablet: Tablet, server: Server) -> None:
    """Send, then look at both ends: three rows, three receipts, numbers 1 to 3."""
    tablet.go("Outbox")
    tablet.send_now()
    expect(tablet.page.locator(".standing")).to_contain_text(ALL_THERE, timeout=45_000)
    expect(tablet.page.get_by_text("Reached the depot, no. ")).to_have_count(3)
    rows = server.rows("SELECT id, seq, quarantined FROM report ORDER BY seq")
    assert [row[1] for row in rows] == [1, 2, 3]
    assert len({row[0] for row in rows}) == 3
    assert not any(row[2] for row in rows), "the demo's own tablet is enrolled"


def second_start(tablet: Tablet, url: str) -> None:
    """Close in order and open again: Chromium writes cookies down only after half a minute,
    so a kill right after the first visit would forget that the tablet is enrolled."""
    tablet.close()
    tablet.start().open(url)


def test_server_killed_browser_killed(tablet: Tablet, demo_server: Server):
    url = demo_server.url
    second_start(tablet, url)
    tablet.prepare()
    demo_server.kill()
    tablet.page.reload()
    tablet.page.wait_for_selector(".road")
    advice_is_there(tablet)
    for found in ("Reportable", "Expected", "Good"):
        tablet.report(found)
    tablet.kill()
    assert demo_server.count() == 0

    tablet.start().open(url)
    outbox_says(tablet, UNSENT)
    outbox_says(tablet, "No contact with the depot.")
    advice_is_there(tablet)
    demo_server.start()
    arrives_once(tablet, demo_server)


def test_offline_and_browser_killed(tablet: Tablet, demo_server: Server):
    url = demo_server.url
    second_start(tablet, url)
    tablet.prepare()
    tablet.context.set_offline(True)
    tablet.page.reload()
    advice_is_there(tablet)
    for _ in range(3):
        tablet.report()
    tablet.kill()
    tablet.start()
    tablet.context.set_offline(True)
    tablet.open(url)
    outbox_says(tablet, UNSENT)
    tablet.context.set_offline(False)
    arrives_once(tablet, demo_server)


@contextmanager
def portal(port: int) -> Iterator[list[str]]:
    """Some other network on the depot's address: 200 and its own page for everything."""
    asked: list[str] = []

    class Page(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.rfile.read(int(self.headers.get("Content-Length") or 0))
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(b"<html><body>Accept the terms to go on</body></html>")

        do_POST = do_GET

        def log_message(self, *_: object) -> None:
            pass

    http.server.ThreadingHTTPServer.allow_reuse_address = True
    server = http.server.ThreadingHTTPServer(("127.0.0.1", port), Page)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield asked
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def test_captive_portal(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    demo_server.kill()
    with portal(demo_server.port) as asked:
        tablet.page.reload()
        advice_is_there(tablet)
        for _ in range(3):
            tablet.report()
        outbox_says(tablet, UNSENT)
        outbox_says(tablet, "This network answers in place of the depot.")
        tablet.page.get_by_role("button", name="Send now").click()
        outbox_says(tablet, UNSENT)
        # It is asked who it is first: a network that cannot prove it is given no report.
        assert any(path.startswith("/api/proof") for path in asked), "it did try"
        assert "/api/outbox" not in asked
    demo_server.start()
    arrives_once(tablet, demo_server)


def test_server_that_hangs(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    demo_server.freeze()
    tablet.page.reload()
    advice_is_there(tablet)
    for _ in range(3):
        tablet.report()
    tablet.go("Outbox")
    expect(tablet.page.locator(".standing")).to_contain_text(UNSENT)
    # The deadline of a request is 20 s; until it passes the page says that it is trying.
    expect(tablet.page.locator(".standing")).to_contain_text(
        "The depot did not answer in time.", timeout=40_000
    )
    demo_server.thaw()
    arrives_once(tablet, demo_server)
