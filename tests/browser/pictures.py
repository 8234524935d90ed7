"""Take the README's pictures: python -m tests.browser.pictures (from the top folder)."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import expect, sync_playwright

from tests.browser.tablet import Tablet
from tests.support.demo import prepared_demo
from tests.support.server import Server

FOLDER = Path(__file__).parents[2] / ".pictures"


def take(tablet: Tablet, name: str) -> None:
    tablet.page.wait_for_timeout(400)
    tablet.page.screenshot(path=str(FOLDER / f"{name}.png"))


def screens(tablet: Tablet) -> None:
    """Go through the four screens as a driver would on a leaf-fall morning."""
    tablet.prepare(state="Leaf film", trip="d0712")
    page = tablet.page
    page.evaluate("scrollTo(0, 0)")
    take(tablet, "brief")
    tablet.go("Next stop")
    take(tablet, "next-stop")
    tablet.report()
    tablet.go("Outbox")
    page.get_by_text("Reached the depot").first.wait_for()
    tablet.context.set_offline(True)
    tablet.go("Report")
    another = page.get_by_role("button", name="Another report")
    if another.count():
        another.click()
    page.get_by_label("Reportable").click()
    page.get_by_label("Slide", exact=True).click()
    page.evaluate("scrollTo(0, 0)")
    take(tablet, "report")
    page.get_by_role("button", name="Save the report").click()
    expect(page.locator(".saved")).to_be_visible()
    tablet.go("Outbox")
    page.wait_for_timeout(1500)
    take(tablet, "outbox")


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        data = Path(scratch) / "data"
        shutil.copytree(prepared_demo(Path(scratch) / "fresh"), data)
        with Server(data) as server:
            tablet = Tablet(playwright, Path(scratch) / "profile").start()
            tablet.open(server.url)
            tablet.installed()
            screens(tablet)
            tablet.close()


if __name__ == "__main__":
    main()
