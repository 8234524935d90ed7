"""A browser in which somebody has logged in at the desk."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Page, Playwright

from tests.browser.tablet import ARGUMENTS, chromium_path
from tests.support.desk import PASSWORD


@contextmanager
def logged_in(engine: Playwright, url: str, login: str, height: int = 820) -> Iterator[Page]:
    """Log in as a person does, and stand on the list of reports."""
    browser = engine.chromium.launch(executable_path=chromium_path(engine), args=ARGUMENTS)
    page = browser.new_page(viewport={"width": 1180, "height": height})
    page.goto(f"{url}/desk/reports")
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url("**/desk/reports")
    yield page
    browser.close()
