"""What restrictions do to a tablet's advice: they lower speeds that are shown, nothing else.

The reference for ``lowered`` in ``static/core/restrictions.js``, on the plain JSON that
tablets get. A mark is never moved by one: it stays worked from the line's own speed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from webapp.lines.base import Base
from webapp.plain.agreed import CLOCK_WRONG_S, RESTRICTION_NEAR_M

Json = dict[str, Any]
OK = 0
HAIR = 1e-6
CLOCKS = timedelta(seconds=CLOCK_WRONG_S)


@dataclass(frozen=True)
class InForce:
    """A restriction that has begun, its ends in the direction of travel and widened [m]."""

    id: str
    speed: int
    near: float
    far: float


def in_force(
    base: Base, direction: str, items: Sequence[Json], now: datetime
) -> list[InForce]:
    """Return those of one line and direction that have begun; none ends by a clock."""
    ways = {one.key: one.sign for one in base.directions}
    return [
        _placed(base, ways[direction], item)
        for item in items
        if item["line"] == base.key
        # A direction this pack does not know may be this one.
        and (item["direction"] == direction or item["direction"] not in ways)
        and datetime.fromisoformat(item["from_at"]) <= now + CLOCKS
    ]


def _placed(base: Base, sign: int, item: Json) -> InForce:
    """Where nobody knows the place on this mileage, it lies everywhere."""
    speed = _shown(base, item)
    if item["datum"] != base.datum:
        return InForce(item["id"], speed, -math.inf, math.inf)
    low, high = sorted((sign * item["from_m"], sign * item["to_m"]))
    return InForce(item["id"], speed, low - RESTRICTION_NEAR_M, high + RESTRICTION_NEAR_M)


def _shown(base: Base, item: Json) -> int:
    """Return the speed in the units posted on the line, down to a mark of the dial.

    A walking pace in another unit stays above 0: that would be no speed.
    """
    posted = item["speed"]
    if item["unit"] != base.speed_unit:
        posted = max(1, math.floor(item["speed_mps"] / base.mps_per_unit + HAIR))
    mark = base.dial if posted >= base.dial else 5
    return int(posted if posted < mark else posted // mark * mark)


def lowered(
    base: Json,
    table: Json,
    cell: tuple[int, int, int, int],
    advice: Json,
    live: Sequence[InForce],
) -> tuple[Json, list[str]]:
    """Return the advice with its speeds lowered, and the ids of those that lowered one.

    Parameters
    ----------
    cell
        Season, target, state and train that the advice was looked up for.
    """
    plain, by = _one(base, table, cell, advice, live)
    if advice["worse"] is not None:
        season, target, state, train = cell
        worse = (season, target, state + 1, train)
        plain["worse"] = _one(base, table, worse, advice["worse"], live)[0]
    return plain, sorted(by)


def _one(
    base: Json,
    table: Json,
    cell: tuple[int, int, int, int],
    advice: Json,
    live: Sequence[InForce],
) -> tuple[Json, set[str]]:
    if advice["status"] != OK or not live:
        return dict(advice), set()
    season, index, state, train = cell
    target, length = base["targets"][index], base["trains"][train]["length_m"]
    sign = next(d["sign"] for d in base["directions"] if d["key"] == target["direction"])
    by: set[str] = set()
    speeds = []
    picked = table["columns"]["speeds"][season][index][state][train]
    for shown, (landmark, _) in zip(advice["speeds"], picked, strict=True):
        at = sign * base["landmarks"][landmark]["at_m"]
        under = _under(live, at, at, length)
        least = min([shown["speed"], *(one.speed for one in under)])
        by |= {one.id for one in under if one.speed == least < shown["speed"]}
        speeds.append({**shown, "speed": least})
    stop, run_in = sign * target["mark_m"][train], advice["run_in"]
    if run_in:
        on_it = _under(live, stop - advice["brake"], stop, length)
        run_in = min([run_in, *(one.speed for one in on_it)])
    return {**advice, "speeds": speeds, "run_in": run_in}, by


def _under(live: Sequence[InForce], at: float, on: float, length: float) -> list[InForce]:
    """A train between ``at`` and ``on`` is under one until its rear has left it."""
    return [one for one in live if on >= one.near and at - length <= one.far]
