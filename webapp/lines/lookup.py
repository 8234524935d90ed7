"""The safe look-up in a braking table: the reference for ``static/core/table.js``.

Works on the plain JSON objects of a pack, in integers wherever two languages could
round differently. Every doubt falls to the safe side: speed up, brake distance up,
seconds up, cover down, and any status but "ok" wins.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from typing import Any

from calc.result import LEAST, LINE, MOST, NOT_COMPUTED, OK, PLAIN, WORST
from webapp.lines.columns import ALL_THE_WAY, FILE_COLUMNS

Json = dict[str, Any]


def look_up(
    base: Json,
    table: Json,
    *,
    target: int,
    train: int,
    state: int,
    season: int,
    speed: float | None,
) -> Json:
    """Return the advice for one approach, with the next worse rail state beside it.

    Parameters
    ----------
    base, table : dict
        The pack's base and table files.
    target, train, state : int
        Indices into ``base.targets``, ``base.trains`` and ``base.states``.
    season : int
        1 while any listed place of the target is in season, else 0.
    speed : float or None
        Approach speed in posted units; rounded up to a whole one. None: as fast as a
        train comes here, each rail state at its own approach speed, since a state that
        is begun earlier may be begun where the line is faster.

    Returns
    -------
    dict
        As in FORMAT.md. With a status other than 0 every figure is null, flags
        are 0 and there are no speeds: words are shown, never a number.
    """
    result = _one_state(base, table, (season, target, state, train), speed)
    worse = state + 1
    result["worse"] = (
        _one_state(base, table, (season, target, worse, train), speed)
        if worse < len(base["states"])
        else None
    )
    return result


def _one_state(
    base: Json, table: Json, cell: tuple[int, int, int, int], speed: float | None
) -> Json:
    """Look up one cell (season, target, state, train) without its worse neighbour."""
    target = base["targets"][cell[1]]
    mark = target["mark_m"][cell[3]]
    own = approach_speed(target, table, cell) if speed is None else speed
    known = own is not None and math.isfinite(own)
    span = _knots_around(table["knots"], math.ceil(own or 0)) if known else None
    if mark is None or span is None:
        return _no_figures(NOT_COMPUTED)
    columns = {name: _at(column, cell) for name, column in table["columns"].items()}
    low, high = span[0], span[1]
    status = max(columns["status"][low], columns["status"][high])
    if status != OK:
        return _no_figures(status)
    answer: Json = {
        one.name: _READ[one.between](columns[one.name], table["knots"], span)
        for one in _ANSWERED
        if one.required or one.name in columns
    }
    return answer | {
        "status": OK,
        "mark": _brake_mark(base, target, mark, answer["brake"]),
        "speeds": [
            {"words": base["landmarks"][index]["words"], "speed": value}
            for index, value in columns["speeds"]
        ],
    }


def approach_speed(target: Json, table: Json, cell: tuple[int, int, int, int]) -> float | None:
    """Return how fast a train comes here in a rail state; the fastest where unsaid."""
    column = table["columns"].get("approach")
    fastest: float | None = target["approach_speed"][cell[3]]
    return fastest if column is None else float(_at(column, cell))


def brake_at(
    knots: Sequence[int], brake: Sequence[int], status: Sequence[int], speed: int
) -> int | None:
    """Return the brake distance of one cell at a whole speed; None without advice. [m]"""
    span = _knots_around(knots, speed)
    if span is None or max(status[span[0]], status[span[1]]) != OK:
        return None
    return _between(brake, knots, span)


def _no_figures(status: int) -> Json:
    empty = dict.fromkeys((*(one.name for one in _ANSWERED if one.required), "mark"))
    return empty | {"status": status, "flags": 0, "speeds": []}


def _at(column: Any, cell: Sequence[int]) -> Any:
    for index in cell:
        column = column[index]
    return column


def _knots_around(knots: Sequence[int], speed: int) -> tuple[int, int, int] | None:
    """Return (lower knot, upper knot, speed), or None above the last knot."""
    if speed > knots[-1]:
        return None
    if speed <= knots[0]:
        return 0, 0, knots[0]
    low = bisect_right(knots, speed) - 1
    high = low if knots[low] == speed else low + 1
    return low, high, speed


def _between(values: Sequence[int], knots: Sequence[int], span: tuple[int, int, int]) -> int:
    """Interpolate in integers, rounding up."""
    low, high, speed = span
    if low == high:
        return values[low]
    v0, v1 = knots[low], knots[high]
    weighted = values[low] * (v1 - speed) + values[high] * (speed - v0)
    return -(-weighted // (v1 - v0))


def _least(one: int, other: int) -> int:
    """Return the smaller of two covers; all the way is the largest there is."""
    if one == ALL_THE_WAY:
        return other
    if other == ALL_THE_WAY:
        return one
    return min(one, other)


#: Columns that an answer holds, and how each is read at a speed between two knots.
_ANSWERED = tuple(one for one in FILE_COLUMNS if one.answered and one.between != WORST)
_READ: dict[str, Callable[[Any, Sequence[int], tuple[int, int, int]], Any]] = {
    PLAIN: lambda value, knots, span: value,
    LINE: _between,
    MOST: lambda values, knots, span: max(values[span[0]], values[span[1]]),
    LEAST: lambda values, knots, span: _least(values[span[0]], values[span[1]]),
}


def _brake_mark(base: Json, target: Json, mark: float, brake: int) -> Json | None:
    """Snap a brake point outward to the last landmark the driver meets before it."""
    sign = next(d["sign"] for d in base["directions"] if d["key"] == target["direction"])
    point = mark - sign * brake
    found: Json | None = None
    for index in target["landmarks"]:
        landmark = base["landmarks"][index]
        ahead = sign * (point - landmark["at_m"])
        if ahead < 0:
            break
        far = ahead > base["route"]["mark_limit_m"]
        found = {"index": index, "words": landmark["words"], "far": far}
    return found
