"""A run-in is never quicker on a worse rail, in season or with more brakes isolated.

A driver may always let the brake on a little longer and run in slower: the first
application is held as before and only ends nearer, so the mark stays where it is and the
train is nowhere faster than it was. It takes longer, and that is counted.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .batch import CaseIndex, make_batch
from .driven import SHORT_OF_MARK, advice_runs, late, past_allowed
from .easing import let_go
from .family import last_joins
from .forward import drive
from .joins import value_at
from .model import TableInput
from .order import in_order, never_less
from .result import OK, Flags, Floats, Ints, Table

#: How far short of the mark a driver means to stop [m], and how often that is judged anew.
_MEANT, _JUDGED = 2.0, 3
_PASSES = 3


def none_quicker(
    given: TableInput,
    table: Table,
    tired: TableInput | None = None,
    room: Flags | None = None,
) -> Table:
    """Let plans run in no quicker than any better case does.

    Parameters
    ----------
    given : TableInput
    table : Table
        Ordered and driven.
    tired : TableInput, optional
        What plans with room are worked with.
    room : numpy.ndarray of bool, shape (target, season, state, train), optional
        Which cases those are.

    Returns
    -------
    Table
        No mark, step or cover is another; a plan that wouldn't reach its mark so stays.
    """
    every = np.ones(table.step.shape, dtype=bool)
    parts = [(given, every if room is None else ~room)]
    if tired is not None and room is not None:
        parts.append((tired, room))
    # One that is let go slower may bind those that were changed before it.
    for _ in range(_PASSES):
        for worked, only in parts:
            table = _slower_where(worked, table, only)
    return table


def _slower_where(given: TableInput, table: Table, only: Flags) -> Table:
    """Slow the plans in ``only`` that run in quicker than a better case does."""
    left = np.fmin(table.run_in, table.after_speed)
    bound, least = (
        slowest_before(given, table, table.run_in),
        slowest_before(given, table, left),
    )
    change = (table.run_in > 0) & (left > least + 1e-6)
    change &= (table.status == OK).any(axis=-1) & np.isfinite(table.approach_speed)
    change &= only
    at = np.nonzero(change)
    if not at[0].size:
        return table
    slower = _slowed(given, table, at, bound[at], least[at])
    allowed = past_allowed(given)[at[0], at[3]]
    for judged in range(_JUDGED + 1):
        now = drive(given, late(given, advice_runs(given, slower, at)))
        stop = now.stop
        held = (stop <= SHORT_OF_MARK) & (stop >= -allowed)
        if held.all() or judged == _JUDGED:
            break
        # The last application is begun by eye: moved by what the train stood short.
        miss = np.where(held, 0.0, np.nan_to_num(stop - _MEANT))
        ends = _put(slower.last_distance, at, slower.last_distance[at] - miss)
        slower = replace(slower, last_distance=ends)
    kept = np.zeros(change.shape, dtype=bool)
    kept[at] = held
    names = ("run_in", "after_speed", "handle_speed", "handle_distance", "last_distance")
    own = {n: np.where(kept, getattr(slower, n), getattr(table, n)) for n in names}
    before = drive(given, late(given, advice_runs(given, table, at))).seconds
    lost = _put(np.zeros(change.shape), at, np.fmax(now.seconds - before, 0.0))
    seconds = table.seconds + np.where(kept, lost, 0.0)[..., None]
    curve = np.where(kept[..., None], slower.advised, table.advised)
    return replace(
        table,
        **own,
        seconds=never_less(seconds, given.trains),
        advised=-never_less(-curve, given.trains),
    )


def slowest_before(given: TableInput, table: Table, speed: Floats) -> Floats:
    """Return the lowest speed of each case that runs in and all better ones. [m/s].

    ``speed`` (target, season, state, train) is the run-in itself or where the step is let
    go for it; inf where none of them runs in.
    """
    runs = (table.run_in > 0) & (table.status == OK).any(axis=-1)
    least: Floats = np.where(runs, speed, np.inf)
    least = np.minimum.accumulate(np.minimum.accumulate(least, axis=2), axis=1)
    for fewer, more in in_order(given.trains):
        least[:, :, :, more] = np.minimum(least[:, :, :, fewer], least[:, :, :, more])
    return least


def _slowed(
    given: TableInput, table: Table, at: tuple[Ints, ...], speed: Floats, most: Floats
) -> Table:
    """Return the table with some plans let go slower, at ``most``, to run in at ``speed``."""
    batch = make_batch(given, CaseIndex(*at), 1.3 * float(given.speeds[-1]))
    last = last_joins(batch)
    was, after = table.run_in[at], table.after_speed[at]
    wanted = np.stack([was, speed])
    far, near = value_at(last.handle_speed, last.handle, wanted)
    # What it gathers running in, on a line that falls, is what it gathered before.
    less = np.sqrt(np.maximum(speed**2 - np.maximum(was**2 - after**2, 0.0), 0.0))
    most = np.minimum(after, most)
    less = np.clip(less, np.minimum(min(given.settings.run_in_speeds), most), most)
    runs = advice_runs(given, table, at)
    places, leave = let_go(batch, runs, np.stack([after, less]))
    nearer = np.maximum(places[0] - places[1], 0.0)
    ends = table.last_distance[at] - np.maximum(far - near, 0.0)
    handle = table.handle_distance[at] - nearer
    curve = _capped(table, at, handle, less)
    return replace(
        table,
        run_in=_put(table.run_in, at, speed),
        after_speed=_put(table.after_speed, at, less),
        handle_speed=_put(
            table.handle_speed, at, table.handle_speed[at] - leave[0] + leave[1]
        ),
        handle_distance=_put(table.handle_distance, at, handle),
        last_distance=_put(table.last_distance, at, ends),
        advised=curve,
    )


def _capped(table: Table, at: tuple[Ints, ...], handle: Floats, speed: Floats) -> Floats:
    """Return the curves with nothing faster than the run-in once the step is let go."""
    inside = table.nodes[None, :] <= handle[:, None]
    own = table.advised[at]
    return _put(table.advised, at, np.where(inside, np.fmin(own, speed[:, None]), own))


def _put(values: NDArray[np.float64], at: tuple[Ints, ...], new: Floats) -> Floats:
    out = np.array(values)
    out[at] = new
    return out
