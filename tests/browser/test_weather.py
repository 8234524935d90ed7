"""Weather from a file at the desk to the Brief, where it stands in place of questions."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.tablet import Tablet
from tests.browser.test_proposal import begin
from tests.browser.test_warnings import ASK
from tests.support.desk import desk_client, form_token
from tests.support.server import Server
from tests.support.weather import csv_file, rows
from webapp import create_app
from webapp.store.db import db

PAGE = "/desk/weather/kettle-bay"
#: Taps from the app's first page to the stops with a held proposal.
MOST_TAPS = 6
FROSTY = "-2,-2.3,0,0.5,0"


class Desk:
    """Somebody at the desk who takes in a file of weather."""

    def __init__(self, server: Server) -> None:
        self.app = create_app({"DATA": server.data, "DEMO": True, "DESK_ZONE": "UTC"})
        self.client = desk_client(self.app)

    def give(self, cells: str) -> Any:
        file = (io.BytesIO(csv_file(rows(cells))), "hours.csv")
        token = form_token(self.client, PAGE)
        sent = self.client.post(f"{PAGE}/read", data={"csrf_token": token, "file": file})
        assert sent.status_code == 302, sent.text


@pytest.fixture
def desk(demo_server: Server) -> Iterator[Desk]:
    one = Desk(demo_server)
    yield one
    with one.app.app_context():
        db.engine.dispose()


def ask(tablet: Tablet) -> None:
    with tablet.page.expect_response(re.compile("/api/weather")):
        tablet.page.evaluate(ASK)
    tablet.page.evaluate("clearInterval(window.asking)")


def test_booking_on_with_a_held_proposal_takes_six_taps_and_asks_no_question(
    tablet: Tablet, desk: Desk
) -> None:
    page = tablet.page
    desk.give(FROSTY)
    ask(tablet)
    page.select_option("#trip", "d0512")
    proposal = page.locator(".proposal")
    expect(proposal).to_contain_text("The weather proposes: frost.")
    page.context.set_offline(True)  # from here on it is the tablet's own
    page.reload()
    page.wait_for_selector("#trip")
    page.evaluate(
        "document.addEventListener('change', () => { window.taps = (window.taps ?? 0) + 1 })"
    )
    begin(tablet)
    expect(proposal).to_contain_text("The weather proposes: frost.")
    expect(proposal).to_contain_text("Weather given to the depot")
    expect(page.locator("input[name^=look-]")).to_have_count(0)
    expect(page.locator("input[name=rail]:checked")).to_have_count(0)
    page.locator("input[name=rail][value=frost]").click()
    page.get_by_role("button", name="Show the stops").click()
    page.wait_for_selector(".road")
    assert page.evaluate("window.taps") + 1 <= MOST_TAPS


def test_a_better_state_than_the_weathers_asks_once_why(tablet: Tablet, desk: Desk) -> None:
    page = tablet.page
    desk.give(FROSTY)
    ask(tablet)
    begin(tablet)
    page.locator("input[name=rail][value=damp]").click()
    better = page.locator("fieldset[name=better]")
    expect(better.locator("label")).to_have_text(
        [
            "I looked: damp",
            "I braked on this line in the last hour, and it held",
            "Here it is other than the weather says",
        ]
    )
    page.locator("input[name=rail][value=dry]").click()
    expect(better.locator("label")).to_have_text(["I looked: dry"])
    page.locator("input[name=better][value=looked]").click()
    page.get_by_role("button", name="Show the stops").click()
    expect(page.locator(".brief")).to_contain_text("Planned rail: dry; proposed: frost")
    page.reload()
    expect(page.locator(".brief")).to_contain_text("Planned rail: dry; proposed: frost")
    assert tablet.errors == []


def test_weather_for_other_hours_only_leaves_the_four_questions(
    tablet: Tablet, desk: Desk
) -> None:
    desk.give(",,,,")
    ask(tablet)
    begin(tablet)
    expect(tablet.page.locator("input[name^=look-]")).not_to_have_count(0)
    expect(tablet.page.locator(".proposal")).to_contain_text("until all four are answered")
    assert tablet.errors == []
