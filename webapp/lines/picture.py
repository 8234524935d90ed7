"""What the picture of an approach draws: the reference for ``static/core/picture.js``.

A curve begins where the card says that braking begins, at the speed at which a train comes
there in that rail state, and is nowhere above the line's speed: a picture of a faster train,
or of one that brakes later, would contradict the card beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from calc.result import OK
from webapp.lines.columns import FLAGS
from webapp.lines.lookup import approach_speed, brake_at, look_up

Json = dict[str, Any]
Points = list[list[float]]
#: Season, target, rail state, train.
Cell = tuple[int, int, int, int]
#: Flag of a plan that is the usual approach: the card names no mark for it.
NOTHING_ADDED = FLAGS["nothing_added"]


def drawn_approach(base: Json, table: Json, pictures: Json, cell: Cell) -> Json | None:
    """Return the curves of one approach, each from the stop mark outward.

    Returns
    -------
    dict or None
        ``speed``, and ``advised``, ``usual``, ``ceiling``: ``{begins, points: [[metres before
        the stop mark, posted speed], ...]}`` or None. None without advice, and where the
        pictures hold no curve.
    """
    season, target, state, train = cell
    ask = {"target": target, "train": train, "state": state, "season": season}
    advice = look_up(base, table, **ask, speed=None)
    tenths = values_of(pictures["advised"], season, target, state)
    nothing = bool(advice["flags"] & NOTHING_ADDED)
    if advice["status"] != OK or not tenths or not (nothing or advice["mark"]):
        return None
    speed = math.ceil(approach_speed(base["targets"][target], table, cell) or 0)
    begins = begins_at(base, target, train, advice)
    line = _Line(base, target, train, speed, float(pictures["spacing_m"]))
    ceiling = values_of(pictures["ceiling"], season, target, state)
    return {
        "speed": speed,
        "advised": line.curve(tenths, begins),
        "usual": drawn_usual(base, table, pictures, cell),
        "ceiling": line.curve(ceiling, begins) if ceiling else None,
    }


def drawn_usual(base: Json, table: Json, pictures: Json, cell: Cell) -> Json | None:
    """Return the usual approach of a train as fast as it comes here in a rail state."""
    season, target, state, train = cell
    tenths = values_of(pictures["usual"], target)
    known = approach_speed(base["targets"][target], table, cell)
    if known is None or not tenths:
        return None
    speed = math.ceil(known)
    usual = table["columns"]["usual"][season][target][state][train]
    whole = [OK if value is not None else 1 for value in usual]
    begins = brake_at(table["knots"], usual, whole, speed)
    if begins is None:
        return None
    line = _Line(base, target, train, speed, float(pictures["spacing_m"]))
    return line.curve(tenths, float(begins))


def advised_curve(pictures: Json, cell: Cell) -> list[tuple[float, float]]:
    """Return the advised curve as (metres from the stop mark, posted speed), from it outward.

    Nothing where the pictures hold none.
    """
    season, target, state, _train = cell
    tenths = values_of(pictures["advised"], season, target, state)
    return [(-n * float(pictures["spacing_m"]), speed / 10) for n, speed in enumerate(tenths)]


def begins_at(base: Json, target: int, train: int, advice: Json) -> float:
    """Return how far before the stop mark the card lets braking begin. [m]"""
    mark = advice["mark"]
    if mark is None or advice["flags"] & NOTHING_ADDED:
        return float(advice["brake"])
    aim = base["targets"][target]
    there = base["landmarks"][mark["index"]]["at_m"]
    return float(_sign(base, aim) * (aim["mark_m"][train] - there))


class _Line:
    """The line's speeds before one stop mark, and how fast a train comes there."""

    def __init__(self, base: Json, target: int, train: int, speed: int, spacing: float):
        aim = base["targets"][target]
        sign, mark = _sign(base, aim), aim["mark_m"][train]
        self.speed, self.spacing = speed, spacing
        self.pieces = sorted(
            (
                (max(ends), min(ends), limit)
                for start, end, limit in base.get("limits", {}).get(aim["direction"], [])
                for ends in [(sign * (mark - start), sign * (mark - end))]
            ),
            reverse=True,
        )

    def curve(self, tenths: Sequence[int], begins: float) -> Json:
        """Return a curve under what the train did not exceed further out."""
        points: Points = []
        most = float(self.speed)
        for far, near, limit in self._up_to(begins):
            most = min(most, float(limit))
            for at in self._places(min(far, begins), max(near, 0.0)):
                value = most if at == begins else min(most, self._speed(tenths, at))
                if not points or points[-1] != [at, value]:
                    points.append([at, value])
        return {"begins": begins, "points": points[::-1]}

    def _up_to(self, begins: float) -> list[tuple[float, float, float]]:
        here = [one for one in self.pieces if one[0] > 0 and one[1] < begins]
        return here or [(begins, 0.0, math.inf)]

    def _places(self, far: float, near: float) -> list[float]:
        first, last = math.ceil(far / self.spacing) - 1, math.floor(near / self.spacing) + 1
        return [far, *(n * self.spacing for n in range(first, last - 1, -1)), near]

    def _speed(self, tenths: Sequence[int], at: float) -> float:
        node = math.floor(at / self.spacing)
        if node >= len(tenths) or (node == len(tenths) - 1 and at > node * self.spacing):
            return math.inf
        if at == node * self.spacing:
            return tenths[node] / 10
        low, high = tenths[node], tenths[node + 1]
        return (low + (high - low) * (at - node * self.spacing) / self.spacing) / 10


def values_of(column: Any, *cell: int) -> list[int]:
    """Return what a column of pictures keeps for a case; nothing where it does not reach."""
    for index in cell:
        if index >= len(column):
            return []
        column = column[index]
    return list(column)


def _sign(base: Json, target: Json) -> int:
    way = target["direction"]
    return next(int(one["sign"]) for one in base["directions"] if one["key"] == way)
