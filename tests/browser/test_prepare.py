"""Preparation, advice off, changed stops and the duty on a real tablet: OPERATIONS.md 2."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.axe import violations
from tests.browser.tablet import Tablet, advice_off, as_booked
from tests.support.server import Server

W6 = "No advice here. Drive to the conditions."
SPOKEN = {
    "wsp": {"works": "Figures as they stand.", "fault": "No advice on leaf film or worse."},
    "sand": {
        "full": "Advice never uses it.",
        "low": "Tell control, as the company's rule says.",
        "unknown": "not known. Advice never uses it.",
        "isolated": "Tell control, as the company's rule says.",
    },
    "isolated": {"0": "All brakes count.", "1": "fewer working brakes", "more": "no advice"},
    "formation": {"other": "no advice with this train", "4": "are for this train"},
}


def show(tablet: Tablet) -> None:
    tablet.page.get_by_role("button", name="Show the stops").click()
    tablet.page.wait_for_selector(".road")


def steps(tablet: Tablet) -> list[str]:
    return tablet.page.locator(".road .call strong").all_inner_texts()


def test_each_answer_says_what_it_changes(tablet: Tablet):
    page = tablet.page
    page.select_option("#trip", "d0812")
    as_booked(page)
    for name, answers in SPOKEN.items():
        for value, words in answers.items():
            page.locator(f"input[name={name}][value='{value}']").click()
            expect(page.locator(f"fieldset:has(input[name={name}]) + .help")).to_contain_text(
                words
            )


MOST_TAPS = 6


def test_a_known_train_needs_six_taps_and_the_way_on_is_in_sight_after_the_last(
    tablet: Tablet,
):
    """No answer is given for the driver: each of the six is his."""
    page = tablet.page
    expect(page.locator("input:checked:not([name=line])")).to_have_count(0)
    page.evaluate("taps = 0; addEventListener('pointerdown', () => taps++, true)")
    due = page.locator(".due button")
    expect(due).to_have_count(3)
    due.first.click()
    expect(page.locator("#trip")).not_to_have_value("")
    expect(due).to_have_count(0)
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    page.get_by_label("Damp", exact=True).click()
    on = page.get_by_role("button", name="Show the stops")
    expect(on).to_be_in_viewport(ratio=1)
    on.click()
    expect(page.locator(".first-screen h1")).to_be_in_viewport()
    assert 0 < page.evaluate("taps") <= MOST_TAPS


def test_of_many_trips_a_time_finds_one_and_the_one_chosen_stays(tablet: Tablet):
    page = tablet.page
    find = page.locator("#trip-find")
    find.fill("8:12")
    found = page.locator("#trip option:not([value=''])")
    texts = found.all_inner_texts()
    assert texts and all("08:12" in text for text in texts)
    page.select_option("#trip", "d0812")
    expect(page.locator("input[name=formation]")).not_to_have_count(0)
    page.locator("#trip-find").fill("no such train")
    expect(page.locator(".field:has(#trip) .help")).to_have_text("No trip found.")
    expect(page.locator("#trip")).to_have_value("d0812")


def test_nothing_is_shown_before_wsp_is_asked_and_a_choice_of_an_older_app_is_asked_again(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    page.select_option("#trip", "d0512")
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.get_by_label("Damp", exact=True).click()
    expect(page.get_by_role("button", name="Show the stops")).to_have_count(0)
    page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    page.evaluate("""async () => {
        const db = await new Promise((done) => {
            indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
        });
        const tx = db.transaction(["kv"], "readwrite");
        const kv = tx.objectStore("kv");
        kv.get("prep").onsuccess = (event) => {
            const { wsp, sand, signs, ...older } = event.target.result;
            kv.put(older, "prep");
        };
        await new Promise((done) => (tx.oncomplete = done));
        db.close();
    }""")
    page.reload()
    page.wait_for_selector("input[name=wsp]")
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    expect(page.locator(".road")).to_have_count(0)


def test_a_wsp_fault_leaves_no_advice_on_leaf_film_and_names_itself(tablet: Tablet):
    tablet.prepare("Leaf film")
    assert W6 not in tablet.page.locator(".road").inner_text()
    tablet.page.get_by_role("button", name="Change").click()
    tablet.page.locator("input[name=wsp][value=fault]").click()
    show(tablet)
    rows = tablet.page.locator(".road .call").all_inner_texts()
    assert rows and all(W6 in text and "WSP fault" in text for text in rows)
    tablet.go("Next stop")
    expect(tablet.page.locator(".card")).to_contain_text(W6)
    expect(tablet.page.locator(".card")).to_contain_text("WSP fault")
    assert tablet.page.locator(".line.begin, .line.worse, .line.speeds").count() == 0


def test_a_wsp_fault_keeps_advice_on_a_damp_rail_but_where_leaf_film_is_listed(
    tablet: Tablet,
):
    tablet.prepare("Damp")
    before = tablet.page.locator(".road .call").all_inner_texts()
    tablet.page.get_by_role("button", name="Change").click()
    tablet.page.locator("input[name=wsp][value=fault]").click()
    show(tablet)
    after = tablet.page.locator(".road .call").all_inner_texts()
    barred = [text for text in after if "WSP fault" in text]
    assert 0 < len([text for text in after if "Begin before" in text]) < len(before)
    assert any("Thrasseby" in text for text in barred)


def test_coupled_types_or_a_pair_not_known_have_no_advice(tablet: Tablet):
    tablet.prepare()
    tablet.page.get_by_role("button", name="Change").click()
    page = tablet.page
    page.locator("input[name=formation][value=other]").click()
    # Another formation is another train: what was said of the former one is asked again.
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    said = "Formation: other, or not known. Drive to the conditions."
    expect(page.locator(".notice.strong")).to_contain_text("No advice with this train.")
    expect(page.locator(".notice.strong")).to_contain_text(said)
    expect(page.get_by_text("Formation: other, or not known")).to_have_count(1)
    expect(page.locator(".overview")).to_contain_text("no stop has a figure")
    expect(page.locator(".worst")).to_have_count(0)
    tablet.go("Next stop")
    expect(page.locator(".card")).to_contain_text(W6)
    expect(page.locator(".card")).to_contain_text("Formation: other, or not known")


def test_another_train_is_asked_for_everything_and_its_rail_state_is_not_called_0_hours_old(
    tablet: Tablet,
):
    page = tablet.page
    tablet.prepare("Wet")
    page.get_by_role("button", name="Change").click()
    page.locator("input[name=sand][value=full]").click()
    page.get_by_role("button", name="Changed ends, attached, detached or another unit").click()
    # The formation first of all: it is what attaching and detaching change.
    for name in ("formation", "isolated", "wsp", "sand"):
        expect(page.locator(f"input[name={name}]:checked")).to_have_count(0)
    expect(page.locator(".notice")).to_contain_text("everything about it is asked again")
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    expect(page.locator(".chosen")).to_contain_text("Train changed: planned as damp.")
    tablet.go("Next stop")
    expect(page.locator(".planned")).to_have_text("Train changed: planned as damp.")
    assert "0 h old" not in tablet.words()
    # It is asked again, else the same one could not be chosen for this train.
    tablet.go("Brief")
    page.get_by_role("button", name="Change").click()
    expect(page.locator("input[name=rail]:checked")).to_have_count(0)
    expect(page.get_by_text("Train changed: planned as damp.")).to_be_visible()
    page.get_by_label("Wet", exact=True).click()
    expect(page.get_by_label("Wet", exact=True)).to_be_checked()
    show(tablet)
    expect(page.locator(".chosen")).to_contain_text("Planned rail: wet")


def test_a_reversal_is_another_end_and_asks_again(tablet: Tablet):
    tablet.prepare("Wet")
    tablet.page.get_by_role("button", name="Change").click()
    up = tablet.page.locator("#trip optgroup").nth(1).locator("option").first
    tablet.page.select_option("#trip", up.get_attribute("value"))
    expect(tablet.page.locator("input[name=wsp]:checked")).to_have_count(0)
    expect(tablet.page.locator("input[name=isolated]:checked")).to_have_count(0)


def test_doors_off_at_a_short_platform_are_told_for_the_long_train_alone(tablet: Tablet):
    tablet.prepare(trip="d0812")
    row = tablet.page.locator(".road .call").filter(has_text="Foxen Hollow")
    expect(row).to_contain_text("doors: first 4 cars only")
    tablet.page.get_by_role("button", name="Change").click()
    tablet.page.locator("input[name=formation][value='4']").click()
    expect(tablet.page.locator("input[name=wsp]:checked")).to_have_count(0)
    tablet.page.locator("input[name=isolated][value='0']").click()
    tablet.page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    expect(row).not_to_contain_text("doors: first")


OFF_IS_KEPT = """async () => {
    const result = (request) => new Promise((done) => {
        request.onsuccess = () => done(request.result);
    });
    const db = await result(indexedDB.open("step-in-hand"));
    const prep = await result(db.transaction("kv").objectStore("kv").get("prep"));
    db.close();
    return Boolean(prep.off);
}"""


@pytest.mark.parametrize(
    ("tapped", "words"),
    [
        *(("Wrong line", "wrong line"), ("Diversion", "diversion"), ("No radio", "no radio")),
        *(("Assisting", "assisting"), ("Other", "driver's choice")),
    ],
)
def test_advice_off_is_a_quiet_entry_at_the_end_and_stays_off_over_a_restart(
    tablet: Tablet, demo_server: Server, tapped: str, words: str
):
    page = tablet.page
    tablet.prepare()
    off, road = (page.locator(one).bounding_box() for one in (".off", ".road"))
    assert off and road and off["y"] > road["y"] + road["height"]
    advice_off(page, tapped)  # one tap is all
    expect(page.locator(".notice.strong")).to_contain_text("Advice is off for this trip.")
    tablet.until(OFF_IS_KEPT)  # shown at once, on the disk a moment later
    page.reload()
    page.wait_for_selector(".road")
    assert "Begin before" not in tablet.words()
    pressed = page.locator(".off button[aria-pressed=true]")
    expect(pressed).to_have_text(tapped)
    on = page.get_by_role("button", name="Switch advice on again")
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    assert page.evaluate("scrollY") > 300
    expect(on).to_be_in_viewport(ratio=1)  # however far the page is scrolled
    tablet.go("Next stop")
    expect(page.locator(".card")).to_contain_text(W6)
    expect(page.locator(".card")).to_contain_text(f"Advice off: {words}")
    page.get_by_role("button", name=re.compile("^Show ")).click()
    expect(page.locator(".card")).to_contain_text(W6)
    page.get_by_role("button", name="Switch advice on again").click()
    expect(page.locator(".card")).not_to_contain_text("Advice off")
    expect(page.locator(".line.begin")).to_have_count(1)


def test_advice_off_ends_with_the_trip(tablet: Tablet):
    tablet.prepare()
    advice_off(tablet.page, "No radio")
    tablet.page.get_by_role("button", name="Change").click()
    tablet.page.select_option("#trip", "u0638")  # the way back, as the train stands
    as_booked(tablet.page)
    tablet.page.locator("input[name=isolated][value='0']").click()
    tablet.page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    expect(tablet.page.locator(".road")).to_contain_text("Begin before")


def test_a_pass_an_extra_call_and_a_doubt_never_show_another_stations_card(tablet: Tablet):
    page = tablet.page
    tablet.prepare("Damp", trip="d0712")
    booked = steps(tablet)
    assert booked[:2] == ["Brinewick", "Ostleford"] and "Foxen Hollow" not in booked
    page.locator("summary[data-key=pattern]").click()
    page.locator("input[name='call brinewick/down'][value=passes]").click()
    expect(page.locator(".road .call strong").first).to_have_text("Ostleford")
    assert steps(tablet)[0] == "Ostleford"
    tablet.go("Next stop")
    expect(page.locator(".line.name")).to_contain_text("OSTLEFORD")
    # No trip of the pack comes to Ostleford from so far back without a stand.
    expect(page.locator(".card")).to_contain_text(W6)
    expect(page.locator(".card")).to_contain_text("Stopping pattern changed")
    tablet.go("Brief")
    page.locator("summary[data-key=pattern]").click()
    page.locator("input[name='call brinewick/down'][value=booked]").click()
    page.locator("input[name='call ostleford/down'][value=unsure]").click()
    page.locator("input[name='extra foxen-hollow/down']").click()
    expect(page.locator("input[name='extra foxen-hollow/down']")).to_be_checked()
    now = steps(tablet)
    assert now.index("Mistlebeck") < now.index("Foxen Hollow") < now.index("Thrasseby")
    row = page.locator(".road .call").filter(has_text="Ostleford")
    expect(row).to_contain_text("Stopping here not sure")
    expect(row).not_to_contain_text("Begin before")
    # It may run past Ostleford, and come to the next stop faster than any figure counts on.
    after = page.locator(".road .call").filter(has_text="Pellow Cross")
    expect(after).to_contain_text("Stopping pattern changed")


def test_a_duty_leads_on_to_its_next_trip_and_asks_at_a_change_of_unit(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare("Wet", trip="d0512")
    page.locator("summary[data-key=duty]").click()
    page.select_option("#duty-trip", "d0612")
    page.get_by_role("button", name="Change of unit").click()
    page.select_option("#duty-trip", "d0712")
    expect(page.locator(".duty-parts li")).to_have_count(4)
    page.reload()
    page.wait_for_selector(".road")
    page.get_by_role("button", name=re.compile("^Next trip: 06:12")).click()
    # It begins where the last one did not end: nobody knows which train this is.
    expect(page.locator("#trip")).to_have_value("d0612")
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    expect(page.locator("h1")).to_contain_text("06:12")
    page.get_by_role("button", name=re.compile("^Next trip: 07:12")).click()
    expect(page.locator("input[name=wsp]")).to_have_count(2)
    expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
    expect(page.locator("#trip")).to_have_value("d0712")
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    show(tablet)
    expect(page.get_by_role("button", name=re.compile("^Next trip"))).to_have_count(0)


def test_at_the_end_of_a_trip_next_stop_offers_the_next_one(tablet: Tablet):
    page = tablet.page
    tablet.prepare("Wet", trip="d0512")
    page.locator("summary[data-key=duty]").click()
    page.select_option("#duty-trip", "d0612")
    tablet.go("Next stop")
    for _ in range(40):
        if page.get_by_role("button", name=re.compile("^Next trip")).count():
            break
        on = page.get_by_role("button", name=re.compile("^(Show |Trip ended)"))
        words = on.inner_text()
        on.click()
        expect(page.get_by_role("button", name=words, exact=True)).to_have_count(0)
    page.get_by_role("button", name=re.compile("^Next trip: 06:12")).click()
    expect(page.locator("#trip")).to_have_value("d0612")


@pytest.mark.parametrize(("size", "scheme"), [("tablet", "light"), ("phone", "dark")])
def test_axe_finds_nothing_in_the_new_states(
    new_tablet: Callable[..., Tablet], demo_server: Server, size: str, scheme: str
):
    tablet = new_tablet(size=size, scheme=scheme)
    tablet.open(demo_server.url)
    tablet.installed()
    tablet.prepare("Damp", trip="d0712")
    page = tablet.page
    found = {}
    for key in ("pattern", "duty"):
        page.locator(f"summary[data-key={key}]").click()
    page.select_option("#duty-trip", "d0812")
    page.locator("input[name=brake-test][value=weak]").click()
    found["brief"] = violations(tablet.page)
    advice_off(page, "No radio")
    found["off"] = violations(tablet.page)
    tablet.go("Next stop")
    found["next, off"] = violations(tablet.page)
    tablet.go("Brief")
    page.get_by_role("button", name="Change").click()
    page.locator("input[name=wsp][value=fault]").click()
    page.locator("input[name=mist]").click()
    page.get_by_role("button", name="Changed ends, attached, detached or another unit").click()
    found["asked again"] = violations(tablet.page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert {name: faults for name, faults in found.items() if faults} == {}
