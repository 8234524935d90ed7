"""Places along a line as its posts count them: for people to read, not to calculate with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from calc.units import miles_chains_from_metres

Json = dict[str, Any]


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


class Lines:
    """The lines of the packs in use, to put names in the place of keys."""

    def __init__(self, bases: Mapping[str, Json]) -> None:
        self.bases = bases

    def unit(self, line: str) -> str | None:
        return self._route(line).get("distance_unit")

    def name(self, line: str) -> str:
        return str(self._route(line).get("name", line))

    def direction(self, line: str, key: str) -> str:
        return self._named(line, "directions", key)

    def state(self, line: str, key: str) -> str:
        return self._named(line, "states", key)

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

    def _named(self, line: str, table: str, key: str) -> str:
        rows = self.bases.get(line, {}).get(table, [])
        return next((str(row.get("name", key)) for row in rows if row["key"] == key), key)
