"""A piece of line drawn from end to end: stations, a report, what is near it, warnings.

It runs down the page in the order of the posts, so that it is as legible on a phone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from webapp.lines.base import Base
from webapp.lines.posts import place_along

#: What is drawn on either side of the report, and no more than. [m]
LEAST_M, MOST_M = 1500.0, 3000.0
TOP, TALL, GAP = 24, 400, 22


@dataclass(frozen=True)
class Here:
    """One thing on the line; `to_m` only where it is a stretch."""

    kind: str  # "station", "report", "near" or "warning"
    words: str
    at_m: float
    to_m: float | None = None


@dataclass(frozen=True)
class Drawn:
    """The same, in the units of the picture; `label` is where its words stand."""

    kind: str
    words: str
    y: float
    y_to: float
    label: float


@dataclass(frozen=True)
class Strip:
    """A picture 380 wide, `height` high, and the same in words.

    `above` and `below` are the next stations, off the picture.
    """

    height: float
    top: float
    foot: float
    above: str | None
    below: str | None
    rising: bool
    right: list[Drawn]
    left: list[Drawn]
    words: str


def mark_of(base: Base, at_m: float | None, target: str | None) -> float | None:
    """Return where a report is: its place along the line, else the mark of its stop."""
    if at_m is not None:
        return at_m
    stop = base.target(target)
    return None if stop is None else stop.first_mark


def draw(base: Base, direction: str, at: float, things: Iterable[Here]) -> Strip | None:
    """Draw the line round a place; None if the place is not on it."""
    ends = base.ends
    if ends is None or not ends[0] <= at <= ends[1]:
        return None
    stations = [(one.at_m, one.name) for one in base.places]
    low, high = _window(at, [at_m for at_m, _ in stations], *ends)
    unit = base.distance_unit
    own = Here("report", f"This report, {place_along(at, unit, about=True)}", at)
    named = [Here("station", name, at_m) for at_m, name in stations]
    inside = [one for one in (own, *named, *things) if _meets(one, low, high)]
    scale = _Scale(low, high)
    right = _spread(scale, [one for one in inside if one.kind in ("report", "station")])
    left = _spread(scale, [one for one in inside if one.kind in ("near", "warning")])
    foot = TOP + TALL
    lowest = max([foot, *(one.label for one in (*right, *left))])
    return Strip(
        lowest + TOP, TOP, foot, *_beyond(stations, low, high),
        base.sign(direction) > 0, right, left, _words(inside, unit),
    )  # fmt: skip


def _beyond(
    stations: Sequence[tuple[float, str]], low: float, high: float
) -> tuple[str | None, str | None]:
    """Return the next stations off the picture, above and below."""
    above = max(((at, name) for at, name in stations if at < low), default=None)
    below = min(((at, name) for at, name in stations if at > high), default=None)
    return above and above[1], below and below[1]


def _window(
    at: float, stations: Sequence[float], first: float, last: float
) -> tuple[float, float]:
    """Return the ends: the next station on both sides is on it, unless it is far."""
    before = max((one for one in stations if one < at), default=first)
    after = min((one for one in stations if one > at), default=last)
    low = min(at - LEAST_M, max(before - 200, at - MOST_M))
    high = max(at + LEAST_M, min(after + 200, at + MOST_M))
    return max(low, first), min(high, last)


def _meets(one: Here, low: float, high: float) -> bool:
    far = one.at_m if one.to_m is None else one.to_m
    return max(one.at_m, far) >= low and min(one.at_m, far) <= high


@dataclass(frozen=True)
class _Scale:
    low: float
    high: float

    def y(self, at: float) -> float:
        inside = min(max(at, self.low), self.high)
        return round(TOP + TALL * (inside - self.low) / (self.high - self.low), 1)


def _spread(scale: _Scale, things: list[Here]) -> list[Drawn]:
    """Place the words beside the things, pushed down where they would meet."""
    spots = []
    for one in things:
        ends = sorted((scale.y(one.at_m), scale.y(one.at_m if one.to_m is None else one.to_m)))
        spots.append((sum(ends) / 2, ends, one))
    drawn: list[Drawn] = []
    for middle, (begins, ends_at), one in sorted(spots, key=lambda spot: spot[0]):
        label = max(middle, drawn[-1].label + GAP) if drawn else middle
        drawn.append(Drawn(one.kind, one.words, begins, ends_at, label))
    return drawn


def _words(things: Iterable[Here], unit: str | None) -> str:
    """Say the picture in words, in the order of the posts."""
    said = []
    for one in sorted(things, key=lambda one: one.at_m):
        where = place_along(one.at_m, unit, about=True)
        if one.to_m is not None:
            where += f" to {place_along(one.to_m, unit, about=True)}"
        said.append(one.words if one.kind == "report" else f"{one.words}, {where}")
    return "In the order of the posts: " + "; ".join(said) + "."
