"""axe on every screen and in every light: labels, order, roles, contrast of 7 to 1."""

from __future__ import annotations

import pytest

from tests.browser.axe import CONTRAST_ALONE, WHOLE, violations
from tests.browser.look import SCREENS, Look
from tests.browser.tablet import advice_off, say_where, unfold


@pytest.mark.parametrize(
    ("profile", "theme"),
    [("nominal", "day"), ("phone", "night"), ("nominal", "bright"), ("10-inch flat", "dusk")],
)
def test_axe_finds_nothing_on_any_screen(look: Look, profile: str, theme: str):
    """WCAG 2.2 A and AA and best practice; in the two further lights contrast alone."""
    options = WHOLE if theme in ("day", "night") else CONTRAST_ALONE
    look.dress(profile, theme)
    page = look.page
    found = {"asking": violations(page, options)}
    look.prepare()
    unfold(page)
    page.locator(".road summary").first.click()
    page.wait_for_selector(".chart")
    for name in ("brief", *SCREENS):
        look.visit(name)
        found[name] = violations(page, options)
    look.visit("report")
    page.locator("input[name=found][value=reportable]").check()
    say_where(page)
    page.locator(".report button.confirm").click()
    page.wait_for_selector(".saved")
    found["saved"] = violations(page, options)
    look.visit("outbox")
    page.locator(".report-row summary").first.click()
    found["outbox, opened"] = violations(page, options)
    look.visit("brief")
    advice_off(page, "Wrong line")
    page.wait_for_selector(".notice.strong")
    found["advice off"] = violations(page, options)
    look.visit("next")
    found["no card"] = violations(page, options)
    look.visit("brief")
    page.locator(".back-on button").click()
    assert {name: faults for name, faults in found.items() if faults} == {}
