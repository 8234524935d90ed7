"""Reports: three touches, one report, and never a claim that is not true."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.tablet import Cab, Tablet, say_where, written
from tests.support.server import Server
from webapp.records import carried

W7 = "Saved on this tablet. The signaller does not know. Call now."


def test_what_arrives_is_what_was_filled_in(
    tablet: Tablet, demo_server: Server, base: dict[str, Any], cab: Cab
):
    tablet.prepare()
    stop = next(one for one in base["targets"] if one["key"] == "brinewick/down")
    tablet.go("Next stop")
    cab.stand(stop["mark_m"][0])
    expect(tablet.page.locator(".hand .note")).to_contain_text("Standing at Brinewick")
    tablet.report()
    expect(tablet.page.locator(".say")).to_contain_text("rail worse than expected")
    expect(tablet.page.locator(".say")).to_contain_text("Brinewick, platform 1")
    expect(tablet.page.locator("section .w8")).to_have_text("Before you move: signal, doors.")
    tablet.go("Outbox")
    expect(tablet.page.locator(".reports")).to_contain_text("Reached the depot, no. 1")
    (found,) = demo_server.rows("SELECT item FROM report")
    body = json.loads(found[0])["body"]
    assert (body["found"], body["happened"]) == ("reportable", ["slide"])
    assert (body["target"], body["direction"]) == ("brinewick/down", "down")
    assert (body["train"], body["rail_state"]) == ("disc-4", "damp")
    assert abs(body["at_m"] - stop["mark_m"][0]) < 5
    assert body["position"]["age_s"] <= 10
    assert body["sand_used"] is None and body["told_signaller_at"] is None


@pytest.mark.parametrize(
    ("past", "said", "words"),
    [
        (-361, "brinewick/down", "between Kettle Bay and Brinewick, 190 yards before"),
        (40, "brinewick/down", "40 yards beyond Brinewick platform"),
    ],
    ids=["short of the platform", "past its end"],
)
def test_the_place_is_where_the_train_stands_not_the_stop_behind(
    tablet: Tablet,
    demo_server: Server,
    base: dict[str, Any],
    cab: Cab,
    past: int,
    said: str,
    words: str,
):
    """In the words to say, in the Outbox and at the depot; no field is new."""
    tablet.prepare()
    stop = next(one for one in base["targets"] if one["key"] == "brinewick/down")
    tablet.go("Next stop")
    at = stop["platform_to_m"] + past
    cab.at(at - 300, 15)
    cab.stand(at)
    tablet.go("Report")
    page = tablet.page
    expect(page.locator(".say")).to_contain_text(words)
    page.get_by_label("Reportable").click()
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_have_text(W7)
    expect(page.locator(".say")).to_contain_text(words)
    tablet.go("Outbox")
    expect(page.locator(".report-row .what")).to_contain_text(words)
    expect(page.locator(".reports")).to_contain_text("Reached the depot, no. 1")
    ((found,),) = demo_server.rows("SELECT item FROM report")
    body = json.loads(found)["body"]
    assert (body["target"], body["place"].startswith(words)) == (said, True)
    assert abs(body["at_m"] - at) < 5


def test_the_call_that_follows_save_is_told_with_one_tap_and_is_still_one_report(
    tablet: Tablet, demo_server: Server
):
    tablet.prepare()
    tablet.report()
    page = tablet.page
    page.wait_for_timeout(700)  # not the second half of a double tap on Save
    page.get_by_role("button", name="I told the signaller").click()
    expect(page.locator(".saved")).to_contain_text("You told the signaller at")
    expect(page.locator(".saved")).to_be_focused()
    expect(page.get_by_role("button", name="I told the signaller")).to_have_count(0)
    tablet.go("Outbox")
    for _ in range(60):  # sent in its place, or after it as its correction
        items = [json.loads(item) for (item,) in demo_server.rows("SELECT item FROM report")]
        told = [one for one in items if one["body"]["told_signaller_at"]]
        if told:
            break
        page.wait_for_timeout(250)
    assert len(told) == 1
    assert {one["id"] for one in items} - {told[0]["id"]} <= {told[0]["body"]["supersedes"]}


def test_without_a_sure_position_save_asks_where_and_one_tap_answers(
    tablet: Tablet, demo_server: Server
):
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    expect(page.locator(".say")).to_contain_text("(say where)")
    page.get_by_label("Reportable").click()
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".asked")).to_have_text("Where was it?")
    assert "Saved" not in tablet.words()
    page.get_by_role("button", name="Back to the report").click()
    expect(page.get_by_label("Reportable")).to_be_checked()
    page.get_by_role("button", name="Save the report").click()
    page.get_by_role("button", name="Between Kettle Bay and Brinewick").click()
    expect(page.locator(".saved")).to_have_text(W7)
    expect(page.locator(".say")).to_contain_text("between Kettle Bay and Brinewick")
    tablet.go("Outbox")
    expect(page.locator(".reports")).to_contain_text("Reached the depot, no. 1")
    ((found,),) = demo_server.rows("SELECT item FROM report")
    body = json.loads(found)["body"]
    assert (body["place"], body["target"]) == (
        "between Kettle Bay and Brinewick",
        "brinewick/down",
    )
    assert body["at_m"] is None and body["position"] is None


def test_without_a_trip_it_asks_and_a_place_nobody_knows_is_said_to_be_so(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.go("Report")
    page.get_by_label("Reportable").click()
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".report")).to_contain_text("No trip is chosen")
    expect(page.locator(".report")).not_to_contain_text("At another stop")
    page.get_by_role("button", name="I do not know").click()
    expect(page.locator(".saved")).to_have_text(W7)
    expect(page.locator(".say")).to_contain_text("place not given")
    tablet.go("Report")
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Another report").click()
    page.get_by_label("Expected").click()
    page.get_by_role("button", name="Save the report").click()
    page.locator("#place-asked").fill("sidings north of the shed")
    page.get_by_role("button", name="Save with this place").click()
    expect(page.locator(".say")).to_contain_text("sidings north of the shed")


def test_a_double_tap_makes_one_report(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Reportable").click()
    say_where(page)
    page.evaluate(
        """() => {
            const save = document.querySelector(".save button");
            save.click(); save.click();
            setTimeout(() => save.click(), 5);
        }"""
    )
    expect(page.locator(".saved")).to_have_text(W7)
    tablet.go("Outbox")
    expect(page.locator(".report-row")).to_have_count(1)
    expect(page.locator(".reports")).to_contain_text("Reached the depot, no. 1")
    assert demo_server.count() == 1


def test_a_draft_survives_a_kill(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Reportable").click()
    page.get_by_label("First rain").click()
    page.get_by_text("More, if there is time").click()
    page.get_by_label("In your own words").fill("film from the bridge on")
    written(page)
    tablet.kill()
    tablet.start().open(f"{demo_server.url}/#report")
    page = tablet.page
    expect(page.get_by_label("Reportable")).to_be_checked()
    expect(page.get_by_label("First rain")).to_be_checked()
    page.get_by_text("More, if there is time").click()
    expect(page.get_by_label("In your own words")).to_have_value("film from the bridge on")


LATE_COMPLETE = """
    const setter = Object.getOwnPropertyDescriptor(IDBTransaction.prototype, "oncomplete").set;
    window.writes = [];
    const begin = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function (stores, mode, options) {
        const named = [].concat(stores).join();
        if (mode === "readwrite") window.writes.push([named, options?.durability]);
        const tx = begin.call(this, stores, mode, options);
        tx.late = mode === "readwrite" && [].concat(stores).includes("outbox");
        return tx;
    };
    Object.defineProperty(IDBTransaction.prototype, "oncomplete", {
        set(call) {
            setter.call(this, this.late ? (e) => setTimeout(() => call(e), 1200) : call);
        },
    });
"""


def test_saved_means_complete_and_on_disk(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    tablet.context.add_init_script(LATE_COMPLETE)
    tablet.page.reload()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Reportable").click()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    page.wait_for_timeout(600)
    assert "Saved on this tablet" not in tablet.words()
    expect(page.locator(".saved")).to_have_text(W7)
    writes = page.evaluate("window.writes")
    assert any("outbox" in stores for stores, _ in writes)
    assert {durability for _, durability in writes} == {"strict"}


BROKEN_STORE = """
    const put = IDBObjectStore.prototype.put;
    window.failures = Infinity;
    IDBObjectStore.prototype.put = function (...all) {
        if (this.name === "outbox" && window.failures-- > 0) {
            throw new DOMException("Connection to server lost", "UnknownError");
        }
        return put.apply(this, all);
    };
"""


def test_a_tablet_that_cannot_save_never_says_saved(tablet: Tablet, demo_server: Server):
    tablet.prepare()
    tablet.context.add_init_script(BROKEN_STORE)
    tablet.page.reload()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Reportable").click()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".message")).to_have_text(
        "Could not save this report on the tablet. Write it down. Call now."
    )
    assert "Saved" not in tablet.words()
    page.evaluate("window.failures = 1")  # one failure: opened again, tried again, saved
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_have_text(W7)


def test_an_overrun_shows_its_words_and_nothing_else(tablet: Tablet):
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Overrun").click()
    expect(page.locator("main")).to_have_text("Don't release doors. Don't move. Signaller.")
    assert tablet.words().split() == "Don't release doors. Don't move. Signaller.".split()
    page.go_back()  # nothing on the page is there to be touched
    expect(page.get_by_label("Overrun")).to_be_checked()
    expect(page.locator(".decide")).to_have_text("Tell the signaller.")


def test_a_refused_report_stays_and_can_be_corrected(tablet: Tablet, demo_server: Server):
    tablet.prepare()

    def refuse(route: Any) -> None:
        items = json.loads(route.request.post_data)["items"]
        results = [
            {"id": item["id"], "result": "rejected", "server_no": None, "received_at": None}
            | {"code": "invalid", "errors": {"found": ["not known"]}}
            for item in items
        ]
        answer = {"server_time": "2026-11-25T06:00:00Z", "results": results}
        route.fulfill(json=answer, headers={"X-Step-In-Hand": "1"})

    tablet.context.route("**/api/outbox", refuse)
    tablet.report()
    tablet.go("Outbox")
    page = tablet.page
    expect(page.locator(".standing")).to_contain_text("1 report needs attention.")
    expect(page.locator(".report-row")).to_contain_text("not known")
    with page.expect_download() as copy:
        page.get_by_role("button", name="Keep a copy").click()
    file = carried.read(copy.value.path().read_bytes())  # as the depot reads it
    (kept,) = file["batch"]["items"]
    assert kept["body"]["found"] == "reportable"
    tablet.context.unroute("**/api/outbox")
    page.get_by_role("button", name="Correct it").click()
    page.get_by_label("Expected").click()
    say_where(page)
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_have_text(W7)
    tablet.go("Outbox")
    expect(page.locator(".report-row")).to_have_count(2)
    expect(page.get_by_text("Reached the depot, no. 1")).to_be_visible()
    ((linked,),) = demo_server.rows("SELECT supersedes FROM report")
    assert linked


def test_the_signaller_comes_first_and_no_word_says_otherwise(
    new_tablet: Callable[..., Tablet], demo_server: Server
):
    tablet = new_tablet(size="phone", scheme="dark")
    tablet.open(demo_server.url)
    tablet.installed()
    tablet.go("Report")
    first = tablet.page.locator(".report h2").first
    expect(first).to_have_text("Signaller first")
    for found in ("Good", "Expected", "Reportable"):
        tablet.page.get_by_label(found).click()
        said = tablet.page.locator(".decide").inner_text()
        assert said in {"Tell the signaller.", "Your decision; in doubt, tell."}
    assert "need not" not in tablet.words()
