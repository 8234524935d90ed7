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
#: Screens that a card must not wait for.
LATER = {
    *(
        f"screens/{name}.js"
        for name in ("brief", "report", "outbox", "enrol", "screen", "slide")
    ),
    *("data/later.js", "data/network.js", "data/position.js"),
}


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
    ready.tablet.until(
        "performance.getEntriesByType('resource')"
        ".some((one) => one.name.endsWith('/screens/slide.js'))"
    )
    driven(ready, Cab(ready.tablet, base["geometry"]), base)


def start(page: Page) -> None:
    """One opening of the storage, few questions to it, one wave of files."""
    at = seen(page)
    before = [one for one in at["files"] if one["at"] < at["cardAt"]]
    assert {part_of(one["name"]) for one in before}.isdisjoint(LATER)
    modules = [one for one in before if one["name"].endswith(".js")]
    assert 20 < len(modules) <= 56, len(modules)
    # What it was on the day, and a little: code for later belongs behind `data/later.js`.
    assert 100_000 < sum(one["bytes"] for one in modules) <= 290_000
    # Known from the page itself: the last is asked for before the app has run.
    named = set(
        page.eval_on_selector_all(
            "link[rel=modulepreload]", "all => all.map((one) => one.href)"
        )
    )
    late = {one["name"] for one in modules} - named
    assert {part_of(name) for name in late} == {"app.js", "theme.js"}
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
