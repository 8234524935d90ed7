"""How large, how far apart and where: the tablet app measured in the real browser.

The figures are design targets (OFFLINE.md section 5), not a claim of approval.
"""

from __future__ import annotations

import pytest

from tests.browser.look import LANGUAGES, LIGHTS, PROFILES, SCREENS, STATES, Look


@pytest.mark.parametrize("profile", PROFILES)
def test_r73_every_letter_of_the_driving_view_is_large_enough(look: Look, profile: str):
    look.dress(profile)
    look.mount()
    for state in (0, 2, 4):
        look.show(f"{{train: 0, state: {state}}}")
        heights = look.letters()
        small = {key: one for key, one in heights.items() if one < 20}
        assert heights and not small
        figure = [height for name, height in heights.items() if ".main" in name]
        assert 30 <= max(figure), heights


LARGER = """() => {
    const line = document.querySelector(".line.begin");
    const fits = (grown) => {
        line.style.setProperty("--grown", grown);
        return line.scrollHeight <= line.clientHeight && line.scrollWidth <= line.clientWidth;
    };
    const grown = Number(line.style.getPropertyValue("--grown") || 1);
    return { grown, fits: fits(grown), larger: fits(grown * 1.15) };
}"""


@pytest.mark.parametrize("profile", ["nominal", "10-inch", "nominal flat"])
def test_the_figure_is_as_large_as_its_box_allows(look: Look, profile: str):
    look.dress(profile)
    look.mount()
    grown = []
    for state in range(5):
        look.show(f"{{train: 0, state: {state}}}")
        found = look.page.evaluate(LARGER)
        assert found["fits"], (state, found)
        assert not found["larger"] or found["grown"] == 1.9, (state, found)
        grown.append(found["grown"])
    assert max(grown) > 1


SPILT = """() => [...document.querySelectorAll(".tab, button, .choice, .control")]
    .filter((one) => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1)
    .map((one) => one.textContent)"""


@pytest.mark.parametrize(
    ("profile", "language"), [*((one, "en") for one in PROFILES), ("phone", "de")]
)
def test_r73_r74_letters_of_16_minutes_of_arc_and_controls_of_15_mm_on_every_screen(
    look: Look, profile: str, language: str
):
    """Confirming controls of 20 mm, 3 mm between two; nothing runs sideways."""
    look.dress(profile, language=language)
    page = look.page
    found = {"asking": [look.letters(), look.controls()]}
    look.prepare()
    for name in SCREENS:
        look.visit(name)
        found[name] = [look.letters(), look.controls()]
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
        assert page.evaluate(SPILT) == [], name
    tiny = {
        name: [one for one in all.items() if one[1] < 16] for name, (all, _) in found.items()
    }
    assert {name: all for name, all in tiny.items() if all} == {}
    assert {name: one["small"] for name, (_, one) in found.items() if one["small"]} == {}
    near = {name: one["near"] for name, (_, one) in found.items()}
    if profile == "phone":  # four tabs of 15 mm are as wide as a phone: nothing is between
        near = {
            name: [p for p in all if ".tab" not in p[0] + p[1]] for name, all in near.items()
        }
    assert {name: pairs for name, pairs in near.items() if pairs} == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_r78_every_card_of_both_lines_fits_its_boxes_in_25_words(look: Look, language: str):
    """Every target, state, train and season; no scrolling, nothing cut, nothing moved."""
    look.dress("nominal", language=language)
    look.mount()
    all = look.page.evaluate("look.collect(['kettle-bay', 'orrin'])")
    assert all["cards"] > 5_000
    assert all["shown"] > 500
    assert all["most"] <= 25 or language == "stretched"
    for profile in PROFILES:
        look.resize(profile)
        height = PROFILES[profile][0][1]
        found = look.page.evaluate("look.fits()")
        print(language, profile, found["deepest"], "of", height, "px")
        assert found["count"] == 0, (profile, found["bad"])
        still = look.page.evaluate("look.fits", "standing")
        assert still["count"] == 0, (profile, still["bad"])
        # A phone is no cab's screen: with words two in five longer its card is a little
        # longer too, and nothing of it is cut or runs sideways.
        room = 920 if (profile, language) == ("phone", "stretched") else height
        assert found["deepest"] <= room, (profile, found)


@pytest.mark.parametrize("language", LANGUAGES)
def test_r78_a_card_without_advice_keeps_its_words_and_its_reason_apart(
    look: Look, language: str
):
    look.dress("nominal", language=language)
    look.mount()
    for profile in PROFILES:
        look.resize(profile)
        for motion in ("moving", "standing"):
            assert look.page.evaluate("look.barred", motion) == [], (profile, motion)


@pytest.mark.parametrize("light", LIGHTS)
def test_no_two_texts_of_a_special_card_touch_in_any_light_size_or_language(
    look: Look, light: str
):
    """A light changes no letter: the plain cards are measured in one of them."""
    for language in LANGUAGES[:2]:
        look.dress("nominal", light, language)
        look.mount()
        for profile in PROFILES:
            look.resize(profile)
            assert look.page.evaluate("look.special()") == [], (language, profile)


def test_texts_that_touch_are_seen(look: Look):
    """The measure can fail: a reason over the planned rail, as it once stood, is found."""
    look.dress("10-inch")
    look.mount()
    look.show("{train: 0, state: 4, warned: look.WARNED}")
    assert look.page.evaluate("look.touching()") == []
    look.page.evaluate("document.querySelector('.card').style.marginBottom = '-4em'")
    assert look.page.evaluate("look.touching()") != []


def test_r83_the_same_things_stand_in_the_same_places_in_every_state(look: Look):
    for profile in ("nominal", "10-inch flat"):
        look.dress(profile)
        look.mount()
        places: dict[str, set[tuple[float, ...]]] = {}
        for _, view, how in STATES:
            look.show(view, how)
            for name, *box in look.page.evaluate("look.boxes()"):
                places.setdefault(name, set()).add(tuple(box[:2]))
        kinds = {"w1", "place", "planned", "line name", "line begin", "line worse"}
        assert kinds <= set(places)
        assert {name: found for name, found in places.items() if len(found) > 1} == {}


AT_ONCE = """() => {
    const nav = document.querySelector("nav").getBoundingClientRect();
    const card = document.querySelector(".card").getBoundingClientRect();
    const buttons = [...document.querySelectorAll(".hand button")]
        .map((one) => one.getBoundingClientRect());
    const over = (one) => one.left < card.right && one.right > card.left
        && one.top < card.bottom && one.bottom > card.top;
    return {
        count: buttons.length,
        hidden: buttons.filter((one) => one.bottom > nav.top + 1 || one.top < 0).length,
        over: [nav, ...buttons].filter(over).length,
        left: buttons.every((one) => one.right <= card.left),
        right: buttons.every((one) => one.left >= card.right),
    };
}"""


# Before the trip there is no question; at its second stop's time the timetable has one.
CLOCK = """(hours) => {
    Date.real ??= Date.now;
    Date.now = hours === null ? Date.real : () => new Date(2026, 10, 27, ...hours).getTime();
}"""


ASKING, NOT_ASKING = (7, 22), (5, 0)


@pytest.mark.parametrize(
    ("profile", "language", "clock"),
    [
        *((one, "en", clock) for one in PROFILES for clock in (NOT_ASKING, ASKING)),
        ("phone", "de", NOT_ASKING),
    ],
)
def test_at_a_stand_the_way_on_is_there_without_a_scroll_and_not_over_the_card(
    look: Look, profile: str, language: str, clock: tuple[int, int]
):
    look.dress(profile, language=language)
    look.prepare()
    look.page.evaluate(CLOCK, clock)
    look.visit("next")
    found = look.page.evaluate(AT_ONCE)
    asked = look.page.locator(".hand .asked").count()
    look.page.evaluate(CLOCK, None)
    assert asked == (clock == ASKING)
    assert found["count"] == 1 + asked
    assert (found["hidden"], found["over"]) == (0, 0)
    if profile.endswith("flat"):
        assert found["right"]
        look.hand("left")
        assert look.page.evaluate(AT_ONCE)["left"]


UNSIGNED = """async (train) => {
    const build = document.documentElement.dataset.build;
    const { mount } = await import(`/app/${build}/screens/slide.js`);
    const view = train && { train };
    mount(document.querySelector("#page"), { get: () => ({ view }) });
}"""
W4 = "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand."


@pytest.mark.parametrize("slide_words", ["", "  "])
def test_unsigned_slide_words_are_never_shown_as_signed(look: Look, slide_words: str):
    """W4 of OPERATIONS.md to the letter, the company first, and that nothing is signed."""
    look.dress("10-inch")
    look.page.evaluate(UNSIGNED, {"type_name": "Trial unit", "slide_words": slide_words})
    slide = look.page.locator(".slide")
    assert slide.locator(".w4").inner_text() == W4
    assert slide.locator(".own").inner_text() == "Your company's own instructions come first."
    note = slide.locator(".note").inner_text()
    assert note == "Trial unit: no words of its own are signed for this train type."
    assert "signed by the company" not in slide.inner_text()
