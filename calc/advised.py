"""The chosen plan of every case, worked out exactly: curve, brake points, time, cover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .batch import Batch, Flags, Floats, Ints
from .choice import Choice
from .cover import Ceilings
from .family import Family, Start, enter_grid
from .joins import Joins, joins
from .ramps import Moment
from .touch import Touches, touches


@dataclass(frozen=True)
class Advised:
    """What each case's plan comes to.

    Attributes
    ----------
    brake, seconds, cover : numpy.ndarray, shape (speeds, cases)
        Brake point before the mark [m], time from there to the mark [s] and cover [m,
        inf: all the way to the limit], for each approach speed; NaN where none.
    curve : numpy.ndarray, shape (nodes, cases)
        Speed of the plan at every node before the mark. [m/s]
    ceiling : numpy.ndarray, shape (nodes, cases)
        Highest speed from which the cover given still holds. [m/s]
    onset : numpy.ndarray, shape (nodes, cases)
        Cover for a slick that begins at the node. [m]
    handle, last : Moment, shape (cases,)
        Where the first application is left, and the last one begun; NaN where not.
    after_speed : numpy.ndarray, shape (cases,)
        Speed when the first application's force has gone. [m/s]
    """

    brake: Floats
    seconds: Floats
    cover: Floats
    curve: Floats
    ceiling: Floats
    onset: Floats
    handle: Moment
    last: Moment
    after_speed: Floats


def work_out(
    batch: Batch,
    family: Family,
    choice: Choice,
    start: Start,
    ceiling: dict[int, Ceilings],
    last: Joins,
    speeds: Floats,
) -> Advised:
    """Work out the chosen plans for all approach speeds.

    Parameters
    ----------
    batch : Batch
    family : Family
    choice : Choice
        Which plan of the family each case has; -1 where none.
    start : Start
        Where each plan's first application ends, (plans, cases).
    ceiling : dict of Ceilings
        By step held when a slick is met.
    last : Joins
        The lightest step's curve to the mark.
    speeds : numpy.ndarray, shape (speeds,)
        Approach speeds, rising. [m/s]

    Returns
    -------
    Advised
        NaN throughout where a case has no plan.
    """
    lane = np.arange(batch.cases)
    plan = np.maximum(choice.plan, 0)
    step = family.step[plan]
    mine = _pick(start, plan, lane)
    phi = batch.step_share[lane, step]
    node, first, gap = enter_grid(batch, mine.handle, batch.force_row(step), phi)
    main = joins(batch, step, node, first)
    main = _kept(main, main.slows & (main.quiet | choice.expect_wsp))
    offset = mine.seconds + gap
    none = (choice.plan < 0)[None, :]
    near_speed = np.where(family.near_speed[plan] > 0, family.near_speed[plan], -1.0)
    touch = touches(batch, mine.after, mine.seconds, step, family.eased[plan])
    brake, seconds = _by_speed(main, last, touch, near_speed, offset, speeds)
    curve = _whole_curve(batch, main, last, mine, near_speed)
    onset, levels = _onsets(batch, ceiling, step, curve, mine)
    cover = _cover_by_speed(batch, ceiling, step, main, onset, mine, speeds)
    return Advised(
        np.where(none, np.nan, brake),
        np.where(none, np.nan, seconds),
        np.where(none | ~np.isfinite(brake), np.nan, cover),
        np.where(none, np.nan, curve),
        np.where(none, np.nan, _shown_ceiling(ceiling, step, levels)),
        np.where(none, np.nan, onset),
        mine.handle,
        mine.last,
        mine.after.speed,
    )


def _kept(curve: Joins, good: Flags) -> Joins:
    """Cut a curve off where it no longer slows enough or is no longer quiet."""
    nothing = np.where(good, 0.0, np.nan)
    return Joins(
        curve.distance + nothing,
        curve.speed + nothing,
        curve.seconds + nothing,
        curve.handle + nothing,
        curve.handle_speed + nothing,
        curve.handle_seconds + nothing,
        curve.bite + nothing,
        curve.quiet,
        curve.slows,
    )


def _pick(start: Start, plan: Ints, lane: Ints) -> Start:
    """Take each case's own plan out of the family's starts."""

    def moment(of: Moment) -> Moment:
        return Moment(of.distance[plan, lane], of.speed[plan, lane])

    return Start(
        moment(start.handle),
        moment(start.after),
        moment(start.last),
        start.seconds[plan, lane],
        start.possible[plan, lane],
    )


def _by_speed(
    main: Joins,
    last: Joins,
    touch: Touches,
    near_speed: Floats,
    offset: Floats,
    speeds: Floats,
) -> tuple[Floats, Floats]:
    """Return brake point and seconds for each approach speed, (speeds, cases).

    Up to the run-in speed the last application is all there is. A little above it the
    first application is left before its force is full; above that it is the plan.
    """
    shape = (speeds.size, offset.size)
    brake, seconds = np.full(shape, np.nan), np.full(shape, np.nan)
    for lane in range(offset.size):
        near = np.isfinite(last.handle[:, lane]) & (
            last.handle_speed[:, lane] <= near_speed[lane]
        )
        far = np.isfinite(main.handle[:, lane])
        if not far.any():
            continue
        floor = max(float(near_speed[lane]), 0.0)
        short = touch.speed[:, lane] > floor if floor > 0 else np.zeros(0, dtype=bool)
        pieces = _above(main, touch, lane, far, short, offset[lane])
        pace = np.maximum.accumulate(pieces[0])
        later = pace > floor
        if not later.any():
            continue
        where = np.maximum.accumulate(pieces[1])[later]
        spent = pieces[2][later]
        at = np.concatenate([last.handle_speed[near, lane], [floor + 1e-9], pace[later]])
        where = np.concatenate([last.handle[near, lane], [where[0]], where])
        took = np.concatenate([last.handle_seconds[near, lane], [spent[0]], spent])
        brake[:, lane] = np.interp(speeds, at, where, right=np.nan)
        seconds[:, lane] = np.interp(speeds, at, took, right=np.nan)
    return brake, seconds


def _above(
    main: Joins, touch: Touches, lane: int, far: Flags, short: Flags, offset: float
) -> tuple[Floats, Floats, Floats]:
    """Return speeds, brake points and seconds of one lane above its run-in speed."""
    part = np.flatnonzero(short)
    return (
        np.concatenate([touch.speed[part, lane], main.handle_speed[far, lane]]),
        np.concatenate([touch.handle[part, lane], main.handle[far, lane]]),
        np.concatenate([touch.seconds[part, lane], main.handle_seconds[far, lane] + offset]),
    )


def _whole_curve(
    batch: Batch, main: Joins, last: Joins, mine: Start, near_speed: Floats
) -> Floats:
    """Return the plan's speed at every node, all its pieces joined."""
    nodes = batch.distance(np.arange(batch.cells + 1))
    out = np.full((nodes.size, batch.cases), np.nan)
    for lane in range(batch.cases):
        far = np.isfinite(main.speed[:, lane])
        near = np.isfinite(last.speed[:, lane]) & (
            last.handle_speed[:, lane] <= near_speed[lane]
        )
        run_in = np.isfinite(mine.last.distance[lane])
        middle_d = [mine.after.distance[lane], mine.handle.distance[lane]]
        middle_v = [mine.after.speed[lane], mine.handle.speed[lane]]
        if run_in:
            middle_d.insert(0, mine.last.distance[lane])
            middle_v.insert(0, mine.last.speed[lane])
        if near_speed[lane] <= 0:
            middle_d, middle_v = [], []
        keep = nodes[far] if near_speed[lane] <= 0 else main.distance[far, lane]
        at = np.concatenate([last.distance[near, lane], middle_d, keep])
        speed = np.concatenate([last.speed[near, lane], middle_v, main.speed[far, lane]])
        inside = nodes >= 0
        inside &= nodes <= (at[-1] if at.size else -1.0)
        if at.size:
            out[inside, lane] = np.interp(nodes[inside], at, speed)
    return out


def _held(ceiling: dict[int, Ceilings], step: Ints) -> tuple[Floats, Floats]:
    """Return each case's ceilings for the step it holds: by length, and the whole."""
    steps = sorted(ceiling)
    u = np.stack([ceiling[k].u for k in steps])
    whole = np.stack([ceiling[k].whole for k in steps])
    lane = np.arange(step.size)
    place = np.searchsorted(steps, step)
    return np.moveaxis(u[place, :, :, lane], 0, -1), whole[place, :, lane].T


def _count(u: Floats, ceilings: Floats) -> Ints:
    """Return how many lengths pass, shortest first."""
    return np.asarray((u <= ceilings + 1e-9).sum(axis=0))


def _to_cover(lengths: Floats, count: Ints, whole: Floats, u: Floats) -> Floats:
    """Turn a count of lengths that pass into metres; inf where even the whole passes."""
    metres = np.concatenate([[0.0], lengths])[count]
    return np.asarray(np.where(u <= whole + 1e-9, np.inf, metres))


def _onsets(
    batch: Batch, ceiling: dict[int, Ceilings], step: Ints, curve: Floats, mine: Start
) -> tuple[Floats, Floats]:
    """Return the cover for a slick that begins at each node, and the least of them.

    Where the train runs in with the brake off, a slick makes itself felt only when the
    brake bites again: those nodes take the cover where the last application begins.
    From the release or the easing on, what is held is at most the lightest step; and a
    slide shows only when the first wheelset behind the front is on the slick.
    """
    u = np.where(np.isfinite(curve), curve, 0.0) ** 2
    lengths = ceiling[0].lengths
    far_u, far_whole = _held(ceiling, step)
    near_u, near_whole = ceiling[0].u, ceiling[0].whole
    far = _to_cover(lengths, _count(u, far_u), far_whole, u)
    near = _to_cover(lengths, _count(u, near_u), near_whole, u)
    nodes = batch.distance(np.arange(batch.cells + 1))[:, None]
    first_wheelset = batch.length / 16 + batch.cell
    left = np.nan_to_num(mine.handle.distance)
    released = np.where(left > 0, left + first_wheelset, 0.0)
    onset = np.where(nodes > released, far, near)
    coasting = (nodes > mine.last.distance) & (nodes <= released)
    bites = np.floor(np.nan_to_num(mine.last.distance) / batch.cell).astype(np.int64)
    at_bite = near[np.clip(bites + batch.before, 0, batch.cells), np.arange(batch.cases)]
    onset = np.where(coasting, at_bite, onset)
    onset = np.where((nodes < 0) | ~np.isfinite(curve), np.inf, onset)
    least = onset.min(axis=0)
    return np.where(np.isfinite(curve), onset, np.nan), least


def _cover_by_speed(
    batch: Batch,
    ceiling: dict[int, Ceilings],
    step: Ints,
    main: Joins,
    onset: Floats,
    mine: Start,
    speeds: Floats,
) -> Floats:
    """Return the least cover over every onset of an approach, (speeds, cases)."""
    lengths = ceiling[0].lengths
    far_u, far_whole = _held(ceiling, step)
    held = np.stack([ceiling[k].held for k in sorted(ceiling)])
    force = held[np.searchsorted(sorted(ceiling), step), np.arange(batch.cases)]
    lane = np.arange(batch.cases)
    wait = batch.dead_time + force / batch.ramp
    began = np.nan_to_num(main.handle - main.handle_speed * wait)
    node = np.floor(began / batch.cell).astype(np.int64) + batch.before
    node = np.clip(node, 0, batch.cells)
    u = np.nan_to_num(main.handle_speed) ** 2
    count = _count(u, far_u[:, node, lane])
    in_ramp = _to_cover(lengths, count, far_whole[node, lane], u)
    steady = np.minimum.accumulate(np.where(np.isfinite(onset), onset, np.inf), axis=0)
    by_node = np.where(np.isfinite(main.speed), np.minimum(steady, in_ramp), np.nan)
    out = np.full((speeds.size, batch.cases), np.nan)
    for case in range(batch.cases):
        known = np.flatnonzero(np.isfinite(by_node[:, case]))
        if known.size == 0:
            continue
        pace = np.maximum.accumulate(main.handle_speed[known, case])
        at = np.searchsorted(pace, speeds)
        high = by_node[known[np.minimum(at, known.size - 1)], case]
        low = by_node[known[np.clip(at - 1, 0, known.size - 1)], case]
        out[:, case] = np.minimum(high, low)
    return out


def _shown_ceiling(ceiling: dict[int, Ceilings], step: Ints, least: Floats) -> Floats:
    """Return the speed up to which the cover given still holds, at every node."""
    far_u, _ = _held(ceiling, step)
    lengths = ceiling[0].lengths
    level = np.searchsorted(lengths, np.minimum(least, lengths[-1]), side="right") - 1
    level = np.maximum(level, 0)
    u = far_u[level, :, np.arange(step.size)].T
    return np.asarray(np.sqrt(np.maximum(u, 0.0)))
