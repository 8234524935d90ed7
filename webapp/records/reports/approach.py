"""The approach to a report's stop as the pack in the driver's hand advised it.

How the train was driven is recorded nowhere, so nothing of that is drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from webapp.lines.advice import Card, Cell, card
from webapp.lines.base import Base
from webapp.lines.picture import advised_curve, drawn_approach, drawn_usual
from webapp.plain.drawing import STROKES, Frame, Picture, Stem, Stroke

Json = dict[str, Any]
#: What is drawn at least, and past the mark at most. [m]
LEAST_M, PAST_M = 400.0, 500.0


@dataclass(frozen=True)
class Approach:
    """A picture with its words; without a picture the words say why there is none."""

    picture: Picture | None
    words: list[str]


@dataclass(frozen=True)
class _Plan:
    """One rail state's advice; `begins` is where its mark stands. [m before the stop mark]"""

    kind: str
    words: str
    begins: float | None


class NotDrawn(LookupError):
    """Why there is no picture, in words for the desk."""


def cell(base: Base, body: Json, line: str, day: str) -> Cell:
    """Find the approach that a report names.

    Raises
    ------
    NotDrawn
        If the report or the pack leaves it open.
    """
    if base.key != line:
        raise NotDrawn("the pack held is of another line.")
    found = {}
    for rows, key, name in (
        (base.targets, "target", "stop"),
        (base.trains, "train", "train"),
        (base.states, "rail_state", "planned rail"),
    ):
        if body[key] is None:
            raise NotDrawn(f"the report names no {name}.")
        keys = [one.key for one in rows]
        if body[key] not in keys:
            raise NotDrawn(f"the pack held knows no such {name}: {body[key]}")
        found[key] = keys.index(body[key])
    season = int(base.in_season(base.targets[found["target"]], day))
    return Cell(found["target"], found["train"], found["rail_state"], season)


def draw(base: Base, table: Json, pictures: Json, at: Cell, at_m: float | None) -> Approach:
    """Draw the planned and the next worse rail state, and where the report lies.

    Raises
    ------
    NotDrawn
        If the pack holds no curve or no stop mark there.
    """
    target = base.targets[at.target]
    mark, sign = target.mark_m[at.train], base.sign(target.direction)
    if mark is None or not advised_curve(pictures, at.indices):
        raise NotDrawn("the pack held holds no curve for this stop, train and rail.")
    curves, plans = _curves(base, table, pictures, at), _plans(base, table, at)
    own = None if at_m is None else sign * (mark - at_m)
    dial = base.dial
    fastest = max((speed for one in curves for _, speed in one.points), default=dial)
    begun = [one.points[-1][0] for one in curves]
    ends = _ends([*begun, *(one.begins for one in plans if one.begins is not None)], own)
    frame = Frame(ends, (math.floor(fastest / dial / 2) + 1) * dial * 2)
    words = [*(one.words for one in plans), _own_words(own, frame)]
    unit = base.speed_words
    picture = Picture(
        key="approach",
        title="The approach as the pack advised it",
        text=f"Speed in {unit} over metres from the stop mark. " + " ".join(words),
        across="metres from the stop mark",
        strokes=tuple(
            Stroke(one.words, one.kind, frame.line([(-m, v) for m, v in one.points]))
            for one in curves
        ),
        x_ticks=frame.x_ticks(_step(frame)),
        y_ticks=frame.y_ticks(dial * (4 if frame.top > dial * 10 else 2)),
        unit=unit,
        stems=_stems(frame, plans, own),
    )
    return Approach(picture, words)


@dataclass(frozen=True)
class _Curve:
    """Metres before the mark and speeds there, from the mark outward."""

    words: str
    kind: str
    points: list[list[float]]


def _curves(base: Base, table: Json, pictures: Json, at: Cell) -> list[_Curve]:
    """Return the curve of the planned state first; a state without advice has none."""
    found = []
    for n, state in enumerate(base.states[at.state : at.state + 2]):
        shown = replace(at, state=at.state + n)
        drawn = drawn_approach(base.file, table, pictures, shown.indices)
        if drawn is not None:
            words = f"advised, {state.name}"
            found.append(_Curve(words, STROKES[n], drawn["advised"]["points"]))
    usual = drawn_usual(base.file, table, pictures, at.indices)
    if usual is not None:
        found.append(_Curve("usual approach", STROKES[2], usual["points"]))
    return found


def _plans(base: Base, table: Json, at: Cell) -> list[_Plan]:
    """Look up both rail states as the tablet does, each at its own approach speed."""
    found = card(base, table, at)
    plans = [_plan("planned", f"Planned, {base.states[at.state].name}: ", found)]
    if found.worse is not None:
        head = f"If worse, {base.states[at.state + 1].name}: "
        plans.append(_plan("worse", head, found.worse))
    return plans


def _plan(kind: str, head: str, found: Card) -> _Plan:
    if found.begins_m is None:
        return _Plan(kind, head + found.words, None)
    words = f"{found.words.rstrip('.')} ({found.begins_m:.0f} m before the stop mark)."
    return _Plan(kind, head + words, found.begins_m)


def _ends(points: Sequence[float], own: float | None) -> tuple[float, float]:
    """Return what is drawn: both brake marks, and the report unless it is far off. [m]"""
    far = max([LEAST_M, *(1.12 * one for one in points)])
    if own is not None and far < own <= 1.5 * far:
        far = 1.05 * own
    past = 0.0 if own is None or not -PAST_M <= own < 0 else 40 - own
    return -far, past


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
