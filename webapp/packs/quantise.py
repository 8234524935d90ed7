"""Computed figures to the table's whole numbers, always earlier, slower, less.

Only ``calc.margins`` rounds. Along the chain of rail states every figure is settled by
a running maximum or minimum, so that a worse state never shows a later brake point.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.margins import brake_distance_out, cover_down, knots_raised, seconds_up, speed_down
from calc.table import OK, Table
from webapp.lines.lookup import ALL_THE_WAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
#: Axis of the rail states in (target, season, state, train, knot).
STATE = 2

EXPECT_WSP, NOTHING_ADDED, LESS_COVER, NO_STATE_IN_HAND = 1, 2, 4, 8


def knots_for(fastest: int, dial: int) -> list[int]:
    """Return the speeds the table keeps: each dial mark up to the fastest train."""
    return [*range(dial, fastest, dial), fastest]


def knot_columns(table: Table, knots: list[int]) -> dict[str, Any]:
    """Return the columns with a knot axis, (season, target, state, train, knot)."""
    units = np.arange(1, table.brake.shape[-1] + 1)
    usual = _raised(table.usual, units, knots)
    brake = _chained_brake(table, units, knots, usual)
    status = _knot_status(table, knots)
    good = status == OK
    return {
        "status": _seasons_first(status).tolist(),
        "brake": whole_or_none(_seasons_first(brake), _seasons_first(good)),
        "seconds": whole_or_none(
            _seasons_first(seconds_up(_worst(table.seconds, knots, np.fmax))),
            _seasons_first(good),
        ),
        "cover": whole_or_none(
            _seasons_first(_cover(_worst(table.cover, knots, np.fmin))), _seasons_first(good)
        ),
        "usual": whole_or_none(*_spread(usual, table.brake.shape)),
    }


def _raised(values: Floats, units: Ints, knots: list[int]) -> Floats:
    """Raise knots over every whole unit; ends without a figure repeat their neighbour.

    A repeated figure is never read: the knot's status says that it is none.
    """
    filled = np.fmax.accumulate(values, axis=-1)
    backward = np.fmin.accumulate(filled[..., ::-1], axis=-1)[..., ::-1]
    filled = np.where(np.isnan(filled), backward, filled)
    return np.asarray(knots_raised(filled, units, np.asarray(knots)))


def _chained_brake(table: Table, units: Ints, knots: list[int], usual: Floats) -> Floats:
    own = np.where(table.status == OK, table.brake, np.nan)
    raised = _raised(own, units, knots)
    raised = np.fmax(raised, usual[:, None, None])
    return np.asarray(np.fmax.accumulate(raised, axis=STATE))


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


def _cover(metres: Floats) -> Floats:
    """Round down; a lower speed has no cover, and none is what stands there."""
    down = cover_down(np.where(np.isfinite(metres), metres, 0.0))
    return np.asarray(np.where(np.isposinf(metres), ALL_THE_WAY, down))


def _spread(usual: Floats, shape: tuple[int, ...]) -> tuple[Floats, NDArray[np.bool_]]:
    """Repeat the usual brake point over seasons and states, as the table's layout asks."""
    wide = np.broadcast_to(usual[:, None, None], (*shape[:-1], usual.shape[-1]))
    turned = _seasons_first(wide)
    return turned, np.isfinite(turned)


def _seasons_first(values: Any) -> Any:
    return np.swapaxes(values, 0, 1)


def whole_or_none(values: Floats, good: NDArray[np.bool_]) -> Any:
    """Return nested lists of integers, null where there is no figure."""
    whole = np.where(good & np.isfinite(values), values, 0).astype(np.int64).astype(object)
    whole[~(good & np.isfinite(values))] = None
    return whole.tolist()


def plan_columns(table: Table, mps: float) -> dict[str, Any]:
    """Return the columns without a knot axis, (season, target, state, train)."""
    flags = (
        EXPECT_WSP * table.expect_wsp
        + NOTHING_ADDED * table.nothing_added
        + LESS_COVER * table.less_cover
        + NO_STATE_IN_HAND * table.no_state_in_hand
    )
    # Where the line falls a run-in gathers speed: the driver leaves the step slower.
    left_at = np.where(table.run_in > 0, np.fmin(table.run_in, table.after_speed), 0.0)
    whole = {
        "step": table.step,
        "last_step": table.last_step,
        "run_in": speed_down(left_at, mps, 1),
        "ease_at": speed_down(table.ease_at, mps, 1),
        "aim_short": brake_distance_out(table.aim_short, 1.0),
        "flags": flags,
    }
    return {
        name: np.nan_to_num(_seasons_first(values)).astype(np.int64).tolist()
        for name, values in whole.items()
    }


def tenths_down(speed: Floats, mps: float) -> Ints:
    """Return a speed in tenths of a posted unit, rounded down."""
    down = speed_down(np.nan_to_num(speed), mps / 10.0, 1)
    return np.asarray(down).astype(np.int64)


def units_up(speed: Floats, mps: float) -> Ints:
    """Return a speed in whole posted units, rounded up: advice is then for a faster train."""
    up = -speed_down(-np.nan_to_num(speed), mps, 1)
    return np.asarray(up).astype(np.int64)
