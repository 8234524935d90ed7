"""A real browser on a real server. Nothing here reaches past loopback."""

from __future__ import annotations

import json
import shutil
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Playwright, expect, sync_playwright

from tests.browser.look import Look
from tests.browser.ready import First, Kept, Opened, Ready
from tests.browser.tablet import Cab, Tablet
from tests.support.server import Server


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def engine() -> Iterator[Playwright]:
    expect.set_options(timeout=15_000)  # a busy machine is no fault of the app
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture
def new_tablet(engine: Playwright, tmp_path: Path) -> Iterator[Callable[..., Tablet]]:
    """Make tablets; options are size (tablet, phone) and scheme (light, dark)."""
    made: list[Tablet] = []

    def make(**options: Any) -> Tablet:
        made.append(Tablet(engine, tmp_path / f"profile-{len(made)}", **options).start())
        return made[-1]

    yield make
    for tablet in made:
        tablet.close()
    assert [error for tablet in made for error in tablet.errors] == []


@pytest.fixture(scope="session")
def first(
    engine: Playwright, demo_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> First:
    one = First(engine, demo_data, tmp_path_factory.mktemp("first"))
    assert one.errors == []
    return one


@pytest.fixture
def opened(engine: Playwright, first: First, tmp_path: Path) -> Iterator[Opened]:
    one = Opened(engine, first, tmp_path / "opened")
    yield one
    one.close()
    assert one.tablet.errors == []


@pytest.fixture
def tablet(opened: Opened) -> Tablet:
    """A tablet with the app installed, both packs on it, standing in the Brief."""
    return opened.tablet


@pytest.fixture
def demo_server(
    request: pytest.FixtureRequest, demo_data: Path, tmp_path: Path
) -> Iterator[Server]:
    """The depot of the tablet, if the test has one; else one that knows no tablet yet."""
    if "tablet" in request.fixturenames:
        opened: Opened = request.getfixturevalue("opened")
        yield opened.server
        return
    shutil.copytree(demo_data, tmp_path / "data")
    with Server(tmp_path / "data") as running:
        yield running


def pack_base(server: Server, route: str) -> dict[str, Any]:
    """Fetch the base file of a route's pack, as a tablet would."""

    def get(path: str) -> Any:
        request = urllib.request.Request(server.url + path)
        with urllib.request.urlopen(request, timeout=10) as answer:
            body = answer.read()
            if answer.headers.get("Content-Encoding") == "gzip":
                import gzip

                body = gzip.decompress(body)
            return json.loads(body)

    sha = next(one["pack"] for one in get("/api/index")["routes"] if one["key"] == route)
    files = get(f"/packs/{sha}")["files"]
    base: dict[str, Any] = get(f"/packs/{files[0]['sha256']}")
    assert base["format"] == "step-in-hand/base"
    return base


@pytest.fixture
def base(demo_server: Server) -> dict[str, Any]:
    return pack_base(demo_server, "kettle-bay")


@pytest.fixture
def cab(tablet: Tablet, base: dict[str, Any]) -> Cab:
    return Cab(tablet, base["geometry"])


@pytest.fixture(scope="session")
def look(
    engine: Playwright, demo_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Look]:
    """One tablet for every test of looks: a browser's start costs more than a look."""
    root = tmp_path_factory.mktemp("look")
    shutil.copytree(demo_data, root / "data")
    with Server(root / "data") as server:
        one = Look(engine, server, root / "profile")
        yield one
        one.tablet.close()
    assert one.tablet.errors == []


@pytest.fixture(scope="session")
def kept(
    engine: Playwright, demo_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> Kept:
    return Kept(engine, demo_data, tmp_path_factory.mktemp("kept"))


@pytest.fixture
def ready(engine: Playwright, kept: Kept, tmp_path: Path) -> Iterator[Ready]:
    """A tablet in use, on a line that can be held and cut; the app is not open yet."""
    one = Ready(engine, kept, tmp_path)
    yield one
    one.close()
    assert one.tablet.errors == []
