"""The lessons and the comparison as figures, and the file that keeps them.

They are worked out when the project is developed, not when the page is asked for.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

STORED = Path(__file__).parent / "lessons.json"


@dataclass(frozen=True)
class Scene:
    """What both approaches meet; metres from the stop mark, negative before it."""

    speed_mph: int
    usual_step: str
    lightest_step: str
    before: float
    wet_from_m: int
    wet: float
    platform_end_m: int
    emergency_before_m: int
    length_m: int


@dataclass(frozen=True)
class Approach:
    """One approach as it came out; every figure is an outcome.

    `slide_at` is metres from the mark and mph at the first sign of a slide, or None;
    `curve` holds such pairs from the brake controller's move to the stand.
    """

    name: str
    brake_before_m: int
    past_mark_m: int
    off_platform_m: int
    slid_m: int
    applications: int
    step_in_hand: bool
    slide_at: tuple[int, float] | None
    curve: tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class State:
    """One rail state of the comparison; rows by brake, columns by speed.

    `curves` holds, by brake, pairs of metres from the brake controller's move and mph.
    """

    name: str
    adhesion: float
    metres: tuple[tuple[int, ...], ...]
    slid: tuple[tuple[bool, ...], ...]
    curves: tuple[tuple[tuple[int, float], ...], ...]


@dataclass(frozen=True)
class Brakes:
    """Stopping distances of the same weights on disc and tread brakes."""

    step: str
    names: tuple[str, ...]
    speeds_mph: tuple[int, ...]
    curve_mph: int
    states: tuple[State, ...]


@dataclass(frozen=True)
class Lessons:
    """All that the page shows."""

    scene: Scene
    approaches: tuple[Approach, ...]
    brakes: Brakes


def text(lessons: Lessons) -> str:
    """Return the file's content."""
    return json.dumps(asdict(lessons), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write(lessons: Lessons, path: Path = STORED) -> None:
    """Keep the figures where an installed server finds them."""
    path.write_text(text(lessons), encoding="utf-8")


def read(path: Path = STORED) -> Lessons:
    """Return what a file keeps."""
    data = json.loads(path.read_text(encoding="utf-8"), object_hook=_tupled)
    brakes = data["brakes"]
    states = tuple(State(**state) for state in brakes["states"])
    return Lessons(
        scene=Scene(**data["scene"]),
        approaches=tuple(Approach(**one) for one in data["approaches"]),
        brakes=Brakes(**brakes | {"states": states}),
    )


@cache
def stored() -> Lessons:
    """Return the lessons that came with this version."""
    return read()


def _tupled(pairs: dict[str, object]) -> dict[str, object]:
    return {name: _tuple(value) for name, value in pairs.items()}


def _tuple(value: object) -> object:
    return tuple(map(_tuple, value)) if isinstance(value, list) else value
