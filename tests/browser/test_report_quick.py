"""A report takes three taps, waits at any step, and never stands before a red signal."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import Locator, expect

from tests.browser.axe import violations
from tests.browser.conftest import pack_base
from tests.browser.tablet import NEVER_MOVING, Cab, Tablet, as_booked, say_where, written
from tests.support.server import Server
from webapp.commands.cli import cli

W7 = "Saved on this tablet. The signaller does not know. Call now."
W8 = "Before you move: signal, doors."
W10 = "Don't release doors. Don't move. Signaller."
#: The same words in the second language.
NEVER_MOVING_DE = (
    *("sicher", "klar", "in ordnung", "gedeckt", "genug", "erlaubt", "risiko", "verspätet"),
    *("minuten", "sekunden", "prozent", "grün", "rot", "gelb"),
)

# Element times of OFFLINE.md R79: opening glance, then reach and touch for each tap. [s]
GLANCE_S, REACH_S, TOUCH_S = 0.42, 0.54, 0.64


def tap(tablet: Tablet, target: Locator) -> None:
    """Touch what a finger finds there, without any scroll: nothing may lie over it."""
    box = target.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    high = tablet.page.evaluate("innerHeight")
    assert box["y"] >= 0 and box["y"] + box["height"] <= high, (box, high)
    handle = target.element_handle()
    on_top = tablet.page.evaluate(
        "([one, x, y]) => one.contains(document.elementFromPoint(x, y))", [handle, x, y]
    )
    assert on_top, f"something lies over {target}"
    tablet.page.touchscreen.tap(x, y)
    tablet.page.evaluate("window.taps = (window.taps ?? 0) + 1")


@pytest.mark.parametrize(
    ("size", "scheme"), [("wide", "light"), ("phone", "dark"), ("tablet", "dark")]
)
@pytest.mark.parametrize("found", ["Good", "Reportable"])
def test_r79_the_usual_report_is_three_taps_without_a_scroll(
    new_tablet: Callable[..., Tablet],
    demo_server: Server,
    size: str,
    scheme: str,
    found: str,
):
    tablet = new_tablet(size=size, scheme=scheme)
    tablet.open(demo_server.url)
    tablet.installed()
    page = tablet.page
    # Only position names a stop by itself; without it one tap more says where.
    base = pack_base(demo_server, "kettle-bay")
    stop = next(one for one in base["targets"] if one["key"] == "brinewick/down")
    cab = Cab(tablet, base["geometry"])
    tablet.prepare()
    tablet.go("Next stop")
    cab.stand(stop["mark_m"][0])
    expect(page.locator(".hand .note")).to_contain_text("Standing at Brinewick")
    page.evaluate("scrollTo(0, 0)")
    tap(tablet, page.get_by_role("link", name="Report"))
    expect(page.locator(".report h2").first).to_have_text("Signaller first")
    place = page.locator(".say").inner_text()
    assert re.search(r"Brinewick, platform 1, .*; \d\d:\d\d", place), place
    tap(tablet, page.locator("label.choice", has_text=found).first)
    tap(tablet, page.get_by_role("button", name="Save the report"))
    expect(page.locator(".saved")).to_have_text(W7)
    expect(page.locator("section .w8")).to_have_text(W8)
    assert page.locator(".report > *").last.inner_text() == W8
    taps = page.evaluate("window.taps")
    assert taps <= 3
    assert GLANCE_S + taps * (REACH_S + TOUCH_S) <= 3.96 + 1e-9 < 12
    assert demo_server_has(tablet, demo_server, 1)


def demo_server_has(tablet: Tablet, server: Server, count: int) -> bool:
    tablet.go("Outbox")
    expect(tablet.page.get_by_text("Reached the depot, no. ")).to_have_count(count)
    return server.count() == count


STEPS: list[tuple[Callable[[Any], None], Callable[[Any], None]]] = [
    (
        lambda page: page.get_by_label("Reportable").click(),
        lambda page: expect(page.get_by_label("Reportable")).to_be_checked(),
    ),
    (
        lambda page: page.get_by_role("button", name="I told the signaller").click(),
        lambda page: expect(page.locator(".first button")).to_contain_text("Signaller told "),
    ),
    (
        lambda page: page.get_by_label("Slide", exact=True).click(),
        lambda page: expect(page.get_by_label("Slide", exact=True)).to_be_checked(),
    ),
    (
        lambda page: page.get_by_label("Step 2").click(),
        lambda page: expect(page.get_by_label("Step 2")).to_be_checked(),
    ),
    (
        lambda page: page.locator("input[name=sand][value=yes]").evaluate("e => e.click()"),
        lambda page: expect(page.locator(".say").first).to_contain_text("sand used"),
    ),
    (
        lambda page: page.get_by_text("Heavy slide, flats").evaluate("e => e.click()"),
        lambda page: expect(page.locator(".rest input[type=checkbox]").first).to_be_checked(),
    ),
    (
        lambda page: page.get_by_text("Signaller says train").evaluate("e => e.click()"),
        lambda page: expect(page.locator(".say").first).to_contain_text("train not seen"),
    ),
]


@pytest.mark.parametrize("how", ["reload", "kill"])
def test_r79_interrupted_at_every_step_nothing_is_lost(
    tablet: Tablet, demo_server: Server, how: str
):
    tablet.prepare()
    tablet.go("Report")
    for n, (do, _) in enumerate(STEPS, start=1):
        do(tablet.page)
        written(tablet.page)
        if how == "reload":
            tablet.page.reload()
        elif n in {1, 2, len(STEPS)}:
            tablet.kill()
            tablet.start().open(f"{demo_server.url}/#report")
        for _, stands in STEPS[:n]:
            stands(tablet.page)
    say_where(tablet.page)
    tablet.page.get_by_role("button", name="Save the report").click()
    expect(tablet.page.locator(".saved")).to_contain_text("You told the signaller at ")
    assert demo_server_has(tablet, demo_server, 1)
    ((found,),) = demo_server.rows("SELECT item FROM report")
    body = json.loads(found)["body"]
    assert (body["found"], body["happened"], body["step"]) == ("reportable", ["slide"], "2")
    assert body["sand_used"] and body["flats_suspected"] and body["train_not_seen"]
    assert body["told_signaller_at"] and body["target"] == "brinewick/down"


def test_r84_each_tap_is_answered_in_the_same_frame_and_a_double_tap_is_one_report(
    tablet: Tablet, demo_server: Server
):
    """What a tap changes is changed when its event ends; two taps 300 ms apart are one."""
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    say_where(page)
    seen = page.evaluate(
        """() => {
            const by = (text) => [...document.querySelectorAll("button")]
                .find((one) => one.textContent.startsWith(text));
            const found = document.querySelector("input[value=reportable]");
            const took = [];
            const press = (one) => {
                const began = performance.now();
                one.click();
                document.body.getBoundingClientRect();
                took.push(performance.now() - began);
            };
            press(found);
            press(by("I told"));
            const told = document.querySelector(".first button").textContent;
            press(by("Signaller told"));
            press(by("Save"));
            const save = by("Save");
            const message = document.querySelector(".message").textContent;
            return { checked: found.checked, told, disabled: save.disabled, message, took };
        }"""
    )
    assert seen["checked"] and seen["told"].startswith("Signaller told ")
    assert seen["disabled"] and seen["message"] == "Saving"
    assert max(seen["took"]) <= 100, seen["took"]
    expect(page.locator(".saved")).to_have_text(W7)
    page.get_by_role("button", name="Another report").click()
    page.wait_for_timeout(600)
    if page.locator(".saved").count():  # that tap was within half a second of Save
        page.get_by_role("button", name="Another report").click()
    page.get_by_label("Expected").click()
    say_where(page)
    save = page.get_by_role("button", name="Save the report")
    box = save.bounding_box()
    assert box is not None
    at = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*at)
    page.wait_for_timeout(300)
    page.touchscreen.tap(*at)
    page.wait_for_timeout(300)
    expect(page.locator(".saved")).to_have_text(W7)
    assert demo_server_has(tablet, demo_server, 2)


def test_a_report_left_open_does_not_come_back_at_a_red_signal(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Reportable").click()
    start = base["geometry"][0][2]
    cab.at(start + 50, 20)
    cab.at(start + 80, 20)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    cab.stand(start + 300)
    expect(page.locator("body")).not_to_have_class(re.compile("moving"))
    expect(page.locator(".card")).to_be_visible()
    expect(page.locator(".hand .w8")).to_have_text(W8)
    assert page.locator(".report").count() == 0
    tablet.go("Report")
    expect(page.get_by_label("Reportable")).to_be_checked()


@pytest.fixture
def orrin(tablet: Tablet, demo_server: Server) -> tuple[Cab, dict[str, Any]]:
    """The line whose company lets nobody read while moving, but lets a place be marked."""
    base = pack_base(demo_server, "orrin")
    return Cab(tablet, base["geometry"]), base


def drive_dark(tablet: Tablet, cab: Cab, base: dict[str, Any]) -> float:
    trip = base["trips"][0]
    tablet.prepare(line="orrin", trip=trip["key"])
    tablet.go("Next stop")
    sign = next(d["sign"] for d in base["directions"] if d["key"] == trip["direction"])
    first = next(t for t in base["targets"] if t["key"] == trip["calls"][0]["target"])
    place = first["mark_m"][0] + sign * 400
    cab.at(place, 20)
    cab.at(place + sign * 30, 20)
    expect(tablet.page.locator("body")).to_have_class(re.compile("dark-page"))
    return float(place + sign * 30)


def test_a_mark_made_on_the_dark_page_is_a_draft_at_the_next_stand(
    tablet: Tablet, demo_server: Server, orrin: tuple[Cab, dict[str, Any]]
):
    cab, base = orrin
    at = drive_dark(tablet, cab, base)
    page = tablet.page
    assert tablet.words().split("\n") == ["Mark here"]
    # A page that is dark on purpose has no heading and no more to land on.
    assert {rule for rule, _ in violations(tablet.page)} <= {
        "landmark-one-main",
        "page-has-heading-one",
    }
    for _ in range(2):  # twice by mistake: one mark
        page.get_by_role("button", name="Mark here").click(force=True)
        page.wait_for_timeout(50)
    expect(page.locator(".mark-here")).to_have_text("Marked")
    assert page.locator("form, .report, nav a").count() == 0
    cab.stand(at + 600 if at + 600 < base["geometry"][-1][2] else at - 600)
    expect(page.locator(".mark-here")).to_have_count(0)
    waits = page.locator(".hand").get_by_text("It waits under Report.")
    expect(waits).to_have_text(re.compile(r"Marked \d\d:\d\d"))
    expect(page.locator(".hand .w8")).to_have_text(W8)
    tablet.kill()
    tablet.start().open(f"{demo_server.url}/#report")
    page = tablet.page
    page.get_by_label("Reportable").click()
    page.get_by_role("button", name="Save the report").click()
    # Of a place passed on the move nobody is sure: asked, with what lies nearest to the mark.
    expect(page.locator(".asked")).to_have_text("Where was it?")
    page.locator(".tile").first.click()
    expect(page.locator(".saved")).to_have_text(W7)
    assert demo_server_has(tablet, demo_server, 1)
    ((found,),) = demo_server.rows("SELECT item FROM report")
    body = json.loads(found)["body"]
    assert abs(body["at_m"] - at) < 60
    assert "yond" in body["place"] or "etween" in body["place"], body
    assert body["route"] == "orrin" and body["position"]["age_s"] <= 10
    tablet.go("Report")
    expect(page.get_by_label("Reportable")).not_to_be_checked()


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_forbidden_word_is_on_a_moving_page(
    new_tablet: Callable[..., Tablet], demo_server: Server, language: str
):
    """W3 on the card and on the dark page with its one control, in both languages."""
    tablet = new_tablet()
    key = "sih-language"
    tablet.context.add_init_script(f"localStorage.setItem('{key}', '{language}')")
    tablet.open(demo_server.url)
    tablet.installed()
    never = NEVER_MOVING if language == "en" else (*NEVER_MOVING, *NEVER_MOVING_DE)
    page = tablet.page
    for line, trip in (("kettle-bay", "d0712"), ("orrin", None)):
        base = pack_base(demo_server, line)
        cab = Cab(tablet, base["geometry"])
        trip = trip or base["trips"][0]["key"]
        page.evaluate("location.hash = '#brief'")
        page.locator(".chosen button").click() if page.locator(".chosen").count() else None
        page.locator(f"input[name=line][value={line}]").click()
        expect(page.locator(f"#trip option[value='{trip}']")).to_be_attached()
        page.select_option("#trip", trip)
        as_booked(page)
        page.locator("input[name=isolated][value='0']").click()
        page.locator("input[name=wsp][value=works]").click()
        page.locator("input[name=rail]").nth(1).click()
        page.locator("button.confirm").click()
        page.wait_for_selector(".road")
        row = next(one for one in base["trips"] if one["key"] == trip)
        sign = next(d["sign"] for d in base["directions"] if d["key"] == row["direction"])
        first = next(t for t in base["targets"] if t["key"] == row["calls"][0]["target"])
        place = first["mark_m"][0] + sign * 400
        for n in range(3):
            cab.at(place + sign * 30 * n, 20)
        expect(page.locator("body")).to_have_class(re.compile("moving"))
        said = tablet.words().lower()
        assert said.strip()
        bad = [word for word in never if re.search(rf"\b{re.escape(word)}\b", said)]
        assert bad == [], said
        cab.stand(place + sign * 200)
        expect(page.locator("body")).not_to_have_class(re.compile("moving"))


def test_the_overrun_page_holds_its_words_and_nothing_to_touch(
    tablet: Tablet, base: dict[str, Any], cab: Cab
):
    """W10 alone: no control, no link, no form; only the tablet's own back leads away."""
    tablet.prepare()
    tablet.go("Report")
    page = tablet.page
    page.get_by_label("Overrun").click()
    expect(page.locator("main")).to_have_text(W10)
    assert tablet.words().strip() == W10
    controls = "button, a, input, select, textarea, summary, form, [role=button]"
    assert (
        page.locator(controls).evaluate_all("all => all.filter(o => o.checkVisibility())")
        == []
    )
    assert violations(tablet.page) == []
    page.touchscreen.tap(200, 200)
    expect(page.locator("main")).to_have_text(W10)
    page.go_back()
    expect(page.get_by_label("Overrun")).to_be_checked()
    expect(page.locator(".decide")).to_have_text("Tell the signaller.")
    page.get_by_label("Stopped short").click()
    expect(page.locator("main")).to_have_text("Doors closed. Local instructions.")
    assert tablet.words().strip() == "Doors closed. Local instructions."
    start = base["geometry"][0][2]
    for n in range(3):
        cab.at(start + 50 + 30 * n, 20)
    cab.stand(start + 400)
    expect(page.locator(".card")).to_be_visible()


def test_slide_words_are_the_train_types_own_and_the_company_comes_first(tablet: Tablet):
    page = tablet.page
    page.evaluate("location.hash = '#slide'")
    w4 = page.locator(".w4")
    expect(w4).to_have_text(
        "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand."
    )
    page.evaluate("location.hash = '#brief'")
    tablet.prepare()
    page.evaluate("location.hash = '#slide'")
    expect(w4).to_have_text(
        "Sliding: hold step 2. Not slowing as it should: EMERGENCY, hold to a stand."
    )
    expect(page.locator(".slide")).to_contain_text(
        "always the same for this train type, signed by the company"
    )
    expect(page.locator(".slide .own")).to_have_text(
        "Your company's own instructions come first."
    )


def test_the_depots_answer_comes_back_to_the_tablet_and_stays(
    tablet: Tablet, demo_server: Server
):
    tablet.prepare()
    tablet.report()
    assert demo_server_has(tablet, demo_server, 1)
    page = tablet.page
    assert "Depot:" not in page.locator(".reports").inner_text()
    done = CliRunner().invoke(
        cli,
        [
            *("report", "answer", "1", "--warned", "6", "--who", "a test"),
            *("--data", str(demo_server.data)),
        ],
    )
    assert done.exit_code == 0, done.output
    page.evaluate("dispatchEvent(new Event('online'))")
    answer = page.locator(".report-row .answer")
    expect(answer).to_have_text("Depot: warned 6 trains.")
    assert violations(tablet.page) == []
    tablet.context.set_offline(True)
    page.reload()
    expect(answer).to_have_text("Depot: warned 6 trains.")
