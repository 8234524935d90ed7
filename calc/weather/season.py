"""The season of falling leaves by date and latitude, and the hours of more incidents."""

from __future__ import annotations

import math

#: Days before each month in a year of 365 days.
_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
_LENGTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
#: Leaf-fall season in Great Britain, 1 October to 24 December (rule-book cards, 2nd-hand).
BRITISH = (274, 358)
#: Latitude those dates are taken to be for: the middle of the railway. Assumption. [deg]
BRITISH_LATITUDE = 53.0
#: Days earlier for each degree farther from the equator: Hopkins, The bioclimatic law,
#: 1920 (four days a degree); tested well in spring, weakly in autumn, so half of it.
#: Assumption. [d/deg]
DAYS_PER_DEGREE = 2.0
#: Beyond these latitudes nothing is claimed. Assumption. [deg]
KNOWN_LATITUDES = (35.0, 65.0)
#: Hours in which incidents are likelier, from and up to, local time. Ishizaka et al.
#: 2017, The low adhesion problem: 05:00-10:00 and 20:00-24:00. [h]
INCIDENT_HOURS = ((5, 10), (20, 24))


def day_of_year(month: int, day: int) -> int:
    """Return the day counted from 1 January in a year of 365 days; 29 February as 1 March.

    Raises
    ------
    ValueError
        If there is no such day.
    """
    if not 1 <= month <= 12 or not 1 <= day <= _LENGTH[month - 1]:
        raise ValueError(f"there is no day {day} in month {month}")
    return _BEFORE[month - 1] + day


def leaf_fall_days(latitude: float) -> tuple[int, int] | None:
    """Return first and last day of the leaf-fall season, or None where nothing is known.

    Parameters
    ----------
    latitude : float
        North positive. [deg]

    Returns
    -------
    tuple of int or None
        Days of the year; the first may be the larger where the season holds over New
        Year.

    Raises
    ------
    ValueError
        If the latitude is missing or beyond a pole.

    Notes
    -----
    A guide until the company gives its own dates: the British season, moved by two days
    for each degree, and by half a year on the southern half of the earth.
    """
    if not abs(latitude) <= 90.0:
        raise ValueError(f"latitude must lie within -90 and 90 degrees, got {latitude}")
    low, high = KNOWN_LATITUDES
    if not low <= abs(latitude) <= high:
        return None
    earlier = DAYS_PER_DEGREE * (abs(latitude) - BRITISH_LATITUDE)
    half_year = 182.5 if latitude < 0 else 0.0
    first, last = (math.floor(day - earlier - half_year) for day in BRITISH)
    return (first - 1) % 365 + 1, (last - 1) % 365 + 1


def in_days(day: int, first: int, last: int) -> bool:
    """Tell whether a day of the year lies in a season that may hold over New Year."""
    if not all(1 <= each <= 365 for each in (day, first, last)):
        raise ValueError("a day of the year must lie within 1 and 365")
    if first <= last:
        return first <= day <= last
    return day >= first or day <= last


def incident_hour(hour: float) -> bool:
    """Tell whether an hour of the day, local time, is one of more incidents.

    Raises
    ------
    ValueError
        If it is not within 0 and 24.
    """
    if not 0 <= hour <= 24:
        raise ValueError(f"an hour must lie within 0 and 24, got {hour}")
    return any(start <= hour % 24 < stop for start, stop in INCIDENT_HOURS)
