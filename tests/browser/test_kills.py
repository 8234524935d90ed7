"""R1, R66: fixed stories of what dies when, each real: SIGKILL, a held line, a crashed tab.

Every story ends the same: right words on the screen, each report at the depot once.
"""

from __future__ import annotations

import contextlib
import re
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, expect

from tests.browser.ready import ALL_THERE, UNSENT, W7, Ready
from tests.browser.tablet import say_where, written
from tests.support.server import Server

SUPPORT = Path(__file__).parents[1] / "support"


def fill_in(page: Page) -> None:
    page.get_by_label("Reportable").click()
    page.get_by_label("Slide", exact=True).click()


def test_r1_browser_dies_right_after_the_tap_on_save(ready: Ready) -> None:
    """Either the draft is still there or the report is; never neither, never both."""
    ready.depot.kill()
    ready.open("report")
    for number, delay in enumerate((0, 15, 60, 200), 1):
        page = ready.page
        fill_in(page)
        written(page)
        say_where(page)
        page.evaluate("document.querySelector('.save button').click()")
        page.wait_for_timeout(delay)
        ready.tablet.kill()
        page = ready.reopen("report")
        unsent = page.locator(".unsent")
        rows = int(unsent.inner_text()) if unsent.count() else 0
        draft = page.get_by_label("Reportable").is_checked()
        assert rows == (number - 1 if draft else number)
        if draft:
            say_where(page)
            page.get_by_role("button", name="Save the report").click()
            expect(page.locator(".saved")).to_have_text(W7)
            page.reload()
    ready.standing(f"4 reports not sent. {UNSENT}", "No contact with the depot.")
    ready.start_depot()
    ready.arrives(4)


def test_r1_browser_dies_while_the_report_is_on_its_way(ready: Ready) -> None:
    ready.open()
    held = ready.line.fault("/api/outbox", "request")
    ready.tablet.report()
    held.wait()
    ready.standing(f"1 report not sent. {UNSENT}", "Trying to reach the depot.")
    ready.tablet.kill()
    assert ready.depot.count() == 0
    ready.line.clear()
    ready.reopen()
    ready.arrives(1)


def test_r31_browser_dies_after_the_commit_and_before_the_answer(ready: Ready) -> None:
    ready.open()
    held = ready.line.fault("/api/outbox", "answer")
    ready.tablet.report()
    held.wait()
    ready.standing(f"1 report not sent. {UNSENT}")
    ready.tablet.kill()
    assert ready.depot.count() == 1
    ready.line.clear()
    ready.reopen()
    ready.arrives(1)


def test_r47_browser_dies_while_the_packs_are_fetched(ready: Ready) -> None:
    ready.open()
    ready.tablet.report()
    ready.standing(ALL_THERE)
    wipe_packs(ready)
    held = ready.line.fault("/packs/", "request", after=3)
    page = ready.open()
    held.wait()
    files = re.compile(r"Fetching the pack .+: [1-9]\d* of \d+ files\.")
    expect(page.get_by_text(files)).to_be_visible()
    ready.tablet.kill()
    page = ready.reopen()
    yet = page.get_by_text("No pack on this tablet yet. Connect it to the depot once.")
    expect(yet.or_(page.get_by_text("Fetching the pack")).first).to_be_visible()
    # Away first: what the old page asks for at its end is not the new one's.
    page.goto("about:blank")
    ready.line.clear()
    asked = len(ready.line.seen)
    page = ready.open()
    expect(page.locator("input[name=line]")).to_have_count(2, timeout=60_000)
    again = [path for path in ready.line.seen[asked:] if path.startswith("/packs/")]
    assert len(again) == len(set(again)), "no file is fetched twice"
    ready.tablet.prepare()
    ready.tablet.report()
    ready.arrives(2)


def wipe_packs(ready: Ready) -> None:
    """As on the first day: no pack is held. The app's own window is away meanwhile."""
    page = ready.page
    page.goto(f"{ready.line.url}/manifest.webmanifest")
    page.evaluate(
        """() => new Promise((done) => {
            const request = indexedDB.open("step-in-hand");
            request.onsuccess = () => {
                const db = request.result;
                const tx = db.transaction(["kv", "packs"], "readwrite");
                tx.objectStore("packs").clear();
                for (const key of ["packs", "prep", "route", "installing"]) {
                    tx.objectStore("kv").delete(key);
                }
                tx.oncomplete = () => { db.close(); done(); };
            };
        })"""
    )


def test_r31_server_dies_before_it_takes_the_report(ready: Ready) -> None:
    ready.open()
    ready.depot.freeze()
    ready.tablet.report()
    ready.standing("Trying to reach the depot.")
    ready.depot.kill()
    ready.standing(f"1 report not sent. {UNSENT}", "No contact with the depot.")
    ready.start_depot()
    ready.arrives(1)


def test_r31_server_dies_after_the_commit_and_before_the_answer(
    ready: Ready, tmp_path: Path
) -> None:
    ready.depot.stop()
    ready.depot = Server(
        ready.depot.data,
        command=[sys.executable, str(SUPPORT / "killed_after_commit.py")],
        env={"SPENT": str(tmp_path / "spent"), "PYTHONPATH": str(SUPPORT.parents[1])},
    )
    ready.start_depot()
    ready.open()
    ready.tablet.report()
    assert ready.depot.wait_until_gone() == -9
    assert ready.depot.count() == 1
    ready.standing(f"1 report not sent. {UNSENT}", "No contact with the depot.")
    ready.start_depot()
    ready.arrives(1)


def test_r31_the_answer_is_cut_at_every_kind_of_byte(ready: Ready) -> None:
    """Before the headers, within them, within the body, at the last byte."""
    ready.open()
    # Half the headers lack the depot's mark: to the tablet that is some other network.
    none, other = "No contact with the depot.", "This network answers in place of the depot."
    cuts = {0: none, 1: none, 30: other, -150: none, -2: none, -1: none}
    for number, (keep, words) in enumerate(cuts.items(), 1):
        cut = ready.line.fault("/api/outbox", "answer", keep=keep)
        ready.tablet.report()
        cut.wait()
        ready.standing(f"1 report not sent. {UNSENT}", words)
        assert ready.depot.count() == number, "stored, only the tablet does not know"
        ready.line.clear()
        ready.send_now()
        ready.standing(ALL_THERE)
    ready.arrives(len(cuts))


def test_r26b_the_tablet_goes_offline_while_it_sends(ready: Ready) -> None:
    ready.open()
    held = ready.line.fault("/api/outbox", "request")
    ready.tablet.report()
    held.wait()
    ready.tablet.context.set_offline(True)
    ready.line.clear()
    ready.standing(f"1 report not sent. {UNSENT}", "No contact with the depot.")
    ready.tablet.context.set_offline(False)
    ready.arrives(1)


def crash(page: Page) -> None:
    """The tab's own process dies, as for want of memory; the browser lives on."""
    with contextlib.suppress(Error):
        page.goto("chrome://crash", timeout=3_000)


def test_r79_the_tab_crashes_with_a_draft_open(ready: Ready) -> None:
    page = ready.open("report")
    fill_in(page)
    written(page)
    other = ready.tablet.context.new_page()
    crash(page)
    ready.tablet.page = other
    other.set_default_timeout(15_000)
    page = ready.open("report")
    expect(page.get_by_label("Reportable")).to_be_checked()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_have_text(W7)
    ready.arrives(1)


def test_r16_two_windows_and_the_one_that_sends_is_killed(ready: Ready) -> None:
    """The lock goes with the window that held it; the other sends on."""
    first = ready.open()
    held = ready.line.fault("/api/outbox", "answer")
    ready.tablet.report()
    held.wait()
    other = ready.tablet.context.new_page()
    other.goto(f"{ready.line.url}/#outbox")
    expect(other.locator(".standing")).to_contain_text(f"1 report not sent. {UNSENT}")
    crash(first)
    ready.line.clear()
    ready.tablet.page = other
    ready.arrives(1)


@pytest.mark.parametrize("jump", [timedelta(days=8), timedelta(days=-8)], ids=["+8 d", "-8 d"])
def test_r3_the_clock_jumps_between_kill_and_restart(ready: Ready, jump: timedelta) -> None:
    ready.depot.kill()
    ready.open()
    ready.tablet.report()
    ready.tablet.kill()
    ready.tablet.start()
    ready.page.clock.set_fixed_time(datetime.now(UTC) + jump)
    ready.open()
    ready.standing(f"1 report not sent. {UNSENT}", "No contact with the depot.")
    ready.start_depot()
    ready.arrives(1)
    ready.tablet.go("Brief")
    side = "fast" if jump > timedelta(0) else "slow"
    expect(ready.page.locator(".notice", has_text="clock is")).to_contain_text(side)
