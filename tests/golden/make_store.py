"""Write ``store-1.json``, ``store-2.json``: the tablet's database as a released app wrote it.

Each version of the database has one such file, made by the app of that time in a real
browser, never by hand; ``tests/browser/test_upgrade.py`` puts it before the present app.
Run again only to add a version::

    git worktree add /tmp/old 56d92e3  # 24367f8 for version 1
    PYTHONPATH=/tmp/old python tests/golden/make_store.py tests/golden/store-2.json
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import Route, expect, sync_playwright

# From the tree of that version, by PYTHONPATH.
from tests.browser.tablet import Tablet
from tests.support.demo import prepared_demo
from tests.support.server import Server

ROUTE = "kettle-bay"
DUMP = """async (kept) => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (e) => done(e.target.result);
    });
    const result = (ask) => new Promise((done) => (ask.onsuccess = () => done(ask.result)));
    const packed = async (bytes) => {
        const zip = new Blob([bytes]).stream().pipeThrough(new CompressionStream("gzip"));
        const all = new Uint8Array(await new Response(zip).arrayBuffer());
        return { gzip: btoa(Array.from(all, (one) => String.fromCharCode(one)).join("")) };
    };
    const stores = {};
    for (const name of db.objectStoreNames) {
        const store = db.transaction(name).objectStore(name);
        const asked = [store.getAllKeys(), store.getAll()];
        const [keys, values] = await Promise.all(asked.map(result));
        const rows = keys.map((key, i) => ({ key, value: values[i] }));
        for (const row of rows) {
            if (!(row.value instanceof ArrayBuffer)) continue;
            row.value = kept.includes(row.key) ? await packed(row.value) : null;
        }
        stores[name] = {
            keyPath: store.keyPath,
            rows: rows.filter((row) => row.value !== null),
        };
    }
    return { version: db.version, stores, local: { ...localStorage } };
}"""


def rejected(route: Route) -> None:
    """The depot refuses for good: the report is parked."""
    items = json.loads(route.request.post_data or "")["items"]
    refusal = {"result": "rejected", "server_no": None, "received_at": None}
    results = [
        {"id": item["id"], **refusal, "code": "invalid", "errors": {"place": ["not known"]}}
        for item in items
    ]
    answer = {"server_time": "2026-11-25T06:00:00Z", "results": results}
    # Without the depot's mark the app takes it for a portal since version 2.
    route.fulfill(json=answer, headers={"X-Step-In-Hand": "1"})


def rows(tablet: Tablet) -> list[dict[str, Any]]:
    found = tablet.page.evaluate(DUMP, [])["stores"]["outbox"]["rows"]
    return [row["value"] for row in found]


def use(tablet: Tablet, url: str) -> dict[str, Any]:
    """Leave behind one of everything that the app keeps."""
    page = tablet.open(url)
    tablet.installed()
    tablet.prepare("Damp", line=ROUTE)
    tablet.go("Next stop")
    page.get_by_role("button", name="Show").click()
    tablet.report("Good")
    tablet.go("Outbox")
    expect(page.get_by_text("Reached the depot, no. 1")).to_be_visible()
    tablet.context.route("**/api/outbox", rejected)
    tablet.report("Expected")
    tablet.go("Outbox")
    expect(page.locator(".standing")).to_contain_text("1 report needs attention.")
    tablet.context.unroute("**/api/outbox")
    tablet.context.route("**/api/outbox", lambda route: route.abort())
    tablet.report()
    tablet.until("() => !document.body.innerText.includes('Trying')")
    page.wait_for_timeout(500)
    tablet.report("Expected")
    tablet.go("Report")
    page.wait_for_timeout(700)  # straight after Save it takes no touch
    page.get_by_role("button", name="Another report").click()
    page.get_by_label("Reportable").click()
    page.get_by_label("First rain").click()
    page.get_by_text("More, if there is time").click()
    page.get_by_label("In your own words").fill("film from the bridge on")
    page.wait_for_timeout(500)
    kinds = sorted((row["parked"] is not None, row["tries"] > 0) for row in rows(tablet))
    assert kinds == [(False, False), (False, True), (True, True)], kinds
    packs = page.evaluate(DUMP, [])["stores"]["kv"]["rows"]
    held = next(row["value"] for row in packs if row["key"] == "packs")[ROUTE]["current"]
    kinds_kept = {"base", "table"}
    names = [one["sha256"] for one in held["files"] if one["kind"] in kinds_kept]
    dump: dict[str, Any] = page.evaluate(DUMP, [held["sha"], *names])
    return dump


def main(out: Path) -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        data = Path(folder) / "data"
        shutil.copytree(prepared_demo(Path(folder)), data)
        with Server(data) as server:
            tablet = Tablet(playwright, Path(folder) / "profile").start()
            try:
                dump = use(tablet, server.url)
            finally:
                tablet.close()
    note = "Files of packs but one line's manifest, base and table are left out for size."
    text = json.dumps({"note": note, **dump}, indent=1, sort_keys=True)
    out.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
