"""Places along a line as its posts count them: written for people, and read as they type."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

from calc.constants import CHAIN
from calc.units import metres_from_miles_chains

MILES = re.compile(r"(-?)(\d{1,4}) ?mi?(?: ?(\d{1,2}(?:[.,]\d{1,2})?) ?ch)?", re.ASCII)
KILOMETRES = re.compile(r"(-?\d{1,4}(?:[.,]\d{1,3})?)(?: ?km)?", re.ASCII)


def place_along(metres: float, unit: str | None, *, about: bool = False) -> str:
    """Write a place as the line's posts count it, so that it can be typed back.

    "31 mi 20 ch" or "12.345 km"; kilometres too where the line is unknown. ``about`` rounds
    what is known no better to whole chains or 10 m. Beside static/core/format.js
    ``placeAlong`` nothing else writes a place along a line.
    """
    # Half up, as the tablet rounds: Python's own would round halves to even.
    if unit != "mi-ch":
        step = 10 if about else 1
        all_m = math.floor(abs(metres) / step + 0.5) * step
        sign = "-" if metres < 0 and all_m else ""
        return f"{sign}{re.sub('0{1,2}$', '', f'{all_m / 1000:.3f}')} km"
    step = 100 if about else 1
    all_hundredths = math.floor(abs(metres) / CHAIN * 100 / step + 0.5) * step
    sign = "-" if metres < 0 and all_hundredths else ""
    miles, hundredths = divmod(all_hundredths, 8000)
    chains = f"{hundredths / 100:05.2f}".rstrip("0").rstrip(".")
    return f"{sign}{miles} mi {chains} ch"


def stretch_along(from_m: float, to_m: float, unit: str | None) -> str:
    """Write a stretch from its lower to its higher end."""
    low, high = (place_along(at, unit) for at in sorted((from_m, to_m)))
    return low if low == high else f"{low} to {high}"


def place_on_line(text: str, unit: str) -> float | None:
    """Return the metres of a typed place; None if it is not written as on this line.

    Whatever ``place_along`` and the tablet write is read, in either language; "31m 20ch",
    as notices have it, and "12.345" as well.
    """
    if unit == "mi-ch":
        found = MILES.fullmatch(text.strip())
        chains = _number(found[3] or "0") if found else 80.0
        if not found or chains >= 80:
            return None
        metres = round(metres_from_miles_chains(int(found[2]), chains), 2)
        return -metres if found[1] else metres
    found = KILOMETRES.fullmatch(text.strip())
    return round(_number(found[1]) * 1000, 2) if found else None


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def how_to_type(unit: str) -> str:
    """Say how a place on a line is typed."""
    return (
        "miles and chains, like 31 mi 20 ch" if unit == "mi-ch" else "kilometres, like 12.345"
    )


def point_on(way: Sequence[Sequence[float]], at: float) -> list[float]:
    """Return [lon, lat] of a place on a line given by its (lon, lat, metres), rising.

    Raises
    ------
    ValueError
        If the place is not on the line.
    """
    for (lon_a, lat_a, a), (lon_b, lat_b, b) in pairwise(way):
        if a <= at <= b:
            share = (at - a) / (b - a) if b > a else 0.0
            lon, lat = lon_a + share * (lon_b - lon_a), lat_a + share * (lat_b - lat_a)
            return [round(lon, 6), round(lat, 6)]
    raise ValueError(f"{at} m is not on the line")
