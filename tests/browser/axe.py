"""What axe finds on a page."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

#: 7 to 1 (WCAG 2.2, 1.4.6), which axe leaves out unless it is asked for.
CONTRAST = "color-contrast-enhanced"
WHOLE = {"rules": {CONTRAST: {"enabled": True}}}
CONTRAST_ALONE = {"runOnly": {"type": "rule", "values": [CONTRAST]}}


def violations(page: Page, options: dict[str, Any] = WHOLE) -> list[Any]:
    """Rule and elements of each fault; WCAG 2.2 A and AA and best practice unless told."""
    report = Axe().run(page, options=options).response
    assert report["passes"], "axe looked at nothing"
    return [
        (one["id"], [node["html"][:120] for node in one["nodes"]])
        for one in report["violations"]
    ]
