"""Gradient and rotating mass: which sign, how much, and what turns with the wheels."""

from __future__ import annotations

import math

from calc.constants import GRAVITY, KMH
from calc.rail import deceleration
from calc.units import gradient_from_one_in
from tests.calc.cases import line, one_case, steady_distance, train

from .row import Source, outside

RECORDER = Source(
    "python4mechanical-engineers: recorded stop on a falling gradient (stored output)",
    "https://github.com/andy-pi/python4mechanical-engineers",
    "CONFIRMED",
)
FOSSEE = Source(
    "FOSSEE Scilab-TBC-Uploads 3472/CH43/EX43.7 after Soni, Gupta, Ex. 5.7 p. 782",
    "https://github.com/FOSSEE/Scilab-TBC-Uploads",
    "CONFIRMED",
)
ENERGY = Source(
    "Barney, Haley, Nikandros: Calculating Train Braking Distance; "
    "m a S + m U U / 2 + m g (h1 - h2) = 0",
    "https://arietiform.com/application/nph-tsq.cgi/en/20/https/www.scribd.com/document/"
    "722653865/563780-563784",
    "CONFIRMED",
)
ETCS = Source(
    "ETCS SUBSET-026 3.13.4.3: A = g i / (1000 + 10 M), M per cent of rotating mass",
    "not seen in a text",
    "FROM MEMORY",
)

FALL = -1 / 75
RECORDED = 82 * KMH


def recorded_rate() -> float:
    return RECORDED**2 / (2 * 545.0)


def level_rate() -> float:
    """The level rate of the recorded stop, as our law has it: rest is g i, negative."""
    actual, _ = deceleration(recorded_rate(), -GRAVITY * FALL, 0.0, 1.0, GRAVITY)
    return float(actual)


@outside(RECORDER, 0.475988, within=5e-7, unit="m/s2", why="six decimals")
def test_recorded_rate_on_the_fall():
    return recorded_rate()


@outside(
    RECORDER,
    0.606777,
    within=1e-4,
    unit="m/s2",
    why="they use 9.81 and the sine, we 9.80665 and the ratio",
)
def test_rate_on_the_level():
    return level_rate()


@outside(RECORDER, 427.527, within=0.3, unit="m", why="g differs, cells of 5 m")
def test_stop_on_the_level():
    return steady_distance(one_case(train((level_rate(),)), line()), RECORDED)


@outside(RECORDER, 545.0, within=0.5, unit="m", why="g differs, cells of 5 m")
def test_stop_on_the_fall_with_the_level_rate():
    return steady_distance(one_case(train((0.606777,)), line(FALL)), RECORDED)


@outside(
    RECORDER,
    math.sin(math.atan(1 / 75)),
    within=1e-4 / 75,
    why="sine against ratio at 1 in 75: 0.01 %",
    status="DERIVED",
)
def test_ratio_stands_for_the_sine():
    return gradient_from_one_in(75)


@outside(
    ENERGY,
    25.0**2 / 2 - GRAVITY * 4.0,
    within=0.02,
    unit="m2/s2",
    why="work of the brake = speed and height given up; 0.4 % of a rise of 4 m in 200 m",
    status="DERIVED",
)
def test_height_gained_is_work_the_brake_is_spared():
    rising = [(-20_000.0, 0.0), (9_700.0, 4.0 / 200.0), (9_900.0, 0.0)]
    rate = (25.0**2 / 2 - GRAVITY * 4.0) / 500.0
    # From 25 m/s the stop takes 500 m over the 4 m rise, so that rate x distance is the work.
    return rate * steady_distance(one_case(train((rate,)), line(rising)), 25.0)


def starting_rate() -> float:
    """203 t, four motors, 1 in 250 up: the same law with the force turned round."""
    mass = 203_000.0
    pull = 4 * 5_130.0 * 3.5 * 0.93 * 2 / 0.915
    rest = 45 * 203 / mass + GRAVITY / 250
    actual, _ = deceleration(-pull / mass, rest, 0.10, 1.0, GRAVITY)
    return -float(actual)


@outside(
    FOSSEE,
    2.0778,
    within=3e-4,
    unit="km/h/s",
    why="the textbook rounds its constants (277.8, 98.1)",
    status="DERIVED",
)
def test_force_grade_and_rotating_mass():
    return starting_rate() / KMH


@outside(FOSSEE, 20.2, within=0.05, unit="s", why="one decimal", status="DERIVED")
def test_time_to_42_kmh():
    return 42 * KMH / starting_rate()


@outside(
    ETCS,
    9.81 * 12 / (1000 + 10 * 8),
    within=1e-4,
    unit="m/s2",
    why="g 9.81 there",
)
def test_rotating_mass_softens_the_gradient():
    actual, _ = deceleration(0.0, GRAVITY * 0.012, 0.08, 1.0, GRAVITY)
    return float(actual)
