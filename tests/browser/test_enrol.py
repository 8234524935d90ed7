"""R39: a tablet is enrolled wholly inside the app, by a code typed from the desk."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright

from tests.browser.tablet import ARGUMENTS, chromium_path
from tests.support.desk import desk_client, submit
from tests.support.server import Server
from webapp import create_app

UNKNOWN = "This tablet is not enrolled: tell the depot."
SECRET = "a secret of this test alone, 40 characters"


@pytest.fixture
def strict_server(tmp_path: Path):
    env = {"STEP_IN_HAND_SECRET_KEY": SECRET}
    with Server(tmp_path / "data", demo=False, env=env) as running:
        yield running


@pytest.fixture
def page(engine: Playwright) -> Iterator[Page]:
    """A browser that has never seen the depot, nor any other browser's cookies."""
    browser = engine.chromium.launch(executable_path=chromium_path(engine), args=ARGUMENTS)
    yield browser.new_page(viewport={"width": 810, "height": 1080})
    browser.close()


def code_for(server: Server, label: str) -> str:
    app = create_app({"DATA": server.data, "SECRET_KEY": SECRET})
    page = submit(desk_client(app, "review"), "/desk/tablets", label=label).text
    found = re.search(r'class="secret">([^<]+)<', page)
    assert found
    return found[1]


def test_r39_enrolled_by_a_typed_code_inside_the_app(
    page: Page, strict_server: Server, tmp_path: Path
):
    page.goto(strict_server.url)
    page.get_by_text(UNKNOWN).wait_for()
    page.get_by_role("link", name="Enrol this tablet").click()
    page.get_by_label("Code from the desk").fill("AAAAAAAA")
    page.get_by_role("button", name="Enrol").click()
    page.get_by_text("wrong, used or too old").wait_for()
    page.get_by_label("Code from the desk").fill(code_for(strict_server, "Cab 4").lower())
    page.get_by_label("Code from the desk").press("Enter")
    page.get_by_text("knows this tablet as Cab 4").wait_for()
    cookies = {one["name"]: one for one in page.context.cookies()}
    assert cookies["sih-tablet"]["httpOnly"]
    page.get_by_role("link", name="Brief").last.click()
    page.wait_for_selector("section.brief")
    assert page.get_by_text(UNKNOWN).count() == 0
    page.reload()
    page.wait_for_selector("section.brief")
    assert page.get_by_text(UNKNOWN).count() == 0
    assert strict_server.rows("SELECT label FROM device") == [("Cab 4",)]
    strict_server.kill()
    page.evaluate("location.hash = 'enrol'")
    page.get_by_text("knows this tablet as Cab 4").wait_for()


def test_r54_an_ended_tablet_says_so_and_goes_on_after_a_new_code(
    page: Page, strict_server: Server
):
    page.goto(strict_server.url)
    for turn in ("Cab 4", "Cab 5"):
        page.evaluate("location.hash = 'enrol'")
        page.get_by_label("Code from the desk").fill(code_for(strict_server, turn))
        page.get_by_role("button", name="Enrol").click()
        page.get_by_text(f"knows this tablet as {turn}").wait_for()
        page.evaluate("location.hash = 'brief'")
        app = create_app({"DATA": strict_server.data, "SECRET_KEY": SECRET})
        desk = desk_client(app, "review")
        listed = desk.get("/desk/tablets").text
        one = re.search(rf'href="(/desk/tablets/[0-9a-f-]{{36}})"[^>]*>\s*{turn}', listed)
        assert one, listed
        submit(desk, f"{one[1]}/revoke", at=one[1])
        page.reload()
        page.get_by_text("ended this tablet's enrolment").wait_for()


def test_a_code_of_another_depot_is_not_sent(page: Page, strict_server: Server):
    """First contact is no trust in whoever answers: nothing of the code leaves the tablet."""
    code = code_for(strict_server, "Cab 4")
    other = code[:-1] + ("A" if code[-1] != "A" else "B")
    posted: list[str] = []
    page.on("request", lambda one: posted.append(one.url) if one.method == "POST" else None)
    page.goto(strict_server.url)
    page.get_by_role("link", name="Enrol this tablet").click()
    page.get_by_label("Code from the desk").fill(other)
    page.get_by_role("button", name="Enrol").click()
    page.get_by_text("not of the depot that answers here").wait_for()
    assert not [url for url in posted if "/api/enrol" in url]
    page.get_by_label("Code from the desk").fill(code)
    page.get_by_role("button", name="Enrol").click()
    page.get_by_text("knows this tablet as Cab 4").wait_for()
