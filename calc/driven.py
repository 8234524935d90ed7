"""Advice driven before it is given: moved out by what it lacks, withdrawn where it fails."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .forward import Runs, drive
from .model import TableInput
from .order import ever_since, never_less, next_pickable
from .result import (
    COLUMNS,
    FALLS,
    FREE,
    NODE,
    NOT_COMPUTED,
    OK,
    Column,
    Flags,
    Floats,
    Ints,
    Table,
    only_advised,
)

#: How far past the mark, and short of it, a forward run may stand and still count as
#: reaching it [m]. Assumption: a door's width past, a few steps short.
PAST_MARK, SHORT_OF_MARK = 2.0, 8.0
#: A forward run this little past its mark is left alone [m]; farther, its plan is moved
#: outward by what it lacked, up to the second figure.
LEAST_DRAWN_BACK, MOST_DRAWN_BACK = 0.05, 40.0
#: A plan moved out by no more than this needs no second run [m].
LITTLE = 1.0


def driven(
    given: TableInput, table: Table, only: Flags | None = None, *, alone: bool = False
) -> Table:
    """Drive advice and move out, or withdraw, what does not reach its mark.

    ``only`` tells which cases (target, season, state, train); the rest stays as it is.
    With ``alone`` what is withdrawn takes nothing else along.
    """
    forward = _driven(given, table, only)
    moved = _drawn_back(given, table, forward)
    gap = np.nan_to_num(moved.brake - table.brake).max(axis=-1)
    changed = (gap > LITTLE) & (True if only is None else only)
    forward = np.where(changed, _driven(given, moved, changed), forward)
    # A whole plan moved out by a little stands farther out by just that.
    forward = np.where(~changed & (forward < 0), forward + gap, forward)
    if only is not None:
        forward = np.where(only, forward, table.forward_stop)
    return _withdraw_undriven(given, moved, forward, alone=alone)


def advice_runs(given: TableInput, table: Table, at: tuple[Ints, ...]) -> Runs:
    """Return runs that drive the advice of some cases from their approach speed."""
    target, season, state, train = at
    speeds = np.asarray(given.speeds)
    speed = table.approach_speed[at]
    brake = np.array(
        [
            np.interp(v, speeds[np.isfinite(row)], row[np.isfinite(row)])
            for v, row in zip(speed, table.brake[at], strict=True)
        ]
    )
    none = np.full(speed.shape, np.nan)
    single = np.isnan(table.handle_speed[at])
    short = speed <= np.fmax(table.run_in[at], table.ease_at[at])
    lightest = np.where(short, table.last_step[at], table.step[at])
    return Runs(
        target=target,
        train=train,
        state=state,
        season=season,
        speed=speed,
        brake=brake,
        step=lightest,
        release_speed=np.where(single | short, np.nan, table.handle_speed[at]),
        after_speed=table.after_speed[at],
        ease=table.ease_at[at] > 0,
        last=np.where(short, np.nan, table.last_distance[at]),
        last_speed=table.run_in[at],
        slick_from=none,
        slick_to=none,
        slick=none,
        react=np.zeros(speed.shape, dtype=bool),
    )


def late(given: TableInput, runs: Runs) -> Runs:
    """Move the handle as late at the brake mark as plans are made for."""
    return replace(runs, brake=runs.brake - given.settings.late * runs.speed)


def _driven(given: TableInput, table: Table, only: Flags | None = None) -> Floats:
    """Drive advice forward once; return where each stood before its mark. [m]."""
    stops = np.array([target.to_speed == 0 for target in given.targets])
    ready = np.isfinite(table.approach_speed) & stops[:, None, None, None]
    ready &= (table.status == OK).any(axis=-1)
    if only is not None:
        ready &= only
    forward = np.full(table.step.shape, np.nan)
    at = np.nonzero(ready)
    if at[0].size:
        forward[at] = np.nan_to_num(
            drive(given, late(given, advice_runs(given, table, at))).stop, nan=-np.inf
        )
    return forward


def hand_driven(given: TableInput, table: Table) -> Table:
    """Drive what claims a state in hand one state worse; take back what does not hold.

    A slide makes the driver go to the highest service step after the reaction time.
    """
    if given.settings.quiet_from < 0:
        return table
    claimed = ~table.no_state_in_hand & np.isfinite(table.approach_speed)
    claimed &= (table.status == OK).any(axis=-1)
    claimed &= np.array([t.to_speed == 0 for t in given.targets])[:, None, None, None]
    at = np.nonzero(claimed)
    none = np.ones(claimed.shape, dtype=bool)
    if at[0].size:
        runs = late(given, advice_runs(given, table, at))
        worse = next_pickable(given.states)[runs.state]
        runs = replace(runs, state=worse, react=np.ones(worse.shape, dtype=bool))
        ends = drive(given, runs)
        margin = margins(given)[runs.target, runs.train]
        stops = -np.nan_to_num(ends.stop, nan=-np.inf) <= margin + 2 * LEAST_DRAWN_BACK
        noisy = ends.slid & (at[2] >= given.settings.quiet_from)
        none[at] = ~stops | noisy
    boards = np.array([t.to_speed > 0 for t in given.targets])[:, None, None, None]
    return replace(table, no_state_in_hand=np.where(boards, table.no_state_in_hand, none))


def margins(given: TableInput) -> Floats:
    """Return the distance from each mark to its limit, (targets, trains). [m]."""
    marks = np.array([target.mark for target in given.targets])
    return np.asarray(np.array([target.limit for target in given.targets]) - marks)


def _drawn_back(given: TableInput, table: Table, forward: Floats) -> Table:
    """Begin earlier what stands a little past its mark when driven.

    The curves know neither the ends of a stretch inside a cell nor, on a rail that
    slides, the cylinders that refill; the whole plan is moved out by what its forward
    run lacked.
    """
    lacks = -forward
    moved = np.where((lacks > LEAST_DRAWN_BACK) & (lacks < MOST_DRAWN_BACK), lacks, 0.0)
    return moved_out(given, table, moved)


def moved_out(given: TableInput, table: Table, moved: Floats) -> Table:
    """Return the table with whole plans moved outward, and no worse case left nearer.

    ``moved`` (target, season, state, train), 0 where a plan stays. [m]
    """
    out: dict[str, NDArray[Any]] = {}
    for one in COLUMNS:
        if one.moves:
            farther = _one_moved(table, one, moved)
            sign = -1.0 if one.along == FALLS else 1.0
            ordered = sign * never_less(sign * farther, given.trains)
            out[one.name] = farther if one.along == FREE else ordered
    return only_advised(replace(table, **out), table.status)


def _one_moved(table: Table, column: Column, moved: Floats) -> Floats:
    """Return distances before the mark, or curves over them, moved outward. [m]."""
    values: Floats = getattr(table, column.name)
    if column.axes[-1] != NODE:
        return np.asarray(values + column.fit(moved))
    out = values.copy()
    for case in zip(*np.nonzero(moved), strict=True):
        nearer = np.maximum(table.nodes - moved[case], 0.0)
        out[case] = np.interp(nearer, table.nodes, values[case])
    return out


def past_allowed(given: TableInput) -> Floats:
    """Return how far past each mark a forward run may stand, (targets, trains). [m]."""
    return np.asarray(np.minimum(margins(given) + 2 * LEAST_DRAWN_BACK, PAST_MARK))


def _withdraw_undriven(
    given: TableInput, table: Table, forward: Floats, *, alone: bool
) -> Table:
    """Withdraw what did not reach its mark when driven, and what is worse than that."""
    missed = np.isfinite(forward) | np.isneginf(forward)
    allowed = past_allowed(given)[:, None, None, :]
    missed &= ~((forward <= SHORT_OF_MARK) & (forward >= -allowed))
    gone = missed if alone else ever_since(missed, given.trains)
    gone = gone[..., None] & (table.status == OK)
    status = np.where(gone, NOT_COMPUTED, table.status).astype(np.uint8)
    return only_advised(replace(table, forward_stop=forward), status)
