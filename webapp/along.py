"""Places along a line as its posts count them: written for people, and read as they type."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from calc.constants import CHAIN
from calc.units import metres_from_miles_chains, miles_chains_from_metres

Json = dict[str, Any]
MILES = re.compile(r"(\d{1,4})m(?: ?(\d{1,2}(?:\.\d{1,2})?)ch)?", re.ASCII)
KILOMETRES = re.compile(r"-?\d{1,4}(?:\.\d{1,3})?", re.ASCII)


def place(metres: float, unit: str | None) -> str:
    """Write a place in miles and chains or kilometres; in metres if the line is unknown."""
    if unit == "km":
        return f"{metres / 1000:.3f} km"
    if unit != "mi-ch":
        return f"{metres:.0f} m"
    miles, chains = miles_chains_from_metres(metres)
    return f"{miles} m {chains:02} ch"


def stretch(from_m: float, to_m: float, unit: str | None) -> str:
    """Write a stretch from its lower to its higher end."""
    low, high = sorted((from_m, to_m))
    return f"{place(low, unit)} to {place(high, unit)}"


def place_on_line(text: str, unit: str) -> float | None:
    """Return the metres of a typed chainage; None if it is not written as on this line."""
    if unit == "mi-ch":
        found = MILES.fullmatch(text.strip())
        if not found or float(found[2] or 0) >= 80:
            return None
        return round(metres_from_miles_chains(int(found[1]), float(found[2] or 0)), 2)
    found = KILOMETRES.fullmatch(text.strip())
    return round(float(found[0]) * 1000, 2) if found else None


def place_words(metres: float, base: Json | None) -> str:
    """Return a place as it is typed on this line, and read back to the same metres."""
    unit = (base or {}).get("route", {}).get("distance_unit")
    if unit != "mi-ch" or metres < 0:
        return f"{metres / 1000:.3f}" + ("" if unit else " km")
    miles, chains = miles_chains_from_metres(metres)
    exact = round(metres / CHAIN, 2)
    if abs(exact - (80 * miles + chains)) < 0.005:
        return f"{miles}m {chains:02d}ch"
    whole, rest = divmod(exact, 80)
    return f"{int(whole)}m {rest:g}ch"


def ends_words(from_m: float, to_m: float, base: Json | None) -> str:
    """Return a stretch of line in words."""
    ends = [place_words(at, base) for at in (from_m, to_m)]
    unit = " km" if (base or {}).get("route", {}).get("distance_unit") == "km" else ""
    return ends[0] + unit if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}{unit}"


def row_of(base: Json | None, table: str, key: str | None) -> Json:
    """Return a row of a pack's base; an empty one where the pack knows none."""
    return next((row for row in (base or {}).get(table, []) if row["key"] == key), {})


def name_of(base: Json | None, table: str, key: str) -> str:
    """Return the name of a row of the base; the key where the pack knows none."""
    return str(row_of(base, table, key).get("name", key))


def point_at(way: Sequence[Sequence[float]], at: float) -> list[float]:
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


class Lines:
    """The lines of the packs in use, to put names in the place of keys."""

    def __init__(self, bases: Mapping[str, Json]) -> None:
        self.bases = bases

    def unit(self, line: str) -> str | None:
        return self._route(line).get("distance_unit")

    def name(self, line: str) -> str:
        return str(self._route(line).get("name", line))

    def direction(self, line: str, key: str) -> str:
        return name_of(self.bases.get(line), "directions", key)

    def state(self, line: str, key: str) -> str:
        return name_of(self.bases.get(line), "states", key)

    def stretch(self, line: str, from_m: float, to_m: float) -> str:
        return stretch(from_m, to_m, self.unit(line))

    def stops_within(self, line: str, from_m: float, to_m: float) -> list[str]:
        """Return the names of the places in a stretch, so that no one must know posts."""
        low, high = sorted((from_m, to_m))
        places = self.bases.get(line, {}).get("places", [])
        return [one["name"] for one in places if low <= one["at_m"] <= high]

    def _route(self, line: str) -> Json:
        route: Json = self.bases.get(line, {}).get("route", {})
        return route
