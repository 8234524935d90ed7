"""RSSB T1107: a Class 387 stopped from 55 mph in step 3 on rail of adhesion 0.02."""

from __future__ import annotations

from calc.constants import GRAVITY, MPH
from calc.units import deceleration_from_percent_g
from tests.calc.cases import line, one_case, steady_distance, train

from .row import Source, outside

TRIALS = Source(
    "Rail Engineer on RSSB T1107: step 3 from 55 mph at 0.02; 1,200+, 800, 650, 600, 400 m",
    "https://www.railengineer.co.uk/2018/02/12/"
    "rssb-sponsored-double-and-variable-rate-sanders-trial-the-results/",
    "CONFIRMED",
)
SPEED = 55 * MPH


def stop(adhesion: float) -> float:
    step_3 = (deceleration_from_percent_g(9),)
    return steady_distance(one_case(train(step_3), line(), plan=adhesion), SPEED)


def adhesion_that_stops_in(metres: float) -> float:
    return SPEED**2 / (2 * metres * GRAVITY)


@outside(TRIALS, 342.5, within=0.4, unit="m", why="dry, cells of 5 m", status="DERIVED")
def test_dry_stop():
    return stop(1.0)


@outside(
    TRIALS,
    (1_200.0, 1_541.4),
    within=1.6,
    unit="m",
    why="longer than the 1,200 m reported; no longer than 0.02 alone allows, v v / (2 mu g)",
)
def test_untreated_rail_without_sand():
    return stop(0.02)


@outside(
    TRIALS,
    1_541.4,
    within=1.6,
    unit="m",
    why="adhesion alone stops the train: the bound, cells of 5 m",
    status="DERIVED",
)
def test_bound_of_pure_adhesion():
    return stop(0.02)


@outside(
    TRIALS,
    400.0,
    within=0.5,
    unit="m",
    why="adhesion fitted to two variable sanders' 400 m as a mean; the curve gives it back",
    status="DERIVED",
)
def test_two_variable_sanders_as_a_mean_adhesion():
    return stop(adhesion_that_stops_in(400.0))


@outside(
    TRIALS,
    (0.02, 0.09),
    why="every sanded distance lies between the bare rail and step 3 itself",
    status="DERIVED",
)
def test_one_fixed_sander_as_a_mean_adhesion():
    adhesion = adhesion_that_stops_in(800.0)
    assert stop(0.02) > stop(adhesion) > stop(1.0)
    return adhesion
