"""The app as a driver has it before him, in any browser that WebDriver can lead."""

from __future__ import annotations

import time
from typing import Any

from selenium.common.exceptions import (
    JavascriptException,
    NoSuchElementException,
    StaleElementReferenceException,
    WebDriverException,
)
from selenium.webdriver.remote.webdriver import WebDriver

from tests.support.engines import wait_for

PASSING = (NoSuchElementException, StaleElementReferenceException, JavascriptException)
W7 = "Saved on this tablet. The signaller does not know. Call now."
# Clicks and choices go through the page: the same in each engine, wherever it scrolled to.
STANDS = "return !window.former && document.querySelector('main > *') !== null"
CLICK = """
const [selector, text] = arguments;
const one = [...document.querySelectorAll(selector)]
    .find((found) => !text || found.textContent.includes(text));
if (one) one.click();
return Boolean(one);
"""
CHOOSE = """
const one = document.querySelector(arguments[0]);
if (!one || !one.querySelector(`option[value="${arguments[1]}"]`)) return false;
one.value = arguments[1];
one.dispatchEvent(new Event("change", { bubbles: true }));
return true;
"""
INSTALLED = """
const told = arguments[0];
(async () => {
    if (!navigator.serviceWorker.controller) return false;
    const names = await caches.keys();
    if (names.length !== 1) return false;
    const files = await (await caches.open(names[0])).keys();
    return files.some((file) => file.url.endsWith("/app.js"));
})().then(told, () => told(false));
"""


class Glass:
    """One browser window on the app."""

    def __init__(self, driver: WebDriver) -> None:
        self.driver = driver

    def ask(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    def text(self, selector: str) -> str:
        script = "return document.querySelector(arguments[0])?.innerText ?? ''"
        return " ".join(str(self.ask(script, selector)).split())

    def see(self, selector: str, words: str, seconds: float = 30) -> None:
        """Wait for words in a part of the page."""
        seen = ""

        def there() -> bool:
            nonlocal seen
            try:
                seen = self.text(selector)
            except PASSING:
                return False
            return words in seen

        try:
            wait_for(there, "", seconds)
        except AssertionError:
            raise AssertionError(f"{selector}: waited for {words!r}, saw {seen!r}") from None

    def press(self, selector: str, words: str = "") -> None:
        wait_for(lambda: self.ask(CLICK, selector, words), f"{selector} {words}")

    def open(self, url: str) -> None:
        self.driver.get(url)
        self.stands()

    def reload(self) -> None:
        """As the driver's own reload: WebDriver's waits for the server in Firefox."""
        self.ask("window.former = true; location.reload()")
        self.stands()

    def stands(self) -> None:
        def drawn() -> bool:
            try:
                return bool(self.ask(STANDS))
            except WebDriverException:
                return False

        wait_for(drawn, "a page of the app")

    def installed(self) -> None:
        """The worker leads the page, the app's files and both packs are here."""
        held = self.driver.execute_async_script
        wait_for(lambda: held(INSTALLED), "the worker holds the app", 60)
        lines = "return document.querySelectorAll('input[name=line]').length"
        wait_for(lambda: self.ask(lines) == 2, "both packs are here", 60)

    def prepare(self) -> None:
        self.press("input[name=line][value=kettle-bay]")
        wait_for(lambda: self.ask(CHOOSE, "#trip", "d0512"), "the trip can be chosen")
        self.press("input[name=formation][value='4']")
        self.press("input[name=isolated][value='0']")
        self.press("input[name=wsp][value=works]")
        self.press("label", "Damp")
        self.press("button", "Show the stops")
        wait_for(lambda: self.text(".road"), "the Brief")

    def go(self, page: str) -> None:
        self.press("#nav a", page)
        name = page.split()[0].lower()
        wait_for(lambda: self.ask("return document.body.dataset.screen") == name, page)

    def report(self, found: str = "Reportable") -> None:
        self.go("Report")
        time.sleep(0.6)  # straight after Save it takes no touch, for a double tap's sake
        self.ask(CLICK, "button", "Another report")
        self.press("label", found)
        self.press("label", "Slide")
        self.ask(CHOOSE, "#place", "1")  # no receiver here says where it was
        self.press("button", "Save the report")
        self.see(".saved", W7)

    def outbox(self, words: str, seconds: float = 30) -> None:
        self.go("Outbox")
        self.see(".standing", words, seconds)
