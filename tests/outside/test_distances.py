"""Distances as posted: chains, miles and the pairs that investigators print."""

from __future__ import annotations

from calc.constants import MILE
from calc.units import (
    kmh_from_speed,
    metres_from_miles_chains,
    metres_from_yards,
    speed_from_mph,
)

from .row import Source, outside

SALISBURY = Source(
    "RAIB interim report on Salisbury Tunnel Junction, railhead survey 80 mi 32 ch to "
    "82 mi 36 ch, quoted in a forum",
    "https://forums.dovetailgames.com/posts/458944/",
    "2nd-hand",
)
STONEGATE = Source(
    "RAIB 18/2011, Stonegate: 2.45 miles (3.94 km), 3.22 miles (5.18 km), as summarised",
    "https://healthsafety.jigsy.com/entries/h-s-news/"
    "raib-report-station-overrun-incident-at-stonegate-east-sussex",
    "2nd-hand",
)


def surveyed() -> float:
    return metres_from_miles_chains(82, 36) - metres_from_miles_chains(80, 32)


@outside(SALISBURY, 3.299, within=5e-4, unit="km", why="three decimals", status="DERIVED")
def test_80_miles_32_chains_to_82_miles_36_chains():
    return surveyed() / 1000


@outside(SALISBURY, 2.0, within=0.06, unit="mi", why="printed as two miles")
def test_surveyed_length_in_miles():
    return surveyed() / MILE


@outside(STONEGATE, 3.94, within=0.005, unit="km", why="two decimals")
def test_2_45_miles_in_km():
    return 2.45 * metres_from_miles_chains(1, 0) / 1000


@outside(STONEGATE, 5.18, within=0.005, unit="km", why="two decimals")
def test_3_22_miles_in_km():
    return 3.22 * metres_from_yards(1760) / 1000


@outside(SALISBURY, 138.0, within=0.5, unit="km/h", why="whole km/h")
def test_86_mph_in_kmh():
    return kmh_from_speed(speed_from_mph(86))


@outside(SALISBURY, (84.0, 90.0), within=0.5, unit="km/h", why="whole km/h, 52 to 56 mph")
def test_54_mph_in_kmh():
    return kmh_from_speed(speed_from_mph(54))
