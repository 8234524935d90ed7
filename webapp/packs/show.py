"""Distances in the words of the line, for messages to the route author."""

from __future__ import annotations

from calc.constants import CHAIN

from .model import DistanceUnit


def shown(metres: float, unit: DistanceUnit) -> str:
    """Return a distance as it is posted: "31m 20ch" or "12.345"."""
    if unit == "km":
        return f"{metres / 1000:.3f}"
    chains = round(metres / CHAIN, 2)
    return f"{int(chains // 80)}m {chains % 80:02.4g}ch"
