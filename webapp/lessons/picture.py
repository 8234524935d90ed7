"""Speed over distance as a drawing: lines told apart by their stroke, never by colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from webapp.lessons.kept import Brakes, Lessons, State

WIDTH, HEIGHT = 360, 250
LEFT, RIGHT, TOP, BOTTOM = 34, 338, 22, 210
#: Strokes by line, as the style names them; the first is the plainest.
STROKES = ("solid", "dashed", "dotted")

Pairs = Sequence[tuple[float, float]]
Ends = tuple[float, float]


@dataclass(frozen=True)
class Tick:
    """Where a grid line lies, and its words."""

    at: float
    words: str


@dataclass(frozen=True)
class Stroke:
    """One drawn line, and a ring where the wheels begin to slide."""

    words: str
    kind: str
    points: str
    ring: tuple[float, float] | None = None


@dataclass(frozen=True)
class Picture:
    """A drawing in the units of its own view box; `text` says in words what it shows."""

    width: ClassVar[int] = WIDTH
    height: ClassVar[int] = HEIGHT
    left: ClassVar[int] = LEFT
    right: ClassVar[int] = RIGHT
    bottom: ClassVar[int] = BOTTOM

    key: str
    title: str
    text: str
    across: str
    strokes: tuple[Stroke, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    platform: tuple[float, float] | None = None
    wet_from: float | None = None


@dataclass(frozen=True)
class _Frame:
    x_ends: Ends
    top_mph: float

    def x(self, metres: float) -> float:
        low, high = self.x_ends
        return round(LEFT + (metres - low) / (high - low) * (RIGHT - LEFT), 1)

    def y(self, mph: float) -> float:
        return round(BOTTOM - mph / self.top_mph * (BOTTOM - TOP), 1)

    def line(self, pairs: Pairs) -> str:
        return " ".join(f"{self.x(m)},{self.y(v)}" for m, v in pairs)

    def x_ticks(self, step: int) -> tuple[Tick, ...]:
        low, high = self.x_ends
        first, last = math.ceil(low / step), math.floor(high / step)
        return tuple(Tick(self.x(n * step), _signed(n * step)) for n in range(first, last + 1))

    def y_ticks(self, step: int) -> tuple[Tick, ...]:
        return tuple(
            Tick(self.y(mph), str(mph)) for mph in range(0, int(self.top_mph) + 1, step)
        )


def approaches(lessons: Lessons) -> Picture:
    """Draw both approaches of the lesson over metres from the stop mark."""
    scene = lessons.scene
    first = -100 * math.ceil(max(one.brake_before_m for one in lessons.approaches) / 100 + 1)
    last = max(scene.platform_end_m, *(one.past_mark_m for one in lessons.approaches)) + 40
    frame = _Frame((first, last), scene.speed_mph)
    strokes = tuple(
        Stroke(
            one.name,
            kind,
            frame.line([(first, scene.speed_mph), *one.curve]),
            one.slide_at and (frame.x(one.slide_at[0]), frame.y(one.slide_at[1])),
        )
        for one, kind in zip(lessons.approaches, STROKES, strict=False)
    )
    stands = "; ".join(
        f"{one.name}: brake begun {one.brake_before_m} m before the mark, "
        f"front {abs(one.past_mark_m)} m {'past' if one.past_mark_m > 0 else 'short of'} it"
        for one in lessons.approaches
    )
    return Picture(
        key="approaches",
        title="Speed on both approaches",
        text=f"Speed in mph falling over metres from the stop mark. {stands}.",
        across="metres from the stop mark",
        strokes=strokes,
        x_ticks=frame.x_ticks(400),
        y_ticks=frame.y_ticks(20),
        # The rear of a train at the mark is taken to be where the platform begins.
        platform=(frame.x(-scene.length_m), frame.x(scene.platform_end_m)),
        wet_from=frame.x(scene.wet_from_m),
    )


def stops(brakes: Brakes) -> tuple[Picture, ...]:
    """Draw the stops of every brake, one small drawing a rail state, all to one scale."""
    longest = max(m for s in brakes.states for curve in s.curves for m, _ in curve)
    frame = _Frame((0, 500 * math.ceil(longest / 500)), brakes.curve_mph)
    return tuple(_stop(brakes, state, frame) for state in brakes.states)


def _stop(brakes: Brakes, state: State, frame: _Frame) -> Picture:
    ends = "; ".join(
        f"{name} {curve[-1][0]:,} m"
        for name, curve in zip(brakes.names, state.curves, strict=True)
    )
    return Picture(
        key="stop-" + state.name.replace(" ", "-"),
        title=f"{state.name.capitalize()}: stops from {brakes.curve_mph} mph",
        text=f"Speed in mph falling over metres from the handle's move. Stands: {ends}.",
        across="metres from the handle's move",
        strokes=tuple(
            Stroke(name, kind, frame.line(curve))
            for name, kind, curve in zip(brakes.names, STROKES, state.curves, strict=True)
        ),
        x_ticks=frame.x_ticks(500),
        y_ticks=frame.y_ticks(20),
    )


def _signed(metres: int) -> str:
    return str(metres).replace("-", "\N{MINUS SIGN}")
