"""Speed over distance as a drawing: lines told apart by their stroke, never by colour.

The template is `_drawing.html`, the style `drawing.css`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

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
class Stem:
    """A place on the way, its word above the picture; words of other rows never meet it."""

    at: float
    words: str
    row: int
    own: bool = False

    @property
    def y(self) -> float:
        return -2.0 - 15 * self.row

    @property
    def anchor(self) -> str:
        return "start" if self.at < (LEFT + RIGHT) / 2 else "end"


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
    unit: str = "mph"
    stems: tuple[Stem, ...] = ()

    @property
    def head(self) -> int:
        """Return the room above for the words of the stems."""
        return 15 * max((one.row + 1 for one in self.stems), default=0)


@dataclass(frozen=True)
class Frame:
    """Puts metres from the mark and speeds on the drawing."""

    x_ends: Ends
    top: float

    def x(self, metres: float) -> float:
        low, high = self.x_ends
        return round(LEFT + (metres - low) / (high - low) * (RIGHT - LEFT), 1)

    def y(self, speed: float) -> float:
        return round(BOTTOM - speed / self.top * (BOTTOM - TOP), 1)

    def line(self, pairs: Pairs) -> str:
        return " ".join(f"{self.x(m)},{self.y(v)}" for m, v in pairs)

    def x_ticks(self, step: int) -> tuple[Tick, ...]:
        low, high = self.x_ends
        first, last = math.ceil(low / step), math.floor(high / step)
        return tuple(
            Tick(self.x(n * step), str(n * step).replace("-", "\N{MINUS SIGN}"))
            for n in range(first, last + 1)
        )

    def y_ticks(self, step: int) -> tuple[Tick, ...]:
        speeds = range(0, int(self.top) + 1, step)
        return tuple(Tick(self.y(speed), str(speed)) for speed in speeds)
