"""The Next stop card in a moving cab: few words, no control, nothing changes when frozen."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.tablet import NEVER_MOVING, Cab, Tablet, card_words

# The one fixed sentence that holds a forbidden word ("enough"): OPERATIONS.md 1.13.
FIXED = "No speed is enough here. Special working: ask the signaller."
NO_ADVICE = "No advice here. Drive to the conditions."
TRIP = "d0512"


def calls(base: dict[str, Any], trip: str = TRIP) -> list[dict[str, Any]]:
    found = next(one for one in base["trips"] if one["key"] == trip)
    targets = {target["key"]: target for target in base["targets"]}
    return [targets[call["target"]] for call in found["calls"]]


def forbidden(words: str) -> list[str]:
    rest = words.replace(FIXED, " ")
    return [word for word in NEVER_MOVING if re.search(rf"(?i)\b{word}\b", rest)]


def test_the_search_for_forbidden_words_finds_them():
    assert forbidden("Not LATE, 3 per cent") == ["late", "per cent"]
    assert forbidden(f"{FIXED} Slate siding") == []


@pytest.mark.parametrize("state", ["Dry", "Leaf film"])
def test_every_stop_of_a_trip_while_moving(
    tablet: Tablet, base: dict[str, Any], cab: Cab, state: str
):
    tablet.prepare(state)
    tablet.go("Next stop")
    page = tablet.page
    stops = calls(base)
    start = base["geometry"][0][2] + 50
    for number, stop in enumerate(stops):
        expect(page.locator(".line.name")).to_contain_text(stop["name"].upper())
        cab.at(start, 20)
        cab.at(start + 30, 20)
        expect(page.locator("body")).to_have_class(re.compile("moving"))
        card = card_words(page)
        assert 3 <= len(card) <= 25, card
        assert forbidden(tablet.words()) == []
        expect(page.locator(".w1")).to_have_text("Platform stop only. Signals first.")
        touch = ("button", "a", "input", "select", "summary", "textarea", "svg")
        assert page.locator(", ".join(f"{one}:visible" for one in touch)).count() == 0
        cab.stand(start)
        if number + 1 < len(stops):
            page.get_by_role("button", name=f"Show {stops[number + 1]['name']}").click()


def test_a_short_ride_steps_on_by_itself_and_survives_a_restart(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    tablet.prepare()
    tablet.go("Next stop")
    name = tablet.page.locator(".line.name")
    first, second = calls(base)[:2]
    mark = first["mark_m"][0]
    cab.at(first["platform_from_m"] - 1_500, 20)
    cab.stand(first["platform_from_m"] - 40)  # a signal just short of the platform
    cab.at(first["platform_from_m"] - 20, 6)
    expect(name).to_contain_text(first["name"].upper())
    cab.stand(mark)  # the next card is for reading while the train stands
    expect(name).to_contain_text(second["name"].upper())
    cab.at(mark + 5, 4)
    cab.at(first["platform_to_m"] + 60, 12)
    expect(name).to_contain_text(second["name"].upper())
    tablet.page.reload()
    tablet.page.wait_for_selector(".line.name")
    expect(name).to_contain_text(second["name"].upper())


def test_set_geolocation_alone_gives_speed_enough_to_follow(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    """Without a speed from the receiver it comes from the way between fixes."""
    tablet.prepare()
    tablet.go("Next stop")
    at = calls(base)[0]["platform_from_m"] - 3_000
    for step in range(4):
        lon, lat = cab.place(at + 40 * step)
        tablet.context.set_geolocation({"latitude": lat, "longitude": lon, "accuracy": 8})
        tablet.page.wait_for_timeout(900)
    expect(tablet.page.locator("body")).to_have_class(re.compile("moving"))


def test_a_stop_run_through_gives_no_card_for_another(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    tablet.prepare()
    tablet.go("Next stop")
    stop = calls(base)[0]
    cab.at(stop["platform_from_m"] - 200, 25)
    expect(tablet.page.locator("body")).to_have_class(re.compile("moving"))
    cab.at(stop["platform_to_m"] + 400, 25)
    expect(tablet.page.locator(".card")).to_have_text(NO_ADVICE)


def test_frozen_from_30_s_before_the_earlier_mark_to_the_stand(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    page = tablet.page
    stop = calls(base)[0]
    # Chosen so long ago that it runs out (3 h) while the card is frozen.
    tablet.prepare("Wet")
    cab.wait(3 * 3600 - 80)
    tablet.go("Next stop")
    expect(page.locator(".planned")).to_have_text("Planned rail: wet")
    cab.at(stop["platform_from_m"] - 2_500, 30)
    cab.at(stop["platform_from_m"] - 900, 30)
    cab.at(stop["platform_from_m"] - 890, 30)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    expect(page.locator(".hand")).to_be_empty()
    # The word of how sure the place is stands apart: it may come to say less.
    before = [page.locator(part).inner_text() for part in (".card", ".planned")]
    page.evaluate(
        """() => {
            window.changes = 0;
            for (const part of document.querySelectorAll(".card, .planned")) {
                new MutationObserver((all) => (window.changes += all.length)).observe(
                    part, { childList: true, subtree: true, characterData: true },
                );
            }
        }"""
    )
    cab.wait(25)
    for metres, speed in ((600, 25), (300, 20), (100, 12), (20, 5)):
        cab.at(stop["platform_from_m"] - metres, speed)
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert [page.locator(part).inner_text() for part in (".card", ".planned")] == before
    assert page.evaluate("window.changes") == 0
    cab.stand(stop["mark_m"][0])
    expect(page.locator(".planned")).to_have_text("Rail state 3 h old: planned as damp.")


def test_boxes_stay_where_they_are_and_letters_are_large(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    """Cap height of at least 20 arcmin at 70 cm: 25.7 px at 160 px to the inch."""
    places = set()
    for state in ("Dry", "Damp", "Leaf film"):
        tablet.prepare(state)
        tablet.go("Next stop")
        page = tablet.page
        boxes = page.eval_on_selector_all(
            ".w1, .line.name, .line.begin, .line.worse",
            "all => all.map((one) => [one.className, one.getBoundingClientRect().top])",
        )
        places.add(str(boxes))
        heights = page.eval_on_selector_all(
            ".drive p:not(.hand *) , .card .main, .card .lead, .card .tail",
            """all => all.map((one) => {
                const style = getComputedStyle(one);
                const pen = document.createElement("canvas").getContext("2d");
                pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
                return pen.measureText("H").actualBoundingBoxAscent;
            })""",
        )
        assert min(heights) >= 25.7
        assert max(heights) >= 38.5  # the main figure: 30 arcmin
        tablet.go("Brief")
        page.get_by_role("button", name="Change").click()
    assert len(places) == 1, places


def test_no_position_is_ever_kept(tablet: Tablet, base: dict[str, Any], cab: Cab):
    tablet.prepare()
    tablet.go("Next stop")
    for metres in (2_000, 1_500, 1_000):
        cab.at(calls(base)[0]["platform_from_m"] - metres, 20)
    cab.stand(calls(base)[0]["mark_m"][0])
    cab.at(calls(base)[0]["platform_to_m"] + 60, 20)
    kept = tablet.page.evaluate(
        """async () => {
            const db = await new Promise((done) => {
                indexedDB.open("step-in-hand").onsuccess = (e) => done(e.target.result);
            });
            const all = {};
            for (const name of ["kv", "outbox", "receipts"]) {
                const store = db.transaction(name).objectStore(name);
                const [keys, values] = await Promise.all(
                    ["getAllKeys", "getAll"].map((ask) => new Promise((done) => {
                        store[ask]().onsuccess = (e) => done(e.target.result);
                    })),
                );
                keys.forEach((key, i) => (all[`${name}/${key}`] = values[i]));
            }
            db.close();
            return JSON.stringify({ all, local: { ...localStorage } });
        }"""
    )
    assert '"follow"' in kept or "kv/follow" in kept
    assert not re.search(r"latitude|\"lat\"|\"lon\"|accuracy|at_m", kept)
    sent = [url for url in tablet.requests if re.search(r"[?&](lat|lon|at|position)", url)]
    assert sent == []
