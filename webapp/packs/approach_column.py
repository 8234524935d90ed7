"""At what speed a driver meets the brake point of each rail state.

The worse the rail, the further out the braking begins, and the slower the train still
is after its last stop. One speed for all states would ask a leaf-film brake point of a
train that can't be that fast there yet.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.table import Table
from webapp.lines.lookup import brake_at
from webapp.packs.base_file import Reach
from webapp.packs.quantise import units_up

Json = dict[str, Any]
Cell = tuple[int, int, int, int]


def approach_column(
    table: Table, columns: Json, knots: list[int], reach: tuple[Reach, ...], mps: float
) -> list[Any]:
    """Return approach speeds in posted units, up, nested (season, target, state, train).

    A speed is raised until its brake point is no later than that of the state before
    and of the same state out of season. Where it is unknown, the fastest approach of
    the target stands, which then finds words or a figure on the safe side.
    """
    own = units_up(table.approach_speed, mps)
    known = np.isfinite(table.approach_speed)
    targets, seasons, states, trains = own.shape
    out = np.zeros((seasons, targets, states, trains), dtype=np.int64)
    for cell in np.ndindex(out.shape):
        season, target, state, train = cell
        most = reach[target].approach_speed[train]
        at = (target, season, state, train)
        speed = min(int(own[at]), most) if known[at] else most
        for before in _before(cell):
            speed = _no_later(columns, knots, (cell, before), out, speed)
        out[cell] = speed
    return list(out.tolist())


def _before(cell: Cell) -> list[Cell]:
    """Return the cells that this one must not be later than."""
    season, target, state, train = cell
    better = [(season, target, state - 1, train)] if state else []
    return better + ([(0, target, state, train)] if season else [])


def _no_later(
    columns: Json,
    knots: list[int],
    pair: tuple[Cell, Cell],
    out: NDArray[np.int64],
    speed: int,
) -> int:
    """Raise a speed until its brake point is as far out as that of the cell before."""
    cell, before = pair
    faster = int(out[before])
    wanted = _brake(columns, knots, before, faster)
    if wanted is None:
        return max(speed, faster)
    while speed < faster:
        found = _brake(columns, knots, cell, speed)
        if found is None or found >= wanted:
            break
        speed += 1
    return speed


def _brake(columns: Json, knots: list[int], cell: Cell, speed: int) -> int | None:
    season, target, state, train = cell
    brake = columns["brake"][season][target][state][train]
    status = columns["status"][season][target][state][train]
    return brake_at(knots, brake, status, speed)
