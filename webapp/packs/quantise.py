"""Computed figures to the table's whole numbers, always earlier, slower, less.

Which column is kept, and how, stands with the column (`calc.result`); ``calc.margins``
rounds. Along the chain of rail states a running maximum keeps a worse state from showing
a later brake point.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.margins import knots_raised, speed_down
from calc.result import COLUMNS, LINE, MOST, OK, RISES, SPEED, WORST, Column, Kept, Table
from webapp.lines.columns import ALL_THE_WAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
#: Axis of the rail states in (target, season, state, train, knot).
STATE = 2


def knots_for(fastest: int, dial: int) -> list[int]:
    """Return the speeds the table keeps: each dial mark up to the fastest train."""
    return [*range(dial, fastest, dial), fastest]


def knot_columns(table: Table, knots: list[int]) -> dict[str, Any]:
    """Return the kept columns with a knot axis, (season, target, state, train, knot).

    Null where an approach at the knot, or at a speed that is read from it, has no advice.
    """
    out: dict[str, Any] = {}
    good = _seasons_first(_knot_status(table, knots) == OK)
    for column in COLUMNS:
        if column.kept is None or column.axes[-1] != SPEED:
            continue
        values = _at_knots(table, column, column.kept, knots)
        if column.kept.between == WORST:
            out[column.name] = _seasons_first(values).tolist()
        elif "state" in column.axes:
            out[column.name] = whole_or_none(_seasons_first(values), good)
        else:
            wide = _spread(values, table.brake.shape)
            out[column.name] = whole_or_none(wide, np.isfinite(wide))
    return out


def _at_knots(table: Table, column: Column, kept: Kept, knots: list[int]) -> Any:
    """Return a column at the knots as it is kept, axes as in the table."""
    if kept.between == WORST:
        return _knot_status(table, knots)
    values = getattr(table, column.name)
    if kept.between == LINE:
        raised = _raised(values, np.arange(1, values.shape[-1] + 1), knots, kept.grid)
        if column.bound:
            units = np.arange(1, values.shape[-1] + 1)
            usual = _raised(getattr(table, column.bound), units, knots, kept.grid)
            raised = np.fmax(raised, usual[:, None, None])
        return np.fmax.accumulate(raised, axis=STATE) if column.along == RISES else raised
    worst = _worst(values, knots, np.fmax if kept.between == MOST else np.fmin)
    whole = kept.whole(worst, 1.0)
    if not kept.endless:
        return whole
    return np.where(np.isposinf(worst), ALL_THE_WAY, np.nan_to_num(whole, posinf=0.0))


def _raised(values: Floats, units: Ints, knots: list[int], grid: int) -> Floats:
    """Raise knots over every whole unit; ends without a figure repeat their neighbour.

    A repeated figure is never read: the knot's status says that it is none.
    """
    filled = np.fmax.accumulate(values, axis=-1)
    backward = np.fmin.accumulate(filled[..., ::-1], axis=-1)[..., ::-1]
    filled = np.where(np.isnan(filled), backward, filled)
    return np.asarray(knots_raised(filled, units, np.asarray(knots), grid))


def _knot_status(table: Table, knots: list[int]) -> Ints:
    """Return the worst status from the knot before (left out) to each knot.

    The look-up takes the worse of two knots, so that each whole unit between them is
    counted; the units below the first knot use the first knot itself.
    """
    whole = table.status.astype(np.int64)
    edges = [knots[0] - 1, *knots]
    pairs = zip(edges, knots, strict=False)
    status = np.stack([whole[..., low:high].max(axis=-1) for low, high in pairs], -1)
    return np.asarray(np.maximum.accumulate(status, axis=STATE))


def _worst(values: Floats, knots: list[int], worst: Any) -> Floats:
    """Let each knot carry the worst of the whole units below it, down to the last knot."""
    edges = [0, *knots]
    parts = [
        worst.reduce(values[..., low:high], axis=-1)
        for low, high in zip(edges, knots, strict=False)
    ]
    return np.stack(parts, axis=-1)


def _spread(usual: Floats, shape: tuple[int, ...]) -> Floats:
    """Repeat the usual brake point over seasons and states, as the table's layout asks."""
    wide = np.broadcast_to(usual[:, None, None], (*shape[:-1], usual.shape[-1]))
    return np.asarray(_seasons_first(wide))


def _seasons_first(values: Any) -> Any:
    return np.swapaxes(values, 0, 1)


def whole_or_none(values: Floats, good: NDArray[np.bool_]) -> Any:
    """Return nested lists of integers, null where there is no figure."""
    whole = np.where(good & np.isfinite(values), values, 0).astype(np.int64).astype(object)
    whole[~(good & np.isfinite(values))] = None
    return whole.tolist()


def plan_columns(table: Table, mps: float) -> dict[str, Any]:
    """Return the kept columns without a knot axis, (season, target, state, train).

    ``mps`` is one posted unit of speed. [m/s]
    """
    flags = np.zeros(table.step.shape, dtype=np.int64)
    whole: dict[str, Any] = {}
    for column in COLUMNS:
        if column.bit:
            flags = flags + column.bit * getattr(table, column.name)
        elif column.kept is not None and column.axes[-1] != SPEED:
            values = getattr(table, column.name)
            values = column.kept.of(table) if column.kept.of else values
            whole[column.name] = column.kept.whole(values, mps)
    return {
        name: np.nan_to_num(_seasons_first(values)).astype(np.int64).tolist()
        for name, values in (whole | {"flags": flags}).items()
    }


def tenths_down(speed: Floats, mps: float) -> Ints:
    """Return a speed in tenths of a posted unit, rounded down."""
    down = speed_down(np.nan_to_num(speed), mps / 10.0, 1)
    return np.asarray(down).astype(np.int64)


def units_up(speed: Floats, mps: float) -> Ints:
    """Return a speed in whole posted units, rounded up: advice is then for a faster train."""
    up = -speed_down(-np.nan_to_num(speed), mps, 1)
    return np.asarray(up).astype(np.int64)
