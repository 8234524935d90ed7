"""Stops on the level at a constant rate: the closed form v2 / 2a through our curves."""

from __future__ import annotations

from calc.constants import GRAVITY, MPH
from calc.rail import wheelset_demand
from calc.units import deceleration_from_percent_g, gradient_from_one_in
from tests.calc.cases import line, one_case, steady_distance, train

from .row import Source, outside

INDUSTRY = Source(
    "Industry adhesion-manual text: 9 %g full service of disc-braked units",
    "https://www.rail-traction.com/what-is-low-adhesion/",
    "CONFIRMED",
)
PLANNING = Source(
    "RSSB, new sander arrangements: 6 %g is the basis of timetable planning",
    "https://www.rssb.co.uk/what-we-do/insights-and-news/News/"
    "New-sander-arrangements-dramatically-reduce-impact-of-low-adhesion-conditions",
    "CONFIRMED",
)
STEPS = Source("GM/RT2045 practice: 3, 6, 9 and 12 %g", "not seen in a text", "FROM MEMORY")
CLEVELAND = Source(
    "ATSB RO-2013-005, Cleveland: approach falling 1 in 130",
    "https://atsb.gov.au/publications/investigation_reports/2013/rair/ro-2013-005",
    "CONFIRMED",
)
CELLS = "the curve is worked in cells of 5 m: 0.1 % of the distance"


def stop(mph: float, percent_g: float) -> float:
    rate = deceleration_from_percent_g(percent_g)
    return steady_distance(one_case(train((rate,)), line()), mph * MPH)


@outside(INDUSTRY, 1_132.1, within=1.2, unit="m", why=CELLS, status="DERIVED")
def test_100_mph_at_9_percent_g():
    return stop(100, 9)


@outside(STEPS, 849.1, within=0.9, unit="m", why=CELLS)
def test_100_mph_at_12_percent_g():
    return stop(100, 12)


@outside(INDUSTRY, 407.6, within=0.45, unit="m", why=CELLS, status="DERIVED")
def test_60_mph_at_9_percent_g():
    return stop(60, 9)


@outside(
    PLANNING,
    (86 * MPH) ** 2 / (2 * 0.06 * GRAVITY),
    within=1.3,
    unit="m",
    why=CELLS,
    status="DERIVED",
)
def test_86_mph_at_6_percent_g():
    return stop(86, 6)


@outside(
    INDUSTRY,
    0.09,
    within=1e-12,
    why="every wheelset brakes its own weight, nothing turns: exact",
)
def test_9_percent_g_asks_for_an_adhesion_of_9_hundredths():
    asked = deceleration_from_percent_g(9)
    return float(wheelset_demand(asked, asked, 0.0, 1.0)) / GRAVITY


@outside(CLEVELAND, 0.77, within=0.005, unit="%g", why="two decimals", status="DERIVED")
def test_a_fall_of_1_in_130_in_percent_g():
    return -100 * gradient_from_one_in(-130)
