"""Four questions propose a rail state; the driver picks, and says why it may be better."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.tablet import Tablet, as_booked, unfold

#: Taps from the app's first page to the stops with four questions (6 without).
MOST_TAPS = 10


def answer(tablet: Tablet, **answers: str) -> None:
    for key, value in answers.items():
        box = tablet.page.locator(f"input[name=look-{key}][value={value}]")
        box.click()
        expect(box).to_be_checked()  # it is kept


def begin(tablet: Tablet) -> None:
    page = tablet.page
    page.select_option("#trip", "d0512")
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.locator("input[name=wsp][value=works]").click()


def test_booking_on_with_four_questions_takes_ten_taps_and_nothing_is_chosen_for_the_driver(
    tablet: Tablet,
):
    page = tablet.page
    page.evaluate(
        "document.addEventListener('change', () => { window.taps = (window.taps ?? 0) + 1 })"
    )
    begin(tablet)
    expect(page.locator(".proposal")).to_contain_text("until all four are answered")
    answer(tablet, rain="light", dry="days", dew="no", frost="yes")
    expect(page.locator(".proposal")).to_contain_text("white frost")
    expect(page.locator("input[name=rail]:checked")).to_have_count(0)
    expect(page.get_by_role("button", name="Show the stops")).to_have_count(0)
    page.locator("input[name=rail][value=leaf]").click()
    page.get_by_role("button", name="Show the stops").click()
    page.wait_for_selector(".road")
    assert page.evaluate("window.taps") + 1 <= MOST_TAPS
    assert tablet.errors == []


def test_a_better_state_counts_once_the_driver_says_why_and_its_proposal_stays_told(
    tablet: Tablet,
):
    page = tablet.page
    begin(tablet)
    answer(tablet, rain="light", dry="days", dew="no", frost="yes")
    page.locator("input[name=rail][value=dry]").click()
    better = page.locator("fieldset[name=better]")
    expect(better.locator("label")).to_have_text(["I looked: dry"])
    expect(page.locator(".prepare")).to_contain_text("until you say why")
    page.get_by_role("button", name="Show the stops").click()
    expect(page.locator(".brief")).not_to_contain_text("Planned rail: dry")
    page.get_by_role("button", name="Change").first.click()
    page.locator("input[name=better][value=looked]").click()
    expect(page.locator("input[name=better]:checked")).to_have_count(1)
    page.get_by_role("button", name="Show the stops").click()
    expect(page.locator(".brief")).to_contain_text("Planned rail: dry; proposed:")
    page.reload()
    expect(page.locator(".brief")).to_contain_text("Planned rail: dry; proposed:")
    unfold(page)
    tablet.go("Next stop")
    expect(page.locator("#root, main").first).to_contain_text("proposed:")
    assert tablet.errors == []


@pytest.mark.parametrize("state", ["frost", "leaf"])
def test_what_is_as_bad_as_proposed_or_worse_is_never_asked_about(tablet: Tablet, state: str):
    page = tablet.page
    begin(tablet)
    answer(tablet, rain="none", dry="days", dew="no", frost="no")
    page.locator(f"input[name=rail][value={state}]").click()
    expect(page.locator(f"input[name=rail][value={state}]")).to_be_checked()
    expect(page.locator("fieldset[name=better]")).to_have_count(0)
