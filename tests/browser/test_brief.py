"""The Brief: read in a minute on the platform, and what changed stands on top."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from playwright.sync_api import expect

from calc.result import OK
from tests.browser.look import Look
from tests.browser.tablet import Tablet, as_booked
from tests.browser.test_warnings import ENDED, LEAF_AT_CORVANE, command, sync
from tests.static.test_road import WORDS_PER_MINUTE
from tests.support.demo_packs import demo_packs
from tests.support.server import Server
from webapp.lines.advice import within_season
from webapp.lines.columns import ALL_THE_WAY
from webapp.lines.lookup import look_up


def show(tablet: Tablet) -> None:
    tablet.page.get_by_role("button", name="Show the stops").click()
    tablet.page.wait_for_selector(".road")


def again(tablet: Tablet, trip: str) -> None:
    """Open the Brief for another trip."""
    page = tablet.page
    page.get_by_role("button", name="Change").click()
    page.select_option("#trip", trip)
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    show(tablet)


def test_what_changed_since_the_last_brief_of_this_line_stands_on_top(
    tablet: Tablet, demo_server: Server
):
    page, top = tablet.page, tablet.page.locator(".since")
    tablet.prepare()
    expect(top).to_contain_text("nothing to compare with")
    again(tablet, "d0612")
    expect(top).to_contain_text("Nothing new on this tablet")
    warning = command(demo_server, "publish", *LEAF_AT_CORVANE)
    sync(tablet)
    expect(top).to_contain_text("New warning: Leaf film, 21 mi 00 ch to 21 mi 15 ch")
    page.reload()
    page.wait_for_selector(".road")
    expect(top).to_contain_text("New warning: Leaf film")
    again(tablet, "d0712")
    expect(top).to_contain_text("Nothing new on this tablet")
    command(demo_server, "end", warning, "--rev", "2", *ENDED)
    sync(tablet)
    expect(top).to_contain_text("No longer warned: Leaf film")
    expect(top).to_contain_text("Not a promise of grip.")
    above = page.evaluate(
        """() => document.querySelector(".since").getBoundingClientRect().bottom
            <= document.querySelector(".road").getBoundingClientRect().top"""
    )
    assert above


SEEN_WORDS = """() => {
    const under = Math.min(...["#foot", "#nav"].map((one) => document.querySelector(one))
        .filter((one) => one.getClientRects().length)
        .filter((one) => getComputedStyle(one).position === "sticky")
        .map((one) => one.getBoundingClientRect().top), innerHeight);
    const main = document.querySelector("main");
    const walk = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
    const seen = [];
    for (let text = walk.nextNode(); text; text = walk.nextNode()) {
        for (const word of text.data.matchAll(/\\S+/g)) {
            const range = document.createRange();
            range.setStart(text, word.index);
            range.setEnd(text, word.index + word[0].length);
            const box = range.getBoundingClientRect();
            if (box.height > 0 && box.top < under && box.bottom > 0) seen.push(word[0]);
        }
    }
    const tabs = document.querySelectorAll("nav, #foot");
    return [...seen, ...[...tabs].flatMap((one) => one.innerText.split(/\\s+/))];
}"""
WHY = re.compile("listed|buffers|If worse")
#: What is claimed first, whatever the size of the letters.
CLAIMS = (".chosen", ".bare", ".since", ".worst", ".common", ".overview", ".w5")
MOST_BEFORE_THE_FIRST_SCROLL = 120


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("profile", ["nominal", "phone", "nominal flat"])
def test_one_screen_first_with_at_most_120_words_in_the_order_of_its_claims(
    look: Look, profile: str, language: str
):
    """All that is seen before the first scroll, tabs and all, on every rail."""
    look.dress(profile, "day", language)
    for rail in range(5):
        look.prepare(rail, "d0512")
        seen = look.page.evaluate(SEEN_WORDS)
        print(f"{profile} {language} rail {rail}: {len(seen)} words", end="; ")
        assert 30 < len(seen) <= MOST_BEFORE_THE_FIRST_SCROLL, " ".join(seen)
        assert in_order(look), (profile, rail)
        assert look.page.evaluate(WAYS_ON), "the ways on are in sight and whole"
        assert look.page.evaluate(CROSSED) == []
        look.page.locator(".chosen button").click()


#: Whole words in whole boxes above the tabs, before anything is scrolled.
WAYS_ON = """() => {
    const tabs = document.querySelector("nav").getBoundingClientRect().top;
    const ways = [...document.querySelectorAll(".jumps button")]
        .filter((one) => one.getClientRects().length);
    return ways.length > 2 && ways.every((one) =>
        one.getBoundingClientRect().bottom <= tabs && one.scrollWidth <= one.clientWidth);
}"""
#: Names of stops that run into what stands beside them.
CROSSED = """() => [...document.querySelectorAll(".worst li")]
    .map((one) => [one.querySelector("strong"), one.querySelector(".where")])
    .filter(([name, where]) => {
        const range = document.createRange();
        range.selectNodeContents(name);
        const [a, b] = [range.getBoundingClientRect(), where.getBoundingClientRect()];
        return getComputedStyle(name.parentElement).display === "grid" && b.width > 0
            && a.right > b.left && a.top < b.bottom && b.top < a.bottom;
    })
    .map(([name]) => name.textContent)"""


def in_order(look: Look) -> bool:
    tops = look.page.evaluate(
        """(parts) => parts.map((part) => document.querySelector(".first-screen > " + part))
            .filter((one) => one !== null)
            .map((one) => Math.round(one.getBoundingClientRect().top))""",
        list(CLAIMS) if "flat" not in look.profile else list(CLAIMS[:4]),
    )
    return bool(tops == sorted(tops))


@pytest.mark.parametrize("state", ["Damp", "Leaf film"])
def test_the_first_screen_names_what_needs_more_and_leads_to_the_rest(
    tablet: Tablet, state: str
):
    page = tablet.page
    tablet.prepare(state)
    first = page.locator(".first-screen")
    expect(first.locator(".worst li")).not_to_have_count(0)
    expect(first.locator(".worst li").first).to_contain_text("before")
    expect(first.locator(".worst .why").first).to_have_text(WHY)
    expect(first).to_contain_text("brake earlier than usual")
    stops = len(page.locator(".road").inner_text().split())
    print(f"{state}: {stops} words on the road, {60 * stops / WORDS_PER_MINUTE:.0f} s")
    assert stops <= WORDS_PER_MINUTE
    row = page.locator(".road > .changed:not(.buffers) > .row:visible").first
    expect(row.locator(".speeds")).to_be_hidden()
    page.get_by_role("button", name="All 17 stops").click()  # one touch
    expect(page.get_by_role("heading", name="All 17 stops")).to_be_focused()
    expect(page.locator(".road .origin")).to_be_in_viewport()
    page.keyboard.press("Tab")
    expect(page.locator(".road :focus")).to_have_count(1)
    row.locator("summary").click()
    if row.locator(".speeds").count():
        expect(row.locator(".speeds")).to_be_visible()


def test_plain_stops_open_by_the_keyboard_and_stay_open_when_news_divides_them(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare("Leaf film")
    head = page.locator(".run-head").first
    expect(head).to_contain_text("Brinewick to Foxen Hollow")
    expect(head).to_have_attribute("aria-expanded", "false")
    first, last = (
        page.locator(".road .call", has_text=name).locator("visible=true").first
        for name in ("Brinewick", "Foxen Hollow")
    )
    expect(first).to_be_hidden()
    head.focus()
    page.keyboard.press("Enter")
    expect(head).to_have_attribute("aria-expanded", "true")
    expect(first).to_be_visible()
    expect(last).to_be_visible()
    command(demo_server, "publish", *LEAF_AT_CORVANE)
    sync(tablet)
    expect(page.locator(".road > .call > .row", has_text="warned")).to_be_visible()
    heads = page.locator(".run-head")
    expect(heads.nth(0)).to_contain_text("Brinewick to Pellow Cross")
    expect(heads.nth(0)).to_be_focused()
    expect(heads.nth(1)).to_contain_text("Wrayling to Foxen Hollow")
    expect(first).to_be_visible()
    expect(last).to_be_visible()
    heads.nth(1).click()
    expect(last).to_be_hidden()
    expect(first).to_be_visible()


def test_signs_make_the_planned_rail_worse_with_the_reason_and_stay(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare("Wet")
    page.get_by_role("button", name="Change").click()
    page.locator("input[name=mist]").click()
    expect(page.locator(".prepare")).to_contain_text("Planned as damp: mist.")
    show(tablet)
    expect(page.locator(".chosen")).to_contain_text("Planned rail: damp, for mist")
    page.reload()
    page.wait_for_selector(".road")
    expect(page.locator(".chosen")).to_contain_text("Planned rail: damp, for mist")
    page.get_by_role("button", name="Change").click()
    page.locator("input[name=leaves]").click()
    show(tablet)
    expect(page.locator(".chosen")).to_contain_text(
        "Planned rail: leaf film, for mist, leaves"
    )


def test_signals_brake_tests_and_doors_are_those_of_the_trip_in_order_of_travel(
    tablet: Tablet, base: dict[str, Any]
):
    tablet.prepare()
    signals = tablet.page.locator(".signals")
    expect(signals).to_contain_text("This tablet cannot see aspects.")
    expect(signals).to_contain_text("Never pass a signal at danger.")
    down = [one for one in base["signals"] if one["direction"] == "down"]
    wanted = [
        f"{one['words']}: at danger, stop before {one['stop_before']}"
        for one in sorted(down, key=lambda one: one["at_m"])
    ]
    assert len(wanted) == 3
    assert signals.locator("li strong").all_inner_texts() == wanted
    tests = tablet.page.locator(".brake-test li strong").all_inner_texts()
    assert tests == ["by Larch Brook bridge", "by signal 221"]


def test_a_weak_running_brake_test_is_a_brake_problem_first(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare()
    page.locator("input[name=brake-test][value=weak]").click()
    expect(page.locator(".brake-test .notice")).to_have_text(
        "Weaker than it should be. Treat as a brake fault: follow local instructions, "
        "tell the signaller."
    )
    # Every figure counts on the whole brake.
    expect(page.locator(".road")).not_to_contain_text("Brake test weak")  # said once, above
    expect(page.locator(".road .part.begin")).to_have_count(0)
    # No figure is not a figure of nothing: neither driver nor control is told so.
    expect(page.locator(".overview")).to_contain_text("no stop has a figure")
    expect(page.locator(".overview")).not_to_contain_text("min more")
    expect(page.locator(".worst")).to_have_count(0)
    expect(page.locator(".say")).not_to_contain_text("nothing added")
    expect(page.locator(".say")).not_to_contain_text("Words for control")
    page.reload()
    page.wait_for_selector(".road")
    expect(page.locator(".brake-test .notice")).to_be_visible()
    tablet.go("Next stop")
    expect(page.locator(".card")).to_contain_text("No advice here. Drive to the conditions.")
    expect(page.locator(".card")).to_contain_text("Brake test weak")
    tablet.go("Brief")
    page.locator("input[name=brake-test][value=good]").click()
    expect(page.locator(".road .part.begin").first).to_be_visible()


def test_control_gets_one_sentence_with_the_allowance_of_the_whole_trip(tablet: Tablet):
    tablet.prepare("Leaf film")
    said = tablet.page.locator(".say").inner_text()
    asked = re.search(r"Allow (\d+) min more", tablet.page.locator(".overview").inner_text())
    assert asked and f"planned rail leaf film, allow {asked[1]} min more" in said
    assert "Minutes lost to this approach are the company's." in tablet.words()


def test_the_hand_over_tells_what_was_met_with_which_train_and_sand(tablet: Tablet):
    page = tablet.page
    tablet.prepare()
    page.get_by_role("button", name="Change").click()
    page.locator("input[name=sand][value=low]").click()
    show(tablet)
    expect(page.locator(".say")).to_contain_text("sand low")
    expect(page.locator(".say")).to_contain_text("That says nothing about the rail.")
    tablet.report()
    tablet.go("Brief")
    said = page.locator(".say")
    expect(said).to_contain_text(re.compile(r"\d\d:\d\d Brinewick, reportable, slide"))
    expect(said).not_to_contain_text("That says nothing about the rail.")


def test_buffers_on_a_dry_rail_add_no_mark_and_keep_their_ladder(tablet: Tablet):
    tablet.prepare("Dry")
    row = tablet.page.locator(".road .call").last
    expect(row).to_contain_text("No mark added.")
    expect(row).not_to_contain_text("Nothing added")
    expect(row).to_contain_text(re.compile(r"Not above .*last board"))


def test_the_printed_sheet_holds_the_road_and_no_control(tablet: Tablet):
    tablet.prepare("Leaf film")
    page = tablet.page
    page.emulate_media(media="print")
    for kind in ("nav", ".brief button", ".brief .set"):
        assert page.locator(f"{kind}:visible").count() == 0, kind
    for part in (".since", ".worst", ".signals", ".road", ".say", ".w5"):
        assert page.locator(part).first.is_visible(), part
    expect(page.locator(".road .call:visible")).to_have_count(17)
    assert page.locator(".run-head:visible").count() == 0


def test_with_a_warning_in_force_it_is_one_sheet_of_times_and_no_ages_whatever_was_open(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare("Leaf film")
    command(demo_server, "publish", *LEAF_AT_CORVANE)
    sync(tablet)
    expect(page.locator(".warnings")).to_contain_text("Warned")
    page.emulate_media(media="print")
    before = page.locator(".brief").inner_text()
    page.emulate_media(media="screen")
    page.locator(".run-head:visible").first.click()
    page.locator(".road .row:visible > summary").first.click()
    page.locator(".duty > summary").click()
    page.emulate_media(media="print")
    assert page.locator(".brief").inner_text() == before
    assert "Corvane" in before
    for age in ("just now", "min old", "h old"):
        assert age not in before, age
    sheets = page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheets)) == 1


def test_the_longest_trip_on_the_worst_rail_is_one_sheet_in_any_light(look: Look):
    """17 stops and 3 reductions on A4, with the paper white and the ink black."""
    look.dress("10-inch", "night")
    look.prepare(trip="d0512")
    margin = dict.fromkeys(("top", "bottom", "left", "right"), "10mm")
    sheets = look.page.pdf(format="A4", margin=margin, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheets)) == 1
    look.page.emulate_media(media="print")
    colours = look.page.evaluate(
        """() => {
            const style = getComputedStyle(document.querySelector(".brief"));
            return [style.backgroundColor, style.color];
        }"""
    )
    look.page.emulate_media(media="screen")
    assert colours == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]


#: Line, trip and rail: whether hardly any room for a patch is the rule there.
ROOM = (("orrin", "Leaf film", True), ("kettle-bay", "Dry", False))


@pytest.mark.parametrize(("line", "rail", "rule"), ROOM)
def test_hardly_any_room_for_a_patch_is_said_once_where_it_is_the_rule(
    tablet: Tablet, demo_server: Server, line: str, rail: str, rule: bool
):
    """The depot's own look-up says at which stops; no figure of metres stands for them."""
    page = tablet.page
    pack = demo_packs(demo_server.data)[line]
    trip = next(one for one in pack["base"]["trips"] if len(one["calls"]) > 9)
    tablet.prepare(rail, trip["key"], line)
    said = page.locator(".first-screen .bare-hand").filter(has_text="slippery patch on this")
    expect(said).to_have_count(1 if rule else 0)
    seen = []
    for key, cover in covers(pack, trip, rail):
        if page.locator(f"[data-key='run:{key}'][aria-expanded=false]").count():
            page.locator(f"[data-key='run:{key}']").click()
        row = page.locator(f".row:has(> [data-key='{key}'])")
        row.evaluate("(one) => { one.open = true; }")
        inside = row.locator(".inside")
        expect(inside.locator("p")).not_to_have_count(0)
        words = inside.inner_text()
        metres = re.search(r"patch of (\d+) m|patch reaching to the limit", words)
        assert bool(metres) == (cover >= LEAST_FIGURE), (key, cover, words)
        told = "room for a slippery patch here" in words
        assert told == (cover == 0 or (cover < LEAST_FIGURE and not rule)), (key, cover, words)
        seen.append(cover < LEAST_FIGURE)
    assert (2 * sum(seen) > len(seen)) == rule
    assert 0 < sum(seen) < len(seen), "both kinds were met"


LEAST_FIGURE = 150


def covers(pack: dict[str, Any], trip: dict[str, Any], rail: str) -> list[tuple[str, float]]:
    """Stops of a trip with advice today, and the patch covered there [m]."""
    base, day = pack["base"], date.today().strftime("%m-%d")
    keys = [target["key"] for target in base["targets"]]
    state = next(n for n, one in enumerate(base["states"]) if one["name"] == rail)
    train = next(
        n
        for n, one in enumerate(base["trains"])
        if one["formation"] == trip["formation"] and one["isolated_cars"] == 0
    )
    listed = {one["key"]: one["season"] for one in base["listed"]}
    found = []
    for call in trip["calls"]:
        at = keys.index(call["target"])
        season = any(within_season(listed[k], day) for k in base["targets"][at]["listed"])
        where = {"target": at, "train": train, "state": state, "season": int(season)}
        one = look_up(base, pack["table"], **where, speed=None)
        if one["status"] == OK:
            endless = one["cover"] == ALL_THE_WAY
            found.append((call["target"], float("inf") if endless else one["cover"]))
    return found
