"""What a glance costs, by its causes: files, reads and changes, not milliseconds.

The times themselves are printed by ``python -m tests.benchmarks.glance``.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.conftest import pack_base
from tests.browser.ready import Ready
from tests.browser.tablet import Cab

WATCH = (Path(__file__).parent / "glance.js").read_text("utf-8")


def seen(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(
        """() => ({
            ...window.glance,
            files: performance.getEntriesByType("resource")
                .map(({name, startTime: at, decodedBodySize: bytes}) => ({name, at, bytes}))
                .filter((one) => one.name.includes("/app/")),
        })"""
    )
    return found


def part_of(address: str) -> str:
    """Return a file's name inside its build."""
    return address.split("/app/")[1].split("/", 1)[1]


def metric(cdp: Any, name: str) -> float:
    rows = cdp.send("Performance.getMetrics")["metrics"]
    return float(next(one["value"] for one in rows if one["name"] == name))


def test_a_start_reads_little_and_a_fix_changes_nothing_that_is_not_new(ready: Ready):
    base = pack_base(ready.depot, "kettle-bay")
    ready.tablet.context.add_init_script(WATCH)
    ready.tablet.context.set_offline(True)
    page = ready.open("next")
    ready.tablet.until("window.glance.paintedAt !== null")
    start(page)
    driven(ready, Cab(ready.tablet, base["geometry"]), base)


def start(page: Page) -> None:
    """One opening of the storage, few questions to it, one wave of few files."""
    at = seen(page)
    files = {part_of(one["name"]): one for one in at["files"]}
    # One script, one sheet. Each more is asked of the worker, which answers one by one.
    assert {name for name in files if not name.startswith("icons/")} == {
        *("app.js", "theme.js", "app.css"),
        *("fonts/b612-regular.woff2", "fonts/b612-bold.woff2"),
    }
    # What it was on the day, and a little.
    assert 200_000 < files["app.js"]["bytes"] <= 440_000
    assert 10_000 < files["app.css"]["bytes"] <= 42_000
    # Known from the page itself: the last is asked for before the app has run.
    assert files["app.js"]["at"] <= min(one["at"] for one in at["transactions"])
    assert "modulepreload" not in page.content()
    assert at["databases"] == 1
    asked = [one for one in at["transactions"] if one["before"]]
    assert len(asked) <= 12, asked
    assert {one["mode"] for one in asked} == {"readonly"}
    packs = [one for one in asked if "packs" in one["stores"]]
    assert len(packs) == 2, "base and table, once each; no pictures, no other line"
    assert 0 < at["bytes"] < 1_500_000


def driven(ready: Ready, cab: Cab, base: dict[str, Any]) -> None:
    """A fix that brings nothing new touches neither page nor storage nor layout."""
    page = ready.page
    cdp = ready.tablet.context.new_cdp_session(page)
    cdp.send("Performance.enable")
    from_m = base["geometry"][0][2]
    cab.at(from_m + 300, 15)
    cab.drive([(1, from_m + 300 + 15 * second, 15) for second in range(1, 20)])
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    page.evaluate("() => window.glance.watch()")
    before, layouts = seen(page), metric(cdp, "LayoutCount")
    cab.drive([(1, from_m + 600 + 15 * second, 15) for second in range(20)])
    after = seen(page)
    assert after["changed"] == 0
    assert after["writes"] == before["writes"]
    assert after["reads"] == before["reads"]
    assert metric(cdp, "LayoutCount") - layouts <= 2
    # A stand changes the page, and lays it out a few times, not once for each fix.
    layouts = metric(cdp, "LayoutCount")
    cab.drive([(1, from_m + 900, 0) for _ in range(12)])
    page.evaluate("() => document.body.getBoundingClientRect()")
    assert page.evaluate("window.glance.changed") > 0
    assert metric(cdp, "LayoutCount") - layouts <= 12
