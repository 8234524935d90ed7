"""Put a released version's database on a tablet, before the present app starts."""

from __future__ import annotations

import json
import urllib.request
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.tablet import as_booked

GOLDEN = Path(__file__).parents[1] / "golden"
LOAD = """async ({ version, stores, local }) => {
    Object.assign(localStorage, local);
    const bytes = async (text) => {
        const packed = Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
        const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
        return new Response(plain).arrayBuffer();
    };
    for (const { rows } of Object.values(stores)) {
        for (const row of rows) if (row.value?.gzip) row.value = await bytes(row.value.gzip);
    }
    const db = await new Promise((done, fail) => {
        const request = indexedDB.open("step-in-hand", version);
        request.onupgradeneeded = () => {
            for (const [name, { keyPath }] of Object.entries(stores)) {
                request.result.createObjectStore(name, keyPath === null ? {} : { keyPath });
            }
        };
        request.onsuccess = () => done(request.result);
        request.onerror = fail;
    });
    const tx = db.transaction(db.objectStoreNames, "readwrite");
    for (const [name, { keyPath, rows }] of Object.entries(stores)) {
        for (const { key, value } of rows) {
            if (keyPath === null) tx.objectStore(name).put(value, key);
            else tx.objectStore(name).put(value);
        }
    }
    await new Promise((done) => (tx.oncomplete = done));
    window.held = db;
}"""


def released() -> list[Path]:
    """One file for each version of the database that was ever given out."""
    return sorted(GOLDEN.glob("store-*.json"))


def load(page: Page, url: str, file: Path, *, hold: bool = False) -> dict[str, Any]:
    """Write the database from a page without the app; hold: leave it open there."""
    page.goto(f"{url}/manifest.webmanifest")
    golden: dict[str, Any] = json.loads(file.read_text("utf-8"))
    _of_depot(golden, url)
    page.evaluate(LOAD, golden)
    if not hold:
        page.evaluate("() => window.held.close()")
    return golden


def _of_depot(golden: dict[str, Any], url: str) -> None:
    """Let the tablet's depot be this one: an enrolled tablet gives its rows to no other."""
    rows = golden["stores"]["kv"]["rows"]
    if not any(row["key"] == "depot_key" for row in rows):
        return
    with urllib.request.urlopen(f"{url}/api/keys", timeout=10) as answer:
        keys = json.load(answer)
    own = {"id": keys["key_id"], "ed25519": keys["ed25519"], "p256": keys["p256"]}
    kept = [row for row in rows if row["key"] not in {"depot_key", "index"}]
    golden["stores"]["kv"]["rows"] = [*kept, {"key": "depot_key", "value": own}]


def brief_again(page: Page, trip: str) -> None:
    """Answer for another run of the trip that the former app left chosen.

    The rail state of the fixture is long old (W9), so it is chosen again too.
    """
    page.locator("#trip, .road").first.wait_for()
    if page.locator(".road").count():
        return  # made within the last hours: what was answered then holds still
    expect(page.locator("#trip")).to_have_value(trip)
    expect(page.locator("input[name=isolated]:checked")).to_have_count(0)
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    page.get_by_label("Damp", exact=True).click()
    page.get_by_role("button", name="Show the stops").click()
    page.wait_for_selector(".road")
