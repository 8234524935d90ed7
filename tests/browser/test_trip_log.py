"""The trip log in a real browser: sums leave the tablet, and no trace of where it was."""

from __future__ import annotations

import json
import re
from typing import Any

from playwright.sync_api import expect

from tests.browser.tablet import Cab, Tablet
from tests.browser.test_next_stop import calls
from tests.browser.test_warnings import sync
from tests.support.server import Server

# Everything that is written down or sent, from before the app's first line on.
SPY = """
window.spied = [];
const note = (where, what) => {
    let text;
    try { text = JSON.stringify(what); } catch { text = String(what); }
    window.spied.push([where, String(text)]);
};
for (const name of ["put", "add"]) {
    const whole = IDBObjectStore.prototype[name];
    IDBObjectStore.prototype[name] = function (...given) {
        note(`idb ${this.name}`, given);
        return whole.apply(this, given);
    };
}
const setItem = Storage.prototype.setItem;
Storage.prototype.setItem = function (...given) {
    note("storage", given);
    return setItem.apply(this, given);
};
const put = Cache.prototype.put;
Cache.prototype.put = function (request, response) {
    note("cache", String(request.url ?? request));
    return put.call(this, request, response);
};
const ask = window.fetch;
window.fetch = function (address, init) {
    note("fetch", [String(address), init?.body ?? null]);
    return ask.call(this, address, init);
};
"""
# The night passes: what was counted today was counted yesterday.
YESTERDAY = """async () => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const store = db.transaction(["counts"], "readwrite").objectStore("counts");
    const get = (ask) => new Promise((done) => (ask.onsuccess = () => done(ask.result)));
    const [days, sums] = [await get(store.getAllKeys()), await get(store.getAll())];
    for (const [i, day] of days.entries()) {
        await get(store.delete(day));
        await get(store.put(sums[i], "2026-11-01"));
    }
    db.close();
    return days;
}"""


def positions(text: str) -> list[tuple[str, str]]:
    """Every latitude with its longitude in a text, however deep it lies."""
    return re.findall(
        r'"lat(?:itude)?":\s*(-?[\d.]+).{0,40}?"lon(?:gitude)?":\s*(-?[\d.]+)', text
    )


def test_a_position_is_found_where_there_is_one():
    assert positions('{"position": {"lat": 47.1, "lon": -14.2, "at": 3}}') == [
        ("47.1", "-14.2")
    ]


def test_a_whole_run_leaves_sums_and_one_report_with_its_one_position_and_no_trace(
    tablet: Tablet, demo_server: Server, base: dict[str, Any], cab: Cab
):
    page = tablet.page
    tablet.context.add_init_script(SPY)
    page.reload()
    page.wait_for_selector("main > *")
    tablet.prepare("Damp")
    tablet.go("Next stop")
    stops = calls(base)[:3]
    cab.at(stops[0]["platform_from_m"] - 800, 20)
    for number, stop in enumerate(stops):
        cab.at(stop["platform_from_m"] - 300, 15)
        cab.at(stop["mark_m"][0] - 10, 4)
        cab.stand(stop["mark_m"][0])
        if number == 1:
            here = cab.place(stop["mark_m"][0])
            tablet.report()
            tablet.go("Next stop")
        cab.at(stop["platform_to_m"] + 400, 12)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    page.wait_for_timeout(500)

    spied = page.evaluate("window.spied")
    assert {where for where, _ in spied} >= {"idb kv", "idb counts", "idb outbox", "fetch"}
    found = {place for _, text in spied for place in positions(text)}
    found |= {place for _, text in spied for place in positions(text.replace("\\", ""))}
    assert len(found) == 1, found
    assert [round(float(part), 4) for part in next(iter(found))] == [
        round(here[1], 4),
        round(here[0], 4),
    ]
    counted = [text for where, text in spied if where == "idb counts"]
    assert [s["key"] in counted[-1] for s in stops] == [True, False, True], counted

    assert len(page.evaluate(YESTERDAY)) == 1
    with page.expect_request(
        lambda request: request.url.endswith("/api/outbox") and '"counts"' in request.post_data
    ) as sent:
        sync(tablet)
    batch = json.loads(sent.value.post_data or "")
    items = [item for item in batch["items"] if item["kind"] == "counts"]
    assert len(items) == 1
    assert set(items[0]) == {"kind", "id", "body"}
    assert set(items[0]["body"]) == {"month", "cells"}
    for cell in items[0]["body"]["cells"]:
        assert set(cell) == {"route", "target", "hour", "rail_state", "train_type", "n"}
    assert [cell["target"] for cell in items[0]["body"]["cells"]] == sorted(
        [stops[0]["key"], stops[2]["key"]]
    )
    said = json.dumps(items)
    for never in ("d0512", "disc-4", batch["install_id"], "2026-11-0", "at_m", "lat"):
        assert never not in said, never

    tablet.until("window.spied.length > 0")
    page.wait_for_timeout(500)
    rows = demo_server.rows("SELECT * FROM approach_count")
    assert [(row[0], row[2], row[-1]) for row in rows] == [
        ("2026-11", cell["target"], 1) for cell in items[0]["body"]["cells"]
    ]
    stored = repr(rows + demo_server.rows("SELECT * FROM count_item"))
    device = demo_server.rows("SELECT id FROM device")[0][0]
    for never in ("d0512", device, batch["install_id"], batch["install_id"].replace("-", "")):
        assert never not in stored, never
    assert not re.search(r"\d\d:\d\d", stored), "no minute"
