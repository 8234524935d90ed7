"""Two more engines: what holds in Chromium must hold where Background Sync is unknown."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.engines.glass import Glass
from tests.support import engines

Starter = Callable[[], Glass]


def _needs(request: pytest.FixtureRequest, option: str, lacking: str | None) -> None:
    if request.config.getoption(option):
        pytest.skip(f"{option} was given")
    if lacking:
        pytest.fail(f"{lacking}, or leave these tests out with {option}")


def _start(request: pytest.FixtureRequest, folder: Path, display: str) -> Glass:
    if request.param == "firefox":
        (folder / "profile").mkdir()
        return Glass(engines.start_firefox(folder / "profile"))
    return Glass(engines.start_webkit(folder, display))


@pytest.fixture(params=["firefox", "webkit"])
def glass(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Glass]:
    """A window of each engine in turn, on a profile of its own."""
    if request.param == "firefox":
        _needs(request, "--no-firefox", engines.no_firefox())
        with contextlib.nullcontext("") as display:
            yield from _window(request, tmp_path, display)
    else:
        _needs(request, "--no-webkit", engines.no_webkit())
        with engines.screen() as display:
            yield from _window(request, tmp_path, display)


def _window(request: pytest.FixtureRequest, folder: Path, display: str) -> Iterator[Glass]:
    one = _start(request, folder, display)
    try:
        yield one
    finally:
        with contextlib.suppress(Exception):
            one.driver.quit()


@pytest.fixture
def firefox(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Starter]:
    """Start Firefox, as often as asked, on one and the same profile."""
    _needs(request, "--no-firefox", engines.no_firefox())
    profile = tmp_path / "profile"
    profile.mkdir()
    started: list[Glass] = []

    def start() -> Glass:
        started.append(Glass(engines.start_firefox(profile)))
        return started[-1]

    yield start
    for one in started:
        with contextlib.suppress(Exception):
            one.driver.quit()
