"""Four lights, every eye: contrast, night, colour vision, forced colours, from drawn pixels.

The figures are design targets (OFFLINE.md section 5; WCAG 2.2 for the formulas), not a claim
of approval.
"""

from __future__ import annotations

import base64
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from tests.browser.look import (
    LIGHTS,
    SCREENS,
    STATES,
    Look,
    luminance,
    of_colours,
    pixels,
    ratio,
)
from tests.browser.tablet import unfold

Light = npt.NDArray[np.float64]
Faint = list[tuple[str, float]]

LETTERED = "p, h1, h2, .tab, button, .choice, legend, label, .note, summary"
EDGED = "button, .control, select, textarea, .choice, input:not([type=radio], [type=checkbox])"
BOXES = """(all) => all.filter((one) => one.checkVisibility())
    .map((one) => [one.className || one.tagName, one.getBoundingClientRect().toJSON(),
        one.textContent.trim() !== ""])"""


TABS_TOP = """() => Math.min(...[...document.querySelectorAll("nav, #foot, .save")]
    .filter((one) => one.checkVisibility()).map((one) => one.getBoundingClientRect().top))"""


def faint_letters(look: Look, light: Light, selector: str) -> Faint:
    """Boxes whose letters stand less than 7 to 1 from their ground."""
    drawn = []
    for name, box, worded in look.page.eval_on_selector_all(selector, BOXES):
        top, bottom, left, right = (int(box[s]) for s in ("top", "bottom", "left", "right"))
        part = light[max(top, 0) : bottom, max(left, 0) : right]
        if not worded or part.shape[0] < 20 or part.shape[1] < 20:
            continue
        ground = float(np.median(part))
        drawn.append((name, max(ratio(ground, part.min()), ratio(ground, part.max()))))
    assert drawn, selector
    return [one for one in drawn if one[1] < 7]


def faint_edges(look: Look, light: Light, selector: str, inside: int = 4) -> Faint:
    """Boxes whose left edge is less than 3 to 1 from what is beside it."""
    found = []
    tabs = look.page.evaluate(TABS_TOP)
    for name, box, _ in look.page.eval_on_selector_all(selector, BOXES):
        left, top, bottom = (round(box[s]) for s in ("left", "top", "bottom"))
        if left < 12 or top < 0 or bottom > light.shape[0] or bottom - top < 20:
            continue  # not on the screen just now
        if top < tabs < bottom - 8:
            continue  # half of it is below the tabs
        rows = slice(top + 8, bottom - 8)
        ground = float(np.median(light[rows, left - 12 : left - 9]))
        strip = light[rows, left - 8 : left + inside]
        found.append((name, max(ratio(ground, strip.min()), ratio(ground, strip.max()))))
    return [one for one in found if one[1] < 3]


def not_dazzling(look: Look, light: Light, name: str) -> None:
    """Own numbers: a mean of 0.05 at most, and 2 square centimetres above a half."""
    assert light.mean() <= 0.05, name
    assert (light > 0.5).sum() <= 2 * (look.mm * 10) ** 2, name


@pytest.mark.parametrize("theme", LIGHTS)
def test_r75_r76_contrast_in_every_light_screen_and_state(look: Look, theme: str):
    """Letters 7 to 1, edges of what can be touched 3 to 1; disabled, stale and focused too."""
    look.dress("nominal", theme)
    page = look.page
    faint: dict[str, Faint] = {"asking": faint_edges(look, look.luminance(), EDGED)}
    look.prepare()
    for name in SCREENS:
        look.visit(name)
        light = look.luminance()
        faint[name] = faint_letters(look, light, LETTERED) + faint_edges(look, light, EDGED)
        if theme == "night":
            not_dazzling(look, light, name)
        if name in ("report", "enrol"):
            faint[f"{name} in use"] = touched(look)
    look.visit("brief")
    unfold(page)
    page.locator(".road summary").first.click()
    page.wait_for_selector(".chart")
    faint["chart"] = faint_lines(look)
    look.mount()
    for name, view, how in STATES:
        look.show(view, how)
        light = look.luminance()
        faint[name] = faint_letters(look, light, ".drive p")
        faint[name] += faint_edges(look, light, ".drive .line.begin", 12)
        if theme == "night":
            not_dazzling(look, light, name)
    assert {name: found for name, found in faint.items() if found} == {}


def touched(look: Look) -> Faint:
    """What the keyboard stands on, then everything switched off as while it is saved."""
    look.page.keyboard.press("Tab")
    on = ":focus-visible:not(.choice *), .choice:has(:focus-visible)"
    assert look.page.locator(on).count() == 1
    found = faint_edges(look, look.luminance(), on, 0)
    look.page.eval_on_selector_all(
        "main button", "all => all.forEach((b) => b.disabled = true)"
    )
    off, light = "main button:disabled", look.luminance()
    if look.page.locator("main button").count():
        look.page.locator(off).first.scroll_into_view_if_needed()
        light = look.luminance()
        found += faint_letters(look, light, off) + faint_edges(look, light, off)
    return found


def faint_lines(look: Look) -> Faint:
    """Lines of the picture by the colour they are drawn in, against the sheet."""
    found: Any = look.page.evaluate(
        """() => {
            const numbers = (colour) => colour.match(/[\\d.]+/g).slice(0, 3).map(Number);
            const chart = document.querySelector(".chart");
            const sheet = numbers(getComputedStyle(chart).backgroundColor);
            return [...chart.querySelectorAll("line, path, polyline")]
                .map((one) => [one, getComputedStyle(one)])
                .filter(([, style]) => style.stroke !== "none")
                .map(([one, { stroke }]) => [one.classList[0], sheet, numbers(stroke)]);
        }"""
    )
    # The grid helps to read and says nothing by itself.
    lines = [one for one in found if one[0] != "grid"]
    assert len(lines) > 5
    contrasts = [(n, ratio(*of_colours([sheet, line]))) for n, sheet, line in lines]
    return [one for one in contrasts if one[1] < 3]


def test_r76_no_frame_is_bright_at_night_at_a_start_or_a_change_of_page(look: Look):
    """Every frame the browser puts on the screen, from the first, while the sheet is late."""
    look.dress("nominal", "night")
    look.prepare()
    frames: list[tuple[str, bytes]] = []
    doing = "start"

    def keep(event: Any) -> None:
        frames.append((doing, base64.b64decode(event["data"])))
        look.cdp.send("Page.screencastFrameAck", {"sessionId": event["sessionId"]})

    def late(route: Any) -> None:
        look.page.wait_for_timeout(150)
        route.continue_()

    look.cdp.on("Page.screencastFrame", keep)
    look.tablet.context.route("**/*.css", late)
    try:
        look.cdp.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
        look.page.reload()
        look.page.wait_for_selector("main > *")
        look.page.wait_for_timeout(200)
        for doing in SCREENS:
            look.visit(doing)
            look.page.wait_for_timeout(60)
    finally:
        look.tablet.context.unroute("**/*.css")
        look.cdp.send("Page.stopScreencast")
        look.cdp.remove_listener("Page.screencastFrame", keep)
    light = [(name, float(luminance(one).mean())) for name, one in frames]
    print(len(frames), "frames, the brightest", max(one for _, one in light))
    assert {"start", "report", "outbox", "overrun"} <= {name for name, _ in light}
    assert [one for one in light if one[1] > 0.05] == []


#: Letters gone: only shape and place are left. By colour they would come back in forced ones.
BARE = """() => {
    const drive = document.querySelector(".drive");
    const walker = document.createTreeWalker(drive, NodeFilter.SHOW_TEXT);
    const texts = [];
    while (walker.nextNode()) texts.push(walker.currentNode);
    for (const text of texts) {
        const span = document.createElement("span");
        span.style.visibility = "hidden";
        text.replaceWith(span);
        span.append(text);
    }
}"""
EYES = ("none", "protanopia", "deuteranopia", "tritanopia", "achromatopsia", "forced colours")


def test_r77_every_state_has_its_own_shape_for_every_eye(look: Look):
    """No letter, no colour: the pictures of the states still differ in pairs."""
    look.dress("nominal", "day")
    look.mount()
    emulate_works(look)
    call = with_a_reason(look)
    alike = []
    for eye in EYES:
        emulate(look, eye)
        pictures = {}
        for name, view, how in STATES:
            look.show(view, how, call)
            look.page.evaluate(BARE)
            pictures[name] = look.luminance()
        for one, other in combinations(pictures, 2):
            differs = int((np.abs(pictures[one] - pictures[other]) > 0.2).sum())
            if differs < look.mm**2:  # a square millimetre of the screen
                alike.append((eye, one, other, differs))
    emulate(look, "none")
    assert alike == []


def with_a_reason(look: Look) -> int:
    """A call whose card has room left for the warning among its 25 words."""
    for call in range(12):
        look.show("{train: 0, state: 4, warned: look.WARNED}", call=call)
        if look.page.locator(".line.why[data-shape=warned]").count():
            return call
    raise AssertionError("no card has room for a reason")


def emulate(look: Look, eye: str) -> None:
    forced = eye == "forced colours"
    look.page.emulate_media(forced_colors="active" if forced else "none")
    kind = "none" if forced else eye
    look.cdp.send("Emulation.setEmulatedVisionDeficiency", {"type": kind})


def emulate_works(look: Look) -> None:
    """The simulation does something: an eye without colours sees none."""
    look.page.evaluate(
        """() => { const one = document.createElement("div"); one.id = "control";
        one.style.cssText = "position: fixed; inset: 0; z-index: 9; background: #f00";
        document.body.append(one); }"""
    )
    seen = {}
    for eye in ("none", "achromatopsia"):
        emulate(look, eye)
        seen[eye] = np.ptp(pixels(look.page.screenshot()).astype(int), axis=2).max()
    emulate(look, "none")
    look.page.evaluate("document.querySelector('#control').remove()")
    assert seen["none"] == 255
    assert seen["achromatopsia"] <= 2


CHOSEN = """() => {
    const [one, other] = document.querySelectorAll(".choice:has(input[name=found])");
    other.querySelector("input").click();
    for (const words of document.querySelectorAll(".choice span")) words.style.opacity = 0;
    return [one, other].map((any) => any.getBoundingClientRect().toJSON());
}"""


def test_r77_what_is_chosen_is_told_by_shape(look: Look):
    look.dress("nominal", "day")
    look.prepare()
    look.visit("report")
    boxes = look.page.evaluate(CHOSEN)
    for eye in EYES:
        emulate(look, eye)
        light = look.luminance()
        parts = [light[int(b["top"]) : int(b["bottom"]), 24:-24] for b in boxes]
        rows = min(len(part) for part in parts)
        differs = (np.abs(parts[0][:rows] - parts[1][:rows]) > 0.2).sum()
        assert differs > look.mm**2 * 4, eye
    emulate(look, "none")


STILL = """() => [...document.querySelectorAll("*")].filter((one) => {
    const style = getComputedStyle(one);
    return style.animationName !== "none" || style.transitionDuration !== "0s";
}).map((one) => one.className).concat(document.getAnimations().map((one) => one.id))"""


@pytest.mark.parametrize("profile", ["10-inch", "phone"])
def test_twice_as_large_nothing_is_lost_nothing_runs_sideways_and_nothing_glides(
    look: Look, profile: str
):
    """WCAG 2.2, 1.4.4 and 1.4.10: half the window, as at 200 %, but not below 320 pixels."""
    look.dress(profile)
    look.prepare()
    unfold(look.page)
    look.page.locator(".road summary").first.click()
    width, height = look.page.viewport_size.values() if look.page.viewport_size else (0, 0)
    look.page.set_viewport_size({"width": max(320, width // 2), "height": height // 2})
    found = {}
    for name in ("brief", *SCREENS):
        look.visit(name)
        found[name] = look.page.evaluate(LOST) + look.page.evaluate(STILL)
    look.visit("brief")
    look.page.locator(".chosen button").first.click()
    found["asking"] = look.page.evaluate(LOST)
    assert {name: all for name, all in found.items() if all} == {}


#: Runs over the right edge, or is cut off inside its own box.
LOST = """() => {
    const name = (one) => `${one.tagName}.${one.className} ${one.textContent.slice(0, 30)}`;
    const sideways = document.documentElement.scrollWidth > innerWidth ? ["sideways"] : [];
    const lost = [...document.querySelectorAll("body *")].filter((one) => {
        if (!one.checkVisibility() || one.closest(".unseen, svg")) return false;
        const box = one.getBoundingClientRect();
        const style = getComputedStyle(one);
        const cut = style.overflowX !== "visible" && one.scrollWidth > one.clientWidth + 1;
        return box.right > innerWidth + 1 || box.left < -1 || cut;
    });
    return [...sideways, ...lost.map(name)];
}"""
