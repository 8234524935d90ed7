"""The last pass over a table: monotone along the chain, and every advice driven."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .approach import meeting, speed_envelope
from .forward import Runs, drive
from .model import TableInput
from .order import ever_since, never_less, next_pickable
from .result import (
    CASE,
    COLUMNS,
    FALLS,
    FREE,
    NO_STOP,
    NODE,
    NOT_COMPUTED,
    OK,
    RISES,
    SETTLED,
    SPEED,
    Column,
    Flags,
    Floats,
    Ints,
    Table,
)

#: How far past the mark, and short of it, a forward run may stand and still count as
#: reaching it [m]. Assumption: a door's width past, a few steps short.
PAST_MARK, SHORT_OF_MARK = 2.0, 8.0
#: A forward run this little past its mark is left alone [m]; farther, its plan is moved
#: outward by what it lacked, up to the second figure.
LEAST_DRAWN_BACK, MOST_DRAWN_BACK = 0.05, 40.0
#: A plan moved out by no more than this needs no second run [m].
LITTLE = 1.0
#: A plan this near the usual brake point adds nothing to it [m].
_SAME = 5.0


def settle(given: TableInput, table: Table) -> Table:
    """Return the table with its order along the chain enforced and its advice driven.

    A worse rail state, or a place listed in season, never gets a later brake point, a
    heavier step or a higher speed; no advice is later than the usual approach. An
    advice whose forward run does not reach the mark is withdrawn: not computed.

    Raises
    ------
    ValueError
        If a column that is made here was left as it came.
    """
    before = table
    table = driven(given, in_order_of_chain(given, table))
    table = hand_driven(given, table)
    for column in COLUMNS:
        if column.made == SETTLED and getattr(table, column.name) is getattr(
            before, column.name
        ):
            raise ValueError(f"table column {column.name!r} has no formula in calc.settle")
    return table


def in_order_of_chain(given: TableInput, table: Table, *, alone: bool = False) -> Table:
    """Return the table in its order along the chain, with the speeds trains come at.

    With ``alone`` a case without advice takes none from worse ones: plans of another
    table stand in for it.
    """
    status = table.status if alone else _ordered_status(given, table)
    table = replace(table, status=status, **ordered(given, table))
    table = only_advised(table, table.status)
    table = replace(table, approach_speed=approach_speeds(given, table))
    return replace(table, nothing_added=_nothing_added(given, table))


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


def ordered(given: TableInput, table: Table) -> dict[str, NDArray[Any]]:
    """Return every column that has an order along the chain, in that order."""
    out = {}
    for column in COLUMNS:
        if column.along == FREE:
            continue
        values = getattr(table, column.name)
        own = values.astype(np.float64)
        bound = getattr(table, column.bound)[:, None, None] if column.bound else np.nan
        if column.along == RISES:
            own = np.fmax(never_less(np.fmax(own, bound), given.trains), column.least)
        else:
            own = -never_less(-np.fmin(own, bound), given.trains)
        out[column.name] = own.astype(values.dtype)
    return out


def only_advised(table: Table, status: NDArray[np.uint8]) -> Table:
    """Take away every figure of an approach that has no advice."""
    ok = status == OK
    figures = {
        one.name: np.where(ok, getattr(table, one.name), np.nan)
        for one in COLUMNS
        if one.axes == (*CASE, SPEED) and one.name != "status"
    }
    return replace(table, status=status, **figures)


def _ordered_status(given: TableInput, table: Table) -> NDArray[np.uint8]:
    """Once a case has no advice at a speed, no worse case has one."""
    lost = (table.status == OK) & ~np.isfinite(table.brake)
    status = np.where(lost, NOT_COMPUTED, table.status)
    gone = ever_since(status == NO_STOP, given.trains)
    unknown = ever_since(status == NOT_COMPUTED, given.trains) & ~gone
    out = np.where(gone, NO_STOP, np.where(unknown, NOT_COMPUTED, status))
    return np.asarray(out, dtype=np.uint8)


def approach_speeds(given: TableInput, table: Table) -> Floats:
    """Return the speed at which a train meets its brake point, for every case."""
    speeds = np.asarray(given.speeds)
    distance = table.nodes[::-1]
    out = np.full(table.step.shape, np.nan)
    for t, target in enumerate(given.targets):
        for v, train in enumerate(given.trains):
            if not np.isfinite(target.mark[v]):
                continue
            at = target.mark[v] - distance
            envelope = speed_envelope(given.line, target, train, at)
            bounds = _board_bounds(given, table, t, v, at)
            for case in np.ndindex(2, len(given.states)):
                slowed = np.minimum(envelope, bounds[case])
                brake = table.brake[(t, *case, v)]
                out[(t, *case, v)] = meeting(slowed, distance, speeds, brake)
    return out


def unmet(given: TableInput, table: Table) -> frozenset[tuple[int, int]]:
    """Return targets and trains met faster than their plans were worked out for."""
    missing = ~np.isfinite(approach_speeds(given, table)) & (table.status == OK).any(axis=-1)
    target, _, _, train = np.nonzero(missing)
    return frozenset(zip(target.tolist(), train.tolist(), strict=True))


def _board_bounds(
    given: TableInput, table: Table, target: int, train: int, at: Floats
) -> Floats:
    """Return how fast a train can be that slows as advised for the boards ahead.

    The lower speed is a target of its own, in the same rail state: a train on its
    advised curve comes to the stop behind it no faster. Shape (2, states, places).
    """
    bounds = np.full((2, len(given.states), at.size), np.inf)
    mark = given.targets[target].mark[train]
    for other, board in enumerate(given.targets):
        if board.to_speed <= 0 or other == target or not board.mark[train] < mark:
            continue
        ahead = board.mark[train] - at
        known = (ahead >= 0) & (ahead <= table.nodes[-1])
        curve = table.advised[other, :, :, train]
        place = np.clip(ahead / given.settings.cell, 0, table.nodes.size - 1)
        speed = curve[:, :, np.ceil(place).astype(np.int64)]
        bounds = np.fmin(bounds, np.where(known, speed, np.inf))
    return bounds


def _nothing_added(given: TableInput, table: Table) -> Flags:
    """Tell where the advice is the usual approach itself."""
    speeds = np.asarray(given.speeds)
    usual_step = np.array([train.usual_step for train in given.trains])
    more = np.where(
        speeds <= table.approach_speed[..., None],
        table.brake - table.usual[:, None, None],
        0.0,
    )
    same = np.nan_to_num(np.nanmax(more, axis=-1), nan=np.inf) <= _SAME
    plain = (table.step == usual_step) & (table.run_in == 0) & (table.ease_at == 0)
    return np.asarray(same & plain & np.isfinite(table.approach_speed))


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


def _late(given: TableInput, runs: Runs) -> Runs:
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
            drive(given, _late(given, advice_runs(given, table, at))).stop, nan=-np.inf
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
        runs = _late(given, advice_runs(given, table, at))
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
    out: dict[str, NDArray[Any]] = {}
    for one in COLUMNS:
        if one.moves:
            farther = _moved_out(table, one, moved)
            sign = -1.0 if one.along == FALLS else 1.0
            ordered = sign * never_less(sign * farther, given.trains)
            out[one.name] = farther if one.along == FREE else ordered
    return only_advised(replace(table, **out), table.status)


def _moved_out(table: Table, column: Column, moved: Floats) -> Floats:
    """Return distances before the mark, or curves over them, moved outward. [m]."""
    values: Floats = getattr(table, column.name)
    if column.axes[-1] != NODE:
        return np.asarray(values + column.fit(moved))
    out = values.copy()
    for case in zip(*np.nonzero(moved), strict=True):
        nearer = np.maximum(table.nodes - moved[case], 0.0)
        out[case] = np.interp(nearer, table.nodes, values[case])
    return out


def _past_allowed(given: TableInput) -> Floats:
    """Return how far past each mark a forward run may stand, (targets, trains). [m]."""
    return np.asarray(np.minimum(margins(given) + 2 * LEAST_DRAWN_BACK, PAST_MARK))


def _withdraw_undriven(
    given: TableInput, table: Table, forward: Floats, *, alone: bool
) -> Table:
    """Withdraw what did not reach its mark when driven, and what is worse than that."""
    missed = np.isfinite(forward) | np.isneginf(forward)
    allowed = _past_allowed(given)[:, None, None, :]
    missed &= ~((forward <= SHORT_OF_MARK) & (forward >= -allowed))
    gone = missed if alone else ever_since(missed, given.trains)
    gone = gone[..., None] & (table.status == OK)
    status = np.where(gone, NOT_COMPUTED, table.status).astype(np.uint8)
    return only_advised(replace(table, forward_stop=forward), status)
