"""Investigated runs: adhesion fitted to one figure of a case predicts another of it.

Bands, not points: the rail changed along every one of these approaches, so a constant
adhesion can only come near. What is fitted is said beside each row.
"""

from __future__ import annotations

import functools

import numpy as np
from scipy.optimize import brentq

from calc.constants import GRAVITY, KMH, MILE, MPH
from calc.model import Settings
from calc.rail import deceleration
from calc.units import percent_g_from_deceleration
from tests.calc.cases import distance_at, line, one_case, steady_curve, train

from .row import Source, outside

SALISBURY = Source(
    "RAIB interim report and 12/2023, Salisbury Tunnel Junction, 31 Oct 2021, quoted",
    "https://forums.dovetailgames.com/posts/458944/",
    "2nd-hand",
)
STONEGATE = Source(
    "RAIB 18/2011, Stonegate, 8 Nov 2010, as summarised",
    "https://healthsafety.jigsy.com/entries/h-s-news/"
    "raib-report-station-overrun-incident-at-stonegate-east-sussex",
    "2nd-hand",
)
BALLARAT = Source(
    "ATSB RO-2020-007, Ballarat, 30 May 2020",
    "https://www.atsb.gov.au/publications/investigation_reports/2020/rair/ro-2020-007/",
    "CONFIRMED",
)
Terms = tuple[float, float, float]
STEPS = tuple(percent * GRAVITY / 100 for percent in (3.0, 6.0, 9.0))
#: Resistance of a train of 100 t on level track (Salisbury): assumption, only bands here.
LEVEL_RUN = (1_500.0, 20.0, 6.0)
#: Where the gradient was not seen, one net adhesion stands for rail, air and fall together.
NET = (0.0, 0.0, 0.0)


@functools.lru_cache(maxsize=64)
def slowing(adhesion: float, resistance: Terms, step: int) -> tuple[np.ndarray, np.ndarray]:
    """Metres before the stand and speeds there, on rail of one adhesion."""
    settings = Settings(eta=1.0, cell=10.0, horizon=20_000.0)
    braked = train(STEPS, resistance=resistance)
    return steady_curve(one_case(braked, line(), plan=adhesion, settings=settings), step)


def run(adhesion, fast, slow, resistance=NET, step=2) -> float:
    """Metres our curve takes from one speed to another on rail of one adhesion. [m]"""
    curve = slowing(adhesion, resistance, step)
    return distance_at(*curve, fast) - distance_at(*curve, slow)


def fitted(metres, fast, slow, resistance=NET) -> float:
    """Adhesion with which our curve takes ``metres`` between two speeds."""

    def excess(adhesion: float) -> float:
        return run(adhesion, fast, slow, resistance) - metres

    return float(brentq(excess, 0.006, 0.2, xtol=1e-6))


def salisbury_adhesion() -> float:
    """Fitted to 86 -> 54 mph (the middle of 52 to 56) over 1,702 m (1,691 and 1,714)."""
    return fitted(1_702.0, 86 * MPH, 54 * MPH, LEVEL_RUN)


@outside(
    SALISBURY,
    (2.5, 2.8),
    within=0.05,
    unit="%g",
    why="band from 52 to 56 mph and 1,691 to 1,714 m; the middle of each taken",
    status="DERIVED",
)
def test_salisbury_mean_rate():
    return percent_g_from_deceleration(((86 * MPH) ** 2 - (54 * MPH) ** 2) / 2 / 1_702.0)


@outside(
    SALISBURY,
    (0.015, 0.03),
    why="the report: a train got only about 0.03 there; resistance took part of the rate",
)
def test_salisbury_fitted_adhesion():
    return salisbury_adhesion()


@outside(
    SALISBURY,
    (52.0, 56.0),
    within=0.5,
    unit="mph",
    why="fitted to the distance from one signal (1,714 m, 54 mph), the other (1,691 m) asked",
)
def test_salisbury_speed_by_the_other_distance():
    adhesion = fitted(1_714.0, 86 * MPH, 54 * MPH, LEVEL_RUN)
    slow = brentq(lambda v: run(adhesion, 86 * MPH, v, LEVEL_RUN) - 1_691.0, 20.0, 30.0)
    return slow / MPH


@outside(
    SALISBURY,
    0.0,
    within=1e-9,
    unit="m",
    why="step 2, full and emergency in turn: the rate stayed, so harder must buy nothing",
)
def test_salisbury_braking_harder_buys_nothing():
    mu = salisbury_adhesion()
    harder, softer = (run(mu, 86 * MPH, 54 * MPH, LEVEL_RUN, step) for step in (2, 1))
    return softer - harder


@outside(
    SALISBURY,
    (0.0, 1_691.0),
    unit="m",
    why="on rail that gives what step 2 asks it would have stopped short of the junction",
    status="DERIVED",
)
def test_salisbury_dry_stop_in_step_2():
    return run(1.0, 86 * MPH, 0.0, LEVEL_RUN, step=1)


def stonegate_times(adhesion: float) -> float:
    """Seconds from 64 mph to a stand on one adhesion, by summing 1 / v along the curve."""
    speeds = np.linspace(0.0, 64 * MPH, 200)
    away = np.array([distance_at(*slowing(adhesion, NET, 2), v) for v in speeds])
    return float(np.sum(2 * np.diff(away) / (speeds[1:] + speeds[:-1])))


def stonegate_level() -> float:
    """Fitted to 64 mph to a stand in 3.22 mi; the line falls, how much was not seen."""
    return fitted(3.22 * MILE, 64 * MPH, 0.0)


@outside(
    STONEGATE,
    0.81,
    within=0.005,
    unit="%g",
    why="two decimals; 64 mph to a stand in 3.22 mi",
    status="DERIVED",
)
def test_stonegate_mean_rate():
    return percent_g_from_deceleration((64 * MPH) ** 2 / 2 / (3.22 * MILE))


@outside(
    STONEGATE,
    390.0,
    within=0.12 * 390.0,
    unit="s",
    why="fitted to the distance alone; the reported 6.5 min, to half a minute, and a rail "
    "that grew worse along the way",
)
def test_stonegate_time_to_the_stand():
    return stonegate_times(stonegate_level())


@outside(
    STONEGATE,
    50.0,
    within=8.0,
    unit="mph",
    why="fitted to the whole distance; 'about 50' through the station 0.77 mi after the "
    "start, where the first rail was better than the later",
)
def test_stonegate_speed_through_the_station():
    adhesion = stonegate_level()
    slow = brentq(lambda v: run(adhesion, 64 * MPH, v) - 0.77 * MILE, 15.0, 28.5)
    return slow / MPH


@outside(
    BALLARAT,
    1.25,
    within=0.01,
    unit="%g",
    why="two decimals, releases included",
    status="DERIVED",
)
def test_ballarat_first_part():
    return percent_g_from_deceleration(((160 * KMH) ** 2 - (100 * KMH) ** 2) / 2 / 4_900.0)


@outside(
    BALLARAT,
    (3.0, 6.0),
    why="fitted to 160 -> 100 km/h in 4.9 km, our curve would run 3 to 6 times the 640 m "
    "it really took from there: the rail changed along the approach",
    status="DERIVED",
)
def test_ballarat_one_adhesion_cannot_explain_both_parts():
    adhesion = fitted(4_900.0, 160 * KMH, 100 * KMH)
    return run(adhesion, 100 * KMH, 0.0) / 640.0


@outside(
    BALLARAT,
    (0.05, 0.09),
    why="fitted to 100 km/h -> stand in 640 m: moist rail, below step 3's demand",
    status="DERIVED",
)
def test_ballarat_last_part_as_an_adhesion():
    adhesion = fitted(640.0, 100 * KMH, 0.0)
    actual, asked = deceleration(STEPS[2], 0.0, 0.0, 1.0, adhesion * GRAVITY)
    assert actual < asked
    return adhesion
