"""Place along the line against hour: states told apart by shape and word, never by colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from webapp.lines.base import Base, Listed
from webapp.lines.posts import stretch_along
from webapp.records.weather.outlook import OneHour, Outlook, places_along

#: Patterns by place in the chain, as the template draws them; the last for all that are worse.
PATTERNS = ("plain", "lines", "dots", "crosses", "slants", "net")
UNKNOWN = "unknown"
LEFT, TOP, HIGH, WIDE = 212, 40, 34, 20
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Run:
    """Hours in a row with one state: where they are drawn, and their words."""

    x: int
    width: int
    pattern: str
    words: str


@dataclass(frozen=True)
class Row:
    """One piece of line."""

    y: int
    name: str
    place: str
    runs: tuple[Run, ...]


@dataclass(frozen=True)
class Tick:
    x: int
    words: str
    day: str


@dataclass(frozen=True)
class Drawn:
    """The whole picture in the units of its view box, and each state that is in it."""

    rows: tuple[Row, ...]
    ticks: tuple[Tick, ...]
    legend: tuple[tuple[str, str], ...]
    width: int
    height: int


@dataclass(frozen=True)
class Stretch:
    """Hours in a row of which the same is said: one row of the table."""

    times: str
    state: str
    first: OneHour


def drawn(base: Base, found: Outlook, zone: ZoneInfo) -> Drawn:
    """Return the picture of an outlook: the line, and each place that the register lists."""
    hours, unit = found.hours, base.distance_unit
    rows = [_row(0, "The line", "", [one.state for one in hours], base)]
    for number, place in enumerate(places_along(base), start=1):
        states = [_worse(base, one.state, place, one.at.astimezone(zone)) for one in hours]
        way = stretch_along(place.from_m, place.to_m, unit)
        rows.append(_row(number, place.name, way, states, base))
    words = {run.words: run.pattern for row in rows for run in row.runs}
    order = [*(state.name for state in base.states), UNKNOWN]
    legend = tuple((name, words[name]) for name in order if name in words)
    width, height = LEFT + WIDE * len(hours) + 8, TOP + HIGH * len(rows) + 8
    return Drawn(tuple(rows), tuple(_ticks(hours, zone)), legend, width, height)


def _worse(base: Base, state: str | None, place: Listed, local: datetime) -> str | None:
    """Return the worse of the weather's state and the place's own, while it is in season."""
    if not place.counts_on(f"{local:%m-%d}"):
        return state
    order = [one.key for one in base.states]
    if place.state not in order:
        return state
    if state is None:
        return place.state
    return max(state, place.state, key=order.index)


def _row(number: int, name: str, place: str, states: Sequence[str | None], base: Base) -> Row:
    runs, at = [], 0
    for state, same in groupby(states):
        count = len(list(same))
        words, pattern = _look(base, state)
        runs.append(Run(LEFT + WIDE * at, WIDE * count, pattern, words))
        at += count
    return Row(TOP + HIGH * number, name, place, tuple(runs))


def _look(base: Base, state: str | None) -> tuple[str, str]:
    for rank, one in enumerate(base.states):
        if one.key == state:
            return one.name, PATTERNS[min(rank, len(PATTERNS) - 1)]
    return UNKNOWN, UNKNOWN


def _ticks(hours: Sequence[OneHour], zone: ZoneInfo) -> list[Tick]:
    found, day = [], ""
    for number, one in enumerate(hours):
        begins = (one.at - HOUR).astimezone(zone)
        if number % 3:
            continue
        today = _day(begins)
        found.append(Tick(LEFT + WIDE * number, f"{begins:%H}", "" if today == day else today))
        day = today
    return found


def stretches(base: Base, hours: Sequence[OneHour], zone: ZoneInfo) -> list[Stretch]:
    """Return the table beside the picture: hours in a row of which the same is said."""
    found = []
    same = groupby(hours, lambda one: (one.state, one.why, one.unknown, one.change))
    for _, some in same:
        group = list(some)
        words, _ = _look(base, group[0].state)
        times = _times(*(at.astimezone(zone) for at in (group[0].at - HOUR, group[-1].at)))
        found.append(Stretch(times, words, group[0]))
    return found


def _times(begins: datetime, ends: datetime) -> str:
    other = "" if begins.date() == ends.date() else f"{_day(ends)} "
    return f"{_day(begins)} {begins:%H:%M} to {other}{ends:%H:%M}"


def _day(at: datetime) -> str:
    return f"{at:%a} {at.day}"
