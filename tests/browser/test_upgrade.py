"""R13, R15: from every database ever given out to the present one, and nothing is lost."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import pytest
from playwright.sync_api import expect

from tests.browser.golden_store import brief_again, load, released
from tests.browser.tablet import Tablet, say_where, send_now
from tests.support.server import Server

ROOT = Path(__file__).parents[2]
FILES = pytest.mark.parametrize("file", released(), ids=lambda path: path.stem)


def test_r15_every_version_but_the_present_has_its_fixture():
    """Raising the version without keeping what the old one wrote is refused here."""
    source = (ROOT / "static" / "data" / "idb.js").read_text()
    version = int(re.findall(r"^const VERSION = (\d+);", source, re.MULTILINE)[0])
    kept = [json.loads(file.read_text())["version"] for file in released()]
    assert kept == list(range(1, version)) or kept == list(range(1, version + 1))


@FILES
def test_r15_a_database_of_a_former_app_loses_nothing(
    new_tablet: Callable[..., Tablet], demo_server: Server, file: Path
):
    """Unsent, tried, refused, receipt, draft, choices, pack, as the app left them."""
    tablet = new_tablet()
    golden = load(tablet.page, demo_server.url, file)
    rows = [row["value"] for row in golden["stores"]["outbox"]["rows"]]
    waiting = [row["id"] for row in rows if row["parked"] is None]
    refused = [row["id"] for row in rows if row["parked"] is not None]
    assert len(waiting) >= 2 and refused, "the fixture holds what must survive"
    assert {row["tries"] > 0 for row in rows if row["parked"] is None} == {True, False}
    tablet.context.route("**/api/**", lambda route: route.abort())
    page = tablet.open(demo_server.url)
    # The trip chosen then, on the pack held then, without a word from the depot.
    brief_again(page, "d0512")
    expect(page.locator(".chosen")).to_contain_text("05:12 Kettle Bay to Great Tarrow")
    tablet.go("Next stop")
    expect(page.locator(".line.begin")).to_contain_text("Begin before")
    tablet.go("Outbox")
    standing = page.locator(".standing")
    expect(standing).to_contain_text(f"{len(waiting)} reports not sent.")
    expect(standing).to_contain_text(f"{len(refused)} report needs attention.")
    receipts = len(golden["stores"]["receipts"]["rows"])
    expect(page.get_by_text("Reached the depot, no. ")).to_have_count(receipts)
    tablet.go("Report")
    expect(page.get_by_label("Reportable")).to_be_checked()
    expect(page.get_by_label("First rain")).to_be_checked()
    page.get_by_text("More, if there is time").click()
    expect(page.get_by_label("In your own words")).to_have_value("film from the bridge on")
    expect(page.locator(".strip")).to_be_empty()
    tablet.context.unroute_all(behavior="ignoreErrors")
    tablet.go("Outbox")
    send_now(page)
    expect(standing).not_to_contain_text("not sent", timeout=45_000)
    expect(standing).to_contain_text(f"{len(refused)} report needs attention.")
    stored = [row[0] for row in demo_server.rows("SELECT id FROM report")]
    # This is not the depot that has the receipts' reports, so they may be offered to it again.
    held = [row["value"]["id"] for row in golden["stores"]["receipts"]["rows"]]
    reached = list(map(UUID, stored))
    assert len(set(reached)) == len(reached), "each of them once"
    assert set(map(UUID, waiting)) <= set(reached) <= set(map(UUID, waiting + held)), (
        "none is missing, and the refused one is not there"
    )
    tablet.page.get_by_role("link", name="Report").click()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_be_visible()
    tablet.go("Outbox")
    expect(standing).not_to_contain_text("not sent", timeout=45_000)
    seq = golden["stores"]["kv"]["rows"]
    last = next(row["value"] for row in seq if row["key"] == "seq")
    numbers = [row[0] for row in demo_server.rows("SELECT seq FROM report ORDER BY seq")]
    assert numbers[-1] == last + 1, "the tablet goes on counting where it was"


@FILES
def test_r13_an_old_window_holds_the_upgrade_up_and_then_it_goes_on_by_itself(
    new_tablet: Callable[..., Tablet], demo_server: Server, file: Path
):
    tablet = new_tablet()
    other = tablet.context.new_page()
    load(other, demo_server.url, file, hold=True)
    page = tablet.open(demo_server.url)
    strip = page.locator(".strip")
    expect(strip).to_contain_text("The tablet's storage does not open.", timeout=20_000)
    tablet.go("Outbox")
    expect(strip).to_contain_text("Close the app's other windows")
    other.evaluate("() => window.held.close()")
    expect(strip).to_be_empty(timeout=20_000)
    expect(page.locator(".standing")).to_contain_text("needs attention.")
    expect(page.locator(".report-row")).to_have_count(4)
