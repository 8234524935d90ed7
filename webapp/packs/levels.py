"""How much room a line's plans leave for ordinary errors: four named levels to pick from.

A route names one under `[physics]`, `room`, in place of the single figures. The names are
for the desk: no tablet is told a level.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

Json = dict[str, Any]
_CHOICE = "a company's choice"


@dataclass(frozen=True)
class Figures:
    """What `[physics]` has by these names; what plans are worked with."""

    brake_share: float = 1.0
    late_s: float = 0.0
    slow_s: float = 0.0
    slide_eta: float = 0.0


@dataclass(frozen=True)
class Level:
    """One level; `hand`: whether a state in hand is asked for, from where the route says."""

    key: str
    name: str
    hand: bool
    figures: Figures


#: The least room first.
LEVELS = (
    Level(
        "none",
        "Room for a wrong guess of the rail: none; for a late start or a weak brake: none",
        hand=False,
        figures=Figures(),
    ),
    Level(
        "guess",
        "Room for a wrong guess of the rail; for a late start or a weak brake: none",
        hand=True,
        figures=Figures(),
    ),
    Level(
        "some",
        "Room for a wrong guess of the rail; for a late start or a weak brake: some",
        hand=True,
        figures=Figures(0.95, 1.0, 0.4, 0.8),
    ),
    Level(
        "plenty",
        "Room for a wrong guess of the rail; for a late start or a weak brake: plenty",
        hand=True,
        figures=Figures(0.9, 2.0, 0.8, 0.75),
    ),
)
KEYS = tuple(level.key for level in LEVELS)
NAMES = tuple(one.name for one in fields(Figures))
ROUTE = "route.toml"


class NoLevel(ValueError):
    """A source whose route has figures of its own, so no level can take their place."""


def level(key: str) -> Level:
    """Return a level by its key.

    Raises
    ------
    KeyError
    """
    return {one.key: one for one in LEVELS}[key]


def filled(physics: Mapping[str, Any]) -> Json:
    """Return a checked `[physics]` table with the figures of the level that it names."""
    told = dict(physics)
    if told["room"]:
        chosen = level(told["room"])
        told |= {name: getattr(chosen.figures, name) for name in NAMES}
        told |= {} if chosen.hand else {"quiet_one_worse_from": ""}
    return told


def level_of(source: Mapping[str, Any]) -> str:
    """Return the key of the level that a pack's source names; "" where it names none."""
    try:
        route = tomllib.loads(source["files"].get(ROUTE, ""))
    except tomllib.TOMLDecodeError:
        return ""  # from a release that read it otherwise
    return str(route.get("physics", {}).get("room", ""))


def with_level(source: Mapping[str, Any], key: str) -> Json:
    """Return a source whose route names another level; nothing else of it is changed.

    Raises
    ------
    NoLevel
        If the route names no level now.
    KeyError
        If there is no such level.
    """
    text, now, new = source["files"][ROUTE], level_of(source), level(key).key
    if not now:
        raise NoLevel('this route names no level: write room = "plenty" under [physics]')
    lines = [
        line.replace(f'"{now}"', f'"{new}"', 1) if _names_room(line) else line
        for line in text.splitlines(keepends=True)
    ]
    changed = {**source, "files": {**source["files"], ROUTE: "".join(lines)}}
    was, is_now = (tomllib.loads(one["files"][ROUTE]) for one in (source, changed))
    if is_now != {**was, "physics": {**was["physics"], "room": new}}:
        raise NoLevel('write the level as room = "plenty" on a line of its own')
    return changed


def _names_room(line: str) -> bool:
    return line.split("=", 1)[0].strip() == "room"


def stated(key: str, quiet_from: str) -> list[tuple[str, str, str]]:
    """Return (what, value, basis) of a level's figures, for the pack and the page of checks.

    ``quiet_from``: the rail state from which a plan should be quiet one state worse, "" if
    none is asked for.
    """
    told = level(key).figures
    return [
        (
            "A state in hand: stopping before the limit one state worse; from which state on "
            "a plan should be quiet there",
            f"from {quiet_from} on" if quiet_from else "not asked for",
            "assumption: a driver guesses the rail, so the next worse state must not take "
            f"him past the limit; {_CHOICE}",
        ),
        (
            "Room for a weak brake: share of the quoted rates that marks, cover and limit "
            "are worked with",
            f"{told.brake_share:g}",
            "source: friction of a train scatters with a standard deviation of 10 % of its "
            "mean in the Monte Carlo published with the worked train after EN 14531-1 "
            "(github.com/RailProfAC/RailwayBrakeCalculation, MC-Simulation.ipynb); for how "
            f"much of it to leave room is {_CHOICE}",
        ),
        (
            "Room for a late hand at the brake mark",
            f"{told.late_s:g} s",
            f"assumption: common practice, no source; {_CHOICE}",
        ),
        (
            "Room for a slow brake: how much later than quoted the first force may come, "
            "electric brake lost or build-up slow",
            f"{told.slow_s:g} s",
            "assumption: up to between the 0.4 s (disc) and 1.2 s (tread) that the worked "
            "train after EN 14531-1 takes longer than is assumed here",
        ),
        (
            "Room for poor wheel-slide protection: share of the rail's adhesion it keeps in "
            "a slide",
            f"{told.slide_eta:g}" if told.slide_eta else "as planned",
            "assumption: up to the low end of 0.75 to 0.95, no published figure",
        ),
    ]


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every level, for the page of checks."""
    return tuple((one.name, _words(one.figures), f"assumption: {_CHOICE}") for one in LEVELS)


def _words(told: Figures) -> str:
    if told == Figures():
        return "the quoted figures"
    return (
        f"{told.brake_share:g} of the quoted rates, {told.late_s:g} s late at the mark, first "
        f"force {told.slow_s:g} s later, {told.slide_eta:g} of the adhesion kept in a slide"
    )
