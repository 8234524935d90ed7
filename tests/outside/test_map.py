"""Lengths on the map: geodesics of WGS 84 and the chainage of the demo lines."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from geographiclib.geodesic import Geodesic

from webapp.packs.geometry import length_between
from webapp.packs.model import Point
from webapp.packs.read import read_route

from .row import Source, outside

KARNEY = Source(
    "GeographicLib and PROJ, both run: 51.0 N 0 E to 51.1 N 0.2 E",
    "https://geographiclib.sourceforge.io/",
    "CONFIRMED",
)
MERIDIAN = Source(
    "WGS 84: quarter meridian 10,001,965.729 m",
    "https://geographiclib.sourceforge.io/",
    "FROM MEMORY",
)
ROUTES = Path(__file__).parents[2] / "demo_routes"


@outside(KARNEY, 17_901.07419, within=1e-5, unit="m", why="all digits")
def test_geodesic_in_the_south_of_england():
    return length_between(Point(0.0, 51.0, 0.0, 1), Point(0.2, 51.1, 0.0, 2))


@outside(MERIDIAN, 10_001_965.729, within=1e-3, unit="m", why="all digits")
def test_quarter_meridian():
    return length_between(Point(0.0, 0.0, 0.0, 1), Point(0.0, 90.0, 0.0, 2))


@outside(
    KARNEY,
    0.0,
    within=0.01,
    why="chainage of the demo lines against the geodesic along their points: 1 %",
    status="DERIVED",
)
def test_chainage_of_the_demo_lines_fits_the_map():
    worst = 0.0
    for folder in sorted(path.parent for path in ROUTES.glob("*/route.toml")):
        points = read_route(folder).points
        pairs = list(pairwise(points))
        legs = [
            Geodesic.WGS84.Inverse(one.lat, one.lon, two.lat, two.lon)["s12"]
            for one, two in pairs
        ]
        chained = abs(points[-1].at - points[0].at)
        worst = max(worst, abs(sum(legs) / chained - 1.0))
    return worst
