"""The app as a whole: for all eyes and hands, installable, keeping to its own server."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import expect

from tests.browser.tablet import Cab, Tablet, as_booked, say_where, unfold
from tests.support.server import Server

#: 15 mm on a tablet of 160 px to the inch.
FINGER = 94


def walk(tablet: Tablet) -> list[str]:
    """Visit every page with something on it; return their names as each stands."""
    tablet.prepare("Leaf film")
    unfold(tablet.page)
    tablet.page.locator(".road summary").first.click()
    tablet.page.wait_for_selector(".chart")
    return ["#brief", "#next", "#report", "#saved", "#outbox", "#slide", "#overrun"]


def stand_on(tablet: Tablet, name: str) -> None:
    if name == "#saved":
        tablet.page.get_by_label("Reportable").click()
        say_where(tablet.page)
        tablet.page.get_by_role("button", name="Save the report").click()
        tablet.page.wait_for_selector(".saved")
    else:
        tablet.page.evaluate(f"location.hash = {name!r}")
        tablet.page.wait_for_timeout(150)


def test_every_control_is_a_finger_wide(tablet: Tablet):
    small: list[Any] = []
    script = f"""() => [...document.querySelectorAll(
            "button, select, textarea, .choice, .control, .tab, summary, input[type=time]")]
        .filter((one) => one.offsetParent !== null)
        .map((one) => [one.className || one.tagName, one.offsetWidth, one.offsetHeight])
        .filter(([, width, height]) => width < {FINGER} || height < {FINGER})"""
    for name in walk(tablet):
        stand_on(tablet, name)
        small += tablet.page.evaluate(script)
        assert tablet.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
    assert small == []


def test_the_app_is_installable_and_keeps_to_its_own_server(
    tablet: Tablet, demo_server: Server
):
    cdp = tablet.context.new_cdp_session(tablet.page)
    errors = cdp.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert errors == []
    manifest = cdp.send("Page.getAppManifest")
    assert manifest["errors"] == []
    walk(tablet)
    foreign = [url for url in tablet.requests if not url.startswith(demo_server.url)]
    assert [url for url in foreign if not url.startswith(("blob:", "data:"))] == []


def test_the_whole_app_by_keyboard(tablet: Tablet):
    page = tablet.page
    page.locator("input[name=line]:checked").focus()
    page.keyboard.press("Tab")
    expect(page.locator(".due button").first).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#trip")).to_be_focused()
    expect(page.locator("input[name=isolated]").first).to_be_visible()
    for name in ("formation", "isolated", "wsp", "rail"):
        page.locator(f"input[name={name}]").first.focus()
        page.keyboard.press("Space")
    # Where the button pressed is gone, the new page's heading has the focus, never the body.
    page.get_by_role("button", name="Show the stops").press("Enter")
    expect(page.locator("h1")).to_be_focused()
    page.get_by_role("button", name="Change", exact=True).press("Enter")
    expect(page.locator("h1")).to_be_focused()
    page.get_by_role("button", name="Show the stops").press("Enter")
    expect(page.locator("h1")).to_be_focused()
    page.locator(".road .run-head").first.focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.locator(".road summary").first).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".chart")).to_be_visible()


def test_very_low_is_not_offered(tablet: Tablet):
    page = tablet.page
    page.select_option("#trip", "d0512")
    offered = page.locator("input[name=rail]")
    expect(offered).to_have_count(5)
    assert "Very low" not in tablet.words()


def test_more_isolated_brakes_than_known_means_no_advice(tablet: Tablet):
    page = tablet.page
    page.select_option("#trip", "d0512")
    as_booked(page)
    page.locator("input[name=isolated][value=more]").click()
    page.locator("input[name=wsp][value=works]").click()
    page.get_by_label("Damp", exact=True).click()
    page.get_by_role("button", name="Show the stops").click()
    expect(page.locator(".notice.strong").first).to_contain_text("No advice with this train")
    expect(page.locator(".chosen")).to_contain_text(
        "4 cars, isolated brakes: more, or not known"
    )
    tablet.go("Next stop")
    expect(page.locator(".card")).to_contain_text("No advice here. Drive to the conditions.")
    assert page.locator(".line.begin, .line.worse, .line.speeds").count() == 0


def test_dark_by_hand_is_dark_at_once(tablet: Tablet):
    tablet.page.get_by_role("link", name="Screen, hand and language").click()
    tablet.page.get_by_label("Night", exact=True).click()
    tablet.page.reload(wait_until="commit")
    tablet.page.wait_for_selector("main")
    colour = tablet.page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert colour == "rgb(13, 15, 17)"


def test_the_card_does_not_dazzle_at_night(
    new_tablet: Callable[..., Tablet], demo_server: Server
):
    """Mean relative luminance at most 0.05, at most 2 cm2 over 0.5 (our own numbers)."""
    tablet = new_tablet(scheme="dark")
    tablet.open(demo_server.url)
    tablet.installed()
    tablet.prepare("Leaf film")
    for name in ("Next stop", "Report"):
        tablet.go(name)
        picture = Image.open(io.BytesIO(tablet.page.screenshot())).convert("RGB")
        share = np.asarray(picture) / 255.0
        light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
        luminance = light @ np.array([0.2126, 0.7152, 0.0722])
        assert luminance.mean() <= 0.05, name
        assert (luminance > 0.5).sum() <= 2 * (160 / 2.54) ** 2, name


def test_without_a_glance_allowed_the_moving_page_is_dark(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    tablet.prepare()
    # The demo company allows the glance; take it away in what the tablet holds.
    tablet.page.evaluate(
        """async () => {
            const db = await new Promise((done) => {
                indexedDB.open("step-in-hand").onsuccess = (e) => done(e.target.result);
            });
            const get = (store, key) => new Promise((done) => {
                db.transaction(store).objectStore(store).get(key).onsuccess =
                    (e) => done(e.target.result);
            });
            const packs = await get("kv", "packs");
            const { files } = packs["kettle-bay"].current;
            const named = async (value) => {
                const bytes = new TextEncoder().encode(JSON.stringify(value)).buffer;
                const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
                const hex = (one) => one.toString(16).padStart(2, "0");
                const sha = [...digest].map(hex).join("");
                return { bytes, sha };
            };
            const file = (kind) => files.find((one) => one.kind === kind);
            const read = async (kind) =>
                JSON.parse(new TextDecoder().decode(await get("packs", file(kind).sha256)));
            const [base, table] = [await read("base"), await read("table")];
            base.settings.moving_glance.on = false;
            // Every file of a pack is named by what is in it, and is opened only so.
            const newBase = await named(base);
            const newTable = await named({ ...table, base: newBase.sha });
            file("base").sha256 = newBase.sha;
            file("table").sha256 = newTable.sha;
            await new Promise((done) => {
                const tx = db.transaction(["packs", "kv"], "readwrite");
                for (const { bytes, sha } of [newBase, newTable]) {
                    tx.objectStore("packs").put(bytes, sha);
                }
                tx.objectStore("kv").put(packs, "packs");
                tx.oncomplete = done;
            });
            db.close();
        }"""
    )
    tablet.page.reload()
    tablet.go("Next stop")
    assert "BRINEWICK" in tablet.words()
    cab.at(base["geometry"][0][2] + 50, 20)
    cab.at(base["geometry"][0][2] + 80, 20)
    expect(tablet.page.locator("body")).to_have_class(re.compile("dark-page"))
    assert tablet.words().strip() == ""
    cab.stand(base["geometry"][0][2] + 100)
    expect(tablet.page.locator(".card")).to_be_visible()
    expect(tablet.page.locator(".hand .note")).to_contain_text("goes dark")
    # At the platform the next card can be read: once the train moves the page is dark.
    stop = next(one for one in base["targets"] if one["key"] == "brinewick/down")
    cab.stand(stop["mark_m"][0])
    expect(tablet.page.locator(".line.name")).to_contain_text("TUNMARSH")
    note = "Standing at Brinewick. The card is for the stop after it."
    expect(tablet.page.locator(".hand .note")).to_contain_text(note)


def test_unsent_reports_are_counted_on_the_icon(tablet: Tablet):
    """Where the tablet has no such count, nothing else changes."""
    tablet.context.add_init_script(
        "window.badges = [];"
        "navigator.setAppBadge = async (n) => { window.badges.push(n); };"
        "navigator.clearAppBadge = async () => { window.badges.push(0); };"
    )
    page = tablet.page
    page.reload()
    tablet.prepare("Damp")
    tablet.context.set_offline(True)
    tablet.report()
    tablet.until("window.badges.at(-1) === 1")
    page.reload()
    tablet.until("window.badges.at(-1) === 1")
    tablet.context.set_offline(False)
    tablet.send_now()
    tablet.until("window.badges.at(-1) === 0")
