"""What the driver answers at a stand, and what the card says of a trip that goes otherwise.

One tablet in use for all of it (OPERATIONS.md 2, "Degraded working"; W6): each story prepares
its own trip. Advice is none or the most restrictive, never another station's card.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, expect

from tests.browser.conftest import pack_base
from tests.browser.ready import Kept, Ready
from tests.browser.tablet import Cab, Tablet, advice_off

W6 = "No advice here. Drive to the conditions."
UNKEPT = "The tablet could not keep your last answer: the one before it stands."
IN_USE = "Your answer is in use, but the tablet could not keep it"
ASKED = "Which stop is next? Tap it to see advice."
TRIP = "d0512"
ADVICE = ".line.begin, .line.worse, .line.speeds"
#: The storage takes no more preparation, as a full or broken disk does.
BREAK = """() => {
    window.realPut ??= IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (value, key) {
        if (key === "prep") throw new DOMException("no room", "QuotaExceededError");
        return window.realPut.call(this, value, key);
    };
}"""
MEND = "() => { IDBObjectStore.prototype.put = window.realPut; }"
#: Another write that is not ready yet holds every later one up.
HOLD = """async () => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const kv = db.transaction("kv", "readwrite").objectStore("kv");
    window.held = true;
    const again = () => {
        if (window.held) kv.get("held").onsuccess = again;
        else db.close();
    };
    again();
}"""
LET_GO = "() => { window.held = false; }"


class Standing:
    """The tablet in use, its cab, and the stops of the trip."""

    def __init__(self, ready: Ready) -> None:
        self.ready = ready
        self.tablet: Tablet = ready.tablet
        self.page: Page = ready.open("brief")
        self.base: dict[str, Any] = pack_base(ready.depot, "kettle-bay")
        self.cab = Cab(self.tablet, self.base["geometry"])
        trip = next(one for one in self.base["trips"] if one["key"] == TRIP)
        self.calls = trip["calls"]
        targets = {one["key"]: one for one in self.base["targets"]}
        self.stops = [targets[call["target"]] for call in self.calls]

    def begin(self) -> None:
        """Open the app anew with the trip just prepared and the train at its start."""
        self.page.evaluate("sessionStorage.clear(); location.hash = 'brief'")
        self.page.reload()
        self.page.wait_for_selector(".chosen, input[name=line]")
        self.cab = Cab(self.tablet, self.base["geometry"])
        if self.page.locator(".chosen button").count():
            self.page.locator(".chosen button").click()
        # Another trip first: choosing one begins it, choosing the same one again does not.
        self.page.select_option("#trip", "d0612")
        expect(self.page.locator("input[name=wsp]:checked")).to_have_count(0)
        self.tablet.prepare(trip=TRIP)

    def stations(self) -> list[str]:
        """Which stops the card names."""
        card = self.page.locator(".card").inner_text().upper()
        return [one["name"] for one in self.stops if one["name"].upper() in card]


@pytest.fixture(scope="module")
def day(
    engine: Playwright, kept: Kept, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Standing]:
    ready = Ready(engine, kept, Path(tmp_path_factory.mktemp("standing")))
    yield Standing(ready)
    ready.close()
    assert ready.tablet.errors == []


@pytest.fixture
def at_stand(day: Standing) -> Standing:
    day.begin()
    return day


def test_an_answer_is_shown_once_it_is_on_the_disk_and_not_before(at_stand: Standing):
    page = at_stand.page
    page.evaluate(HOLD)
    advice_off(page, "Diversion")
    page.wait_for_timeout(500)
    expect(page.locator(".back-on")).to_have_count(0)
    expect(page.locator(".road")).to_contain_text("Begin before")
    page.evaluate(LET_GO)
    expect(page.locator(".notice.strong")).to_contain_text("Advice is off for this trip.")
    assert "Begin before" not in at_stand.tablet.words()


def test_what_is_answered_in_one_window_holds_in_the_other(at_stand: Standing):
    """A card must not go on with what its driver took back in the next window; what is being
    written there is not broken off, and is read anew when it is left."""
    page, url = at_stand.page, at_stand.page.url.partition("#")[0]
    card, form = (at_stand.tablet.context.new_page() for _ in range(2))
    card.goto(f"{url}#next")
    expect(card.locator(".card")).to_contain_text("Begin before")
    form.goto(f"{url}#report")
    form.get_by_label("Reportable").check()
    advice_off(page, "Wrong line")
    expect(card.locator(".card")).to_contain_text(W6)
    expect(card.locator(".card")).not_to_contain_text("Begin before")
    expect(form.get_by_label("Reportable")).to_be_checked()
    form.get_by_role("link", name="Brief").click()
    expect(form.locator(".notice.strong").first).to_contain_text(
        "Advice is off for this trip."
    )
    for one in (card, form):
        one.close()


def test_an_answer_that_cannot_be_written_is_told_and_a_fault_counts_all_the_same(
    at_stand: Standing,
):
    """Advice off and a fault count at once; another trip, which is more, does not begin."""
    page = at_stand.page
    strip = page.locator(".strip")
    page.evaluate(BREAK)
    advice_off(page, "Assisting")
    expect(strip).to_contain_text(IN_USE)
    expect(page.locator(".notice.strong").first).to_be_visible()
    assert "Begin before" not in at_stand.tablet.words()
    page.locator(".back-on button").click()
    expect(page.locator(".back-on")).to_have_count(0)
    page.get_by_role("button", name="Change").click()
    page.locator("input[name=wsp][value=fault]").click()
    expect(page.locator("input[name=wsp][value=fault]")).to_be_checked()
    expect(strip).to_contain_text(IN_USE)
    page.select_option("#trip", "d0612")
    expect(strip).to_contain_text(UNKEPT)
    expect(page.locator("#trip")).to_have_value(TRIP)
    page.evaluate(MEND)
    page.locator("input[name=wsp][value=works]").click()
    page.locator("input[name=wsp][value=fault]").click()
    expect(page.locator("input[name=wsp][value=fault]")).to_be_checked()
    expect(strip).not_to_contain_text(UNKEPT)
    # Two answers, the second given before the first is written: neither is lost.
    page.evaluate(HOLD)
    page.locator("input[name=mist]").click()
    page.locator("input[name=dull]").click()
    page.evaluate(LET_GO)
    for sign in ("mist", "dull"):
        expect(page.locator(f"input[name={sign}]")).to_be_checked()


@pytest.mark.parametrize(
    ("tapped", "words"),
    [("Assisting", "assisting"), ("Wrong line", "wrong line"), ("Diversion", "diversion")],
)
def test_with_advice_off_a_moving_train_has_the_reason_and_no_mark_of_any_station(
    at_stand: Standing, tapped: str, words: str
):
    """Through the first two stops: W6 and the reason on each, no figure on any."""
    page, first = at_stand.page, at_stand.stops[0]
    advice_off(page, tapped)
    expect(page.locator(".back-on")).to_be_visible()
    at_stand.tablet.go("Next stop")
    card = page.locator(".card")
    for metres, speed in ((2_500, 20), (900, 20), (200, 12)):
        at_stand.cab.at(first["platform_from_m"] - metres, speed)
        expect(page.locator("body")).to_have_class(re.compile("moving"))
        expect(card).to_contain_text(W6)
        expect(card).to_contain_text(f"Advice off: {words}")
        expect(page.locator(ADVICE)).to_have_count(0)
        assert at_stand.stations() in ([], [first["name"]])
    at_stand.cab.stand(first["mark_m"][0])
    expect(page.locator(".line.name")).to_contain_text(at_stand.stops[1]["name"].upper())
    expect(card).to_contain_text(f"Advice off: {words}")
    expect(page.locator(ADVICE)).to_have_count(0)


def test_a_platform_not_as_booked_has_no_figure_there_and_the_next_stop_keeps_its_own(
    at_stand: Standing,
):
    page, (first, second) = at_stand.page, at_stand.stops[:2]
    page.locator("summary[data-key=pattern]").click()
    page.locator(f"input[name='call {first['key']}'][value=platform]").click()
    row = page.locator(".road .call").filter(has_text=first["name"]).first
    expect(row).to_contain_text(W6)
    at_stand.tablet.go("Next stop")
    card = page.locator(".card")
    at_stand.cab.at(first["platform_from_m"] - 900, 20)
    expect(card).to_contain_text("Platform not as booked")
    expect(card).to_contain_text(W6)
    expect(page.locator(ADVICE)).to_have_count(0)
    at_stand.cab.stand(first["mark_m"][0])
    expect(page.locator(".line.name")).to_contain_text(second["name"].upper())
    expect(page.locator(".line.begin")).to_contain_text("Begin before")


def test_a_stop_passed_is_named_and_asked_about_even_after_a_restart(at_stand: Standing):
    """No card for the stop missed nor for the one after it, until the driver has said."""
    page, (first, second) = at_stand.page, at_stand.stops[:2]
    at_stand.tablet.go("Next stop")
    at_stand.cab.at(first["platform_from_m"] - 600, 25)
    at_stand.cab.at(first["platform_to_m"] + 700, 25)
    expect(page.locator(".card")).to_have_text(W6)
    at_stand.cab.stand(first["platform_to_m"] + 800)
    said = f"No stop was seen at {first['name']}. {ASKED}"
    expect(page.locator(".hand .note").first).to_contain_text(said)
    page.reload()
    page.wait_for_selector(".hand button")
    expect(page.locator(".hand .note").first).to_contain_text(said)
    expect(page.locator(".card")).to_have_text(W6)
    assert at_stand.stations() == []
    page.get_by_role("button", name=re.compile(f" {second['name']}$")).first.click()
    expect(page.locator(".line.name")).to_contain_text(second["name"].upper())


def test_beyond_a_platform_the_next_stops_card_stands_and_the_place_is_said(
    at_stand: Standing,
):
    """The stop behind is never shown as known there; set back, no other trip is thought of."""
    page, (first, second) = at_stand.page, at_stand.stops[:2]
    place, note = page.locator(".place"), page.locator(".hand .note").first
    end = max(first["platform_from_m"], first["platform_to_m"])
    at_stand.tablet.go("Next stop")
    at_stand.cab.at(end - 600, 20)
    expect(page.locator(".line.name")).to_contain_text(first["name"].upper())
    at_stand.cab.at(end + 70, 3)
    expect(place).not_to_contain_text("Position known")
    at_stand.cab.stand(end + 70)
    expect(page.locator(".line.name")).to_contain_text(second["name"].upper())
    expect(place).to_contain_text("Position known")
    beyond = f"Standing beyond {first['name']} platform. The card is for the stop after it."
    expect(note).to_contain_text(beyond)
    at_stand.cab.at(first["mark_m"][0], 2)
    at_stand.cab.stand(first["mark_m"][0])
    expect(page.locator(".line.name")).to_contain_text(second["name"].upper())
    expect(note).to_contain_text(f"Standing at {first['name']}.")


def test_a_position_that_runs_back_is_said_of_the_position_and_not_of_the_train(
    at_stand: Standing,
):
    page, first = at_stand.page, at_stand.stops[0]
    at_stand.tablet.go("Next stop")
    at_stand.cab.at(first["platform_from_m"] - 2_000, 20)
    at_stand.cab.at(first["platform_from_m"] - 1_700, 20)
    at_stand.cab.at(first["platform_from_m"] - 2_300, 20)
    expect(page.locator(".card")).to_have_text(W6)
    expect(page.locator(".place")).to_have_text("Not sure which stop")
    at_stand.cab.stand(first["platform_from_m"] - 2_300)
    said = f"The position went backwards. Advice is off. {ASKED}"
    expect(page.locator(".hand .note").first).to_contain_text(said)


def test_past_a_stop_perhaps_made_the_next_card_is_estimated_until_the_driver_confirms(
    at_stand: Standing,
):
    """Unseen over the stop and its stand. A restart asks."""
    page, (first, second) = at_stand.page, at_stand.stops[:2]
    note, name = page.locator(".hand .note").first, page.locator(".line.name")
    perhaps = f"Not known whether the train stopped at {first['name']}."
    at_stand.tablet.go("Next stop")
    at_stand.cab.at(first["platform_from_m"] - 300, 20)
    at_stand.cab.wait(120)
    at_stand.cab.leap(first["platform_to_m"] + 300)
    at_stand.cab.at(first["platform_to_m"] + 900, 20)
    expect(name).to_contain_text(second["name"].upper())
    expect(page.locator(".place")).to_have_text("Position estimated")
    at_stand.cab.stand(first["platform_to_m"] + 920)
    expect(note).to_contain_text(f"{perhaps} Tap the stop that is next.")
    page.reload()
    page.wait_for_selector(".hand button")
    expect(note).to_contain_text(f"{perhaps} {ASKED}")
    expect(page.locator(".card")).to_have_text(W6)
    page.get_by_role("button", name=re.compile(f" {second['name']}$")).first.click()
    expect(name).to_contain_text(second["name"].upper())


def test_without_any_position_the_timetable_asks_and_the_hand_steps(at_stand: Standing):
    """The stop of the hour is offered at a stand; nothing moves on without a touch."""
    page, stops = at_stand.page, at_stand.stops
    at_stand.ready.depot.stop()  # its clock would say that the tablet's runs ahead
    at_stand.tablet.go("Next stop")
    name = page.locator(".line.name")
    due = at_stand.calls[2]["arrive"] or at_stand.calls[2]["depart"]
    page.evaluate(
        """([hour, minute]) => {
            const now = new Date(Date.now());
            const then = new Date(now);
            then.setHours(hour, minute, 0, 0);
            if (then < now) then.setDate(then.getDate() + 1);
            window.cab.wait((then - now) / 1000 - 60);
        }""",
        [int(part) for part in due.split(":")],
    )
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    at_stand.tablet.go("Brief")
    page.wait_for_selector(".chosen, #trip")
    if page.locator("#trip").count():  # so late it is another run: asked again
        at_stand.tablet.prepare(trip=TRIP)
    at_stand.tablet.go("Next stop")
    expect(name).to_contain_text(stops[0]["name"].upper())  # it has not moved on
    asked = page.get_by_role("button", name=f"Next stop is {stops[2]['name']}")
    expect(asked).to_be_visible()
    expect(page.locator(".place")).to_contain_text("Position unknown")
    page.get_by_role("button", name=f"Show {stops[1]['name']}").click()
    expect(name).to_contain_text(stops[1]["name"].upper())
    asked.click()
    expect(name).to_contain_text(stops[2]["name"].upper())
    expect(asked).to_have_count(0)
    expect(page.locator(".place")).to_contain_text("Position unknown")
