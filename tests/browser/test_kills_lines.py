"""R1, R66: fixed stories on bad lines, and kills while the app itself is being renewed.

As in test_kills.py each ends with right words on the screen and each report at the depot once.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from uuid import UUID

import pytest
from playwright.sync_api import CDPSession, expect

from tests.browser.golden_store import brief_again, load, released
from tests.browser.lab import SERVE, install_lab, lab
from tests.browser.ready import UNSENT, Ready
from tests.browser.tablet import Tablet, send_now
from tests.support.server import Server
from tests.support.stand_in import Answer, html_200, network_511, redirect_302, stand_in
from webapp.tablet.build import find_static, read_build

TRIP = "05:12 Kettle Bay to Great Tarrow"
PORTAL = "This network answers in place of the depot."
NONE = "No contact with the depot."
PORTALS = pytest.mark.parametrize(
    "answer", [html_200, redirect_302, network_511], ids=["200", "302", "511"]
)


def throttle(ready: Ready, latency_ms: int, bytes_per_s: int) -> CDPSession:
    """A slow network for the page; the worker reads what it holds, and asks nothing."""
    session = ready.tablet.context.new_cdp_session(ready.page)
    session.send("Network.enable")
    conditions = {
        "offline": False,
        "latency": latency_ms,
        "downloadThroughput": bytes_per_s,
        "uploadThroughput": bytes_per_s,
    }
    session.send("Network.emulateNetworkConditions", conditions)
    return session


@contextmanager
def portal(ready: Ready, answer: Answer = html_200) -> Iterator[None]:
    """Another network has the tablet; the depot is none the worse."""
    behind = ready.line.depot
    ready.depot.kill()
    with stand_in(behind, answer):
        yield
    ready.start_depot()


def whole(ready: Ready) -> None:
    """The pack and the prepared trip are there, whatever the line does."""
    expect(ready.page.locator(".chosen")).to_contain_text(TRIP)
    ready.tablet.go("Next stop")
    expect(ready.page.locator(".line.begin")).to_contain_text("Begin before")


@contextmanager
def killed(ready: Ready) -> Iterator[None]:
    ready.depot.kill()
    yield
    ready.start_depot()


@contextmanager
def stopped(ready: Ready) -> Iterator[None]:
    ready.depot.freeze()
    yield
    ready.depot.thaw()


@contextmanager
def offline(ready: Ready) -> Iterator[None]:
    ready.tablet.context.set_offline(True)
    yield
    ready.tablet.context.set_offline(False)


@contextmanager
def slow(ready: Ready) -> Iterator[None]:
    session = throttle(ready, 800, 5_000)
    yield
    session.detach()


COLD: dict[Callable[[Ready], AbstractContextManager[None]], str] = {
    killed: NONE,
    stopped: "The depot did not answer in time.",
    offline: NONE,
    slow: "The depot answers.",
    portal: PORTAL,
}


@pytest.mark.parametrize("strike", COLD, ids=lambda strike: strike.__name__)
def test_r1_a_cold_start_on_a_bad_line_shows_all_and_takes_a_report(
    ready: Ready, strike: Callable[[Ready], AbstractContextManager[None]]
) -> None:
    """The tablet was off; the first thing it meets is a line that is not as it should be."""
    with strike(ready):
        ready.open()
        whole(ready)
        ready.standing("No report on this tablet yet.", COLD[strike])
        ready.tablet.report()
        if strike is not slow:
            ready.standing(f"1 report not sent. {UNSENT}")
            assert ready.depot.count() == 0
    ready.arrives(1)


@PORTALS
def test_r26a_another_network_answers_while_it_sends_and_at_the_start(
    ready: Ready, answer: Answer
) -> None:
    ready.open()
    with portal(ready, answer):
        ready.tablet.report()
        ready.standing(f"1 report not sent. {UNSENT}", PORTAL)
        ready.tablet.kill()
        ready.reopen()
        whole(ready)
        ready.standing(f"1 report not sent. {UNSENT}", PORTAL)
        assert ready.depot.count() == 0
    ready.arrives(1)


def test_r1_the_server_stops_while_it_is_sent_to_and_goes_on_later(ready: Ready) -> None:
    ready.open()
    ready.depot.freeze()
    ready.tablet.report()
    ready.standing(f"1 report not sent. {UNSENT}", "Trying to reach the depot.")
    assert ready.depot.count() == 0
    ready.page.wait_for_timeout(1_500)
    ready.depot.thaw()
    ready.arrives(1)


def test_r1_fifty_reports_on_a_slow_network_arrive_once(ready: Ready) -> None:
    install_lab(ready.open("outbox"))  # its modules come from the depot
    ready.depot.kill()
    for number in range(50):
        lab(ready.page, "save", f"{number:02}")
    ready.page.reload()
    ready.standing(f"50 reports not sent. {UNSENT}", NONE)
    ready.start_depot()
    slow_line = throttle(ready, 600, 8_000)
    ready.send_now()
    ready.standing(f"50 reports not sent. {UNSENT}", "Trying to reach the depot.")
    ready.standing("Every report on this tablet has reached the depot.", seconds=60)
    slow_line.detach()
    ready.arrives(50)


def app_code(ready: Ready) -> set[str]:
    """The builds that the page and its code are of."""
    return set(
        ready.page.evaluate(
            """() => [document.documentElement.outerHTML, ...performance
                .getEntriesByType("resource").map((one) => one.name)
                .filter((name) => /[.](js|css)$/.test(name))].join()
                .match(/[/]app[/]\\w{16}[/]/g).map((found) => found.slice(5, -1))"""
        )
    )


UPDATE = """async () => {
    const found = await navigator.serviceWorker.getRegistration();
    await found.update();
    const worker = found.installing ?? found.waiting;
    while (worker.state === "installing") await new Promise((done) => setTimeout(done, 50));
    return worker.state;
}"""


def test_r24_browser_dies_while_a_new_build_of_the_app_comes(
    ready: Ready, tmp_path: Path
) -> None:
    """The old app starts again whole, with no server; later the new one is taken whole."""
    ready.open()
    (old,) = app_code(ready)
    ready.depot.stop()
    static = tmp_path / "static"
    shutil.copytree(find_static(), static)
    sheet = static / "app.css"
    sheet.write_text(sheet.read_text("utf-8") + "/* the next version */\n", "utf-8")
    new = read_build(static, demo=True).id
    assert new != old
    command = [sys.executable, "-c", SERVE, str(static)]
    ready.depot = Server(ready.depot.data, command=command)
    for done in (0, 6):
        ready.start_depot()
        held = ready.line.fault(f"/app/{new}/", "request", after=done)
        ready.open()  # the browser itself looks for a new worker
        ready.page.evaluate(
            "() => void navigator.serviceWorker.getRegistration().then((one) => one.update())"
        )
        held.wait()
        ready.tablet.kill()
        ready.line.clear()
        ready.depot.kill()
        ready.reopen()
        assert app_code(ready) == {old}
        whole(ready)
        assert app_code(ready) == {old}
    ready.tablet.report()
    ready.standing(f"1 report not sent. {UNSENT}", NONE)
    ready.start_depot()
    assert ready.page.evaluate(UPDATE) == "installed"
    ready.tablet.go("Brief")
    with ready.page.expect_navigation():
        ready.page.get_by_role("button", name="Use it now").click()
    ready.page.wait_for_selector("main > *")
    assert app_code(ready) == {new}
    whole(ready)
    ready.arrives(1)


# The upgrade has done all its work but is not over: its transaction is kept busy.
HOLD_UPGRADE = """
const open = IDBFactory.prototype.open;
IDBFactory.prototype.open = function (...given) {
    const request = open.apply(this, given);
    request.addEventListener("upgradeneeded", ({ oldVersion }) => {
        const store = request.transaction.objectStore("kv");
        const again = () => {
            window.upgrading = [oldVersion, ...request.result.objectStoreNames];
            store.get("none").onsuccess = again;
        };
        again();
    });
    return request;
};
"""


@pytest.mark.parametrize("file", released()[:1], ids=lambda path: path.stem)
def test_r15_browser_dies_during_the_upgrade_of_its_database(
    new_tablet: Callable[..., Tablet], demo_server: Server, file: Path
) -> None:
    tablet = new_tablet()
    golden = load(tablet.page, demo_server.url, file)
    rows = [row["value"] for row in golden["stores"]["outbox"]["rows"]]
    waiting = [row["id"] for row in rows if row["parked"] is None]
    refused = len(rows) - len(waiting)
    tablet.context.add_init_script(HOLD_UPGRADE)
    tablet.page.goto(demo_server.url)
    tablet.until("() => (window.upgrading ?? []).includes('warnings')")
    assert tablet.page.evaluate("window.upgrading[0]") == golden["version"]
    tablet.kill()
    tablet.start()
    tablet.context.route("**/api/**", lambda route: route.abort())
    page = tablet.open(demo_server.url)
    brief_again(page, "d0512")
    expect(page.locator(".chosen")).to_contain_text(TRIP)
    tablet.go("Outbox")
    standing = page.locator(".standing")
    expect(standing).to_contain_text(f"{len(waiting)} reports not sent.")
    expect(standing).to_contain_text(f"{refused} report needs attention.")
    receipts = len(golden["stores"]["receipts"]["rows"])
    expect(page.get_by_text("Reached the depot, no. ")).to_have_count(receipts)
    tablet.context.unroute_all(behavior="ignoreErrors")
    send_now(page)
    expect(standing).not_to_contain_text("not sent", timeout=45_000)
    # Nobody knows which history of the depot the delivered ones went to: they are offered too.
    told = waiting + [row["value"]["id"] for row in golden["stores"]["receipts"]["rows"]]
    for _ in range(200):
        stored = [row[0] for row in demo_server.rows("SELECT id FROM report")]
        if len(stored) >= len(told):
            break
        page.wait_for_timeout(100)
    assert sorted(map(UUID, stored)) == sorted(map(UUID, told)), "each once"
