"""How the tablet app looks: sizes, light, contrast and places, from DOM and pixels.

The figures are design targets (OFFLINE.md section 5), not a claim of approval.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image

from tests.browser.tablet import SIZES, Tablet
from tests.support.server import Server

#: Profile: window in CSS pixels, and pixels to the millimetre.
PROFILES = {
    "10-inch": ((810, 1080), 132 / 25.4),
    "nominal": ((800, 1280), 160 / 25.4),
    "phone": ((390, 844), 160 / 25.4),
}
LIGHTS = ("bright", "day", "dusk", "night")
EYE_MM = 700
PAGE, LETTERS, CONTROLS = (
    Path(__file__).with_name(f"look_{name}.js").read_text("utf-8")
    for name in ("page", "letters", "controls")
)
for profile, (window, _) in PROFILES.items():
    SIZES[profile] = window

STRETCHED = """
import { words as en } from "./en.js";
/** Two letters in five more, as a longer language would need. */
function stretch(value) {
  if (typeof value === "string") {
    return value.replace(/\\p{L}{2,}/gu, (word) =>
      word.slice(0, -1) + word.at(-2).repeat(Math.ceil(word.length * 0.4)) + word.at(-1));
  }
  if (typeof value === "function") return (...all) => stretchNew(value(...all), all);
  return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, stretch(one)]));
}
/** Names that are put in stay as long as they are. */
function stretchNew(text, given) {
  const kept = given.filter((one) => typeof one === "string" && one !== "");
  const parts = text.split(kept.length ? kept[0] : "\\0");
  return parts.map((part) => stretch(part)).join(kept[0] ?? "");
}
export const words = { ...stretch(en), language: { ...en.language, code: "de" } };
"""


@pytest.fixture
def dressed(
    new_tablet: Callable[..., Tablet], demo_server: Server
) -> Iterator[Callable[..., Tablet]]:
    """Make tablets of a profile, in a light and a language, standing in the Brief."""

    def make(profile: str, light: str = "day", language: str = "en") -> Tablet:
        tablet = new_tablet(size=profile)
        if language == "stretched":
            tablet.context.route(
                "**/words/de.js",
                lambda route: route.fulfill(body=STRETCHED, content_type="text/javascript"),
            )
        chosen = {
            "sih-px-per-mm": PROFILES[profile][1],
            "sih-theme": light,
            "sih-language": "en" if language == "en" else "de",
        }
        for key, value in chosen.items():
            tablet.context.add_init_script(
                f"localStorage.getItem('{key}') ?? localStorage.setItem('{key}', '{value}')"
            )
        tablet.open(demo_server.url)
        tablet.installed()
        return tablet

    yield make


def mounted(tablet: Tablet) -> None:
    """Put the real Next stop screen on the page, to be shown in any state."""
    build = tablet.page.evaluate(
        "document.querySelector('script[type=module]').src.split('/')[4]"
    )
    tablet.page.evaluate(f"({PAGE})({build!r})")
    tablet.page.evaluate("document.fonts.ready.then(() => true)")


def arcmin(pixels: float, profile: str) -> float:
    millimetres = pixels / PROFILES[profile][1]
    return 2 * math.atan(millimetres / 2 / EYE_MM) * 180 * 60 / math.pi


def letters(tablet: Tablet, profile: str) -> dict[str, float]:
    """Return the height of a capital of every visible text, in minutes of arc at 70 cm."""
    return {name: arcmin(px, profile) for name, px in tablet.page.evaluate(LETTERS)}


@pytest.mark.parametrize("profile", PROFILES)
def test_r73_every_letter_of_the_driving_view_is_large_enough(
    dressed: Callable[..., Tablet], profile: str
):
    tablet = dressed(profile)
    mounted(tablet)
    for state in (0, 2, 4):
        tablet.page.evaluate(
            f"look.show(look.view('kettle-bay', {{train: 0, state: {state}}}), 4)"
        )
        heights = letters(tablet, profile)
        assert min(heights.values()) >= 20, heights
        figure = [height for name, height in heights.items() if ".main" in name]
        assert 30 <= max(figure) <= 45, heights


SCREENS = ("brief", "next", "report", "outbox", "screen", "slide", "overrun")


def visit(tablet: Tablet, name: str) -> None:
    tablet.page.evaluate(f"location.hash = {('#' + name)!r}")
    tablet.page.wait_for_timeout(150)


def prepared(tablet: Tablet) -> None:
    """Choose a trip as a driver does, by the names of the fields and not by words."""
    page = tablet.page
    page.select_option("#trip", "d0712")
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()
    page.locator("input[name=rail]").nth(4).click()
    page.locator("button.confirm").click()
    page.wait_for_selector(".road")


@pytest.mark.parametrize("profile", PROFILES)
def test_r73_no_letter_of_the_app_is_below_16_minutes_of_arc(
    dressed: Callable[..., Tablet], profile: str
):
    tablet = dressed(profile)
    tablet.page.evaluate("document.fonts.ready.then(() => true)")
    small = {"choices": [one for one in letters(tablet, profile).items() if one[1] < 16]}
    prepared(tablet)
    for name in SCREENS:
        visit(tablet, name)
        small[name] = [one for one in letters(tablet, profile).items() if one[1] < 16]
    assert {name: found for name, found in small.items() if found} == {}


@pytest.mark.parametrize("profile", PROFILES)
def test_r74_controls_are_15_mm_confirming_ones_20_and_3_apart(
    dressed: Callable[..., Tablet], profile: str
):
    tablet = dressed(profile)
    page, mm = tablet.page, PROFILES[profile][1]
    found = {"asking": page.evaluate(CONTROLS, mm)}
    prepared(tablet)
    for name in SCREENS:
        visit(tablet, name)
        found[name] = page.evaluate(CONTROLS, mm)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
    assert {name: one["small"] for name, one in found.items() if one["small"]} == {}
    near = {name: one["near"] for name, one in found.items()}
    if profile == "phone":  # four tabs of 15 mm are as wide as a phone: nothing is between
        near = {name: [p for p in all if "tab" not in p[0]] for name, all in near.items()}
    assert {name: pairs for name, pairs in near.items() if pairs} == {}


@pytest.mark.parametrize(
    ("profile", "language"),
    [(one, word) for one in PROFILES for word in ("en", "de", "stretched")],
)
def test_r78_every_card_of_both_lines_fits_its_boxes_in_25_words(
    dressed: Callable[..., Tablet], profile: str, language: str
):
    """Every target, state, train and season; no scrolling, nothing cut, nothing moved."""
    tablet = dressed(profile, language=language)
    mounted(tablet)
    found = tablet.page.evaluate("look.every(['kettle-bay', 'orrin'])")
    assert found["cards"] > 5_000
    assert found["count"] == 0, found["bad"]
    assert found["most"] <= 25 or language == "stretched"
    # A phone is no cab's screen: with words two in five longer its card is a little longer
    # too, and nothing of it is cut or runs sideways.
    room = 920 if (profile, language) == ("phone", "stretched") else PROFILES[profile][0][1]
    assert found["deepest"] <= room, found


def luminance(tablet: Tablet) -> npt.NDArray[np.float64]:
    """Relative luminance of every pixel of what is on the screen (WCAG 2.2)."""
    picture = Image.open(io.BytesIO(tablet.page.screenshot())).convert("RGB")
    share = np.asarray(picture) / 255.0
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    found: npt.NDArray[np.float64] = light @ np.array([0.2126, 0.7152, 0.0722])
    return found


def ratio(one: float, other: float) -> float:
    return float((max(one, other) + 0.05) / (min(one, other) + 0.05))


def of_boxes(tablet: Tablet, selector: str) -> list[tuple[str, float]]:
    """Contrast of each box's letters with its ground, from the pixels that were drawn."""
    light = luminance(tablet)
    boxes = tablet.page.eval_on_selector_all(
        selector,
        """all => all.filter((one) => one.checkVisibility() && one.textContent.trim())
            .map((one) => [one, one.getBoundingClientRect().toJSON()])
            .map(([one, box]) => [one.className || one.tagName, box])""",
    )
    found = []
    for name, box in boxes:
        top, bottom, left, right = (int(box[s]) for s in ("top", "bottom", "left", "right"))
        part = light[max(top, 0) : bottom, max(left, 0) : right]
        if part.shape[0] < 20 or part.shape[1] < 20:
            continue
        ground = float(np.median(part))
        found.append((name, max(ratio(ground, part.min()), ratio(ground, part.max()))))
    return found


@pytest.mark.parametrize("light", LIGHTS)
def test_r75_r76_contrast_of_every_state_and_a_night_that_does_not_dazzle(
    dressed: Callable[..., Tablet], light: str
):
    tablet = dressed("nominal", light)
    prepared(tablet)
    faint: dict[str, list[tuple[str, float]]] = {}
    for name in SCREENS:
        visit(tablet, name)
        drawn = of_boxes(tablet, "p, h1, h2, .tab, button, .choice, legend, label, .note")
        assert drawn, name
        faint[name] = [one for one in drawn if one[1] < 7]
        not_dazzling(tablet, light, name)
    mounted(tablet)
    for name, view, how in STATES:
        tablet.page.evaluate(f"look.show(look.view('kettle-bay', {view}), 4, {how})")
        faint[name] = [one for one in of_boxes(tablet, ".drive p") if one[1] < 7]
        not_dazzling(tablet, light, name)
    assert {name: found for name, found in faint.items() if found} == {}


#: Name, what the view is made of, how it is shown.
STATES = (
    ("nothing added", "{train: 0, state: 0}", "{}"),
    ("leaf film", "{train: 0, state: 4}", "{}"),
    ("warned", "{train: 0, state: 4, warned: look.WARNED}", "{}"),
    ("estimated", "{train: 0, state: 4}", "{word: 'estimated'}"),
    ("unknown", "{train: 0, state: 4}", "{word: 'unknown'}"),
    ("not this trip", "{train: 0, state: 4}", "{word: 'off'}"),
)


def not_dazzling(tablet: Tablet, light: str, name: str) -> None:
    """Own numbers: a mean of 0.05 at most, and 2 square centimetres above a half."""
    if light != "night":
        return
    drawn = luminance(tablet)
    assert drawn.mean() <= 0.05, name
    assert (drawn > 0.5).sum() <= 2 * (160 / 2.54) ** 2, name


def test_r83_the_same_things_stand_in_the_same_places_in_every_state(
    dressed: Callable[..., Tablet],
):
    tablet = dressed("nominal")
    mounted(tablet)
    places: dict[str, set[tuple[float, ...]]] = {}
    for _, view, how in STATES:
        tablet.page.evaluate(f"look.show(look.view('kettle-bay', {view}), 4, {how})")
        for name, *box in tablet.page.evaluate("look.boxes()"):
            places.setdefault(name, set()).add(tuple(box[:2]))
    assert {"w1", "place", "planned", "line name", "line begin", "line worse"} <= set(places)
    assert {name: found for name, found in places.items() if len(found) > 1} == {}
