"""A real browser on a real server. Nothing here reaches past loopback."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Playwright, expect, sync_playwright

from tests.browser.ready import Kept, Ready
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


@pytest.fixture
def tablet(new_tablet: Callable[..., Tablet], demo_server: Server) -> Tablet:
    """A tablet with the app installed, both packs on it, standing in the Brief."""
    one = new_tablet()
    one.open(demo_server.url)
    one.installed()
    return one


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
