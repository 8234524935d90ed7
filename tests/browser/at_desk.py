"""A depot with somebody at its desk, and a browser in which he has logged in."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, Playwright

from tests.browser.tablet import ARGUMENTS, chromium_path
from tests.support.desk import PASSWORD, account
from tests.support.reports import CHANGE, batch, opened
from tests.support.server import Server
from webapp import create_app
from webapp.store.db import db


@contextmanager
def desk_depot(
    demo_data: Path, folder: Path, role: str, items: Sequence[dict[str, Any]] = ()
) -> Iterator[Server]:
    """A demo with an account "fenn", and with reports handed in."""
    shutil.copytree(demo_data, folder / "data")
    app = create_app({"DATA": folder / "data", "DEMO": True})
    account(app, "fenn", role)
    if items:
        sent = opened(app).post("/api/outbox", json=batch(*items), headers=CHANGE)
        assert {one["result"] for one in sent.get_json()["results"]} == {"created"}
    with app.app_context():
        db.engine.dispose()
    with Server(folder / "data") as running:
        yield running


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
