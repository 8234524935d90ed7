"""Whether the sun can warm the rail yet: its height from date, latitude and hour."""

from __future__ import annotations

import math

#: Below this height of the sun a rail still has the night's temperature. Assumption:
#: about an hour after sunrise. [deg]
LOW_SUN = 10.0
#: Tilt of the earth's axis. [deg]
TILT = 23.44


def sun_height(day: int, latitude: float, hour: float) -> float:
    """Return the sun's height above the horizon. [deg].

    Parameters
    ----------
    day : int
        Day of the year, 1 to 365.
    latitude : float
        North positive. [deg]
    hour : float
        Hour by the sun, 12 at noon; a clock may be up to two hours off. [h]

    Raises
    ------
    ValueError
        If day, latitude or hour cannot be.

    Notes
    -----
    sin h = sin lat sin dec + cos lat cos dec cos H with the declination as a cosine of
    the day; within about a degree, no refraction (textbook form, from memory).
    """
    if not 1 <= day <= 365 or not abs(latitude) <= 90 or not 0 <= hour <= 24:
        raise ValueError(f"no sun is known for day {day}, latitude {latitude}, hour {hour}")
    tilt = -math.radians(TILT) * math.cos(2.0 * math.pi * (day + 10) / 365.0)
    north, angle = math.radians(latitude), math.radians(15.0 * (hour - 12.0))
    sine = math.sin(north) * math.sin(tilt) + math.cos(north) * math.cos(tilt) * math.cos(
        angle
    )
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


def sun_hour(day: int, hour: float, longitude: float) -> float:
    """Return the hour by the sun, 12 at its highest. [h].

    Parameters
    ----------
    day : int
        Day of the year, 1 to 365.
    hour : float
        Hour in UTC. [h]
    longitude : float
        East positive. [deg]

    Notes
    -----
    The sun is 15 degrees farther on each hour, and ahead of or behind the mean by the
    equation of time, 9.87 sin 2B - 7.53 cos B - 1.5 sin B min with B = 2 pi (day - 81) / 364;
    within about a minute (textbook form, from memory; compared in
    `tests/outside/test_weather_sun.py`).
    """
    b = 2.0 * math.pi * (day - 81) / 364.0
    ahead = 9.87 * math.sin(2.0 * b) - 7.53 * math.cos(b) - 1.5 * math.sin(b)
    return (hour + longitude / 15.0 + ahead / 60.0) % 24.0


def rail_keeps_night(day: int, latitude: float, hour: float) -> bool:
    """Tell whether the sun is too low to have warmed the rail."""
    return sun_height(day, latitude, hour) < LOW_SUN
