"""Take the pictures of README and guide: python -m tests.browser.pictures (top folder)."""

from __future__ import annotations

import io
import shutil
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from tests.browser.look import Look
from tests.browser.tablet import ARGUMENTS, as_booked, chromium_path, say_where, unfold
from tests.support.demo import prepared_demo
from tests.support.desk import desk_cookie
from tests.support.server import Server
from webapp import create_app
from webapp.commands import samples
from webapp.pages.guide.service import PICTURES

FOLDER = Path(__file__).parents[2] / ".pictures"
#: Few colours are enough for ink on paper, and keep a picture small.
COLOURS = 24


def save(picture: bytes, path: Path) -> None:
    small = Image.open(io.BytesIO(picture)).convert("RGB").quantize(COLOURS)
    small.save(path, optimize=True)


def desk(browser: Browser, server: Server) -> None:
    """Take the desk's inbox, a report, the places and the hand-over."""
    context = browser.new_context(viewport={"width": 1180, "height": 820})
    context.add_cookies(
        [{"name": "sih-desk", "value": desk_cookie(server.data), "url": server.url}]
    )
    page = context.new_page()

    def shot(name: str) -> None:
        save(page.screenshot(), FOLDER / f"desk-{name}.png")

    page.goto(f"{server.url}/desk/reports")
    shot("reports")
    page.locator("ol.reports h2 a").first.click()
    page.locator("h1").wait_for()
    shot("report")
    for name in ("places", "handover"):
        page.goto(f"{server.url}/desk/{name}")
        shot(name)
    context.close()


def guide(look: Look) -> None:
    """Take the pictures of the guide, in the order it shows them."""
    page = look.page
    look.dress("10-inch")

    def shot(name: str) -> None:
        page.wait_for_timeout(400)
        save(page.screenshot(), PICTURES / f"{name}.png")

    page.select_option("#trip", "d0712")
    as_booked(page)
    page.locator("input[name=isolated][value='0']").click()
    page.evaluate("scrollTo(0, 300)")
    shot("asking")
    look.prepare()
    page.evaluate("scrollTo(0, 0)")
    shot("brief")
    unfold(page)
    page.locator(".road summary").nth(4).click()
    page.wait_for_selector(".chart")
    page.locator(".road details[open]").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('.road details[open]').scrollIntoView()")
    shot("row")
    look.visit("report")
    page.locator("input[name=found][value=reportable]").check()
    page.evaluate("scrollTo(0, 0)")
    shot("report")
    say_where(page)
    page.locator(".report button.confirm").click()
    page.wait_for_selector(".saved")
    shot("saved")
    look.visit("outbox")
    page.wait_for_timeout(1500)
    shot("outbox")
    look.visit("slide")
    shot("slide")
    look.mount()
    for name, view, how, kind in (
        ("card", "{train: 0, state: 4}", "{}", ".line.why[data-shape=listed]"),
        ("dry", "{train: 0, state: 0}", "{}", "[data-shape=plain]:not(:has(~ .speeds))"),
        ("never", "{train: 0, state: 5}", "{}", "[data-shape=never]"),
        ("buffers", "{train: 0, state: 4}", "{}", "[data-shape=note]"),
        ("unknown", "{train: 0, state: 4}", "{word: 'unknown'}", "[data-shape=none]"),
    ):
        first_with(look, view, how, kind)
        shot(name)


def first_with(look: Look, view: str, how: str, kind: str) -> None:
    """Show the first call whose card has what the picture is about."""
    for call in range(40):
        look.show(view, how, call)
        if look.page.locator(f".card {kind}").count():
            return
    raise AssertionError(f"no card with {kind}")


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        data = Path(scratch) / "data"
        shutil.copytree(prepared_demo(Path(scratch) / "fresh"), data)
        with Server(data) as server:
            look = Look(playwright, server, Path(scratch) / "look")
            guide(look)
            look.tablet.close()
        data = Path(scratch) / "desk"
        shutil.copytree(prepared_demo(Path(scratch) / "fresh"), data)
        app = create_app({"DATA": data, "DEMO": True})
        samples.add(app, print)
        with Server(data) as server:
            browser = playwright.chromium.launch(
                executable_path=chromium_path(playwright), args=ARGUMENTS
            )
            desk(browser, server)
            browser.close()


if __name__ == "__main__":
    main()
