"""The approach to a report's stop as the pack in the driver's hand advised it.

How the train was driven is recorded nowhere, so nothing of that is drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from webapp.advised import OK, SPEED_UNITS, begin, in_season, refusal
from webapp.drawing import STROKES, Frame, Picture, Stem, Stroke
from webapp.packs.service import look_up

Json = dict[str, Any]
#: What is drawn at least, and past the mark at most. [m]
LEAST_M, PAST_M = 400.0, 500.0


@dataclass(frozen=True)
class Approach:
    """A picture with its words; without a picture the words say why there is none."""

    picture: Picture | None
    words: list[str]


@dataclass(frozen=True)
class Cell:
    """Which approach of a pack: indices into its stops, trains and rail states."""

    target: int
    train: int
    state: int
    season: int


@dataclass(frozen=True)
class _Plan:
    """One rail state's advice; `begins` is where its mark stands. [m before the stop mark]"""

    kind: str
    words: str
    begins: float | None


class NotDrawn(LookupError):
    """Why there is no picture, in words for the desk."""


def cell(base: Json, body: Json, line: str, day: str) -> Cell:
    """Find the approach that a report names.

    Raises
    ------
    NotDrawn
        If the report or the pack leaves it open.
    """
    if base["route"]["key"] != line:
        raise NotDrawn("the pack in hand is of another line.")
    found = {}
    for table, key, name in (
        ("targets", "target", "stop"),
        ("trains", "train", "train"),
        ("states", "rail_state", "planned rail"),
    ):
        if body[key] is None:
            raise NotDrawn(f"the report names no {name}.")
        keys = [one["key"] for one in base[table]]
        if body[key] not in keys:
            raise NotDrawn(f"the pack in hand knows no such {name}: {body[key]}")
        found[key] = keys.index(body[key])
    season = int(in_season(base, base["targets"][found["target"]], day))
    return Cell(found["target"], found["train"], found["rail_state"], season)


def draw(base: Json, table: Json, pictures: Json, at: Cell, at_m: float | None) -> Approach:
    """Draw the planned and the next worse rail state, and where the report lies.

    Raises
    ------
    NotDrawn
        If the pack holds no curve or no stop mark there.
    """
    target = base["targets"][at.target]
    mark, sign = target["mark_m"][at.train], _sign(base, target)
    curves = _curves(base, pictures, at)
    if mark is None or not curves[0].tenths:
        raise NotDrawn("the pack in hand holds no curve for this stop, train and rail.")
    plans = _plans(base, table, at)
    own = None if at_m is None else sign * (mark - at_m)
    spacing, dial = float(pictures["spacing_m"]), int(base["route"]["dial"])
    fastest = _fastest(target["approach_speed"][at.train], curves)
    longest = spacing * (max(len(one.tenths) for one in curves) - 1)
    ends = _ends(longest, [one.begins for one in plans if one.begins is not None], own)
    frame = Frame(ends, (math.floor(fastest / dial / 2) + 1) * dial * 2)
    words = [*(one.words for one in plans), _own_words(own, frame)]
    unit = SPEED_UNITS[base["route"]["speed_unit"]]
    picture = Picture(
        key="approach",
        title="The approach as the pack advised it",
        text=f"Speed in {unit} over metres from the stop mark. " + " ".join(words),
        across="metres from the stop mark",
        strokes=tuple(
            Stroke(one.words, one.kind, _line(frame, one.tenths, spacing, fastest))
            for one in curves
            if one.tenths
        ),
        x_ticks=frame.x_ticks(_step(frame)),
        y_ticks=frame.y_ticks(dial * (4 if frame.top > dial * 10 else 2)),
        unit=unit,
        stems=_stems(frame, plans, own),
    )
    return Approach(picture, words)


@dataclass(frozen=True)
class _Curve:
    """Speeds going back from the mark, in tenths of a unit; none where the pack holds none."""

    words: str
    kind: str
    tenths: list[int]


def _sign(base: Json, target: Json) -> int:
    way = target["direction"]
    return next(int(one["sign"]) for one in base["directions"] if one["key"] == way)


def _curves(base: Json, pictures: Json, at: Cell) -> list[_Curve]:
    """Return the curve of the planned state first."""
    advised = pictures["advised"]
    states = [one["name"] for one in base["states"][at.state : at.state + 2]]
    found = [
        _Curve(f"advised, {name}", kind, _of(advised, at.season, at.target, at.state + n))
        for n, (name, kind) in enumerate(zip(states, STROKES, strict=False))
    ]
    return [*found, _Curve("usual approach", STROKES[2], _of(pictures["usual"], at.target))]


def _of(column: Any, *cell: int) -> list[int]:
    for index in cell:
        if index >= len(column):
            return []
        column = column[index]
    return list(column)


def _fastest(approach: float | None, curves: Sequence[_Curve]) -> float:
    """Return how fast a train comes here: the curves go on for faster ones."""
    return float(approach or max(max(one.tenths, default=0) for one in curves) / 10)


def _plans(base: Json, table: Json, at: Cell) -> list[_Plan]:
    """Look up both rail states as the tablet does, each at its own approach speed."""
    at_state = {"target": at.target, "train": at.train, "state": at.state}
    found = look_up(base, table, **at_state, season=at.season, speed=None)
    plans = [_plan(base, at, "planned", at.state, found)]
    if found["worse"] is not None:
        plans.append(_plan(base, at, "worse", at.state + 1, found["worse"]))
    return plans


def _plan(base: Json, at: Cell, kind: str, state: int, found: Json) -> _Plan:
    head = "If worse" if kind == "worse" else kind.capitalize()
    said = f"{head}, {base['states'][state]['name']}: "
    if found["status"] != OK:
        return _Plan(kind, said + refusal(found["status"]), None)
    mark, begins = found["mark"], float(found["brake"])
    if mark is not None:
        target = base["targets"][at.target]
        there = base["landmarks"][mark["index"]]["at_m"]
        begins = float(_sign(base, target) * (target["mark_m"][at.train] - there))
    step = base["trains"][at.train]["steps"][found["step"]]
    words = f"{begin(mark)}, {begins:.0f} m before the stop mark, {step}."
    return _Plan(kind, said + words, begins)


def _ends(longest: float, points: Sequence[float], own: float | None) -> tuple[float, float]:
    """Return what is drawn: both brake marks, and the report unless it is far off. [m]"""
    far = max(LEAST_M, 1.12 * max([longest / 3, *points]))
    if own is not None and far < own <= 1.5 * far:
        far = 1.05 * own
    past = 0.0 if own is None or not -PAST_M <= own < 0 else 40 - own
    return -far, past


def _line(frame: Frame, tenths: Sequence[int], spacing: float, fastest: float) -> str:
    """Draw up to the edge; a train comes no faster than its approach speed."""
    shown = int(-frame.x_ends[0] / spacing) + 1
    return frame.line(
        [(-n * spacing, min(one / 10, fastest)) for n, one in enumerate(tenths[:shown])]
    )


def _step(frame: Frame) -> int:
    span = frame.x_ends[1] - frame.x_ends[0]
    return next((one for one in (100, 200, 500, 1000) if span / one <= 6), 2000)


def _stems(frame: Frame, plans: Sequence[_Plan], own: float | None) -> tuple[Stem, ...]:
    """Give each its own row, so that words never meet however near they lie."""
    stems = [
        Stem(frame.x(-one.begins), one.kind, row)
        for row, one in enumerate(plans, 1)
        if one.begins is not None
    ]
    if own is not None and _inside(frame, own):
        stems.append(Stem(frame.x(-own), "this report", 0, own=True))
    return tuple(stems)


def _inside(frame: Frame, before: float) -> bool:
    return frame.x_ends[0] <= -before <= frame.x_ends[1]


def _own_words(own: float | None, frame: Frame) -> str:
    if own is None:
        return "This report names the stop, but no place on the way to it."
    where = f"{abs(own):.0f} m {'before' if own >= 0 else 'past'} the stop mark"
    return f"This report: {where}{'' if _inside(frame, own) else ', off the picture'}."
