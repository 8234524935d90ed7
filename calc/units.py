"""Units as posted on the line, turned into SI and back, exactly where they are exact.

Distances on a mile railway are counted in miles and chains (80 chains a mile), on a
kilometre railway in kilometres; speeds in mph or km/h; braking rates in %g.
"""

from __future__ import annotations

from fractions import Fraction

from .constants import CHAIN, GRAVITY, KMH, MILE, MPH, YARD

_CHAIN_EXACT = Fraction(201168, 10000)


def metres_from_miles_chains(miles: int, chains: float) -> float:
    """Return the metres of a milepost distance; chains may carry a fraction [m]."""
    return float((Fraction(miles) * 80 + Fraction(chains)) * _CHAIN_EXACT)


def miles_chains_from_metres(metres: float) -> tuple[int, int]:
    """Return whole miles and the nearest whole chain below 80 for a distance [m]."""
    total = round(Fraction(metres) / _CHAIN_EXACT)
    return total // 80, total % 80


def metres_from_yards(yards: float) -> float:
    """Return yards in metres [m]."""
    return yards * YARD


def speed_from_mph(mph: float) -> float:
    """Return mph in metres a second [m/s]."""
    return mph * MPH


def mph_from_speed(speed: float) -> float:
    """Return metres a second in mph [mph]."""
    return speed / MPH


def speed_from_kmh(speed_kmh: float) -> float:
    """Return km/h in metres a second [m/s]."""
    return speed_kmh * KMH


def kmh_from_speed(speed: float) -> float:
    """Return metres a second in km/h [km/h]."""
    return speed / KMH


def deceleration_from_percent_g(percent_g: float) -> float:
    """Return a rate in %g as a deceleration [m/s2]."""
    return percent_g * GRAVITY / 100.0


def percent_g_from_deceleration(deceleration: float) -> float:
    """Return a deceleration [m/s2] in %g [%g]."""
    return 100.0 * deceleration / GRAVITY


def gradient_from_one_in(run: float) -> float:
    """Return the gradient of 1 in ``run`` as a ratio; falling runs are negative [-].

    Raises
    ------
    ValueError
        If ``run`` is zero.
    """
    if run == 0:
        raise ValueError("a gradient of 1 in 0 is a wall: give 'level' or a number")
    return 1.0 / run


__all__ = [
    "CHAIN",
    "MILE",
    "deceleration_from_percent_g",
    "gradient_from_one_in",
    "kmh_from_speed",
    "metres_from_miles_chains",
    "metres_from_yards",
    "miles_chains_from_metres",
    "mph_from_speed",
    "percent_g_from_deceleration",
    "speed_from_kmh",
    "speed_from_mph",
]
