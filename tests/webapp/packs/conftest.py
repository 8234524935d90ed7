"""Routes computed for real: two demo lines once a run, and a short one for the rest."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import pytest

from webapp.packs.build import Computed, compute_route, write_pack
from webapp.packs.files import Pack
from webapp.packs.model import Route
from webapp.packs.read import read_route
from webapp.packs.service import demo_routes


@dataclass(frozen=True)
class Built:
    """A route, what the physics computed for it, and the pack's files read again."""

    computed: Computed
    pack: Pack

    @cached_property
    def base(self) -> dict[str, Any]:
        return json.loads(self.pack.file("base").content)

    @cached_property
    def table(self) -> dict[str, Any]:
        return json.loads(self.pack.file("table").content)


def built(route: Route) -> Built:
    computed = compute_route(route)
    return Built(computed, write_pack(computed))


def shortened(route: Route, stations: set[str]) -> Route:
    """Keep the whole line but only the stops at some stations, and one train type."""
    return replace(
        route,
        stops=tuple(stop for stop in route.stops if stop.station in stations),
        types=(replace(route.types[0], formations=route.types[0].formations[:1]),),
        settings=replace(route.settings, reduction_drop=200, isolated_limit_share=0.0),
    )


@pytest.fixture(scope="session")
def kettle_bay() -> Route:
    return read_route(demo_routes()["kettle-bay"])


@pytest.fixture(scope="session")
def orrin() -> Route:
    return read_route(demo_routes()["orrin"])


@pytest.fixture(scope="session")
def short(kettle_bay: Route) -> Route:
    return shortened(kettle_bay, {"harrowmere", "kettle-bay"})


@pytest.fixture(scope="session", params=["kettle_bay", "orrin"])
def demo(request: pytest.FixtureRequest) -> Built:
    """Each demo line in turn, computed in full (about half a minute together)."""
    return built(request.getfixturevalue(request.param))
