"""axe on every screen and in every light: labels, order, roles, contrast of 7 to 1."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.look import SCREENS, Look

CONTRAST = "color-contrast-enhanced"


def violations(look: Look, options: dict[str, Any]) -> list[Any]:
    report = Axe().run(look.page, options=options).response
    assert report["passes"], "axe looked at nothing"
    return [
        (one["id"], [node["html"][:120] for node in one["nodes"]])
        for one in report["violations"]
    ]


@pytest.mark.parametrize(
    ("profile", "theme"),
    [("nominal", "day"), ("phone", "night"), ("nominal", "bright"), ("10-inch flat", "dusk")],
)
def test_axe_finds_nothing_on_any_screen(look: Look, profile: str, theme: str):
    """WCAG 2.2 A and AA and best practice; in the two further lights contrast alone."""
    whole = theme in ("day", "night")
    options: dict[str, Any] = {"rules": {CONTRAST: {"enabled": True}}}
    if not whole:
        options = {"runOnly": {"type": "rule", "values": [CONTRAST]}}
    look.dress(profile, theme)
    page = look.page
    found = {"asking": violations(look, options)}
    look.prepare()
    page.locator(".road summary").first.click()
    page.wait_for_selector(".chart")
    for name in ("brief", *SCREENS):
        look.visit(name)
        found[name] = violations(look, options)
    look.visit("report")
    page.locator("input[name=found][value=reportable]").check()
    page.locator(".report button.confirm").click()
    page.wait_for_selector(".saved")
    found["saved"] = violations(look, options)
    look.visit("outbox")
    page.locator(".report-row summary").first.click()
    found["outbox, opened"] = violations(look, options)
    look.visit("brief")
    page.locator("input[name=off]").first.check()
    page.wait_for_selector(".notice.strong")
    found["advice off"] = violations(look, options)
    look.visit("next")
    found["no card"] = violations(look, options)
    look.visit("brief")
    page.locator(".notice.strong button").first.click()
    assert {name: faults for name, faults in found.items() if faults} == {}
