"""One tablet on which looks are measured, in any size, light and language."""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image
from playwright.sync_api import Playwright, expect

from tests.browser.tablet import Tablet, as_booked
from tests.support.server import Server

#: Profile: window in CSS pixels, and pixels to the millimetre. "Flat" lies on its side.
PROFILES = {
    "10-inch": ((810, 1080), 132 / 25.4),
    "10-inch flat": ((1080, 810), 132 / 25.4),
    "nominal": ((800, 1280), 160 / 25.4),
    "nominal flat": ((1280, 800), 160 / 25.4),
    "phone": ((390, 844), 160 / 25.4),
}
LIGHTS = ("bright", "day", "dusk", "night")
LANGUAGES = ("en", "de", "stretched")
SCREENS = (
    *("brief", "next", "report", "outbox"),
    *("screen", "slide", "enrol", "overrun", "short"),
)
EYE_MM = 700
LETTERS_HERE = """(() => {
    const ours = [...document.fonts].filter((one) => one.family.includes("B612"));
    return ours.length > 1 && ours.every((one) => one.status === "loaded");
})()"""
#: Only a demo has the line below the tabs; what a driver sees in service is measured.
IN_SERVICE = """() => {
    delete document.documentElement.dataset.demo;
    document.getElementById("demo").replaceChildren();
}"""
SHARE = np.arange(256) / 255.0
#: Light of each of the 256 values of a colour, and what each colour weighs (WCAG 2.2).
LINEAR = np.where(SHARE <= 0.04045, SHARE / 12.92, ((SHARE + 0.055) / 1.055) ** 2.4)
WEIGHTS = np.array([0.2126, 0.7152, 0.0722])
PAGE, LETTERS, CONTROLS = (
    Path(__file__).with_name(f"look_{name}.js").read_text("utf-8")
    for name in ("page", "letters", "controls")
)
#: Name, what the view is made of, how it is shown.
STATES = (
    ("nothing added", "{train: 0, state: 0}", "{}"),
    ("leaf film", "{train: 0, state: 4}", "{}"),
    ("warned", "{train: 0, state: 4, warned: look.WARNED}", "{}"),
    ("old", "{train: 0, state: 4, hours: 5}", "{}"),
    ("estimated", "{train: 0, state: 4}", "{word: 'estimated'}"),
    ("unknown", "{train: 0, state: 4}", "{word: 'unknown'}"),
    ("not this trip", "{train: 0, state: 4}", "{word: 'off'}"),
)
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
export const words = { ...stretch(en), language: { ...en.language, code: "xx" } };
"""


class Look:
    """The app on one tablet; each test dresses it as it needs."""

    def __init__(self, playwright: Playwright, server: Server, profile: Path) -> None:
        self.tablet = Tablet(playwright, profile).start()
        self.page = self.tablet.page
        self.cdp = self.tablet.context.new_cdp_session(self.page)
        # The worker's own copies would answer before a word of ours could.
        self.cdp.send("Network.enable")
        self.cdp.send("Network.setBypassServiceWorker", {"bypass": True})
        self._stretched = False
        self.tablet.context.route("**/words/de.js", self._german)
        self.profile = "nominal"
        self.tablet.open(server.url)
        self.tablet.installed()

    def _german(self, route: Any) -> None:
        if self._stretched:
            route.fulfill(body=STRETCHED, content_type="text/javascript")
        else:
            route.continue_()

    def dress(self, profile: str, light: str = "day", language: str = "en") -> None:
        """Set size, light, language and the right hand; stand in the Brief, asking."""
        self.resize(profile)
        self._stretched = language == "stretched"
        self._keep("sih-theme", light)
        self._keep("sih-hand", "right")
        self._keep("sih-language", "en" if language == "en" else "de")
        self.page.evaluate("location.hash = 'brief'")
        self.page.reload()
        self.page.wait_for_selector("main > *")
        self.tablet.until(
            "document.querySelectorAll('input[name=line]').length > 0 || "
            "document.querySelector('.chosen') !== null"
        )
        self.page.evaluate(IN_SERVICE)
        if self.page.locator(".chosen button").count():
            self.page.locator(".chosen button").first.click()
        # `fonts.ready` holds before the first letter asks for one: words then stand in others.
        self.tablet.until(LETTERS_HERE)

    def hand(self, side: str) -> None:
        self._keep("sih-hand", side)
        self.page.evaluate("dispatchEvent(new Event('sih-dress'))")

    def resize(self, profile: str) -> None:
        """Give the window another size and the screen another fineness, as it stands."""
        self.profile = profile
        (width, height), mm = PROFILES[profile]
        self.page.set_viewport_size({"width": width, "height": height})
        self._keep("sih-px-per-mm", str(mm))
        self.page.evaluate("dispatchEvent(new Event('sih-dress'))")

    def _keep(self, key: str, value: str) -> None:
        self.page.evaluate("([key, value]) => localStorage.setItem(key, value)", [key, value])

    def prepare(self, rail: int = 4, trip: str = "d0712") -> None:
        """Choose a trip as a driver does, by the names of the fields and not by words."""
        page = self.page
        another = page.locator("#trip").input_value() != trip
        page.select_option("#trip", trip)
        if another:  # what was answered for the one before is taken back first
            expect(page.locator("input[name=wsp]:checked")).to_have_count(0)
        as_booked(page)
        page.locator("input[name=isolated][value='0']").click()
        page.locator("input[name=wsp][value=works]").click()
        page.locator("input[name=rail]").nth(rail).click()
        expect(page.locator("input[name=rail]").nth(rail)).to_be_checked()  # it is kept
        page.locator("button.confirm").click()
        page.wait_for_selector(".road")

    def visit(self, name: str) -> None:
        self.page.evaluate(f"location.hash = {('#' + name)!r}")
        self.tablet.until(f"document.body.dataset.screen === {name!r}")
        self.page.evaluate(
            "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
        )

    def mount(self) -> None:
        """Put the real Next stop screen on the page, to be shown in any state."""
        build = self.page.evaluate("document.documentElement.dataset.build")
        self.page.evaluate(f"({PAGE})({build!r})")

    def show(self, view: str, how: str = "{}", call: int = 4) -> None:
        self.page.evaluate(f"look.show(look.view('kettle-bay', {view}), {call}, {how})")

    @property
    def mm(self) -> float:
        return PROFILES[self.profile][1]

    def letters(self) -> dict[str, float]:
        """Return the height of a capital of every visible text, in minutes of arc at 70 cm."""
        return {name: self._arcmin(px) for name, px in self.page.evaluate(LETTERS)}

    def _arcmin(self, pixels: float) -> float:
        return 2 * math.atan(pixels / self.mm / 2 / EYE_MM) * 180 * 60 / math.pi

    def controls(self) -> Any:
        """Return the controls that are too small and the pairs that are too near."""
        return self.page.evaluate(CONTROLS, self.mm)

    def luminance(self) -> npt.NDArray[np.float64]:
        """Relative luminance of every pixel of what is on the screen."""
        return luminance(self.page.screenshot())


def pixels(picture: bytes) -> npt.NDArray[np.uint8]:
    """Rows of pixels of red, green and blue."""
    return np.asarray(Image.open(io.BytesIO(picture)).convert("RGB"))


def luminance(picture: bytes) -> npt.NDArray[np.float64]:
    """Relative luminance of every pixel of a picture (WCAG 2.2)."""
    return of_colours(pixels(picture))


def of_colours(rgb: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Relative luminance of colours of 0 to 255 (WCAG 2.2)."""
    found: npt.NDArray[np.float64] = LINEAR[np.asarray(rgb, dtype=np.uint8)] @ WEIGHTS
    return found


def ratio(one: float, other: float) -> float:
    """Contrast of two luminances (WCAG 2.2)."""
    return float((max(one, other) + 0.05) / (min(one, other) + 0.05))
